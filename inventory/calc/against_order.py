"""What came against what was ordered: over, short, another steel, another price."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.calc.steel import Section


class Measure(StrEnum):
    """What a quantity of steel is counted in."""

    BARS = "bars"
    LENGTH = "length"
    MASS = "mass"


class DifferenceKind(StrEnum):
    """How a delivery can differ from its order."""

    OVER = "more than ordered"
    SHORT = "less than ordered"
    WRONG_SIZE = "another size"
    WRONG_GRADE = "another grade"
    UNKNOWN_GRADE = "grade unknown"
    PRICE = "another price"


@dataclass(frozen=True, slots=True)
class OrderedSteel:
    """One order line still to come.

    Args:
        grade: its designation.
        section: the nominal section.
        bars: how many, or None where bars were not counted.
        length_nm: all bars together, nm, or None.
        mass_mg: mg, or None.
        price_minor: for the whole line in the currency's smallest unit, or None.
        priced_by: what the price is for; it decides what a part of the line costs.
        spread_nm: how far one bar of random length may be off, nm; 0 for cut lengths.

    Raises:
        ValueError: no quantity at all, or a negative number.
    """

    grade: str
    section: Section
    bars: int | None = None
    length_nm: int | None = None
    mass_mg: int | None = None
    price_minor: int | None = None
    priced_by: Measure = Measure.LENGTH
    spread_nm: int = 0

    def __post_init__(self) -> None:
        given = [number for number in (self.bars, self.length_nm, self.mass_mg) if number is not None]
        if not given or min(given) < 1 or self.spread_nm < 0 or (self.price_minor or 0) < 0:
            raise ValueError("an order line has bars, a length or a mass of 1 or more, and a price and spread from 0")


@dataclass(frozen=True, slots=True)
class ReceivedSteel:
    """Bars of one melt that came for the line: grade (None where unknown), section, count, length nm, mass mg."""

    grade: str | None
    section: Section
    bars: int
    length_nm: int | None = None
    mass_mg: int | None = None

    def __post_init__(self) -> None:
        given = [number for number in (self.length_nm, self.mass_mg) if number is not None]
        if self.bars < 0 or min(given, default=0) < 0:
            raise ValueError("what came is counted, measured and weighed from 0")


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference.

    `ordered` and `received` are in bars, nm, mg or, for a price, the smallest unit of money (`ordered` is then what the
    good part costs at the order's price). `by` is received less ordered. `part` is the wrong steel itself.
    """

    kind: DifferenceKind
    measure: Measure | None = None
    ordered: int | None = None
    received: int | None = None
    part: ReceivedSteel | None = None

    @property
    def by(self) -> int | None:
        """Received less ordered; None where the steel itself is another one."""
        return None if self.ordered is None or self.received is None else self.received - self.ordered


def compare_with_order(
    ordered: OrderedSteel, received: Sequence[ReceivedSteel], *, invoiced_minor: int | None = None
) -> tuple[Difference, ...]:
    """Compare all that came for one order line with the line.

    Args:
        ordered: the line, less what came before.
        received: what came for it, a part for each melt; none means that nothing came.
        invoiced_minor: what the supplier asks for it, smallest unit of money, or None.

    Returns:
        Wrong steel first, then over or short, then the price; empty where all is as ordered. Steel of another size or
        grade, or of none known, does not count as received. Bars are compared where bars were ordered, then length
        within the spread, and mass only where nothing else was ordered.

    Raises:
        ValueError: a negative price.

    Source: none; shop practice.
    """
    if invoiced_minor is not None and invoiced_minor < 0:
        raise ValueError(f"invoiced_minor must be 0 or more, not {invoiced_minor}")
    wrong = tuple(Difference(kind, part=part) for part in received for kind in _wrong(ordered, part))
    good = [part for part in received if not _wrong(ordered, part)]
    quantity = _quantity(ordered, good)
    price = _price(ordered, good, invoiced_minor)
    return (*wrong, *(found for found in (quantity, price) if found is not None))


def _wrong(ordered: OrderedSteel, part: ReceivedSteel) -> list[DifferenceKind]:
    """Tell how the steel itself is another one."""
    kinds = []
    if part.grade is None:
        kinds.append(DifferenceKind.UNKNOWN_GRADE)
    elif part.grade.casefold() != ordered.grade.casefold():
        kinds.append(DifferenceKind.WRONG_GRADE)
    if part.section != ordered.section:
        kinds.append(DifferenceKind.WRONG_SIZE)
    return kinds


def _quantity(ordered: OrderedSteel, good: Sequence[ReceivedSteel]) -> Difference | None:
    """Tell what is over or short, by the measure that says it best."""
    for measure in Measure:
        want, got = _ordered(ordered, measure), _got(good, measure)
        if want is None or got is None or (measure is Measure.MASS and (ordered.bars or ordered.length_nm)):
            continue
        slack = (
            ordered.spread_nm * (ordered.bars or sum(part.bars for part in good)) if measure is Measure.LENGTH else 0
        )
        if abs(got - want) > slack:
            kind = DifferenceKind.OVER if got > want else DifferenceKind.SHORT
            return Difference(kind, measure, want, got)
    return None


def _price(ordered: OrderedSteel, good: Sequence[ReceivedSteel], invoiced_minor: int | None) -> Difference | None:
    """Compare what is asked with what the good part costs at the order's price."""
    want, got = _ordered(ordered, ordered.priced_by), _got(good, ordered.priced_by)
    if invoiced_minor is None or ordered.price_minor is None or want is None or got is None:
        return None
    expected = round(Fraction(ordered.price_minor * got, want))
    if expected == invoiced_minor:
        return None
    return Difference(DifferenceKind.PRICE, ordered.priced_by, expected, invoiced_minor)


def _ordered(ordered: OrderedSteel, measure: Measure) -> int | None:
    """The line's quantity in a measure."""
    return {Measure.BARS: ordered.bars, Measure.LENGTH: ordered.length_nm, Measure.MASS: ordered.mass_mg}[measure]


def _got(good: Sequence[ReceivedSteel], measure: Measure) -> int | None:
    """The good part's quantity in a measure; None where a part was not measured so."""
    if measure is Measure.BARS:
        return sum(part.bars for part in good)
    numbers = [part.length_nm if measure is Measure.LENGTH else part.mass_mg for part in good]
    return None if any(number is None for number in numbers) else sum(number or 0 for number in numbers)
