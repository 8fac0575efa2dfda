"""Which length of bar to buy: the one whose steel costs least for what is sawn from it."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.sawing import how_many


@dataclass(frozen=True, slots=True)
class Length:
    """A length a supplier sells, nanometres, and what one bar of it costs, minor units, or None."""

    nm: int
    minor: int | None = None


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
