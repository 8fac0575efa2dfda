"""The whole-number program over given cuts."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.cut_solver.ask import Ask
from inventory.calc.cut_solver.bounds import Limits
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.compact import NEAR
from inventory.calc.cut_solver.master import choice_entries, entries, lack_entries, row_limits
from inventory.calc.cut_solver.program import FREE, Program
from inventory.calc.cut_solver.shape import Case, Cut, Cuts
from inventory.calc.cut_solver.tally import left


@dataclass(frozen=True, slots=True)
class Answer:
    """A plan where one was found; `goal` a bound for plans of these cuts only (None: none was shown)."""

    cuts: dict[Cut, int] | None
    goal: int | None


def solve(
    ask: Ask,
    cuts: Sequence[Cut],
    limits: Limits,
    clock: Clock,
    seed: int,
    *,
    below: int | None = None,
    any_will_do: bool = False,
) -> Answer:
    """Find the best plan made of some cuts.

    Args:
        ask: the program.
        cuts: those that may be used.
        limits: of each line.
        clock: time to stop.
        seed: for HiGHS.
        below: look only for plans of this goal or less.
        any_will_do: the first such plan is enough.

    Returns:
        What was found. Where nothing can be found, the bound is `below` + 1.
    """
    program, first = _write(ask, cuts, limits)
    if below is not None:
        program.row(-FREE, below, {first + n: cost for n, cut in enumerate(cuts) if (cost := _cost(ask, cut))})
    if any_will_do:
        program.cost = [0.0] * len(program.cost)
    found = program.solve(clock, seed)
    if found.impossible:
        return Answer(None, None if below is None else below + 1)
    goal = math.ceil(found.bound - NEAR) if abs(found.bound) < FREE and not any_will_do else None
    if found.values is None:
        return Answer(None, goal)
    plan = {cut: times for n, cut in enumerate(cuts) if (times := round(found.values[first + n]))}
    return Answer(trimmed(ask.case, plan) if ask.loose else plan, goal)


def _cost(ask: Ask, cut: Cut) -> int:
    return ask.goal.weigh(ask.case, cut)


def _write(ask: Ask, cuts: Sequence[Cut], limits: Limits) -> tuple[Program, int]:
    program, case = Program(), ask.case
    rows: list[dict[int, float]] = [{} for _ in row_limits(ask, limits)]

    def column(most: float, cost: float, terms: dict[int, int]) -> int:
        number = program.variable(0, most, cost=cost)
        for row, factor in terms.items():
            rows[row][number] = factor
        return number

    for slot, cost in enumerate(ask.lack):
        column(case.kinds[ask.slots[slot]].count, cost, lack_entries(ask, slot))
    for terms in choice_entries(ask):
        column(1, 0, terms)
    first = len(program.cost)
    for cut in cuts:
        most = min(
            ask.most[cut[0]],
            *(
                -(-kind.count // n) if ask.loose else kind.count // n
                for n, kind in zip(cut[1], case.kinds, strict=True)
                if n
            ),
        )
        column(most, _cost(ask, cut), entries(ask, cut))
    for (low, high), terms_of in zip(row_limits(ask, limits), rows, strict=True):
        program.row(low, high, terms_of)
    return program, first


def trimmed(case: Case, plan: Cuts) -> dict[Cut, int]:
    """Take off pieces that are cut beyond those wanted."""
    todo = [kind.count for kind in case.kinds]
    found: dict[Cut, int] = {}
    for cut, times in sorted(plan.items(), key=lambda row: left(case, row[0])):
        for _ in range(times):
            counts = tuple(min(n, rest) for n, rest in zip(cut[1], todo, strict=True))
            todo = [rest - n for n, rest in zip(counts, todo, strict=True)]
            if any(counts):
                found[cut[0], counts] = found.get((cut[0], counts), 0) + 1
    return found
