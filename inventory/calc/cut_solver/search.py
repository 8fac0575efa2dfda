"""One level by column generation: a bound, better plans, and a proof where the time allows one."""

import heapq
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Final

from inventory.calc.cut_solver import bounds, dive, enumerating, generate, whole
from inventory.calc.cut_solver.ask import Ask
from inventory.calc.cut_solver.bounds import Limits
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.generate import Outcome
from inventory.calc.cut_solver.master import Master, Solved
from inventory.calc.cut_solver.shape import Cut, Cuts

A_FEW: Final = 300  # No source: cuts a whole-number program is done with at once
FEW: Final = 1_500  # No source: cuts it is quick with
A_SECOND: Final = 2_000  # No source: cuts a whole-number program takes a second to start with
SOME: Final = 6_000  # No source: cuts it may be done with
MANY: Final = 20_000  # No source: cuts beyond which it is not tried
IN_POOL: Final = 4_000  # No source: cuts known, likewise
DIVE_EACH: Final = 12  # No source: parts split between two dives
DIVES: Final = 3  # No source: dives before branching
NARROW: Final = 1e-4  # No source: a sum so near a whole number is whole


@dataclass(slots=True)
class Search:
    """A level being worked on.

    Args:
        ask: its program.
        master: with the cuts known.
        cuts: the plan so far.
        goal: its goal.
        offer: takes a plan and gives the goal of the best plan now with the plan.
        seed: for HiGHS.
        clock: time to stop.
        bound: goal no plan is under.
        root: of the linear program.
        parts: of the question looked at.
        any_will_do: a plan under the goal is all that is looked for.
    """

    ask: Ask
    master: Master
    cuts: Cuts
    goal: int
    offer: Callable[[Cuts, str], tuple[Cuts, int]]
    seed: int
    clock: Clock
    bound: int | None = None
    root: Outcome = field(default_factory=Outcome)
    parts: int = 0
    any_will_do: bool = False

    @property
    def proven(self) -> bool:
        """Whether nothing better is to be looked for."""
        return self.bound is not None and self.bound >= self.goal

    def take(self, cuts: Cuts | None, method: str) -> None:
        """Offer a plan, where there is one."""
        if cuts is not None:
            self.cuts, self.goal = self.offer(cuts, method)

    def shown(self, bound: int | None) -> None:
        """Note a bound."""
        if bound is not None and (self.bound is None or bound > self.bound):
            self.bound = bound


def run(search: Search) -> None:
    """Work on a level until it is proven or time is up."""
    search.root = generate.run(search.master, search.clock, enough=search.goal)
    search.shown(search.root.goal)
    for stage in (_few, _dive, _few, _branches, _dives, _many):
        if search.proven or search.clock.up() or search.root.solved is None:
            return
        stage(search)


def _few(search: Search) -> None:
    _listed(search, search.root, bounds.limits_of(search.ask), FEW, search.clock.part(0.1))


def _many(search: Search) -> None:
    _listed(search, search.root, bounds.limits_of(search.ask), MANY, search.clock)


def _dive(search: Search, choice: int = 0) -> None:
    solved, clock = search.root.solved, search.clock.part(0.2)
    found = dive.run(search.master, solved, clock, ceiling=search.goal, choice=choice)
    search.take(found, "dive")
    if not search.proven:
        cuts = _best(search.master.cuts, search)
        limits = bounds.limits_of(search.ask)
        clock = search.clock.part(0.1)
        answer = whole.solve(
            search.ask, cuts, limits, clock, search.seed, below=search.goal - 1, any_will_do=search.any_will_do
        )
        search.take(answer.cuts, "cuts of the linear program")


def _dives(search: Search) -> None:
    for choice in range(1, DIVES):
        if not search.proven and not search.clock.up():
            _dive(search, choice)


def _best(cuts: Iterable[Cut], search: Search) -> list[Cut]:
    """Give the cuts a whole-number program is to choose from, those of the plan so far among them."""
    return list(dict.fromkeys([*search.cuts, *cuts]))[-IN_POOL:]


def _listed(search: Search, outcome: Outcome, limits: Limits, most: int, clock: Clock) -> bool:
    """Look through all cuts a better plan can use; say whether nothing is left to look for within the limits."""
    worths = outcome.worths
    if worths is None:
        return False
    gap = (search.goal - 1) * worths.scale - outcome.total
    if gap < 0:
        return True
    most = min(most, int(A_SECOND * clock.left()))
    cuts = enumerating.cuts(search.ask, worths, outcome.least, gap, most, clock)
    if cuts is None:
        return False
    below = search.goal - 1
    found = whole.solve(search.ask, cuts, limits, clock, search.seed, below=below, any_will_do=search.any_will_do)
    search.take(found.cuts, "all cuts worth a look")
    whole_question = limits == bounds.limits_of(search.ask)
    if whole_question:
        search.shown(found.goal if found.goal is None else min(found.goal, below + 1))
    return found.goal is not None and found.goal >= search.goal


Part = tuple[tuple[int | None, int | None], ...]


def _branches(search: Search) -> None:
    """Split the question by sums that must be whole numbers, the part with the lowest bound first."""
    first: Part = tuple(bounds.limits_of(search.ask))
    if len(first) == search.ask.first_sum:
        return
    clock = search.clock.part(0.8)
    heap: list[tuple[int, int, Part]] = [(search.bound or 0, 0, first)]
    lost, made = search.goal, 0  # the least bound of parts that cannot be split further
    while heap and not clock.up() and heap[0][0] < search.goal:
        bound, _, limits = heapq.heappop(heap)
        parts = _part(search, limits, clock)
        if parts is None:
            lost = min(lost, bound)
        for goal, part in parts or ():
            made -= 1  # of equal bounds the latest first: it is nearest to a plan
            heapq.heappush(heap, (max(goal, bound), made, part))
        search.shown(min([search.goal, lost, *(goal for goal, _, _ in heap[:1])]))
    search.master.limit(bounds.limits_of(search.ask))


def _part(search: Search, limits: Part, clock: Clock) -> list[tuple[int, Part]] | None:
    """Look at a part; give the parts it is split into, None where it is neither done nor can be split."""
    search.master.limit(limits)
    outcome = generate.run(search.master, clock, enough=search.goal)
    if outcome.goal is not None and outcome.goal >= search.goal:
        return []
    if outcome.goal is None or outcome.solved is None or not outcome.done:
        return None
    if _listed(search, outcome, limits, A_FEW, clock.part(0.1)):
        return []
    at = _to_split(search, outcome.solved, limits)
    if at is None:
        done = _listed(search, outcome, limits, SOME, clock.part(0.2))
        if not done:
            _sampled(search, outcome, limits, clock.part(0.2))
        return [] if done else None
    if search.parts % DIVE_EACH == 0:
        search.take(dive.run(search.master, outcome.solved, clock.part(0.2), ceiling=search.goal), "dive")
    search.parts += 1
    number, value = at
    low, high = limits[number]
    down, up = list(limits), list(limits)
    down[number], up[number] = (low, value), (value + 1, high)
    return [(outcome.goal, tuple(down)), (outcome.goal, tuple(up))]


def _sampled(search: Search, outcome: Outcome, limits: Part, clock: Clock) -> None:
    """Look for a plan among some of the cuts a better one can use, where they are too many to look through."""
    worths = outcome.worths
    if worths is None or clock.left() * A_SECOND < FEW:
        return
    gap = (search.goal - 1) * worths.scale - outcome.total
    cuts = enumerating.some(search.ask, worths, outcome.least, gap, FEW, clock.part(0.2))
    cuts = list(dict.fromkeys([*cuts, *(outcome.solved.used if outcome.solved else ())]))
    below = search.goal - 1
    answer = whole.solve(search.ask, cuts, limits, clock, search.seed, below=below, any_will_do=True)
    search.take(answer.cuts, "some cuts worth a look")


def _to_split(search: Search, solved: Solved, limits: Part) -> tuple[int, int] | None:
    """Choose a sum to split at: the most broken one of the sums over all bars, then of the groups, then one not fixed."""
    ask = search.ask
    sums = [sum(x * line.weigh(ask.case, cut) for cut, x in solved.used.items()) for line in ask.lines[ask.first_sum :]]
    for first, last in ((ask.first_sum, ask.first_group), (ask.first_group, len(ask.lines))):
        away = [(abs(sums[n - ask.first_sum] - round(sums[n - ask.first_sum])), n) for n in range(first, last)]
        most, number = max(away, default=(0.0, 0))
        if most > NARROW:
            return number, math.floor(sums[number - ask.first_sum])
    for number in range(ask.first_sum, len(ask.lines)):
        low, high = limits[number]
        value = round(sums[number - ask.first_sum])
        if high is None or high > value:
            return number, value
        if low is None or low < value:
            return number, value - 1
    return None
