"""Blanks and heads follow arithmetic: more head wants more bar, and more loss wants more bar."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import steel
from inventory.calc.blank_length import (
    ENOUGH_HEADS,
    MILLION,
    USUAL_LOSS_PPM,
    USUAL_RANGE_PPM,
    Allowance,
    Loss,
    blank_length_nm,
    head_mg,
    length_for_loss_nm,
    loss_from,
)
from inventory.calc.steel import Section, Shape

HEADS = st.integers(200_000, 5_000_000)  # 200 g to 5 kg
BARS = st.integers(1_000_000, 40_000_000)  # a millimetre of bar: 1 g to 40 g
LOSSES = st.builds(Allowance, st.integers(0, 90_000), st.integers(0, 200_000), st.integers(0, 100_000))
KILO = 10_000_000  # a bar of 10 g a millimetre: a kilogram is 100 mm


def test_a_head_that_loses_nothing_wants_its_own_weight_of_bar() -> None:
    assert blank_length_nm(1_000_000, Allowance(), KILO) == 100_000_000
    assert head_mg(100_000_000, Allowance(), KILO) == 1_000_000


def test_scale_goes_first_then_the_slug_then_grinding() -> None:
    """By hand: 1000 g less a tenth is 900 g, less a slug of 100 g 800 g, less a fifth 640 g."""
    allowance = Allowance(100_000, 100_000, 200_000)
    assert head_mg(100_000_000, allowance, KILO) == 640_000
    assert blank_length_nm(640_000, allowance, KILO) == 100_000_000
    assert length_for_loss_nm(640_000, 360_000, KILO) == 100_000_000


def test_the_usual_loss_lies_in_its_range_and_a_learned_one_may_lie_outside() -> None:
    least, most = USUAL_RANGE_PPM
    assert least < USUAL_LOSS_PPM < most
    assert loss_from([990_000] * ENOUGH_HEADS, 1_000_000) == Loss(10_000, 0, ENOUGH_HEADS, learned=True)


@given(HEADS, LOSSES, BARS)
def test_one_figure_for_the_whole_loss_gives_the_same_length(head: int, allowance: Allowance, bar: int) -> None:
    """A whole ppm is all the figure can say: a length may be off by that, and by a milligram of head."""
    length = blank_length_nm(head, allowance, bar)
    blank = Fraction(length * bar, 1_000 * MILLION)
    same = length_for_loss_nm(head, round((1 - head / blank) * MILLION), bar)
    assert abs(same - length) <= 2 + Fraction(2 * length, MILLION)


@given(HEADS, LOSSES, BARS, st.integers(1, 10**6))
def test_a_heavier_head_and_a_heavier_slug_want_no_shorter_blank(
    head: int, allowance: Allowance, bar: int, more: int
) -> None:
    length = blank_length_nm(head, allowance, bar)
    assert blank_length_nm(head + more, allowance, bar) >= length
    assert blank_length_nm(head, replace(allowance, slug_mg=allowance.slug_mg + more), bar) >= length
    assert blank_length_nm(head, allowance, bar + more) <= length


def test_the_mass_of_a_millimetre_is_that_of_the_bar_tables() -> None:
    """Milligrams a metre and micrograms a millimetre are the same number; the length then weighs what `steel` says, to a milligram."""
    bar = Section(Shape.ROUND, 50_800_000)
    length = length_for_loss_nm(1_500_000, USUAL_LOSS_PPM, steel.mass_per_length(bar))
    assert abs(steel.mass_mg(bar, length) - Fraction(1_500_000 * 100, 89)) <= 1


def test_weighed_heads_teach_their_mean_and_their_scatter() -> None:
    """By hand: ten at .10 and ten at .12 lost are .11, standard deviation .01 times the root of 20/19."""
    found = loss_from([900_000, 880_000] * 10, 1_000_000, usual_ppm=70_000)
    assert found == Loss(110_000, round(10_000 * (20 / 19) ** 0.5), 20, learned=True)


def test_too_few_heads_leave_the_pattern_s_own_figure_and_say_how_many_they_are() -> None:
    assert loss_from([], 1) == Loss(USUAL_LOSS_PPM, 0, 0, learned=False)
    assert loss_from([1] * (ENOUGH_HEADS - 1), 2, usual_ppm=90_000) == Loss(90_000, 0, 19, learned=False)


@given(st.integers(1, 10**7), st.integers(0, 10**6))
def test_heads_all_alike_have_no_spread_to_the_last_digit(head: int, lost: int) -> None:
    found = loss_from([head] * ENOUGH_HEADS, head + lost)
    assert (found.ppm, found.spread_ppm) == (round(Fraction(lost * MILLION, head + lost)), 0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: blank_length_nm(1, Allowance(), 0),
        lambda: head_mg(1, Allowance(), 0),
        lambda: length_for_loss_nm(0, 0, 1),
        lambda: length_for_loss_nm(1, -1, 1),
        lambda: length_for_loss_nm(1, 0, 0),
        lambda: loss_from([0], 1),
        lambda: loss_from([], 0),
        lambda: loss_from([], 1, usual_ppm=-1),
        lambda: loss_from([], 1, usual_ppm=MILLION),
        lambda: Allowance(scale_ppm=-1),
        lambda: Allowance(grinding_ppm=MILLION),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError):
        call()
