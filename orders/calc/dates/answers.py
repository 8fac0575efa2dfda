"""What the futures say of an order: the day with a chance, the curve, how sure by a day, how many by a day."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Curve:
    """How many of all futures have sent by the end of each day, the first day 0; what is missing at the end is never."""

    counts: tuple[int, ...]
    futures: int

    @classmethod
    def of(cls, sent: Whole, days: int) -> "Curve":
        """Count the futures by day.

        Args:
            sent: day of each future; `days` stands for never.
            days: of the horizon.
        """
        return cls(tuple(np.cumsum(np.bincount(sent, minlength=days + 1)[:days]).tolist()), len(sent))

    @property
    def never(self) -> float:
        """The share of futures in which it is never sent."""
        return 1 - self.counts[-1] / self.futures

    def sure(self, day: int) -> float:
        """Give the chance that it is sent by the end of a day; 0 before the first."""
        return self.counts[min(day, len(self.counts) - 1)] / self.futures if day >= 0 else 0.0

    def day(self, sure: float) -> int | None:
        """Give the first day by which it is sent with at least that chance; nothing where there is none.

        Args:
            sure: the chance, above 0 and under 1.

        Raises:
            ValueError: a chance out of range.

        Source: the lower quantile of the simulated days; days are never interpolated.
        """
        if not 0 < sure < 1:
            raise ValueError("a chance lies between 0 and 1")
        enough = math.ceil(sure * self.futures - 1e-9)
        return next((day for day, count in enumerate(self.counts) if count >= enough), None)


@dataclass(frozen=True, slots=True)
class Split:
    """So many pieces by a day; by none where they are never that sure."""

    pieces: int
    day: int | None


def how_many(ready: Sequence[tuple[int, Whole]], day: int, sure: float) -> int:
    """Give how many pieces are sent by a day with a chance.

    Args:
        ready: for every number of pieces in question, upwards, the day of each future by which so many are sent.
        day: by the end of it.
        sure: the chance, above 0 and under 1.

    Returns:
        The most of these numbers, 0 where none is that sure.
    """
    found = 0
    for pieces, sent in ready:
        if np.count_nonzero(sent <= day) >= math.ceil(sure * len(sent) - 1e-9):
            found = max(found, pieces)
    return found
