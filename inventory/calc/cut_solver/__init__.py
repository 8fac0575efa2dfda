"""Makes cut plans: which pieces from which bar, level after level, with a proof where one is found in the time given."""

import time
from collections.abc import Callable

from inventory.calc.cut_problem import Plan, Problem
from inventory.calc.cut_solver import greedy, levels, purity
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.shape import Case, Cut, reduce
from inventory.calc.cut_solver.tally import missing, values

__all__ = ["solve"]

SPARE = 0.05  # No source: of the time for rules of thumb; and seconds kept for telling the plan


def solve(
    problem: Problem,
    *,
    limit_seconds: float,
    seed: int = 0,
    on_better: Callable[[Plan], None] | None = None,
    started: float | None = None,
) -> Plan:
    """Plan the cuts.

    Args:
        problem: the question.
        limit_seconds: time for all of it, seconds; a plan is given at any limit, within a second behind it.
        seed: for what is drawn; the same seed gives the same plan where time does not run out.
        on_better: told of each better plan on the way.
        started: reading of `time.perf_counter` the limit counts from; now by default.

    Returns:
        The plan with the standing of every level. What cannot be cut is missing in it.

    Source: column generation and whole-number programs over cutting patterns (from memory; Gilmore and Gomory 1961,
    1963, Valerio de Carvalho 2002); the levels are those of cut_problem.
    """
    begun = time.perf_counter() if started is None else started
    clock = Clock(begun + max(0.0, limit_seconds) * (1 - SPARE))
    case, cuts = _start(problem, clock, seed)
    state = levels.State(case, cuts, clock, seed, begun, on_better)
    if on_better:
        on_better(levels.plan(state))
    levels.run(state)
    return levels.plan(state)


def _start(problem: Problem, clock: Clock, seed: int) -> tuple[Case, dict[Cut, int]]:
    """Make a plan by rule of thumb; where nothing is missing in it, due dates need not be told apart."""
    case = reduce(problem)
    cuts = _thumb(case, clock.part(SPARE), seed)
    if any(missing(case, cuts)):
        return case, cuts
    merged = reduce(problem, by_due=False)
    slot = {index: at for at, kind in enumerate(merged.kinds) for index in kind.lines}
    plan: dict[Cut, int] = {}
    for (group, counts), times in cuts.items():
        row = [0] * len(merged.kinds)
        for kind, count in zip(case.kinds, counts, strict=True):
            row[slot[kind.lines[0]]] += count
        cut = (group, tuple(row))
        plan[cut] = plan.get(cut, 0) + times
    return merged, plan


def _thumb(case: Case, clock: Clock, seed: int) -> dict[Cut, int]:
    best: dict[Cut, int] | None = None
    for bound in purity.bindings(case, seed):
        found = greedy.best(bound, clock, seed)
        if best is None or values(case, found) < values(case, best):
            best = found
        if clock.up():
            break
    return best or {}
