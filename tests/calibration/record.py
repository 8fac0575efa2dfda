"""The record of many shops: kept against stated, with an interval over whole shops, and where in its curve a date fell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

import numpy as np

from tests.calibration.judging import Judged

DRAWS = 2_000  # of the bootstrap
SURE = 95  # in a hundred, of its interval


@dataclass(frozen=True, slots=True)
class Record:
    """Dates that were given: how many, the share kept, the mean stated chance, the interval of the difference."""

    dates: int
    kept: float
    stated: float
    low: float
    high: float

    @property
    def over(self) -> float:
        """By how much more was kept than was said."""
        return self.kept - self.stated


def record(judged: Sequence[Judged], *, seed: int = 1) -> Record:
    """Sum up; shops are drawn whole, for the dates of one shop share its weeks.

    Source: cluster bootstrap, percentile interval (Efron and Tibshirani, An Introduction to the Bootstrap, from memory).
    """
    shops = sorted({one.shop for one in judged})
    rows = [[one for one in judged if one.shop == shop] for shop in shops]
    gained = np.array([sum(one.kept - one.given.stated for one in row) for row in rows])
    sizes = np.array([len(row) for row in rows])
    picks = np.random.default_rng(seed).integers(0, len(rows), (DRAWS, len(rows)))
    drawn = gained[picks].sum(axis=1) / sizes[picks].sum(axis=1)
    low, high = np.percentile(drawn, [(100 - SURE) / 2, (100 + SURE) / 2])
    count = len(judged)
    kept, stated = sum(one.kept for one in judged) / count, sum(one.given.stated for one in judged) / count
    return Record(count, kept, stated, float(low), float(high))


def share_kept(judged: Sequence[Judged], day: Callable[[Judged], int]) -> float:
    """Give the share that was sent by another day than the one given, as a naive rule's."""
    return sum(one.sent is not None and one.sent <= day(one) for one in judged) / len(judged)


def places(judged: Sequence[Judged], *, seed: int = 1) -> list[float]:
    """Give where in its curve the day really fell, one date a shop, drawn evenly inside the step of a whole day.

    Source: randomised probability integral transform (Czado, Gneiting and Held 2009, from memory).
    """
    dice, found = Random(seed), []
    for shop in sorted({one.shop for one in judged}):
        one = dice.choice([each for each in judged if each.shop == shop])
        curve, day = one.given.curve, None if one.sent is None else one.sent - one.given.asked
        low, high = (1 - curve.never, 1.0) if day is None else (curve.sure(day - 1), curve.sure(day))
        found.append(low + dice.random() * (high - low))
    return found


def chi_square(uniform: Sequence[float], bins: int = 10) -> float:
    """Give the chi-square of numbers that should lie evenly between 0 and 1."""
    counts = np.histogram(uniform, bins, (0, 1))[0]
    expected = len(uniform) / bins
    return float(((counts - expected) ** 2 / expected).sum())
