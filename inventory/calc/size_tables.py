"""The published tables of how far the size of a hot-rolled round or square may be off, inch and metric, in nm."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from shop.shared.units import NM_PER_MM, NM_PER_SIXTY_FOURTH

NM_PER_MIL: Final = 25_400  # a thousandth of an inch: the inch is 25.4 mm exactly
TENTH_NM: Final = NM_PER_MM // 10
_HUNDREDTH_NM: Final = NM_PER_MM // 100

A484: Final = "ASTM A484"
A484_SOURCE: Final = (
    "unifiedalloys.com size tolerances, ASTM A484; a mill chart headed ASTM for carbon squares prints the same steps "
    "(scribd 146696884). That ASTM A29 Table A1.1 is the same is from memory, not looked up."
)
WIDER_SOURCE: Final = (
    "portlandbolt.com hot-rolled round bar tolerances, headed ASTM A6 there; its steps from 5/16 to 3 1/2 in are those "
    "of the ASTM A484 table."
)
A29_METRIC: Final = "ASTM A29-04 Table A2.1"
A29_METRIC_SOURCE: Final = "lucefin.com, ASTM A29-04 tolerances, Table A2.1"


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One row of a table: sizes over `over_nm` to `to_nm` inclusive, and what they may be off, nm."""

    over_nm: int
    to_nm: int
    plus_nm: int
    minus_nm: int
    out_of_round_nm: int
    document: str
    source: str


def _inch(
    over: int, to: int, plus: int, minus: int, mils: int, document: str = A484, source: str = A484_SOURCE
) -> SizeRow:
    """Make a row: sizes in 64ths of an inch, plus and minus in nm, out-of-round in thousandths."""
    bounds = over * NM_PER_SIXTY_FOURTH, to * NM_PER_SIXTY_FOURTH
    return SizeRow(*bounds, plus, minus, mils * NM_PER_MIL, document, source)


def _both(mils: int) -> tuple[int, int]:
    """Give the same thousandths over and under."""
    return mils * NM_PER_MIL, mils * NM_PER_MIL


def _plus(sixty_fourths: int) -> tuple[int, int]:
    """Give 64ths over and nothing under."""
    return sixty_fourths * NM_PER_SIXTY_FOURTH, 0


_WIDER: Final = ("ASTM A6 as headed", WIDER_SOURCE)
# Source: A484_SOURCE from 5/16 to 3 1/2 in, WIDER_SOURCE below and above.
INCH_ROWS: Final = (
    _inch(0, 20, *_both(5), 8, *_WIDER),
    _inch(20, 28, *_both(6), 9),
    _inch(28, 40, *_both(7), 10),
    _inch(40, 56, *_both(8), 12),
    _inch(56, 64, *_both(9), 13),
    _inch(64, 72, *_both(10), 15),
    _inch(72, 80, *_both(11), 16),
    _inch(80, 88, *_both(12), 18),
    _inch(88, 96, *_both(14), 21),
    _inch(96, 128, NM_PER_SIXTY_FOURTH, NM_PER_SIXTY_FOURTH, 23),
    _inch(128, 160, *_plus(2), 23),
    _inch(160, 224, *_plus(3), 35),
    _inch(224, 288, *_plus(4), 46, *_WIDER),
    _inch(288, 352, *_plus(5), 58, *_WIDER),
    _inch(352, 416, *_plus(8), 70, *_WIDER),
    _inch(416, 528, *_plus(10), 85, *_WIDER),
    _inch(528, 608, *_plus(12), 100, *_WIDER),
    _inch(608, 640, *_plus(16), 120, *_WIDER),
)


def _metric(over: int, to: int, hundredths: int, round_hundredths: int) -> SizeRow:
    """Make a row: sizes in mm, size and out-of-round in hundredths of a millimetre."""
    off = hundredths * _HUNDREDTH_NM
    bounds = over * NM_PER_MM, to * NM_PER_MM
    return SizeRow(*bounds, off, off, round_hundredths * _HUNDREDTH_NM, A29_METRIC, A29_METRIC_SOURCE)


# Source: A29_METRIC_SOURCE.
METRIC_ROWS: Final = (_metric(0, 7, 13, 20), _metric(7, 11, 15, 22), _metric(11, 15, 18, 27), _metric(15, 19, 20, 30))
# Over 19 to 250 mm: 1 % of the size and 1.5 % out-of-round, rounded to a tenth. Source: A29_METRIC_SOURCE, note a.
METRIC_SHARE_OVER_NM: Final = 19 * NM_PER_MM
METRIC_SHARE_TO_NM: Final = 250 * NM_PER_MM
SIZE_SHARE: Final = Fraction(1, 100)
ROUND_SHARE: Final = Fraction(15, 1000)
