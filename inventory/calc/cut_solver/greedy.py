"""Plans by rule of thumb: one bar after the other, made in milliseconds; a start for the rest and the last resort."""

import random
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from inventory.calc.cut_solver import fills
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.fills import NEVER
from inventory.calc.cut_solver.shape import Case, Counts, Cut, Group
from inventory.calc.cut_solver.tally import values

Pack = Callable[[Case, Group, Sequence[int], Clock], Counts]
Plan = dict[Cut, int]


def plans(case: Case, clock: Clock, seed: int) -> Iterator[Plan]:
    """Make plans, quick rules first.

    Args:
        case: the question, its runs bound to mill heats where those matter (or free of runs).
        clock: time to stop; the first plan is made whatever it says.
        seed: for the rules that draw.

    Returns:
        One plan after the other.
    """
    orders = _orders(case)
    for pack in (longest_first, closest):
        for order in orders:
            yield one(case, order, pack, clock)
            if clock.up():
                return
    rng = random.Random(seed)  # noqa: S311 - draws orders of bars, keeps no secret
    for _ in range(ROUNDS):
        order = sorted(orders[0], key=lambda group: (case.groups[group].bought, rng.random()))
        yield one(case, order, rng.choice([longest_first, closest]), clock)
        if clock.up():
            return


ROUNDS = 12  # No source: orders drawn at random after the thought-out ones


def _orders(case: Case) -> list[list[int]]:
    """Order the groups of bars in ways that have sense at the saw; bought ones come last, the cheapest a unit first."""
    groups = case.groups
    every = range(len(groups))

    def by(key: Callable[[Group], tuple[int | bool, ...]]) -> list[int]:
        return sorted(every, key=lambda i: (groups[i].bought, *key(groups[i]), groups[i].price / groups[i].room))

    return [
        by(lambda group: (group.full, group.room * (not group.bought))),
        by(lambda group: (-group.room * (not group.bought),)),
        by(lambda group: (group.full, -group.room * (not group.bought))),
        by(lambda group: (not group.full, -group.room * (not group.bought))),
    ]


def one(case: Case, order: Sequence[int], pack: Pack, clock: Clock) -> Plan:
    """Cut bars in order until nothing is wanted.

    Args:
        case: the question.
        order: group after group.
        pack: what to cut from one bar.
        clock: when up, the quickest way to pack is used.

    Returns:
        A plan; pieces may be missing.
    """
    todo = [kind.count for kind in case.kinds]
    plan: Plan = {}
    for number in order:
        group = case.groups[number]
        left = group.count
        while left > 0 and any(todo):
            counts = (longest_first if clock.up() else pack)(case, group, todo, clock)
            times = min(left, *(n // count for n, count in zip(todo, counts, strict=True) if count), left)
            if not any(counts):
                break
            plan[number, counts] = plan.get((number, counts), 0) + times
            todo = [n - times * count for n, count in zip(todo, counts, strict=True)]
            left -= times
    return plan


def allowed(case: Case, group: Group, todo: Sequence[int]) -> list[int]:
    """Strike the kinds whose run is bound to another mill heat."""
    return [
        n if kind.heats is None or group.heat in kind.heats else 0 for n, kind in zip(todo, case.kinds, strict=True)
    ]


def longest_first(case: Case, group: Group, todo: Sequence[int], clock: Clock) -> Counts:
    """Take the longest piece that still fits, again and again; earlier due dates first among equals."""
    del clock
    rest, counts = group.end, []
    for n, kind in zip(allowed(case, group, todo), case.kinds, strict=True):
        counts.append(min(n, rest // kind.step))
        rest -= counts[-1] * kind.step
    return tuple(counts)


def closest(case: Case, group: Group, todo: Sequence[int], clock: Clock) -> Counts:
    """Take the pieces that fill the bar best, long ones rather than short ones."""
    free = allowed(case, group, todo)
    steps = [kind.step for kind in case.kinds]
    if not any(free) or not fills.table_fits(steps, free, group.end):
        return longest_first(case, group, todo, clock)
    worths = [step * step // max(steps) for step in steps]
    table = fills.fill(steps, free, worths, group.end, clock)
    if table is None:
        return longest_first(case, group, todo, clock)
    at = int(np.flatnonzero(table.worth > NEVER // 2)[-1])
    return table.counts(at, len(steps))


def best(case: Case, clock: Clock, seed: int) -> Plan:
    """Give the best plan by rule of thumb.

    Args:
        case: the question.
        clock: time to stop; one plan is made whatever it says.
        seed: for the rules that draw.

    Returns:
        The plan whose levels are best.
    """
    return min(plans(case, clock, seed), key=lambda plan: values(case, plan))
