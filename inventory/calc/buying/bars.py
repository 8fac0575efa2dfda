"""Which length of bar to buy: the one whose steel costs least for what is sawn from it."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.sawing import how_many


@dataclass(frozen=True, slots=True)
class Length:
    """A length a supplier sells, nanometres, and what one bar of it costs, minor units, or None."""

    nm: int
    minor: int | None = None


@dataclass(frozen=True, slots=True)
class Bought:
    """So many bars of a length; blanks they give; what is lost of one bar in nanometres: kerf and end."""

    length: Length
    bars: int
    blanks: int
    lost_nm: int

    @property
    def nm(self) -> int:
        """Return the steel in all of them."""
        return self.bars * self.length.nm


def cheapest_length(lengths: Sequence[Length], blank_nm: int, kerf_nm: int) -> Length:
    """Return the length that gives blanks at the least price; without prices the one of which least is lost.

    Args:
        lengths: one or more.
        blank_nm: the blank that is sawn from it, above 0.
        kerf_nm: what a cut takes, 0 or more.

    Returns:
        A length that gives at least one blank where any does, else the longest. Alike ones: the longer.

    Raises:
        ValueError: no length, or a value out of range.

    Source: enumeration.
    """
    if not lengths or blank_nm < 1 or kerf_nm < 0:
        raise ValueError("a length, a blank above 0 and a kerf of 0 or more are needed")
    useful = [one for one in lengths if how_many(one.nm, blank_nm, kerf_nm)]
    if not useful:
        return max(lengths, key=lambda one: one.nm)
    priced = [one for one in useful if one.minor is not None]
    if priced:
        return min(priced, key=lambda one: ((one.minor or 0) / how_many(one.nm, blank_nm, kerf_nm), -one.nm))
    return min(useful, key=lambda one: (one.nm / how_many(one.nm, blank_nm, kerf_nm), -one.nm))


def bars_for(nm: int, length: Length, blank_nm: int, kerf_nm: int, *, bundle: int = 1) -> Bought:
    """Return the bars that hold so much steel in blanks, in whole bundles.

    Args:
        nm: steel needed, blanks and their kerfs together, 0 or more.
        length: what is bought.
        blank_nm: the blank, above 0.
        kerf_nm: of a cut.
        bundle: bars that are sold together.

    Returns:
        As many bars as give the blanks that so much steel was reckoned for; by length where a bar gives none.

    Source: division, rounded up.
    """
    each = how_many(length.nm, blank_nm, kerf_nm)
    blanks = -(-nm // (blank_nm + kerf_nm))
    bars = -(-blanks // each) if each else -(-nm // length.nm)
    bars = bundle * -(-bars // bundle)
    return Bought(length, bars, bars * each, length.nm - each * blank_nm)
