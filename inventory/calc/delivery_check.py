"""The weight of a delivery against what its bars can weigh and still be good."""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import ceil, floor
from typing import Final

from inventory.calc.steel import LEAST_DENSITY, MOST_DENSITY, MOST_LENGTH_NM, MOST_SIZE_NM, Section, area_nm2
from inventory.calc.tolerances import Allowed, System, size

MOST_BARS: Final = 500  # No source: as many as one line of a delivery holds
_NM3_UG_PER_CM3_MG: Final = 10**24  # cubic nanometres in a cubic centimetre, times micrograms in a milligram


class WeightFinding(StrEnum):
    """What the scale says of a bundle."""

    INSIDE = "inside what good bars weigh"
    UNDER = "lighter than good bars can be"
    OVER = "heavier than good bars can be"
    NO_LIMIT = "no limit in this table"


@dataclass(frozen=True, slots=True)
class WeightCheck:
    """A scale weight against the gate, all mg.

    `computed_mg` is at nominal size; `difference_mg` is scale less computed; `beyond_mg` is how far the scale is
    outside the gate, negative under it, 0 inside. Without a size limit there is no gate: low, high and beyond are None.
    `shows_missing_bar` tells whether one bar of average length missing would always be outside this gate.
    """

    finding: WeightFinding
    computed_mg: int
    scale_mg: int
    low_mg: int | None
    high_mg: int | None
    beyond_mg: int | None
    shows_missing_bar: bool
    allowed: Allowed | None

    @property
    def difference_mg(self) -> int:
        """How far the scale is from the computed mass."""
        return self.scale_mg - self.computed_mg


@dataclass(frozen=True, slots=True)
class Weighing:
    """How the bundle was measured and weighed.

    Args:
        length_nm: the taped lengths of all bars together, nm; 1 to 100 m for each bar.
        n_bars: how many bars, 1 to 500.
        scale_mass_mg: what the scale shows, mg; 0 or more.
        scale_division_mg: the step the scale shows, mg; 0 or more.
        tape_error_nm: how far one taped length may be off, nm; 0 to 1 m.

    Raises:
        ValueError: a value out of range.
    """

    length_nm: int
    n_bars: int
    scale_mass_mg: int
    scale_division_mg: int
    tape_error_nm: int

    def __post_init__(self) -> None:
        _within("n_bars", self.n_bars, 1, MOST_BARS)
        _within("length_nm", self.length_nm, 1, MOST_LENGTH_NM * self.n_bars)
        _within("scale_mass_mg", self.scale_mass_mg, 0, 10**15)
        _within("scale_division_mg", self.scale_division_mg, 0, 10**12)
        _within("tape_error_nm", self.tape_error_nm, 0, 10**9)


def weight_gate(section: Section, weighing: Weighing, *, density_ug_per_cm3: int, system: System) -> WeightCheck:
    """Compare the scale with a gate made of size tolerance, scale division and tape error.

    Args:
        section: the nominal section.
        weighing: lengths, count, scale and tape.
        density_ug_per_cm3: µg/cm³, 1 000 000 to 25 000 000; that of the grade.
        system: the system the bars were ordered in.

    Returns:
        Low is every bar at its smallest good size and its tape error short, less half a scale division; high is the
        opposite. Both are rounded outwards, so a bundle of good bars anywhere inside their tolerance is never outside.
        Above 2 in the tolerance is plus only, and so is the gate.

    Raises:
        ValueError: a density out of range.

    Source:
        Size tolerance: inventory.calc.tolerances. Half a division is what the scale rounds away; a scale that is
        itself off is not allowed for. Rounded corners of squares and worn ends are not allowed for either. A gate for
        theoretical against scale weight was not found in print.
    """
    _within("density_ug_per_cm3", density_ug_per_cm3, LEAST_DENSITY, MOST_DENSITY)
    computed = round(_mass(section, section.size_nm, weighing.length_nm, density_ug_per_cm3))
    allowed = size(section, system)
    if allowed is None:
        scale = weighing.scale_mass_mg
        return WeightCheck(
            WeightFinding.NO_LIMIT, computed, scale, None, None, None, shows_missing_bar=False, allowed=None
        )
    half, tape = Fraction(weighing.scale_division_mg, 2), weighing.n_bars * weighing.tape_error_nm
    shortest, longest = max(0, weighing.length_nm - tape), weighing.length_nm + tape
    lightest = _mass(section, allowed.least_nm, shortest, density_ug_per_cm3) - half
    heaviest = _mass(section, allowed.most_nm, longest, density_ug_per_cm3)
    without_one = heaviest * (weighing.n_bars - 1) / weighing.n_bars + half
    low, high = max(0, floor(lightest)), ceil(heaviest + half)
    beyond = _beyond(weighing.scale_mass_mg, low, high)
    return WeightCheck(
        _finding(beyond),
        computed,
        weighing.scale_mass_mg,
        low,
        high,
        beyond,
        shows_missing_bar=without_one < low,
        allowed=allowed,
    )


def _mass(section: Section, size_nm: int, length_nm: int, density_ug_per_cm3: int) -> Fraction:
    """Exact mass in mg of a length of this shape at some size."""
    return (
        area_nm2(Section(section.shape, min(size_nm, MOST_SIZE_NM)))
        * length_nm
        * density_ug_per_cm3
        / _NM3_UG_PER_CM3_MG
    )


def _beyond(scale_mg: int, low_mg: int, high_mg: int) -> int:
    """How far outside the gate, with its sign."""
    return min(0, scale_mg - low_mg) or max(0, scale_mg - high_mg)


def _finding(beyond_mg: int) -> WeightFinding:
    """Name the side of the gate."""
    if beyond_mg:
        return WeightFinding.OVER if beyond_mg > 0 else WeightFinding.UNDER
    return WeightFinding.INSIDE


def _within(name: str, value: int, least: int, most: int) -> None:
    """Refuse a value out of range, and anything but a whole number."""
    if type(value) is not int or not least <= value <= most:
        raise ValueError(f"{name} must be a whole number from {least} to {most}, not {value!r}")
