"""One level by column generation: a bound, better plans, and a proof where the time allows one."""

import heapq
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

FEW: Final = 1_500  # No source: cuts a whole-number program is quick with
MANY: Final = 50_000  # No source: cuts beyond which it is not tried
IN_POOL: Final = 4_000  # No source: cuts known, likewise
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

    @property
    def proven(self) -> bool:
        """Whether the plan is the best there is."""
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
    for stage in (_few, _dives, _few, _pool, _branches, _many):
        if search.proven or search.clock.up() or search.root.solved is None:
            return
        stage(search)


def _few(search: Search) -> None:
    _listed(search, search.root, bounds.limits_of(search.ask), FEW, search.clock.part(0.3))


def _many(search: Search) -> None:
    _listed(search, search.root, bounds.limits_of(search.ask), MANY, search.clock)


def _dives(search: Search) -> None:
    for choice in range(DIVES):
        if search.proven or search.clock.up():
            return
        found = dive.run(search.master, search.clock.part(0.3), ceiling=search.goal, choice=choice)
        search.take(found, "dive")
        if choice == 0:
            _pool(search)


def _pool(search: Search) -> None:
    if search.proven:
        return
    cuts = _best(search.master.cuts, search)
    limits = bounds.limits_of(search.ask)
    clock = search.clock.part(0.2)
    found = whole.solve(search.ask, cuts, limits, clock, search.seed, below=search.goal - 1)
    search.take(found.cuts, "cuts of the linear program")


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
    cuts = enumerating.cuts(search.ask, worths, outcome.least, gap, most, clock)
    if cuts is None:
        return False
    below = search.goal - 1
    found = whole.solve(search.ask, cuts, limits, clock, search.seed, below=below)
    search.take(found.cuts, "all cuts worth a look")
    whole_question = limits == bounds.limits_of(search.ask)
    if whole_question:
        search.shown(found.goal if found.goal is None else min(found.goal, below + 1))
    return found.goal is not None and found.goal >= search.goal


def _branches(search: Search) -> None:
    """Split the question by sums that must be whole numbers, the part with the lowest bound first."""
    first = tuple(bounds.limits_of(search.ask))
    heap: list[tuple[int, int, tuple[tuple[int | None, int | None], ...]]] = [(search.bound or 0, 0, first)]
    lost, made = search.goal, 0  # the least bound of parts that cannot be split further
    try:
        while heap and not search.clock.up():
            if min(heap[0][0], lost) >= search.goal or heap[0][0] > lost:
                break
            bound, _, limits = heapq.heappop(heap)
            parts = _part(search, limits)
            if parts is None:
                lost = min(lost, bound)
            for goal, part in parts or ():
                made += 1
                heapq.heappush(heap, (max(goal, bound), made, part))
            if parts is None and search.clock.up():
                break
            search.shown(min([search.goal, lost, *(goal for goal, _, _ in heap[:1])]))
    finally:
        search.master.limit(bounds.limits_of(search.ask))


Part = tuple[int, tuple[tuple[int | None, int | None], ...]]


def _part(search: Search, limits: tuple[tuple[int | None, int | None], ...]) -> list[Part] | None:
    """Look at a part; give the parts it is split into, None where it is neither done nor can be split."""
    search.master.limit(limits)
    outcome = generate.run(search.master, search.clock, enough=search.goal)
    if outcome.goal is not None and outcome.goal >= search.goal:
        return []
    if outcome.goal is None or outcome.solved is None or not outcome.done:
        return None
    if _listed(search, outcome, limits, FEW, search.clock.part(0.1)):
        return []
    at = _to_split(search, outcome.solved)
    if at is None:
        return [] if _listed(search, outcome, limits, MANY, search.clock.part(0.3)) else None
    number, value = at
    low, high = limits[number]
    down, up = list(limits), list(limits)
    down[number], up[number] = (low, value), (value + 1, high)
    return [(outcome.goal, tuple(down)), (outcome.goal, tuple(up))]


def _to_split(search: Search, solved: Solved) -> tuple[int, int] | None:
    ask, best = search.ask, (NARROW, -1, 0)
    for number in range(ask.first_sum, len(ask.lines)):
        value = sum(x * ask.lines[number].weigh(ask.case, cut) for cut, x in solved.used.items())
        away = min(value % 1, 1 - value % 1)
        if away > best[0]:
            best = (away, number, int(value // 1))
    return None if best[1] < 0 else (best[1], best[2])
