"""How far the size of a hot-rolled bar may be off: the published inch and metric tables, and two diameters against them.

Measured sizes are compared as typed. Rounds and squares only; another section or size has no limit in these tables.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.calc.size_tables import (
    A29_METRIC,
    A29_METRIC_SOURCE,
    INCH_ROWS,
    METRIC_ROWS,
    METRIC_SHARE_OVER_NM,
    METRIC_SHARE_TO_NM,
    ROUND_SHARE,
    SIZE_SHARE,
    TENTH_NM,
)
from inventory.calc.steel import MOST_SIZE_NM, Section, Shape


class System(StrEnum):
    """The system a bar was ordered in; values of the two are never mixed (ASTM A29 1.3)."""

    INCH = "inch"
    METRIC = "metric"


@dataclass(frozen=True, slots=True)
class Allowed:
    """What one bar may be: nm above and below nominal, nm between its two diameters, and the table that says so."""

    nominal_nm: int
    plus_nm: int
    minus_nm: int
    out_of_round_nm: int
    document: str
    source: str

    @property
    def least_nm(self) -> int:
        """The smallest good size."""
        return self.nominal_nm - self.minus_nm

    @property
    def most_nm(self) -> int:
        """The largest good size."""
        return self.nominal_nm + self.plus_nm


def size(section: Section, system: System) -> Allowed | None:
    """What a hot-rolled bar may measure.

    Args:
        section: the nominal section.
        system: the system it was ordered in.

    Returns:
        The allowance in nm, or None where these tables have no limit for the section.

    Raises:
        ValueError: an unknown system.

    Source:
        Inch: ASTM A484 table, see A484_SOURCE and WIDER_SOURCE in size_tables. Metric: ASTM A29-04 Table A2.1; a share of the size is
        rounded to the nearest tenth of a millimetre, halves to the even tenth as ASTM E29 rounds (A29 1.4).
    """
    system = System(system)
    if section.shape not in (Shape.ROUND, Shape.SQUARE):
        return None
    nominal = section.size_nm
    if system is System.METRIC and METRIC_SHARE_OVER_NM < nominal <= METRIC_SHARE_TO_NM:
        off, out = _tenths(nominal * SIZE_SHARE), _tenths(nominal * ROUND_SHARE)
        return Allowed(nominal, off, off, out, A29_METRIC, A29_METRIC_SOURCE)
    rows = INCH_ROWS if system is System.INCH else METRIC_ROWS
    row = next((row for row in rows if row.over_nm < nominal <= row.to_nm), None)
    if row is None:
        return None
    return Allowed(nominal, row.plus_nm, min(row.minus_nm, nominal - 1), row.out_of_round_nm, row.document, row.source)


class SizeFinding(StrEnum):
    """What two diameters say."""

    OK = "within the size tolerance"
    OVER = "over the size"
    UNDER = "under the size"
    BOTH = "over at one place and under at the other"
    NO_LIMIT = "no limit in this table"


@dataclass(frozen=True, slots=True)
class SizeCheck:
    """Two diameters against the table, all nm; what is inside its limit is 0 over or under.

    `out_of_round_nm` is the difference between the two; `out_of_round_over_nm` by how much that is too much.
    """

    finding: SizeFinding
    over_nm: int
    under_nm: int
    out_of_round_nm: int
    out_of_round_over_nm: int
    allowed: Allowed | None

    @property
    def ok(self) -> bool:
        """Whether size and roundness are inside; False where there is no limit."""
        return self.finding is SizeFinding.OK and self.out_of_round_over_nm == 0


def check(section: Section, system: System, first_nm: int, second_nm: int) -> SizeCheck:
    """Compare two diameters of one cross-section, or both widths of a square, with the table.

    Args:
        section: the nominal section.
        system: the system it was ordered in.
        first_nm: one measure, nm; 1 to 2 m.
        second_nm: the other, at a right angle to it, nm; 1 to 2 m.

    Returns:
        Whether the size is inside and by how much it is not, and the same for out-of-round or out-of-square.

    Raises:
        ValueError: a measure out of range.

    Source:
        Out-of-round is the difference between the largest and the smallest diameter at one cross-section: ASTM A29-04
        Table A2.1 note b. Two diameters are shop practice; a bar may be worse between them.
    """
    if not all(type(nm) is int and 1 <= nm <= MOST_SIZE_NM for nm in (first_nm, second_nm)):
        raise ValueError(f"a measured size is a whole number of nm from 1 to {MOST_SIZE_NM}")
    allowed = size(section, system)
    small, large = sorted((first_nm, second_nm))
    if allowed is None:
        return SizeCheck(SizeFinding.NO_LIMIT, 0, 0, large - small, 0, None)
    over, under = max(0, large - allowed.most_nm), max(0, allowed.least_nm - small)
    out = large - small
    return SizeCheck(_finding(over, under), over, under, out, max(0, out - allowed.out_of_round_nm), allowed)


def _finding(over_nm: int, under_nm: int) -> SizeFinding:
    """Name what was found of the size."""
    if over_nm and under_nm:
        return SizeFinding.BOTH
    if over_nm:
        return SizeFinding.OVER
    return SizeFinding.UNDER if under_nm else SizeFinding.OK


def _tenths(nm: Fraction) -> int:
    """Round to a tenth of a millimetre, halves to even."""
    return round(nm / TENTH_NM) * TENTH_NM
