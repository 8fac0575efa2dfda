"""How many of so many pieces come off well: the inverse of the binomial distribution, future by future."""

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
EDGE: Final = 1e-12  # luck beyond this is lost in the rounding of the sum, which would take it for no good piece at all
MOST: Final = 1_000  # pieces; above, the first term of the sum is smaller than a double can tell from nothing


def good_of(came: Whole, rate: Floats, uniform: Floats) -> Whole:
    """Give the good pieces.

    Args:
        came: pieces that come to the point, 0 to 1,000.
        rate: chance of each to be good, 0 to 1.
        uniform: one number from 0 to under 1 for each future.

    Returns:
        Whole numbers. More pieces, a better rate, a smaller number never give fewer good ones.

    Raises:
        ValueError: more than 1,000 pieces.

    Source: inversion of the binomial distribution, term by term (from memory; any textbook of simulation).
    """
    if came.size and int(came.max()) > MOST:
        raise ValueError(f"a batch of more than {MOST} pieces is parted first")
    uniform = np.clip(uniform, EDGE, 1 - EDGE)
    upper = rate >= 0.5
    rare = np.where(upper, 1 - rate, rate)
    found = _rare(came, rare, np.where(upper, uniform, 1 - uniform))
    good: Whole = np.where(upper, came - found, found)
    return good


def _rare(came: Whole, rate: Floats, uniform: Floats) -> Whole:
    """Give the smallest number whose distribution function reaches the uniform number; the rate is at most a half."""
    term = (1 - rate) ** came
    counted = np.zeros(len(came), dtype=np.int64)
    left = np.flatnonzero((uniform > term) & (came > 0))
    term, total, ratio = term[left], term[left], rate[left] / (1 - rate[left])
    number, most, wanted = 0, came[left], uniform[left]
    while len(left):
        number += 1
        term = term * ratio * (most - number + 1) / number
        total = total + term
        counted[left] = number
        more = (wanted > total) & (number < most)
        if not more.all():
            left, term, total = left[more], term[more], total[more]
            ratio, most, wanted = ratio[more], most[more], wanted[more]
    return counted
