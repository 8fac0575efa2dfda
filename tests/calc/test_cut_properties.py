"""What must hold of the cut planner's answers whatever it is asked: against every plan, and between questions alike.

A standing's proof holds with all levels before it fixed, so two plans are compared up to the first level that either of
them leaves unproven. Questions that allow more plans may only get better in that order, read like a dictionary; no
single level behind the first need get better (a longer kerf, for one, can eat what was scrap).
"""

import random
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inventory.calc.cut_problem import Level, Locked, Order, Plan, Problem, Stock
from inventory.calc.cut_verifier import check, restated
from tests.calc.cut_brute import best
from tests.calc.cut_rules import greedy
from tests.calc.cut_solving import planned
from tests.calc.cut_strategies import problems, tiny_cuts
from tests.conftest import LONG

LIMIT = 20  # seconds; tiny questions take a few hundredths
few = settings(max_examples=400 if LONG else 8, deadline=None)
Row = TypeVar("Row")


def answer(problem: Problem, seed: int = 0, limit: float = LIMIT) -> Plan:
    """Solve, and let nothing pass that the verifier finds fault with."""
    plan = planned(problem, limit, seed)
    assert check(problem, plan).faults == ()
    assert restated(problem, plan).standings == plan.standings
    return plan


def proven(plan: Plan, *others: Plan) -> list[int]:
    """Give the values of all levels before the first that one of the plans leaves unproven."""
    values = []
    for rows in zip(plan.standings, *(other.standings for other in others), strict=True):
        assert len({(row.level, row.due) for row in rows}) == 1
        if not all(row.proven for row in rows):
            break
        values.append(rows[0].value)
    return values


def alike(plan: Plan, other: Plan) -> None:
    """Assert that two plans are proven equally good."""
    assert proven(plan, other) == proven(other, plan)


def no_worse(plan: Plan, other: Plan) -> None:
    """Assert that the first plan is proven as good as the second, or better in the order of the levels."""
    assert proven(plan, other) <= proven(other, plan)


def brute(problem: Problem, plan: Plan) -> list[int]:
    found = best(problem)
    return [found[row.level.value + (f" {row.due}" if row.due else "")] for row in plan.standings]


# ---- against every plan there is ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("problem", "optimum"), list(tiny_cuts()), ids=lambda given: getattr(given, "name", ""))
def test_tiny_questions_at_the_edge_of_the_kerf_rule_are_answered_best(
    problem: Problem, optimum: dict[str, int]
) -> None:
    plan = answer(problem)
    values = {row.level.value: row.value for row in plan.standings}
    assert {name: values[name] for name in optimum} == optimum
    assert all(row.proven for row in plan.standings if row.level.value in {"short", "full", "scrap", "nrem", "used"})


@few
@given(problem=problems())
def test_what_is_proven_is_the_best_there_is(problem: Problem) -> None:
    plan = answer(problem)
    real = brute(problem, plan)
    stated = [row.value for row in plan.standings]
    up_to = len(proven(plan))
    assert stated[:up_to] == real[:up_to]
    assert stated >= real
    for n, row in enumerate(plan.standings):
        if stated[:n] == real[:n] and row.bound is not None:
            assert row.bound <= real[n]


@few
@given(problem=problems())
def test_nothing_is_lost_between_the_bar_and_its_pieces(problem: Problem) -> None:
    plan = answer(problem)
    bars = {bar.name: bar for bar in (*problem.stock, *problem.buyable)}
    for bar in plan.bars:
        of = bars[bar.source]
        kerfs = of.length - of.trim - bar.left - sum(problem.pieces[index].length for index in bar.pieces)
        n = len(bar.pieces)
        assert (n - 1) * problem.kerf <= kerfs <= n * problem.kerf
        assert kerfs == n * problem.kerf or bar.left == 0
    for index, piece in enumerate(problem.pieces):
        assert piece.count == plan.missing[index] + sum(bar.pieces.count(index) for bar in plan.bars)


@few
@given(problem=problems(one_heat=False))
def test_no_rule_of_thumb_is_better(problem: Problem) -> None:
    plan = answer(problem)
    for shortest_first in (True, False):
        other = greedy(problem, shortest_first=shortest_first)
        assert [row.value for row in plan.standings] <= [row.value for row in other.standings]


@pytest.mark.parametrize("limit", [0.0, 0.01])
@few
@given(problem=problems())
def test_a_limit_of_no_time_still_gives_a_plan_that_can_be_cut(problem: Problem, limit: float) -> None:
    answer(problem, limit=limit)


# ---- questions that must have equal answers -------------------------------------------------------------------------


@few
@given(problem=problems(locks=False), seed=st.integers(0, 99))
def test_the_order_bars_and_lines_are_given_in_means_nothing(problem: Problem, seed: int) -> None:
    rng = random.Random(seed)
    other = replace(
        problem,
        stock=shuffled(problem.stock, rng),
        pieces=shuffled(problem.pieces, rng),
        buyable=shuffled(problem.buyable, rng),
    )
    alike(answer(problem), answer(other))


def shuffled(rows: Sequence[Row], rng: random.Random) -> tuple[Row, ...]:
    return tuple(rng.sample(rows, len(rows)))


@few
@given(problem=problems())
def test_seven_times_as_long_and_dear_is_seven_times_the_value(problem: Problem) -> None:
    prices = problem.prices
    other = replace(
        problem,
        stock=tuple(replace(bar, length=7 * bar.length, trim=7 * bar.trim) for bar in problem.stock),
        buyable=tuple(
            replace(bar, length=7 * bar.length, trim=7 * bar.trim, price=7 * bar.price) for bar in problem.buyable
        ),
        pieces=tuple(replace(piece, length=7 * piece.length) for piece in problem.pieces),
        kerf=7 * problem.kerf,
        min_remnant=7 * problem.min_remnant,
        tail_hold=7 * problem.tail_hold,
        prices=replace(prices, remnant=7 * prices.remnant, handled=7 * prices.handled, full=7 * prices.full),
    )
    small, large = answer(problem), answer(other)
    grow = {Level.COST, Level.LOSS, Level.SCRAP, Level.LONGEST}
    wanted = [
        value * (7 if row.level in grow else 1)
        for value, row in zip(proven(small, large), small.standings, strict=False)
    ]
    assert proven(large, small) == wanted


@few
@given(problem=problems(locks=False), at=st.integers(0, 2), first=st.integers(0, 3))
def test_a_line_written_as_two_is_one(problem: Problem, at: int, first: int) -> None:
    assume(at < len(problem.pieces) and first <= problem.pieces[at].count)
    line = replace(problem.pieces[at], run=problem.pieces[at].run or "own")  # its halves stay one run
    halves = (replace(line, count=first), replace(line, count=line.count - first))
    other = replace(problem, pieces=(*problem.pieces[:at], *halves, *problem.pieces[at + 1 :]))
    alike(answer(problem), answer(other))


@few
@given(problem=problems(), full=st.booleans())
def test_a_bar_too_short_for_any_piece_changes_nothing(problem: Problem, full: bool) -> None:
    length = min((piece.length for piece in problem.pieces), default=2) - 1
    age = problem.stock[0].age  # of an age that is there, so that no rank moves
    other = replace(problem, stock=(Stock("stub", length, full, age=age), *problem.stock))
    alike(answer(problem), answer(other))


@few
@given(problem=problems(), seed=st.integers(1, 2**31 - 1))
def test_another_seed_proves_the_same(problem: Problem, seed: int) -> None:
    alike(answer(problem), answer(problem, seed))


@few
@given(problem=problems())
def test_asked_twice_it_answers_the_same(problem: Problem) -> None:
    first, second = answer(problem), answer(problem)
    assert (first.bars, first.missing, first.standings) == (second.bars, second.missing, second.standings)


@few
@given(problem=problems(locks=False))
def test_settling_what_was_proposed_changes_nothing(problem: Problem) -> None:
    plan = answer(problem)
    locks = tuple(Locked(bar.source, bar.pieces) for bar in plan.bars if not bar.bought)
    alike(plan, answer(replace(problem, locked=locks)))


# ---- questions that allow more, or less -----------------------------------------------------------------------------


@few
@given(problem=problems(), length=st.integers(4, 60), full=st.booleans(), heat=st.sampled_from("ABC"))
def test_one_more_bar_makes_no_plan_worse(problem: Problem, length: int, full: bool, heat: str) -> None:
    """Longer than all others or not: every plan without it can still be cut."""
    bar = Stock("more", length, full, heat=heat, age=problem.stock[0].age)
    no_worse(answer(replace(problem, stock=(*problem.stock, bar))), answer(problem))


@few
@given(problem=problems(locks=False), more=st.integers(1, 4))
def test_a_wider_kerf_cuts_no_more_and_costs_no_less(problem: Problem, more: int) -> None:
    """What can be cut with it can be cut with a narrower one: this speaks of pieces, cost and full bars only."""
    narrow, wide = answer(problem), answer(replace(problem, kerf=problem.kerf + more))
    of_bars = len(dates(problem)) + (2 if problem.order is Order.STRICT else 1)
    assert proven(narrow, wide)[:of_bars] <= proven(wide, narrow)[:of_bars]


def dates(problem: Problem) -> set[str]:
    return {piece.due for piece in problem.pieces}


@few
@given(problem=problems(one_heat=True, locks=False))
def test_asking_for_one_mill_heat_a_run_makes_nothing_better(problem: Problem) -> None:
    no_worse(answer(replace(problem, one_heat=False)), answer(problem))


@few
@given(problem=problems(locks=False), data=st.data())
def test_settling_a_bar_makes_nothing_better(problem: Problem, data: st.DataObject) -> None:
    free = answer(problem)
    own = [bar for bar in free.bars if not bar.bought]
    assume(own)
    bar = data.draw(st.sampled_from(own))
    locked = replace(problem, locked=(Locked(bar.source, bar.pieces[:-1]),))
    no_worse(free, answer(locked))
