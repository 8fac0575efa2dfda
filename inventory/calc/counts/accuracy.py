"""How right the book is: the share of lines within their tolerance, and what that share can be trusted for."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

WANTED: Final = 0.95
"""Share of lines within tolerance to aim at, 0.99 the best shops. Source: as seen at supplychainmetric.com."""

CONFIDENCE: Final = 0.95
_HALVINGS: Final = 200


@dataclass(frozen=True, slots=True)
class Line:
    """What the book said, what was counted, and how far off it may be either way, all in the item's unit, 0 or more."""

    book: int
    count: int
    allowed: int


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Lines counted, those within tolerance, their share with its interval, and the share that is sure one-sidedly.

    There is no sum over lines: 5 too few here and 5 too many there are two wrong lines, not none.
    """

    lines: int
    right: int
    share: float
    low: float
    high: float
    least: float

    @property
    def proven(self) -> bool:
        """Whether the wanted share can be claimed, not only hoped for."""
        return self.least >= WANTED


def accuracy(lines: Iterable[Line]) -> Accuracy | None:
    """Return how right the book was, none without a line.

    Source: share of records within tolerance, the limit included (as seen at supplychainmetric.com).
    """
    told = [abs(one.count - one.book) <= one.allowed for one in lines]
    if not told:
        return None
    n, right = len(told), sum(told)
    return Accuracy(n, right, right / n, *wilson(right, n), sure(right, n))


def wilson(right: int, lines: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return the interval of a share.

    Args:
        right: lines within tolerance, 0 to `lines`.
        lines: lines counted, 1 or more.
        confidence: above 0 and below 1, two-sided.

    Returns:
        Lower and upper end, 0 to 1.

    Raises:
        ValueError: a value out of range.

    Source: Wilson, Journal of the American Statistical Association 22 (1927) 209-212 (from memory).
    """
    _check(right, lines, confidence)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share, spread = right / lines, z * z / lines
    middle = (share + spread / 2) / (1 + spread)
    half = z * math.sqrt(share * (1 - share) / lines + spread / (4 * lines)) / (1 + spread)
    low = 0.0 if right == 0 else max(0.0, middle - half)
    return low, 1.0 if right == lines else min(1.0, middle + half)


def sure(right: int, lines: int, confidence: float = CONFIDENCE) -> float:
    """Return the share that lines within tolerance prove one-sidedly; arguments and errors as of `wilson`.

    Returns:
        The share at which so many right lines or more would be seen in 1 - confidence of the samples; 0 to 1.

    Source: Clopper and Pearson, Biometrika 26 (1934) 404-413 (from memory).
    """
    _check(right, lines, confidence)
    if not right:
        return 0.0
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        low, high = (middle, high) if _or_more(right, lines, middle) < 1 - confidence else (low, middle)
    return low


def _or_more(right: int, lines: int, share: float) -> float:
    """Return the chance of so many right lines or more."""
    yes, no, whole = math.log(share), math.log1p(-share), math.lgamma(lines + 1)
    return math.fsum(
        math.exp(whole - math.lgamma(k + 1) - math.lgamma(lines - k + 1) + k * yes + (lines - k) * no)
        for k in range(right, lines + 1)
    )


def _check(right: int, lines: int, confidence: float) -> None:
    if not 0 <= right <= lines or lines < 1 or not 0 < confidence < 1:
        raise ValueError("right lines are 0 to all, lines 1 or more, a confidence between 0 and 1")
