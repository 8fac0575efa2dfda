"""Does "nine in ten" come out nine times in ten: runs simulated with known rates, and with rates learned from counts.

Scored against the chance that is stated for the whole number of starts, not against the confidence asked for: whole pieces
over-cover, and by how much is stated below. 2,510 runs are what an equivalence test at 90 in 100 within two points needs
(two one-sided 5 % exact tests, 90 % power; computed).
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np
import pytest

from inventory.calc.good_rates import Rate, counted, prior
from inventory.calc.starts import Point, starts

RUNS = 2_600
WITHIN = 0.015
SURE = (0.8, 0.9, 0.95)
TRUE = ((0.97, 0.0), (0.98, 0.0), (0.99, 0.0), (0.95, 0.6))  # good at once, share of rejects that is worked over


@dataclass
class Score:
    """How often it was enough, what was stated, and what was asked."""

    enough: list[bool]
    stated: list[float]
    asked: list[float]

    @property
    def off(self) -> float:
        return float(np.mean(np.array(self.enough) - np.array(self.stated)))

    @property
    def over(self) -> float:
        return float(np.mean(np.array(self.stated) - np.array(self.asked)))


def through(dice: np.random.Generator, count: int, points: list[tuple[float, float]]) -> int:
    """Let pieces pass the points: some are good at once, some of the rest when worked over."""
    for rate, rework in points:
        good = int(dice.binomial(count, rate))
        count = good + int(dice.binomial(count - good, rework))
    return count


def test_with_known_rates_enough_come_good_as_often_as_is_stated(record_property: object) -> None:
    dice, score = np.random.default_rng(1847), Score([], [], [])

    @cache
    def planned(needed: int, sure: float) -> tuple[int, float]:
        found = starts(needed, sure, [Point(rate, rework) for rate, rework in TRUE])
        assert found is not None
        return found.count, found.chance

    for _ in range(4 * RUNS):
        needed, sure = int(dice.integers(1, 31)), SURE[int(dice.integers(3))]
        count, stated = planned(needed, sure)
        score.enough.append(through(dice, count, list(TRUE)) >= needed)
        score.stated.append(stated)
        score.asked.append(sure)
    print(f"known rates: off by {score.off:+.4f}, over-cover from whole pieces {score.over:+.4f}")
    assert abs(score.off) <= WITHIN
    assert 0 <= score.over <= 0.06


def test_with_learned_rates_enough_come_good_as_often_as_is_stated() -> None:
    """Each run is of a shop of its own, whose true rates are as the prior believes and of which some pieces were counted."""
    dice, score = np.random.default_rng(1850), Score([], [], [])
    believed = [prior(Fraction(rate).limit_denominator(100)) for rate in (0.96, 0.97, 0.95)]
    for _ in range(RUNS):
        true = [float(dice.beta(float(one.good), float(one.bad))) for one in believed]
        known = [_counted(dice, one, rate) for one, rate in zip(believed, true, strict=True)]
        needed, sure = int(dice.integers(1, 17)), SURE[int(dice.integers(3))]
        found = starts(needed, sure, [Point(rate) for rate in known])
        assert found is not None
        score.enough.append(through(dice, found.count, [(rate, 0.0) for rate in true]) >= needed)
        score.stated.append(found.chance)
        score.asked.append(sure)
    print(f"learned rates: off by {score.off:+.4f}, over-cover from whole pieces {score.over:+.4f}")
    assert abs(score.off) <= WITHIN
    assert 0 <= score.over <= 0.08


def _counted(dice: np.random.Generator, before: Rate, true: float) -> Rate:
    pieces = int(dice.integers(0, 300))
    good = int(dice.binomial(pieces, true))
    return counted(before, good, pieces - good)


def test_plain_division_falls_short_about_as_often_as_not() -> None:
    """Twelve, 24 and 48 good at 10 % loss: n/(1-q) is enough 84, 72 and 71 times in 100 (computed)."""
    from inventory.calc.starts import plain

    said = [plain(needed, [Point(0.9)]) for needed in (12, 24, 48)]
    assert [one.count for one in said] == [14, 27, 54]
    assert [round(100 * one.chance) for one in said] == [84, 72, 71]


@pytest.mark.parametrize(("needed", "loss", "enough"), [(12, 0.05, 14), (24, 0.05, 27), (48, 0.05, 53), (12, 0.1, 16), (24, 0.1, 30), (48, 0.1, 58)])  # fmt: skip
def test_starts_that_are_enough_nineteen_times_in_twenty(needed: int, loss: float, enough: int) -> None:
    """Computed, binomial."""
    found = starts(needed, 0.95, [Point(1 - loss)])
    assert found is not None
    assert found.count == enough


def test_more_counts_lead_from_the_prior_to_the_rate_itself_and_more_confidence_never_to_fewer() -> None:
    known = starts(20, 0.9, [Point(0.93)])
    assert known is not None
    counts = []
    for pieces in (0, 100, 1_000, 10_000, 1_000_000):
        rate = counted(prior(Fraction(85, 100)), round(0.93 * pieces), pieces - round(0.93 * pieces))
        found = starts(20, 0.9, [Point(rate)])
        assert found is not None
        counts.append(found.count)
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] == known.count
    for more in (0.5, 0.8, 0.9, 0.95, 0.99):
        assert starts(20, more, [Point(0.93)]).count <= starts(20, (1 + more) / 2, [Point(0.93)]).count  # type: ignore[union-attr]
