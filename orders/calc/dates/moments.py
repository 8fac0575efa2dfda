"""Where an operation of a plan stands by the clock: when it begins and ends, how many pieces come to it, when its oven is shut."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from orders.calc.dates.minutes import loads
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start
from orders.calc.dates.worktime import SAME, WorkTime


@dataclass(frozen=True, slots=True)
class Load:
    """How many loads pieces make, and the minutes by the clock from the first door shut to the last door open."""

    loads: int
    shut: int
    open: int


def begins(time: WorkTime, work: float) -> int:
    """Give the last minute by the clock before which no more than this is worked: work goes on from there."""
    return max(0, int(np.searchsorted(time.worked, work + SAME, side="right")) - 1)


def pieces_at(start: Start, step: Step) -> float:
    """Give the pieces that come to a step at the mean."""
    left = float(start.pieces)
    for before in start.product.steps:
        if start.step < before.number < step.number:
            left *= before.rate
    return left


def load_of(time: WorkTime, plan: Plan, group: Sequence[Operation]) -> Load:
    """Give the loads of a group.

    Args:
        time: of the shop.
        plan: the group is part of.
        group: operations with an oven that go in together; one alone may make several loads one after the other.

    Returns:
        Loads with minutes by the clock.

    Raises:
        ValueError: a step without an oven.
    """
    ovens = [one.step.oven for one in group]
    first = ovens[0]
    if first is None or None in ovens:
        raise ValueError("a load is made of steps with an oven")
    # work that takes no time on the first morning would end at midnight
    clock = max(time.clock_at(group[0].ends), begins(time, 0.0))
    minutes = max(oven.minutes for oven in ovens if oven)
    count = loads(first, pieces_at(plan.runs[group[0].run], group[0].step)) if len(group) == 1 else 1
    shut = None
    for _ in range(count):
        clock = clock if first.unattended else int(time.fits(minutes)[clock])
        shut = clock if shut is None else shut
        clock = min(clock + minutes, time.never)
    return Load(count, shut or 0, clock)
