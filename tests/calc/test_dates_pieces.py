"""Good pieces of so many: exactly the binomial law, and never fewer for more pieces, a better rate, better luck."""

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.dates.chance import Law
from orders.calc.dates.minutes import fire_minutes, holds, loads, minutes_of
from orders.calc.dates.pieces import MOST, good_of
from orders.calc.dates.route import Fire, Oven, Step

uniforms = st.floats(0, 1, exclude_max=True)
rates = st.floats(0, 1)


def good(came: int, rate: float, uniform: float) -> int:
    return int(good_of(np.array([came]), np.array([rate]), np.array([uniform]))[0])


def chance_of_at_least(least: int, came: int, rate: Fraction) -> Fraction:
    return sum((comb(came, n) * rate**n * (1 - rate) ** (came - n) for n in range(least, came + 1)), start=Fraction(0))


@given(came=st.integers(0, 40), rate=st.fractions(0, 1, max_denominator=64), uniform=uniforms)
def test_a_future_has_so_many_good_pieces_as_the_exact_chances_say(came: int, rate: Fraction, uniform: float) -> None:
    found = good(came, float(rate), uniform)
    at_least, more = (chance_of_at_least(n, came, rate) for n in (found, found + 1))
    slack = Fraction(1, 10**12)  # the sum of doubles against fractions
    assert more - slack <= Fraction(uniform) <= at_least + slack


def test_over_all_luck_the_good_pieces_are_binomial() -> None:
    luck = (np.arange(20_000) + 0.5) / 20_000
    for came, rate in ((13, Fraction(9, 10)), (30, Fraction(97, 100)), (7, Fraction(3, 10)), (60, Fraction(21, 50))):
        found = good_of(np.full(len(luck), came), np.full(len(luck), float(rate)), luck)
        for least in range(came + 1):
            exact = float(chance_of_at_least(least, came, rate))
            assert abs(np.count_nonzero(found >= least) / len(luck) - exact) <= 1 / 20_000


@given(came=st.integers(0, MOST - 1), rate=rates, better=rates, uniform=uniforms, worse_luck=uniforms)
def test_more_pieces_a_better_rate_or_better_luck_never_give_fewer_good_ones(
    came: int, rate: float, better: float, uniform: float, worse_luck: float
) -> None:
    rate, better = sorted((rate, better))
    uniform, worse_luck = sorted((uniform, worse_luck))
    found = good(came, rate, uniform)
    assert 0 <= found <= came
    assert found <= good(came + 1, rate, uniform) <= found + 1
    assert found <= good(came, better, uniform)
    assert found >= good(came, rate, worse_luck)


def test_nothing_good_and_all_good_are_certain() -> None:
    assert [good(9, 0.0, u) for u in (0.0, 0.5, 1 - 2**-53)] == [0, 0, 0]
    assert [good(9, 1.0, u) for u in (0.0, 0.5, 1 - 2**-53)] == [9, 9, 9]
    assert good(0, 0.5, 0.5) == 0
    assert good_of(np.zeros(0, np.int64), np.zeros(0), np.zeros(0)).size == 0


def test_a_batch_too_big_for_the_sum_is_refused() -> None:
    assert 0 < good(MOST, 0.5, 0.5) < MOST
    with pytest.raises(ValueError, match="parted first"):
        good(MOST + 1, 0.5, 0.5)


@pytest.mark.parametrize(
    "law",
    [
        Law("lognormal", (0.4,)), Law("gamma", (4.0,)), Law("normal", (0.2,)), Law("triangular", (2, 3, 8)),
        Law("pert", (2, 3, 8)), Law("counted", (1, 2, 2, 7)),
    ],
)  # fmt: skip
def test_minutes_vary_about_the_mean_that_the_plan_goes_by(law: Law) -> None:
    drawn = law.draw(np.random.default_rng(7), 200_000)
    assert drawn.min() >= 0
    assert abs(drawn.mean() - law.mean) <= 5 * drawn.std() / 200_000**0.5  # five standard errors


def test_a_law_with_wrong_numbers_is_refused() -> None:
    for kind, numbers in (
        ("weibull", (1.0,)), ("gamma", ()), ("gamma", (1.0, 2.0)), ("gamma", (0.0,)), ("lognormal", (-0.1,)),
        ("pert", (3, 2, 8)), ("triangular", (2, 2, 2)), ("counted", ()),
    ):  # fmt: skip
        with pytest.raises(ValueError):
            Law(kind, tuple(map(float, numbers)))


@given(share=st.floats(0.01, 1), pieces=st.integers(1, 100))
def test_loads_of_the_oven_hold_all_pieces_and_none_too_many(share: float, pieces: int) -> None:
    oven = Oven(share, 30, 120, "204")
    assert holds(oven) * share <= 1 + 1e-8 < (holds(oven) + 1) * share + 2e-8
    assert (loads(oven, pieces) - 1) * holds(oven) < pieces <= loads(oven, pieces) * holds(oven)


def test_the_plan_goes_by_the_fire_where_it_is_slower_than_the_hammer() -> None:
    step = Step(1, "forged", 3.0, fire=Fire(4, 20.0), good=9.0, bad=1.0, rework=0.5, rework_minutes=8.0)
    assert fire_minutes(Fire(4, 20.0), 9) == 60
    assert minutes_of(step, 9) == pytest.approx(60 + 9 * 0.1 * 0.5 * 8)
    assert minutes_of(Step(1, "forged", 3.0, Law("counted", (1.0, 2.0)), fire=Fire(4, 5.0)), 9) == 9 * 3 * 1.5
