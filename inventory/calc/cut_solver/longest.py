"""The longest new remnant, all sums before it held: is there a plan with one of so many units? Asked until it is known."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from inventory.calc.cut_solver import generate
from inventory.calc.cut_solver.ask import Ask, Line
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.master import Master
from inventory.calc.cut_solver.search import Search, run
from inventory.calc.cut_solver.shape import Cut, Cuts

FOUND: Final = -(2**60)  # No source: a goal under every bound
KNOWN: Final = 2_000  # No source: cuts to start from


@dataclass(slots=True)
class Longest:
    """The search for the longest remnant.

    Args:
        ask: the program of the last sum before.
        goal: its value, in goal units; no plan may be over it.
        reached: the longest remnant of the plan so far, units of the case; 0 for none.
        cuts: of that plan, and others known.
        offer: takes a plan and gives the longest remnant of the best plan now.
        seed: for HiGHS.
        clock: time to stop.
        most: no plan has a longer remnant; None while that is open.
    """

    ask: Ask
    goal: int
    reached: int
    cuts: list[Cut]
    offer: Callable[[Cuts, str], int]
    seed: int
    clock: Clock
    most: int | None = None


def find(work: Longest) -> None:
    """Raise what is reached and lower what is possible until they meet or time is up.

    Args:
        work: changed in place.
    """
    case = work.ask.case
    low = max(case.keep, work.reached + 1)
    high = max((group.room for group in case.groups), default=0) + 1  # of these not one is possible
    while low < high and not work.clock.up():
        middle = low if high - low < 2 or work.most is None else (low + high) // 2
        may = _may(work, middle)
        if may is None:
            return
        low, high = (middle + 1, high) if may else (low, middle)
        work.most = max(work.reached, high - 1)
    _settle(work)


def _may(work: Longest, units: int) -> bool | None:
    """Say whether the linear program allows a remnant of so many units; None where time ran out."""
    outcome = generate.run(_master(work, units), work.clock, enough=work.goal + 1)
    if outcome.goal is not None and outcome.goal > work.goal:
        return False
    return True if outcome.done else None


def _master(work: Longest, units: int) -> Master:
    return Master(_with_long(work.ask, units), work.cuts[-KNOWN:], work.seed)


def _with_long(ask: Ask, units: int) -> Ask:
    """Ask for one remnant of so many units at least; whole pieces must then be counted."""
    line = Line((0,) * len(ask.case.groups), long=units, low=1)
    return replace(
        ask,
        lines=(line, *ask.lines),
        first_sum=ask.first_sum + 1,
        first_group=ask.first_group + 1,
        loose=False,
    )


def _settle(work: Longest) -> None:
    """Look for plans between what is reached and what is possible, the longest remnant first."""
    first = True
    while work.most is not None and work.reached < work.most and not work.clock.up():
        low = max(work.ask.case.keep, work.reached + 1)
        if work.most < low:
            work.most = work.reached
            return
        units = work.most if first else (low + work.most + 1) // 2
        first = False
        search = _search(work, units)
        run(search)
        if search.goal > work.goal and search.proven:
            work.most = max(work.reached, units - 1)
        elif work.reached < units:
            return


def _search(work: Longest, units: int) -> Search:
    master = _master(work, units)

    def offer(cuts: Cuts, method: str) -> tuple[Cuts, int]:
        work.reached = work.offer(cuts, method)
        return cuts, work.goal + 1 if work.reached < units else FOUND

    clock = work.clock.part(0.7)
    return Search(master.ask, master, {}, work.goal + 1, offer, work.seed, clock, any_will_do=True)
