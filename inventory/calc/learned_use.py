"""What a piece uses up of gas, belts or oil, learned from bottles changed and stock counted against pieces made.

Use between two changes is taken as proportional to pieces, with the same spread for each piece: a ratio estimate with a
prior that is worth so many pieces.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

PRIOR_PIECES: Final = 50  # No source: what the route's own figure is worth, in pieces; the shop may change it
MANY: Final = 3  # intervals from which their own spread is told


@dataclass(frozen=True, slots=True)
class Interval:
    """Between two changes or counts: units used, 0 or more, and pieces made meanwhile, 0 or more."""

    used: int
    pieces: int

    def __post_init__(self) -> None:
        if self.used < 0 or self.pieces < 0:
            raise ValueError("use and pieces are 0 or more")


@dataclass(frozen=True, slots=True)
class Use:
    """Units a piece uses, the spread of that estimate in the same units, and over how many pieces and intervals."""

    each: Fraction
    spread: float
    pieces: int
    intervals: int


def learn(intervals: Sequence[Interval], prior_each: Fraction, prior_pieces: int = PRIOR_PIECES) -> Use:
    """Learn the use of one piece.

    Args:
        intervals: those that are over; one without a piece teaches nothing and is left out.
        prior_each: units a piece is believed to use, 0 or more.
        prior_pieces: what that belief is worth, pieces, 1 or more.

    Returns:
        (believed units + used) / (prior pieces + pieces); the spread from the intervals' own scatter where there are
        three or more, else the whole estimate over the root of the pieces it rests on.

    Raises:
        ValueError: a value out of range.

    Source: ratio estimator, Cochran, Sampling Techniques, chapter 6 (from memory).
    """
    if prior_each < 0 or prior_pieces < 1:
        raise ValueError("a belief is 0 or more and worth a piece or more")
    told = [one for one in intervals if one.pieces]
    pieces = sum(one.pieces for one in told)
    used = sum(one.used for one in told)
    each = (prior_each * prior_pieces + used) / (prior_pieces + pieces)
    if len(told) >= MANY:
        ratio = used / pieces
        mean = pieces / len(told)
        scatter = sum((one.used - ratio * one.pieces) ** 2 for one in told) / (len(told) - 1)
        spread = math.sqrt(scatter / len(told)) / mean
    else:
        spread = float(each) / math.sqrt(prior_pieces + pieces)
    return Use(each, spread, pieces, len(told))


def pieces_from(amount: int, use: Use) -> tuple[int, int, int] | None:
    """Give how many pieces an amount lasts for, and between which numbers that is likely.

    Args:
        amount: units, 0 or more.
        use: of one piece.

    Returns:
        Pieces, and their number at two spreads more and fewer; nothing where a piece uses nothing.
    """
    if amount < 0:
        raise ValueError("an amount is 0 or more")
    if use.each <= 0:
        return None
    most = float(use.each) - 2 * use.spread
    fewest = int(amount / (float(use.each) + 2 * use.spread))
    return int(amount / use.each), fewest, int(amount / most) if most > 0 else int(amount / use.each) * 2
