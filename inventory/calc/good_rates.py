"""What share of the pieces comes off well at a counting point, learned from the shop's own counts.

The rate is a Beta distribution: the prior, worth so many pieces, and each counted piece added to it. How sure that is
comes with it: few counts, a wide interval.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

PRIOR_PIECES: Final = 50  # No source: what a guess before any count is worth, in pieces; the shop may change it
_STEPS: Final = 400  # of the continued fraction; it needs some hundred at the most
_TINY: Final = 1e-300
_CLOSE: Final = 1e-15
_HALVINGS: Final = 200  # of an interval from 0 to 1; more than doubles can tell apart


@dataclass(frozen=True, slots=True)
class Rate:
    """A share of good pieces as far as it is known: Beta(good, bad), both above 0, in pieces."""

    good: Fraction
    bad: Fraction

    def __post_init__(self) -> None:
        if self.good <= 0 or self.bad <= 0:
            raise ValueError("a rate is learned from more than no good and more than no bad pieces; use a prior")

    @property
    def mean(self) -> float:
        """The chance that the next piece is good."""
        return float(self.good / (self.good + self.bad))

    @property
    def pieces(self) -> float:
        """How many pieces it is worth, the prior's among them."""
        return float(self.good + self.bad)

    def quantile(self, share: float) -> float:
        """Give the rate that the true one is under with a chance.

        Args:
            share: the chance, between 0 and 1.

        Returns:
            The quantile, to about 1e-12.
        """
        if not 0 < share < 1:
            raise ValueError("a chance lies between 0 and 1")
        a, b = float(self.good), float(self.bad)
        return _invert(lambda rate: incomplete_beta(a, b, rate), share)

    def interval(self, sure: float = 0.95) -> tuple[float, float]:
        """Give the rates between which the true one lies, as much left out below as above.

        Args:
            sure: the chance that it does, between 0 and 1.

        Returns:
            The lower and the upper end.
        """
        out = (1 - sure) / 2
        return self.quantile(out), self.quantile(1 - out)


def prior(rate: float | Fraction, pieces: int = PRIOR_PIECES) -> Rate:
    """Give a rate that is only believed.

    Args:
        rate: the share of good pieces believed in, between 0 and 1.
        pieces: how many counted pieces the belief is worth, 1 or more.

    Returns:
        The rate before any count.
    """
    believed = Fraction(rate).limit_denominator(10_000)
    if not 0 < believed < 1 or pieces < 1:
        raise ValueError("a believed rate lies between 0 and 1 and is worth a piece or more")
    return Rate(believed * pieces, (1 - believed) * pieces)


def counted(before: Rate, good: int, rejected: int) -> Rate:
    """Give the rate after pieces were counted.

    Args:
        before: what was known.
        good: pieces that came off well, 0 or more.
        rejected: pieces that did not, 0 or more.

    Returns:
        The rate with them.

    Source: the Beta distribution is conjugate to counts (from memory; any textbook of Bayesian statistics).
    """
    if min(good, rejected) < 0:
        raise ValueError("counts are 0 or more")
    return Rate(before.good + good, before.bad + rejected)


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Give the regularised incomplete beta function I_x(a, b).

    Args:
        a: above 0.
        b: above 0.
        x: 0 to 1.

    Returns:
        The chance that a Beta(a, b) is under x.

    Source: continued fraction, DLMF 8.17.22 (number from memory), worked out by Lentz's method.
    """
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(a, b, x) / a
    return 1 - front * _fraction(b, a, 1 - x) / b


def _fraction(a: float, b: float, x: float) -> float:
    c, d = 1.0, 1 - (a + b) * x / (a + 1)
    d = 1 / (d if abs(d) > _TINY else _TINY)
    whole = d
    for m in range(1, _STEPS):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 + numerator * d
            c = 1 + numerator / c
            d = 1 / (d if abs(d) > _TINY else _TINY)
            c = c if abs(c) > _TINY else _TINY
            step = c * d
            whole *= step
        if abs(step - 1) < _CLOSE:
            break
    return whole


def _invert(rising: Callable[[float], float], value: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if rising(middle) < value:
            low = middle
        else:
            high = middle
    return (low + high) / 2
