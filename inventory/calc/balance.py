"""A steel balance: what was received of a melt, split over what became of it, so that the parts are the whole exactly."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.calc.shares import share


class Basis(StrEnum):
    """How a mass is known."""

    MEASURED = "weighed"
    WORKED_OUT = "worked out"
    MIXED = "partly weighed"


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a whole: its name, its quantity in the unit of the stage (nm or pieces), its mass in mg."""

    name: str
    qty: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Split:
    """What came in and what became of it: the parts' quantities and masses are those of what came in."""

    qty: int
    mass_mg: int
    parts: tuple[Part, ...]


def split(received_mg: int, parts: Mapping[str, int]) -> Split:
    """Split a mass over parts of one stage in proportion to their quantities.

    Args:
        received_mg: mass of what came in, mg; 0 or more.
        parts: quantity by name, nm or pieces; a negative one was found more than had come. Parts of nought are left out.

    Returns:
        The parts in the order given; their masses add up to received_mg exactly, by the largest remainder. Where the
        quantities add up to nothing, all of the mass is left in a part called "unexplained".

    Raises:
        ValueError: a negative mass.

    Source: none; largest remainder is arithmetic, the split by length or count is shop practice.
    """
    if received_mg < 0:
        raise ValueError(f"received_mg must be 0 or more, not {received_mg}")
    there = {name: qty for name, qty in parts.items() if qty}
    whole = sum(there.values())
    if whole <= 0:
        left = (Part("unexplained", whole, received_mg),) if received_mg or whole else ()
        return Split(whole, received_mg, left)
    more = {name: -qty for name, qty in there.items() if qty < 0}
    given = {name: qty for name, qty in there.items() if qty > 0}
    # What was found more has the mass of its length; what is there has the mass that came and that.
    found_mg = {name: round(received_mg * qty / whole) for name, qty in more.items()}
    masses = share(received_mg + sum(found_mg.values()), list(given.values()))
    mass_of = dict(zip(given, masses, strict=True)) | {name: -mg for name, mg in found_mg.items()}
    return Split(whole, received_mg, tuple(Part(name, qty, mass_of[name]) for name, qty in there.items()))


def together(stages: Sequence[Mapping[str, int]], found_again: Mapping[str, int]) -> dict[str, int]:
    """Lay the parts of several stages together, without what one stage handed on to the next.

    Args:
        stages: mass by name of part for each stage, mg; of any sign.
        found_again: mass by name that stands in a later stage once more, mg; 0 or more.

    Returns:
        Mass by name in the order first named, mg; they add up to all stages less what was found again. A part of
        nought is left out.

    Raises:
        ValueError: something is found again that no stage names.

    Source: none; adding.
    """
    masses: dict[str, int] = {}
    for stage in stages:
        for name, mass_mg in stage.items():
            masses[name] = masses.get(name, 0) + mass_mg
    for name, mass_mg in found_again.items():
        if mass_mg and name not in masses:
            raise ValueError(f"{name!r} is found again and was never there")
        masses[name] = masses.get(name, 0) - mass_mg
    return {name: mass_mg for name, mass_mg in masses.items() if mass_mg}


@dataclass(frozen=True, slots=True)
class Discrepancy:
    """Scale less worked out, mg, and by how much scale and tape may be off, mg."""

    off_mg: int
    sure_to_mg: int

    @property
    def shows(self) -> bool:
        """Whether scale and tape alone cannot explain it."""
        return abs(self.off_mg) > self.sure_to_mg

    def figures(self, unit_mg: Fraction) -> int:
        """Return how many significant figures of the difference mean anything in a unit: 1 or more."""
        return figures(self.off_mg, self.sure_to_mg, unit_mg)


def figures(value_mg: int, last_mg: int | Fraction, unit_mg: int | Fraction) -> int:
    """How many significant figures a mass has down to a last place that means something.

    Args:
        value_mg: what is printed, mg; of any sign.
        last_mg: what the last figure may mean, mg; 0 or more. Its first figure gives the place.
        unit_mg: the unit it is printed in, mg; above 0.

    Returns:
        1 or more; a thousandth of the unit is the finest place.

    Raises:
        ValueError: no unit.

    Source: none; a figure finer than what is known of it is left out.
    """
    if unit_mg <= 0:
        raise ValueError("the unit is above nought")
    return max(1, _decade(Fraction(abs(value_mg)) / unit_mg) - _decade(Fraction(last_mg) / unit_mg) + 1)


def discrepancy(scale_mg: int, computed_mg: int, *, step_mg: int, tape_mg: int) -> Discrepancy:
    """Compare what the scale showed with what was worked out for the taped lengths at nominal size.

    Args:
        scale_mg: what the scale showed, mg; 0 or more.
        computed_mg: what was worked out, mg; 0 or more.
        step_mg: the step the scale shows, mg; 0 or more.
        tape_mg: mass of the steel by which all taped lengths together may be off, mg; 0 or more.

    Returns:
        The difference, and half a step of the scale with the tape's error: nothing finer can be said of it. What the
        size tolerance allows is not part of it; the gate of the delivery looks at that.

    Raises:
        ValueError: a negative mass.

    Source: none; half a step is what a scale rounds away, and errors of one direction are added.
    """
    if min(scale_mg, computed_mg, step_mg, tape_mg) < 0:
        raise ValueError("masses are 0 or more")
    return Discrepancy(scale_mg - computed_mg, -(-step_mg // 2) + tape_mg)


def _decade(value: Fraction) -> int:
    """Return the place of the first figure: 0 for 1 to below 10, -1 for 0.1; a thousandth is the finest."""
    place = -3
    while value >= Fraction(10) ** (place + 1):
        place += 1
    return place
