"""The linear program over the cuts known so far, kept in HiGHS so that more cuts are quick to add."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import highspy
import numpy as np

from inventory.calc.cut_solver.ask import Ask
from inventory.calc.cut_solver.bounds import Limits, limits_of
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.program import FREE, NO_TIME, quiet
from inventory.calc.cut_solver.shape import Case, Cut
from inventory.calc.cut_solver.tally import left

NOTHING: Final = np.zeros(0, dtype=np.int32)
DEAR: Final = 10.0  # No source: a piece that cannot be had costs so many bars at first


@dataclass(frozen=True, slots=True)
class Solved:
    """A solution: goal, duals of slots, dues, lines and groups, cuts used, share of each run's choices, what cannot be had."""

    goal: float
    slots: Sequence[float]
    dues: Sequence[float]
    lines: Sequence[float]
    groups: Sequence[float]
    used: dict[Cut, float]
    choices: Sequence[Sequence[float]]
    lacking: float


def entries(ask: Ask, cut: Cut) -> dict[int, int]:
    """Give a cut's numbers by row: slots, dues, runs, groups, lines in this order."""
    row = {slot: count for count, slot in zip(cut[1], ask.at[cut[0]], strict=True) if count}
    at = len(ask.slots) + len(ask.dues) + len(ask.runs)
    row[at + cut[0]] = 1
    at += len(ask.most)
    rest = left(ask.case, cut)
    weights = (line.weight(ask.case, cut[0], rest) for line in ask.lines)
    row |= {at + number: weight for number, weight in enumerate(weights) if weight}
    return row


def row_limits(ask: Ask, limits: Limits) -> list[tuple[float, float]]:
    """Give the limits of every row, in the order of `entries`."""
    chosen = {slot for run in ask.runs for choice in run for slot in choice}
    rows: list[tuple[float, float]] = []
    for slot, kind in enumerate(ask.slots):
        count = 0 if slot in chosen else ask.case.kinds[kind].count
        rows.append((count, FREE if ask.loose else count))
    rows += [(0, most) for _, most in ask.dues]
    rows += [(1, 1) for _ in ask.runs]
    rows += [(0, most) for most in ask.most]
    rows += [(-FREE if low is None else low, FREE if high is None else high) for low, high in limits]
    return rows


def choice_entries(ask: Ask) -> list[dict[int, int]]:
    """Give the numbers by row of each choice of each run."""
    found = []
    for number, run in enumerate(ask.runs):
        for choice in run:
            row = {slot: -ask.case.kinds[ask.slots[slot]].count for slot in choice}
            found.append(row | {len(ask.slots) + len(ask.dues) + number: 1})
    return found


def lack_entries(ask: Ask, slot: int) -> dict[int, int]:
    """Give the numbers by row of a missing piece of a slot."""
    row = {slot: 1}
    for number, (slots, _) in enumerate(ask.dues):
        if slot in slots:
            row[len(ask.slots) + number] = 1
    return row


def goes(case: Case, ask: Ask, cut: Cut) -> bool:
    """Say whether a cut asks for no more bars or pieces than there are."""
    pairs = zip(cut[1], case.kinds, ask.at[cut[0]], strict=True)
    return ask.most[cut[0]] > 0 and all(not count or (count <= kind.count and at >= 0) for count, kind, at in pairs)


class Master:
    """The program in HiGHS. Its case and limits may be changed, not the rows' meaning."""

    def __init__(self, ask: Ask, cuts: Iterable[Cut], seed: int) -> None:
        """Write the rows, and the columns that are no cuts."""
        self.ask, self.seed = ask, seed
        self.limits = limits_of(ask)
        self.cuts: list[Cut] = []
        self._known: set[Cut] = set()
        self._highs = quiet(seed)
        bounds = row_limits(ask, self.limits)
        low, high = (np.array(column, dtype=float) for column in zip(*bounds, strict=True))
        self._highs.addRows(len(bounds), low, high, 0, NOTHING, NOTHING, np.zeros(0))
        self._dear = DEAR * (2 + max(ask.goal.bars, default=0) + ask.goal.remnant + ask.goal.scrap * ask.case.keep)
        self._extra = len(ask.slots) + 2 * len(ask.lines)
        for slot in range(len(ask.slots)):
            self._column(self._dear, FREE, {slot: 1})
        for row in range(len(bounds) - len(ask.lines), len(bounds)):
            self._column(self._dear, FREE, {row: 1})
            self._column(self._dear, FREE, {row: -1})
        for slot in range(len(ask.lack)):
            self._column(ask.lack[slot], ask.case.kinds[ask.slots[slot]].count, lack_entries(ask, slot))
        for choice in choice_entries(ask):
            self._column(0, FREE, choice)
        self._first = self._highs.getNumCol()
        self.add(cuts)

    def _column(self, cost: float, most: float, row: dict[int, int]) -> None:
        index = np.array(list(row), dtype=np.int32)
        self._highs.addCol(cost, 0.0, most, len(row), index, np.array(list(row.values()), dtype=float))

    def add(self, cuts: Iterable[Cut]) -> int:
        """Add cuts that are not known yet; give how many."""
        before = len(self.cuts)
        for cut in cuts:
            if cut not in self._known and goes(self.ask.case, self.ask, cut):
                self._known.add(cut)
                self.cuts.append(cut)
                self._column(self.ask.goal.weigh(self.ask.case, cut), FREE, entries(self.ask, cut))
        return len(self.cuts) - before

    def limit(self, limits: Limits) -> None:
        """Change the limits of the lines."""
        self.turn(self.ask, limits)

    def turn(self, ask: Ask, limits: Limits) -> None:
        """Change to other numbers of pieces and bars; cuts that ask for more are put out."""
        self.ask, self.limits = ask, list(limits)
        for number, (low, high) in enumerate(row_limits(ask, limits)):
            self._highs.changeRowBounds(number, low, high)
        for number, cut in enumerate(self.cuts):
            self._highs.changeColBounds(self._first + number, 0.0, FREE if goes(ask.case, ask, cut) else 0.0)
        for slot in range(len(ask.lack)):
            self._highs.changeColBounds(self._extra + slot, 0.0, ask.case.kinds[ask.slots[slot]].count)

    def dearer(self) -> None:
        """Make what cannot be had ten times as dear."""
        self._dear *= 10
        for column in range(self._extra):
            self._highs.changeColCost(column, self._dear)

    def solve(self, clock: Clock) -> Solved | None:
        """Solve; None where time ran out or HiGHS gave up."""
        if clock.left() < NO_TIME:
            return None
        self._highs.setOptionValue("time_limit", self._highs.getRunTime() + clock.left())
        self._highs.run()
        if self._highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        return self._read()

    def _read(self) -> Solved:
        ask, found = self.ask, self._highs.getSolution()
        value, dual = list(found.col_value), list(found.row_dual)
        a, b = len(ask.slots), len(ask.slots) + len(ask.dues)
        at = b + len(ask.runs) + len(ask.most)
        choices, place = [], self._first - sum(map(len, ask.runs))
        for run in ask.runs:
            choices.append(value[place : place + len(run)])
            place += len(run)
        used = {cut: x for cut, x in zip(self.cuts, value[self._first :], strict=True) if x > SMALL}
        goal = self._highs.getInfo().objective_function_value
        return Solved(
            goal,
            dual[:a],
            dual[a:b],
            dual[at:],
            dual[at - len(ask.most) : at],
            used,
            choices,
            sum(value[: self._extra]),
        )


SMALL: Final = 1e-7  # No source: what HiGHS takes for nothing
