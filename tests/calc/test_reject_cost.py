"""A reject costs what went into it, and the later it is found the more."""

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.reject_cost import Spent, reject_cost_minor

SPENT = st.builds(
    Spent,
    st.just(1),
    st.integers(0, 10_000),
    st.integers(1, 3),
    st.fractions(0, 1_000, max_denominator=100),
    st.booleans(),
)

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
