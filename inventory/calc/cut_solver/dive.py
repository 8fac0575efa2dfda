"""A dive: use the cuts the linear program uses, solve it anew for what is left, and so on to the last piece."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from inventory.calc.cut_solver import generate, greedy
from inventory.calc.cut_solver.ask import Ask, bind
from inventory.calc.cut_solver.bounds import Limits
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.master import Master, Solved
from inventory.calc.cut_solver.shape import Case, Cut, Cuts

NEARLY: Final = 1e-6  # No source: below a whole number by less is that number
ROUNDS: Final = 25  # No source: times to price after each step
MOSTLY: Final = 0.8  # No source: a cut used so much of a time is used


def run(master: Master, solved: Solved | None, clock: Clock, *, ceiling: int, choice: int = 0) -> dict[Cut, int] | None:
    """Dive once.

    Args:
        master: the program; it gains cuts, and is as before afterwards.
        solved: its solution; runs that may choose are bound to the mill heat it uses most.
        clock: time to stop.
        ceiling: goals from here on are of no use.
        choice: which of the likeliest cuts to take first where none is sure.

    Returns:
        A plan; pieces may be missing. None where the dive leads nowhere.
    """
    if master.ask.runs:
        if solved is None:
            return None
        bound = Master(bind(master.ask, solved.choices), master.cuts, master.seed)
        bound.limit(master.limits)
        found = _down(bound, clock, ceiling, choice)
        master.add(bound.cuts)
        return found
    ask, limits = master.ask, list(master.limits)
    found = _down(master, clock, ceiling, choice)
    master.turn(ask, limits)
    return found


def _down(master: Master, clock: Clock, ceiling: int, choice: int) -> dict[Cut, int] | None:
    done: dict[Cut, int] = {}
    ask, limits, spent = master.ask, list(master.limits), 0
    while any(kind.count for kind in master.ask.case.kinds):
        outcome = generate.run(master, clock, rounds=ROUNDS)
        solved = outcome.solved
        if solved is None:
            return None if clock.up() else _finish(master.ask.case, done, clock)
        if outcome.goal is not None and outcome.goal + spent >= ceiling:
            return None
        step = _step(master.ask, solved, choice)
        if not step:
            break
        choice = 0
        for cut, times in step.items():
            done[cut] = done.get(cut, 0) + times
        spent = sum(times * ask.goal.weigh(ask.case, cut) for cut, times in done.items())
        master.turn(rest_of(ask, done), rest_of_limits(ask, limits, done))
    return _finish(master.ask.case, done, clock)


def _step(ask: Ask, solved: Solved, choice: int) -> dict[Cut, int]:
    """Take all whole uses; where there are none, those used most of a time, or the likeliest."""
    todo = [kind.count for kind in ask.case.kinds]
    bars = list(ask.most)
    taken: dict[Cut, int] = {}
    ranked = sorted(solved.used.items(), key=lambda row: (-row[1], row[0]))
    for cut, x in ranked:
        _take(cut, math.floor(x + NEARLY), todo, bars, taken)
    if taken:
        return taken
    likely = sorted(ranked, key=lambda row: (-(row[1] % 1), row[0]))
    for number, (cut, x) in enumerate(likely[choice:] + likely[:choice]):
        if x % 1 >= MOSTLY or number == 0 or not taken:
            _take(cut, 1, todo, bars, taken)
    return taken


def _take(cut: Cut, times: int, todo: list[int], bars: list[int], taken: dict[Cut, int]) -> None:
    times = min(times, bars[cut[0]], *(rest // n for rest, n in zip(todo, cut[1], strict=True) if n))
    if times > 0:
        taken[cut] = taken.get(cut, 0) + times
        bars[cut[0]] -= times
        for kind, n in enumerate(cut[1]):
            todo[kind] -= times * n


def rest_of(ask: Ask, done: Cuts) -> Ask:
    """Give the program of what is left to cut."""
    return replace(ask, case=rest_case(ask.case, done), most=tuple(_bars_left(ask.most, done)))


def _bars_left(most: Sequence[int], done: Cuts) -> list[int]:
    bars = list(most)
    for cut, times in done.items():
        bars[cut[0]] -= times
    return bars


def rest_case(case: Case, done: Cuts) -> Case:
    """Give the question of what is left to cut."""
    todo = [kind.count for kind in case.kinds]
    bars = [group.count for group in case.groups]
    for cut, times in done.items():
        bars[cut[0]] -= times
        for kind, n in enumerate(cut[1]):
            todo[kind] -= n * times
    kinds = tuple(replace(kind, count=max(0, n)) for kind, n in zip(case.kinds, todo, strict=True))
    groups = tuple(replace(group, count=max(0, n)) for group, n in zip(case.groups, bars, strict=True))
    return replace(case, kinds=kinds, groups=groups)


def rest_of_limits(ask: Ask, limits: Limits, done: Cuts) -> list[tuple[int | None, int | None]]:
    """Give the limits of the lines for what is left to cut."""
    found = []
    for line, (low, high) in zip(ask.lines, limits, strict=True):
        used = sum(times * line.weigh(ask.case, cut) for cut, times in done.items())
        found.append((None if low is None else low - used, None if high is None else high - used))
    return found


def _finish(rest: Case, done: Mapping[Cut, int], clock: Clock) -> dict[Cut, int]:
    plan = dict(done)
    if any(kind.count for kind in rest.kinds):
        for cut, times in greedy.best(rest, clock, 0).items():
            plan[cut] = plan.get(cut, 0) + times
    return plan
