"""One level after the other, each held at its value before the next is looked at."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from inventory.calc.cut_problem import Dual, Level, Plan, Problem, Standing
from inventory.calc.cut_solver import ask, bounds, compact, longest, pricing, report, search
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.master import Master
from inventory.calc.cut_solver.shape import Case, Cut, Cuts
from inventory.calc.cut_solver.tally import Aim, aims, left, settled, step_of, values, weights

SHARE: Final[Mapping[Level, float]] = {  # No source: parts of the time, what a level leaves goes to the next
    Level.SHORT: 3,
    Level.COST: 8,
    Level.LOSS: 6,
    Level.FULL: 3,
    Level.SCRAP: 6,
    Level.REMNANTS: 2,
    Level.HANDLED: 2,
    Level.LONGEST: 2,
}


PASSES: Final = 3  # No source: what is not proven is looked at again with the time that is left


@dataclass(slots=True)
class State:
    """How far a search has come: the best plan, its values by level, bounds shown, certificates, what found the plan."""

    case: Case
    cuts: dict[Cut, int]
    clock: Clock
    seed: int
    started: float
    on_better: Callable[[Plan], None] | None = None
    method: str = "rule of thumb"
    bounds: dict[Aim, int] = field(default_factory=dict)
    duals: list[Dual] = field(default_factory=list)
    finished: bool = False
    values: dict[Aim, int] = field(default_factory=dict)
    pool: dict[Cut, None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.values = self.value_of(self.cuts)

    @property
    def problem(self) -> Problem:
        """The question."""
        return self.case.problem

    def value_of(self, cuts: Mapping[Cut, int]) -> dict[Aim, int]:
        """Give a plan's values by level, age left out."""
        return dict(zip(aims(self.problem), values(self.case, cuts), strict=False))

    def offer(self, cuts: Mapping[Cut, int] | None, aim: Aim, method: str) -> bool:
        """Take a plan that is better from this level on, or on one before that is not proven; say whether it was."""
        if cuts is None:
            return False
        found = self.value_of(cuts)
        order = list(self.values)
        if [found[a] for a in order] >= [self.values[a] for a in order]:
            return False
        first = next(at for at, a in enumerate(order) if found[a] != self.values[a])
        if first < order.index(aim):
            for later in order[first + 1 :]:
                self.bounds.pop(later, None)  # they held with the level before at its old value
        self.cuts, self.values, self.method = dict(cuts), found, method
        if self.on_better:
            self.on_better(plan(self))
        return True

    def shown(self, aim: Aim, bound: int | None) -> None:
        """Note a bound."""
        if bound is not None:
            self.bounds[aim] = min(self.values[aim], max(bound, self.bounds.get(aim, bound)))

    def proven(self, aim: Aim) -> bool:
        """Say whether no plan can be better on a level."""
        return self.bounds.get(aim) == self.values[aim]

    def before(self, aim: Aim) -> dict[Aim, int]:
        """Give the values that are held."""
        order = list(self.values)
        return {a: self.values[a] for a in order[: order.index(aim)]}


def most_bars(state: State, aim: Aim) -> list[int]:
    """Give how many bars of each group a plan can use that is no worse up to a level.

    Args:
        state: with the plan so far.
        aim: the level looked at.

    Returns:
        One number a group.
    """
    problem, held = state.problem, {**state.before(aim), aim: state.values[aim]}
    most = []
    for group in state.case.groups:
        number = group.count
        for level in (Level.COST, Level.LOSS, Level.FULL, Level.HANDLED):
            by = weights(problem, level)
            each = by.cost * group.price + by.full * group.full + by.handled if by else 0
            if each and Aim(level) in held:
                number = min(number, held[Aim(level)] // each)
        most.append(number)
    return most


def at_hand(state: State, aim: Aim) -> list[int]:
    """Give how many bars of each group there are, bought ones as the cost so far allows; the verifier reckons so too."""
    cost = state.values[Aim(Level.COST)]
    if aim.level is Level.SHORT:
        return [group.count for group in state.case.groups]
    return [min(group.count, cost // group.price) if group.price else group.count for group in state.case.groups]


def run(state: State) -> None:
    """Work through the levels.

    Args:
        state: with a plan by rule of thumb; it is made better in place.
    """
    to_do = [aim for aim in state.values if aim.level in SHARE]
    for _ in range(PASSES):
        for at, aim in enumerate(to_do):
            state.shown(aim, _trivial(state, aim))
            if not state.proven(aim):
                whole = sum(SHARE[other.level] for other in to_do[at:] if not state.proven(other))
                _one(state, aim, state.clock.part(SHARE[aim.level] / whole))
        if all(map(state.proven, to_do)) or state.clock.up():
            break
    state.finished = not state.clock.up()


def _one(state: State, aim: Aim, clock: Clock) -> None:
    small = compact.size(state.case, most_bars(state, aim)) <= SMALL
    by_columns = _longest if aim.level is Level.LONGEST else _columns
    by_columns(state, aim, clock.part(0.8) if small else clock)
    most = most_bars(state, aim)
    if small and not state.proven(aim):
        cuts, bound = compact.improve(
            state.case, state.cuts, state.before(aim), aim, most=most, clock=clock, seed=state.seed
        )
        state.offer(cuts, aim, "whole-number program")
        if bound is not None and aim.level is Level.LONGEST:
            bound = min(bound, -settled(state.problem).longest)
        state.shown(aim, bound)


def _columns(state: State, aim: Aim, clock: Clock) -> None:
    """Work on a level by column generation."""
    asked = ask.build(state.case, aim, state.before(aim), at_hand(state, aim))
    if not pricing.possible(asked):
        return

    def offer(cuts: Cuts, method: str) -> tuple[Cuts, int]:
        state.offer(cuts, aim, method)
        return state.cuts, asked.ceiling(state.values[aim])

    master = Master(asked, [*state.pool, *state.cuts], state.seed)
    work = search.Search(asked, master, state.cuts, asked.ceiling(state.values[aim]), offer, state.seed, clock)
    search.run(work)
    state.pool = dict.fromkeys(master.cuts[-POOL:])
    if work.bound is not None:
        state.shown(aim, asked.value(work.bound))
    if work.root.worths is not None:
        dual = bounds.certificate(asked, work.root.worths)
        state.duals += [dual] if dual else []


def _longest(state: State, aim: Aim, clock: Clock) -> None:
    """Look for the longest remnant by column generation."""
    case, before = state.case, state.before(aim)
    last = list(before)[-1]
    asked = ask.build(case, last, state.before(last), at_hand(state, aim))
    own = settled(state.problem).longest

    def reached() -> int:
        return max((left(case, cut) for cut in state.cuts if left(case, cut) >= case.keep), default=0)

    def offer(cuts: Cuts, method: str) -> int:
        state.offer(cuts, aim, method)
        return reached()

    if pricing.possible(asked):
        cuts = [*state.pool, *state.cuts]
        work = longest.Longest(asked, asked.ceiling(before[last]), reached(), cuts, offer, state.seed, clock)
        longest.find(work)
        if work.most is not None:
            state.shown(aim, -max(own, work.most * case.unit))


POOL: Final = 6_000  # No source: cuts handed on to the next level
SMALL: Final = 1_500  # No source: bars times kinds up to which the compact program is worth a try


def _trivial(state: State, aim: Aim) -> int | None:
    """Give a bound that needs no search."""
    if aim.level is not Level.LONGEST:
        return compact.settled_value(state.case, aim)
    if state.values.get(Aim(Level.REMNANTS)) == 0:
        return 0
    return None


def plan(state: State) -> Plan:
    """Tell a state as a plan, as far as it has come."""
    made = report.bars(state.case, state.cuts)
    value = {**state.values, Aim(Level.AGE): report.age(state.problem, made)}
    for tie in (Aim(Level.PATTERNS), Aim(Level.AGE)):
        least = int(tie.level is Level.PATTERNS and bool(made))
        if value[tie] <= least:
            state.bounds[tie] = value[tie]
        else:
            state.bounds.pop(tie, None)
    rows = []
    for aim in aims(state.problem):
        bound = state.bounds.get(aim)
        rows.append(Standing(aim.level, value[aim], bound, proven=bound == value[aim], due=aim.due))
    return Plan(
        made,
        report.missing(state.problem, made),
        tuple(rows),
        complete=state.finished,
        seconds=time.perf_counter() - state.started,
        method=state.method,
        duals=tuple(state.duals),
    )


def step(state: State, aim: Aim) -> int:
    """Give the step between a level's values."""
    return step_of(state.case, aim.level)
