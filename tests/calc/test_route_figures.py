"""Figures of a route: rates multiply, minutes add up, a reject costs what went into it."""

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import routes_seed
from inventory.calc.route_figures import MILLION, Spent, good_ppm, reject_cost_minor, rolled_ppm, run_seconds
from inventory.calc.routes_seed import FREE_HAND, SERIES, SeedCause, SeedStep

ROUTES = pytest.mark.parametrize("route", [FREE_HAND, SERIES], ids=["free-hand", "in series"])
CRACK, SOFT = SeedCause("quench crack", 20_000), SeedCause("soft face", 30_000, rework_to=6)
SPLIT = SeedCause("handle split", 500_000, handle_only=True)
SPENT = st.builds(
    Spent,
    st.just(1),
    st.integers(0, 10_000),
    st.integers(1, 3),
    st.fractions(0, 1_000, max_denominator=100),
    st.booleans(),
)


def test_what_is_worked_over_is_no_good_piece_at_first_and_one_in_the_end() -> None:
    assert good_ppm([CRACK, SOFT]) == 950_000
    assert good_ppm([CRACK, SOFT], worked_over=True) == 980_000


def test_a_split_handle_takes_no_head() -> None:
    assert good_ppm([CRACK, SPLIT]) == 980_000
    assert good_ppm([]) == MILLION


def test_points_one_after_the_other_multiply() -> None:
    """By hand: .9 of .9 of .9 is .729, and a point that lets nothing past leaves nothing."""
    assert rolled_ppm([900_000] * 3) == 729_000
    assert rolled_ppm([]) == MILLION
    assert rolled_ppm([999_999, 0]) == 0


def test_a_product_is_rounded_once_and_half_to_even() -> None:
    """By hand: .5 of .000 001 is half a ppm, to 0; .5 of .000 003 is one and a half, to 2."""
    assert rolled_ppm([500_000, 1]) == 0
    assert rolled_ppm([500_000, 3]) == 2
    assert rolled_ppm([500_000, 1, 1_000_000, 1_000_000]) == 0


@given(st.lists(st.integers(0, MILLION), max_size=8))
def test_a_route_is_never_better_than_its_worst_point_and_their_order_does_not_matter(rates: list[int]) -> None:
    assert rolled_ppm(rates) <= min(rates, default=MILLION)
    assert rolled_ppm(rates) == rolled_ppm(rates[::-1])


@ROUTES
@pytest.mark.parametrize(("new", "whole"), [(False, 920_000), (True, 850_000)])
def test_a_seed_route_rolls_to_its_whole_good_rate(route: tuple[SeedStep, ...], *, new: bool, whole: int) -> None:
    """Each of its causes is a whole number of ppm: some causes, half a ppm each, are the rounding."""
    points = [step for step in routes_seed.losses(route, new=new) if step.counting_point]
    rolled = rolled_ppm([good_ppm(step.causes, worked_over=True) for step in points])
    assert abs(rolled - whole) <= sum(len(step.causes) for step in points) / 2


@ROUTES
def test_the_two_modules_agree_on_a_point_at_the_first_go(route: tuple[SeedStep, ...]) -> None:
    assert [good_ppm(step.causes) for step in route] == [routes_seed.good_ppm(step) for step in route]


def test_a_run_is_its_set_up_and_its_pieces() -> None:
    """By hand: 20 min and 10 times 200 s, 5 min and 10 times 160 s."""
    first, second = SERIES[0], SERIES[1]
    assert run_seconds([first], 10) == 1_200 + 2_000
    assert run_seconds([first, second], 10) == 1_200 + 2_000 + 300 + 1_600
    assert run_seconds([first, second], 0) == 0


@given(st.integers(1, 500), st.integers(1, 500))
def test_two_runs_take_a_set_up_more_than_one_of_all_their_pieces(one: int, other: int) -> None:
    set_up = 60 * sum(step.set_up_minutes for step in SERIES)
    assert run_seconds(SERIES, one) + run_seconds(SERIES, other) == run_seconds(SERIES, one + other) + set_up


STEPS = [
    Spent(1, seconds_each=360, people=2, uses_minor=Fraction(81, 2)),
    Spent(3, seconds_each=600, uses_minor=Fraction(1, 4)),
    Spent(5, seconds_each=900, hafts=True),
    Spent(7, seconds_each=240, uses_minor=Fraction(30)),
]


@pytest.mark.parametrize(
    ("point", "cost"),
    [
        (1, 1_330),  # 450 steel + 40 1/2 + 720 s at 42.00 an hour, 840: 1330 1/2, half to even
        (3, 2_031),  # and 1/4 + 600 s, 700: 2030 3/4
        (5, 3_781),  # and 900 s, 1050, and the handle, 700
        (7, 4_091),  # and 30 + 240 s, 280
    ],
)
def test_a_reject_costs_what_went_into_it_so_far(point: int, cost: int) -> None:
    """By hand."""
    assert reject_cost_minor(point, STEPS, steel_minor=450, labour_minor_per_hour=4_200, handle_minor=700) == cost


def test_a_reject_before_hafting_costs_no_handle() -> None:
    dear = reject_cost_minor(3, STEPS, steel_minor=450, labour_minor_per_hour=4_200, handle_minor=10**6)
    assert dear == reject_cost_minor(3, STEPS, steel_minor=450, labour_minor_per_hour=4_200)


@given(st.lists(SPENT, min_size=1, max_size=8), st.integers(0, 10**6), st.integers(0, 10**5), st.integers(0, 10**4))
def test_the_later_a_reject_is_found_the_more_it_has_cost(
    drawn: list[Spent], steel: int, labour: int, handle: int
) -> None:
    steps = [Spent(n, one.seconds_each, one.people, one.uses_minor, one.hafts) for n, one in enumerate(drawn, start=1)]
    costs = [
        reject_cost_minor(n, steps, steel_minor=steel, labour_minor_per_hour=labour, handle_minor=handle)
        for n in range(1, len(steps) + 1)
    ]
    assert costs == sorted(costs)
    assert costs[0] >= steel


@pytest.mark.parametrize(
    "call",
    [
        lambda: good_ppm([SeedCause("x", -1)]),
        lambda: good_ppm([SeedCause("x", 600_000), SeedCause("y", 600_000)]),
        lambda: rolled_ppm([1_000_001]),
        lambda: rolled_ppm([-1]),
        lambda: run_seconds(SERIES, -1),
        lambda: run_seconds([SeedStep(1, "x", "forge", seconds_each=-1)], 1),
        lambda: Spent(0),
        lambda: Spent(1, people=0),
        lambda: Spent(1, seconds_each=-1),
        lambda: Spent(1, uses_minor=Fraction(-1)),
        lambda: reject_cost_minor(2, STEPS, steel_minor=0, labour_minor_per_hour=0),
        lambda: reject_cost_minor(1, STEPS[::-1], steel_minor=0, labour_minor_per_hour=0),
        lambda: reject_cost_minor(1, STEPS, steel_minor=-1, labour_minor_per_hour=0),
        lambda: reject_cost_minor(1, STEPS, steel_minor=0, labour_minor_per_hour=-1),
        lambda: reject_cost_minor(1, STEPS, steel_minor=0, labour_minor_per_hour=0, handle_minor=-1),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError):
        call()
