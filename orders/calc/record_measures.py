"""Yardsticks for stated chances: how many of so many should be kept, what a day is worth that was missed."""

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

TAIL: Final = 0.005  # of each side: a band that ninety-nine of a hundred honest records stay in
ALPHA: Final = 0.05  # of each of the two one-sided tests; Schuirmann 1987, from memory
SAME: Final = 1e-12  # chances closer than this are the same


@lru_cache(maxsize=256)
def upto(of: int, chance: float) -> Floats:
    """Give the chance that at most so many of some independent promises are kept, for each number from 0 on.

    Args:
        of: promises, 0 or more.
        chance: of each to be kept, 0 to 1.

    Returns:
        `of` + 1 chances, rising to 1.

    Raises:
        ValueError: a value out of range.

    Source: binomial distribution (from memory; any textbook of statistics).
    """
    if of < 0 or not 0 <= chance <= 1:
        raise ValueError("promises are counted from 0, a chance lies between 0 and 1")
    if chance in (0.0, 1.0):
        return np.ones(of + 1) if not chance else np.append(np.zeros(of), 1.0)
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1.0, of + 1)))])
    kept = np.arange(of + 1)
    each = np.exp(logs[of] - logs - logs[::-1] + kept * math.log(chance) + (of - kept) * math.log1p(-chance))
    found: Floats = np.minimum(1.0, np.cumsum(each))
    return found


def band(of: int, chance: float, *, tail: float = TAIL) -> tuple[int, int]:
    """Give between which numbers the kept ones lie when the chance is true and the promises are independent.

    Args:
        of: promises, 1 or more.
        chance: that was stated, 0 to 1.
        tail: chance of fewer, and of more, at the most; above 0, under a half.

    Returns:
        The least and the most.

    Source: quantiles of the binomial distribution.
    """
    chances = upto(of, chance)
    return int(np.searchsorted(chances, tail - SAME)), int(np.searchsorted(chances, 1 - tail - SAME))


def proving(of: int, low: float, high: float, *, alpha: float = ALPHA) -> tuple[int, int] | None:
    """Give which numbers of kept ones prove that the true share lies between two bounds.

    Args:
        of: independent promises, 1 or more.
        low: lower bound of the share, 0 to 1.
        high: upper bound of the share, above the lower one, to 1.
        alpha: chance to be wrong at either bound.

    Returns:
        The least and the most, or nothing where so few promises cannot prove it.

    Source: two one-sided exact binomial tests (Schuirmann 1987, from memory).
    """
    fewer = np.concatenate([[0.0], upto(of, max(0.0, low))[:-1]])
    enough = np.flatnonzero(1 - fewer <= alpha + SAME) if low > 0 else np.array([0])
    few = np.flatnonzero(upto(of, min(1.0, high)) <= alpha + SAME) if high < 1 else np.array([of])
    if not len(enough) or not len(few) or enough[0] > few[-1]:
        return None
    return int(enough[0]), int(few[-1])


def pinball(sure: float, said: float, came: float) -> float:
    """Give what a day costs that was stated to be met with some chance: late days count the chance, early ones the rest.

    Args:
        sure: the chance, above 0 and under 1.
        said: the day said.
        came: the day it came.

    Returns:
        Days, 0 or more; in the long run least for the day that is met with just that chance.

    Raises:
        ValueError: a chance out of range.

    Source: check loss of Koenker and Bassett 1978; as a score Gneiting and Raftery 2007 (from memory).
    """
    if not 0 < sure < 1:
        raise ValueError("a chance lies between 0 and 1")
    return sure * (came - said) if came > said else (1 - sure) * (said - came)


def unevenness(counts: Sequence[int]) -> float:
    """Give the chi-square of counts that should all be the same.

    Args:
        counts: of bins, at least two, some above 0.

    Returns:
        0 where they are the same, growing without bound.

    Raises:
        ValueError: nothing is counted.

    Source: Pearson's chi-square (from memory; any textbook of statistics).
    """
    if len(counts) < 2 or not sum(counts):
        raise ValueError("two bins or more, with something in them")
    each = sum(counts) / len(counts)
    return sum((count - each) ** 2 for count in counts) / each
