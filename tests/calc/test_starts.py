"""Starts: never fewer for more certainty, towards the known rate as counts grow, and as sure as they say."""

import math
import random
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc.good_rates import Rate, counted, incomplete_beta, prior
from inventory.calc.starts import Point, chance, passed, plain, starts, table, through

few = settings(max_examples=25, deadline=None)
rates = st.floats(0.7, 0.99)
learned = st.builds(lambda good, bad: Rate(Fraction(good), Fraction(bad)), st.integers(40, 200), st.integers(1, 20))
points = st.lists(st.builds(Point, rates | learned, st.sampled_from([0.0, 0.3])), min_size=1, max_size=3)


@few
@given(needed=st.integers(1, 20), route=points)
def test_more_certainty_never_starts_fewer_and_each_number_is_the_smallest(needed: int, route: list[Point]) -> None:
    found = [starts(needed, sure, route) for sure in (0.5, 0.8, 0.9, 0.95)]
    counts = [one.count for one in found if one is not None]
    assert counts == sorted(counts)
    for sure, one in zip((0.5, 0.8, 0.9, 0.95), found, strict=True):
        assert one is not None
        assert one.chance >= sure - 1e-9
        assert one.one_fewer < sure


@few
@given(count=st.integers(0, 40), route=points)
def test_the_chances_of_all_numbers_come_to_one(count: int, route: list[Point]) -> None:
    assert list(through(count, route).sum(axis=1)) == pytest.approx([1] * (count + 1), abs=1e-9)


def test_a_rate_comes_to_the_known_one_as_counts_grow() -> None:
    believed = prior(0.9)
    known = starts(24, 0.9, [Point(0.95)])
    assert known is not None
    counts = []
    for times in (1, 10, 100, 10_000):
        found = starts(24, 0.9, [Point(counted(believed, 19 * times, times))])
        assert found is not None
        counts.append(found.count)
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] == known.count


def test_a_belief_is_worth_so_many_pieces() -> None:
    believed = prior(0.92)
    assert (believed.mean, believed.pieces) == (pytest.approx(0.92), 50)
    wide, narrow = prior(0.92, 10).interval(), prior(0.92, 1_000).interval()
    assert wide[1] - wide[0] > narrow[1] - narrow[0]
    assert believed.interval()[0] < 0.92 < believed.interval()[1]


def test_what_is_worked_over_is_not_lost() -> None:
    """Nine in ten are good and half of the others can be worked over: .95 in all; counted by hand."""
    point = Point(0.9, rework=0.5)
    assert point.mean == pytest.approx(0.95)
    assert list(passed(2, point)[2]) == pytest.approx([0.05**2, 2 * 0.05 * 0.95, 0.95**2])
    sure = starts(24, 0.9, [point])
    without = starts(24, 0.9, [Point(0.9)])
    assert sure is not None
    assert without is not None
    assert sure.count < without.count


def test_the_bar_gives_a_choice_between_two_numbers() -> None:
    """24 good of a rate of .92: 26 are enough in 65 of 100 runs, 28 in 93; worked out by the binomial sum."""
    shown = dict(table(24, (26, 28), [Point(0.92)]))
    good, bad = Fraction(92, 100), Fraction(8, 100)
    exact = [float(sum(math.comb(of, n) * good**n * bad ** (of - n) for n in range(24, of + 1))) for of in (26, 28)]
    assert [shown[26], shown[28]] == pytest.approx(exact, abs=1e-12)
    assert [round(100 * share) for share in exact] == [65, 93]
    assert plain(24, [Point(0.92)]).count == 27
    assert starts(3, 0.9, [Point(0.0)], most=100) is None


@pytest.mark.parametrize("sure", [0.8, 0.9, 0.95])
def test_over_many_runs_enough_come_off_as_often_as_was_said(sure: float) -> None:
    """2,520 invented runs with rates drawn from what is known of them: the share that is enough is the one stated."""
    dice, seed = np.random.default_rng(1847), random.Random(1847)
    enough, stated = 0, 0.0
    for _ in range(2_520):
        needed = seed.randint(4, 40)
        learned_rate = counted(prior(0.92), seed.randint(0, 150), seed.randint(0, 12))
        found = starts(needed, sure, [Point(learned_rate)])
        assert found is not None
        true = dice.beta(float(learned_rate.good), float(learned_rate.bad))
        enough += int(dice.binomial(found.count, true) >= needed)
        stated += found.chance
    assert abs(enough - stated) / 2_520 <= 0.015
    assert stated / 2_520 > sure, "whole pieces are surer than asked for"


def test_the_incomplete_beta_function_meets_its_closed_forms() -> None:
    """I_x(1, b) = 1 - (1 - x)^b, I_x(a, 1) = x^a, and the mirror I_x(a, b) = 1 - I_(1-x)(b, a)."""
    for x in (0.01, 0.3, 0.5, 0.77, 0.999):
        assert incomplete_beta(1, 7.5, x) == pytest.approx(1 - (1 - x) ** 7.5, abs=1e-13)
        assert incomplete_beta(3.25, 1, x) == pytest.approx(x**3.25, abs=1e-13)
        assert incomplete_beta(46.5, 4.5, x) == pytest.approx(1 - incomplete_beta(4.5, 46.5, 1 - x), abs=1e-12)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Rate(Fraction(0), Fraction(1)),
        lambda: prior(1.0),
        lambda: prior(0.9, 0),
        lambda: counted(prior(0.9), -1, 0),
        lambda: Point(1.5),
        lambda: Point(0.5, rework=2),
        lambda: starts(0, 0.9, [Point(0.9)]),
        lambda: starts(1, 1.0, [Point(0.9)]),
        lambda: plain(1, [Point(0.0)]),
        lambda: prior(0.9).quantile(1.0),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match="."):
        wrong()


def test_enough_of_none_is_certain() -> None:
    assert chance(0, 0, [Point(0.9)]) == 1
    assert chance(3, 4, [Point(0.9)]) == 0
