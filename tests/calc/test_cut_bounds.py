"""Bounds and values of cut plans against every plan there is."""

from collections.abc import Mapping

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.calc.cut_problem import LEVELS, Dual, Level, Order, Problem
from inventory.calc.cut_verifier import check, restated
from inventory.calc.cut_verifier.duals import SUMS, certify
from tests.calc.cut_brute import best, least
from tests.calc.cut_rules import greedy, value
from tests.calc.cut_strategies import problems, tiny_cuts

NUMBER: Mapping[Level, int] = {  # as every_sum gives them
    Level.COST: 0,
    Level.LOSS: 1,
    Level.FULL: 2,
    Level.SCRAP: 3,
    Level.REMNANTS: 4,
    Level.HANDLED: 5,
    Level.AGE: 6,
}


@pytest.mark.parametrize(("problem", "optimum"), list(tiny_cuts()), ids=lambda given: getattr(given, "name", ""))
def test_trying_every_plan_finds_what_another_program_found(problem: Problem, optimum: dict[str, int]) -> None:
    found = best(problem)
    assert {name: found[name] for name in optimum} == optimum


@given(problem=problems(one_heat=False), shortest_first=st.booleans())
def test_a_plan_by_rule_of_thumb_is_sound_and_no_better_than_the_best(problem: Problem, shortest_first: bool) -> None:
    plan = greedy(problem, shortest_first=shortest_first)
    assert check(problem, plan).faults == ()
    assert restated(problem, plan) == plan
    found = best(problem)
    names = [row.level.value + (f" {row.due}" if row.due else "") for row in plan.standings]
    assert [row.value for row in plan.standings] >= [found[name] for name in names]


@given(data=st.data(), problem=problems(one_heat=False), shortest_first=st.booleans())
def test_no_plan_is_under_a_bound_from_any_dual(data: st.DataObject, problem: Problem, shortest_first: bool) -> None:
    plan = greedy(problem, shortest_first=shortest_first)
    level = data.draw(st.sampled_from([level for level in LEVELS[problem.order] if level in SUMS]))
    worths = st.lists(st.integers(-5, 60), min_size=len(problem.pieces), max_size=len(problem.pieces))
    scale = data.draw(st.integers(1, 7))
    dual = Dual(level, tuple(data.draw(worths)), scale, data.draw(st.integers(-20, 0)))
    rows = [(row.level, row.due, row.value) for row in plan.standings]
    known = value(plan)
    fixed = {0: known["cost"]} if level is not Level.COST else {}
    if problem.order is Order.STRICT and level not in {Level.COST, Level.FULL}:
        fixed[2] = known["full"]
    lowest = least(problem, NUMBER[level], [row.value for row in plan.standings if row.level is Level.SHORT], fixed)
    bound = certify(problem, dual, rows)
    assert bound is not None
    assert lowest is not None
    assert bound <= lowest
    wide = Dual(level, tuple(worth * 10**25 for worth in dual.piece), dual.scale * 10**25, dual.full * 10**25)
    assert certify(problem, wide, rows) == bound  # numbers too large for 64 bits


@given(problem=problems(one_heat=False, locks=False))
def test_some_dual_shows_something(problem: Problem) -> None:
    """Each bar holds at most so many pieces, so a piece is worth a part of one handled bar."""
    plan = greedy(problem, shortest_first=True)
    cut = sum(len(bar.pieces) for bar in plan.bars)
    assume(cut and problem.order is Order.STRICT)
    most = (
        max(bar.length for bar in (*problem.stock, *problem.buyable)) // min(row.length for row in problem.pieces) + 1
    )
    dual = Dual(Level.HANDLED, (1,) * len(problem.pieces), most)
    bound = certify(problem, dual, [(row.level, row.due, row.value) for row in plan.standings])
    assert bound is not None
    assert 1 <= -(-cut // most) <= bound <= value(plan)["used"]
