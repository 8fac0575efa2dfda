"""A steel balance: what was received of a melt, split over what became of it, so that the parts are the whole exactly."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

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
