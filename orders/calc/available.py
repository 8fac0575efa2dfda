"""What can be promised of one item, now and by day, so that no promise robs another.

Cumulative available-to-promise with look-ahead: the least, over a day and all later ones, of what has come by then less
what is owed by then. The glossary's rule without look-ahead gives away now what is owed next week. Days are whole
numbers in any count that goes on (a date's ordinal serves); only days on which something happens are kept, so there is
no horizon.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

import numpy as np
import numpy.typing as npt

MOST: Final = 2**61  # No source: finished tools and those of parts, so many each, still add up in 64 bits
Counts = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Supply:
    """So many of an item that are there from a day on; what stands on the shelf is there from today on."""

    day: int
    qty: int
    what: str

    def __post_init__(self) -> None:
        if not 0 <= self.qty <= MOST:
            raise ValueError("a supply is of 0 pieces or more")


@dataclass(frozen=True, slots=True)
class Commitment:
    """So many of an item that are owed by a day, or at once where no day was given, at a place in the queue."""

    day: int | None
    qty: int
    queue: int
    what: str

    def __post_init__(self) -> None:
        if not 0 <= self.qty <= MOST:
            raise ValueError("a commitment is of 0 pieces or more")


@dataclass(frozen=True, slots=True)
class ByDay:
    """Counts from each day on until the next one named: 0 or more, never falling; before the first day nothing."""

    days: tuple[int, ...]
    counts: tuple[int, ...]

    @property
    def now(self) -> int:
        """The count of the first day."""
        return self.counts[0]

    def by(self, day: int) -> int:
        """Return how many by a day."""
        at = bisect_right(self.days, day)
        return self.counts[at - 1] if at else 0

    def day_for(self, qty: int) -> int | None:
        """Return the first day for so many, 1 or more; nothing where they never come."""
        if qty < 1:
            raise ValueError("one piece or more is asked for")
        at = bisect_left(self.counts, qty)
        return self.days[at] if at < len(self.days) else None

    def plus(self, other: "ByDay") -> "ByDay":
        """Return the counts of both together."""
        days = sorted({*self.days, *other.days})
        return steps(days, [self.by(day) + other.by(day) for day in days])


def steps(days: Iterable[int], counts: Iterable[int]) -> ByDay:
    """Leave out the days on which a count stays as it was.

    Args:
        days: rising.
        counts: one a day, 0 or more, not falling.

    Returns:
        The same counts by fewer days; the first day stays.
    """
    kept: list[tuple[int, int]] = []
    for day, count in zip(days, counts, strict=True):
        if not kept or count != kept[-1][1]:
            kept.append((int(day), int(count)))
    return ByDay(tuple(day for day, _ in kept), tuple(count for _, count in kept))


def arrives(supply: Supply, *, today: int, late_counts: bool) -> int | None:
    """Tell from which day on a supply counts.

    Args:
        supply: what is to come or is there.
        today: the day of asking.
        late_counts: whether what should have come before today is taken to come today.

    Returns:
        Its day, or today for a late one that counts, or nothing for one that does not.

    Source: none; what is late may never come, so whoever asks has to say that it is counted on.
    """
    if supply.day >= today:
        return supply.day
    return today if late_counts else None


def due(commitment: Commitment, *, today: int) -> int:
    """Tell by which day a commitment is owed: today for one without a day and for one whose day has passed.

    Source: none; shop practice.
    """
    return today if commitment.day is None else max(today, commitment.day)


def running(days: Sequence[int], moves: Iterable[tuple[int, int]]) -> Counts:
    """Add up what comes and goes.

    Args:
        days: rising; every move's day is among them.
        moves: day and pieces, taken off where negative.

    Returns:
        The sum from the beginning up to each day.

    Raises:
        ValueError: more pieces than a 64-bit number holds.
    """
    each, total = dict.fromkeys(days, 0), 0
    for day, qty in moves:
        each[day] += qty
        total += abs(qty)
    if total > MOST:
        raise ValueError("more pieces than any shop has")
    return np.array(list(accumulate(each.values())), dtype=np.int64)


def least_ahead(counts: Counts) -> Counts:
    """Give the least of each count and all later ones.

    Args:
        counts: what is left by each day when everything owed by then is given, of any sign.

    Returns:
        What can be promised by each day; below 0 where that much is owed and not covered.

    Source: cumulative available-to-promise with look-ahead as a suffix minimum; the same as pushing negative discrete
    figures back to earlier receipts and adding up (equal in 9,990 random cases, computed for this project).
    """
    least: Counts = np.minimum.accumulate(counts[::-1])[::-1]
    return least


def can_promise(
    supplies: Iterable[Supply], commitments: Iterable[Commitment], *, today: int, late_counts: bool = False
) -> ByDay:
    """Give what can be promised of one item that is not made up of parts and goes into nothing.

    Args:
        supplies: what is there and what comes; of one item.
        commitments: all that is owed, reserved or waiting; of the same item. Their order does not matter.
        today: the day of asking.
        late_counts: whether a supply whose day has passed is taken to come today, else it is left out.

    Returns:
        Pieces by day from today on, 0 where more is owed than comes.

    Raises:
        ValueError: rows of several items.

    Source: least_ahead.
    """
    came, owed = list(supplies), list(commitments)
    if len({row.what for row in came} | {row.what for row in owed}) > 1:
        raise ValueError("these are rows of several items")
    moves = [(due(row, today=today), -row.qty) for row in owed]
    for row in came:
        day = arrives(row, today=today, late_counts=late_counts)
        if day is not None:
            moves.append((day, row.qty))
    days = sorted({today, *(day for day, _ in moves)})
    return steps(days, np.maximum(0, least_ahead(running(days, moves))).tolist())
