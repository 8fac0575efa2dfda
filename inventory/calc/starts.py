"""How many pieces to start so that enough come off well: the smallest number that is sure enough, and why not fewer.

Pieces pass counting points one after the other. At each a piece is good, or it is a reject; a part of the rejects can be
worked over and passes then. A point's rate is known, or known as far as the counts go (good_rates.Rate).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.calc.good_rates import Rate

SAME: Final = 1e-12  # chances closer than this are the same: 16 of 448 cases of a grid meet their confidence exactly
MOST: Final = 2_000  # No source: more starts than any small forge makes in a run
Chances = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Point:
    """A counting point: its rate, a known share or one that is learned, and the share of rejects that are worked over."""

    rate: Rate | float
    rework: float = 0.0

    def __post_init__(self) -> None:
        if isinstance(self.rate, float | int) and not 0 <= self.rate <= 1:
            raise ValueError("a rate lies between 0 and 1")
        if not 0 <= self.rework <= 1:
            raise ValueError("the share worked over lies between 0 and 1")

    @property
    def mean(self) -> float:
        """The chance that a piece gets past this point."""
        rate = self.rate.mean if isinstance(self.rate, Rate) else float(self.rate)
        return rate + (1 - rate) * self.rework


@dataclass(frozen=True, slots=True)
class Starts:
    """How many to start, how sure that is, and how sure one fewer would be."""

    count: int
    chance: float
    one_fewer: float


def passed(most: int, point: Point) -> Chances:
    """Give the chances of each number of good pieces after one counting point.

    Args:
        most: rows for 0 to so many pieces that come to it.
        point: the point.

    Returns:
        Row by pieces that come, column by good pieces, 0 to `most` each.

    Source: binomial and beta-binomial distribution (from memory; any textbook of statistics).
    """
    good = _beta_binomial(most, point.rate) if isinstance(point.rate, Rate) else _binomial(most, float(point.rate))
    if not point.rework:
        return good
    at = np.arange(most + 1)
    turned = np.maximum(at[:, None] - at[None, :], 0)  # row less column: good pieces to rejects and back
    rejected = np.tril(np.take_along_axis(good, turned, 1))
    lost = rejected @ _binomial(most, 1 - point.rework)
    chances: Chances = np.tril(np.take_along_axis(lost, turned, 1))
    return chances


def _binomial(most: int, rate: float) -> Chances:
    at = np.arange(most + 1)
    if rate in (0.0, 1.0):
        sure: Chances = np.zeros((most + 1, most + 1))
        sure[at, at if rate else 0] = 1
        return sure
    good, bad = at[None, :], at[:, None] - at[None, :]
    logs = _log_choose(most) + good * math.log(rate) + bad * math.log1p(-rate)
    made: Chances = np.where(bad >= 0, np.exp(np.where(bad >= 0, logs, 0)), 0)
    return made


def _beta_binomial(most: int, rate: Rate) -> Chances:
    a, b = float(rate.good), float(rate.bad)
    at = np.arange(most + 1)
    of_good = np.array([math.lgamma(a + k) - math.lgamma(a) for k in range(most + 1)])
    of_bad = np.array([math.lgamma(b + k) - math.lgamma(b) for k in range(most + 1)])
    of_all = np.array([math.lgamma(a + b + k) - math.lgamma(a + b) for k in range(most + 1)])
    bad = at[:, None] - at[None, :]
    logs = _log_choose(most) + of_good[None, :] + of_bad[np.maximum(bad, 0)] - of_all[:, None]
    made: Chances = np.where(bad >= 0, np.exp(np.where(bad >= 0, logs, 0)), 0)
    return made


def _log_choose(most: int) -> Chances:
    """Give the logarithms of the binomial coefficients, row over column; nothing of use above the diagonal."""
    logs = np.array([math.lgamma(k + 1) for k in range(most + 1)])
    at = np.arange(most + 1)
    found: Chances = logs[:, None] - logs[None, :] - logs[np.abs(at[:, None] - at[None, :])]
    return found


def through(most: int, points: Sequence[Point]) -> Chances:
    """Give the chances of each number of good pieces behind all counting points.

    Args:
        most: rows for 0 to so many pieces started.
        points: in the order of the route.

    Returns:
        Row by pieces started, column by good pieces, 0 to `most` each.
    """
    chances: Chances = np.eye(most + 1)
    for point in points:
        chances = chances @ passed(most, point)
    return chances


def chance(count: int, needed: int, points: Sequence[Point]) -> float:
    """Give the chance that enough come off well.

    Args:
        count: pieces started, 0 or more.
        needed: good pieces wanted, 0 or more.
        points: in the order of the route.

    Returns:
        0 to 1.
    """
    return float(_enough(count, needed, points)[count])


def _enough(most: int, needed: int, points: Sequence[Point]) -> Chances:
    """Give the chance of enough good pieces, by pieces started."""
    found: Chances = np.minimum(1.0, through(most, points)[:, needed:].sum(axis=1))
    return found


def starts(needed: int, sure: float, points: Sequence[Point], *, most: int = MOST) -> Starts | None:
    """Give the smallest number of pieces to start.

    Args:
        needed: good pieces wanted, 1 or more.
        sure: the chance that there are so many, between 0 and 1.
        points: in the order of the route.
        most: give up above this.

    Returns:
        The number with its chance, or None where no number up to `most` is sure enough.

    Raises:
        ValueError: a value out of range.
    """
    if needed < 1 or not 0 < sure < 1:
        raise ValueError("one piece or more is needed, with a chance between 0 and 1")
    reach = min(most, 2 * needed + 20)
    while True:
        found = _enough(reach, needed, points)
        sure_ones = np.flatnonzero(found >= sure - SAME)
        if len(sure_ones):
            count = int(sure_ones[0])
            return Starts(count, float(found[count]), float(found[count - 1]))
        if reach == most:
            return None
        reach = min(most, 2 * reach)


def plain(needed: int, points: Sequence[Point]) -> Starts:
    """Give the number that divides by the mean rate and rounds up, and how often that is enough.

    Args:
        needed: good pieces wanted, 1 or more.
        points: in the order of the route.

    Returns:
        The number, to be shown beside the one that is sure.
    """
    mean = math.prod(point.mean for point in points)
    if mean <= 0:
        raise ValueError("nothing comes off well by these rates")
    count = math.ceil(needed / mean - SAME)
    found = _enough(count, needed, points)
    return Starts(count, float(found[count]), float(found[count - 1]))


def table(needed: int, counts: Sequence[int], points: Sequence[Point]) -> list[tuple[int, float]]:
    """Give how sure some numbers are, as for what the bar gives: 26 → 65 in 100, 28 → 93 in 100.

    Args:
        needed: good pieces wanted.
        counts: numbers of starts.
        points: in the order of the route.

    Returns:
        Each number with its chance.
    """
    found = _enough(max(counts, default=0), needed, points)
    return [(count, float(found[count])) for count in counts]
