"""One level as a linear program over cuts: what each cut costs, and what the levels before allow.

A slot is a kind of piece, or a kind from one mill heat where its run may still choose. Pieces cut into a slot and pieces
missing make its demand; with `loose` more may be cut, where dropping a piece again changes no level looked at.

Source: column formulation of the cutting stock problem (from memory; Gilmore and Gomory 1961, 1963).
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.calc.cut_problem import Level
from inventory.calc.cut_solver import purity
from inventory.calc.cut_solver.compact import settled_value
from inventory.calc.cut_solver.shape import Case, Cut, Heat
from inventory.calc.cut_solver.tally import Aim, Sums, left, step_of, weights


@dataclass(frozen=True, slots=True)
class Line:
    """A weighted sum over the bars cut, between two limits (None: free).

    A bar of group g weighs `bars[g]`, and `remnant` where one is kept, else `scrap` for each unit left; a remnant of
    `long` units or more (0: none) weighs 1 more.
    """

    bars: tuple[int, ...]
    scrap: int = 0
    remnant: int = 0
    long: int = 0
    low: int | None = None
    high: int | None = None

    def weigh(self, case: Case, cut: Cut) -> int:
        """Give what one bar cut so adds."""
        return self.weight(case, cut[0], left(case, cut))

    def weight(self, case: Case, group: int, rest: int) -> int:
        """Give what a bar of a group adds that leaves so much."""
        if rest < case.keep:
            return self.bars[group] + self.scrap * rest
        return self.bars[group] + self.remnant + int(0 < self.long <= rest)


@dataclass(frozen=True, slots=True)
class Ask:
    """The program of one level.

    Args:
        case: the question.
        aim: the level.
        step: a unit of the goal, in units of the level.
        base: what settled bars add, units of the level.
        goal: the level over its step.
        lines: levels before, then sums that are whole numbers and may be limited further.
        first_sum: index of the first of those sums.
        first_group: index of the first that counts the bars of a group.
        most: bars of each group at most.
        slots: kind of each slot.
        at: slot of each kind, by group; -1 where the kind cannot come from it.
        runs: for each run that may choose, the slots it fills by each choice.
        lack: what a missing piece of each slot costs; empty where none may be missing.
        dues: slots of a due date and how many pieces of them may be missing.
        loose: whether more pieces than wanted may be cut.
    """

    case: Case
    aim: Aim
    step: int
    base: int
    goal: Line
    lines: tuple[Line, ...]
    first_sum: int
    first_group: int
    most: tuple[int, ...]
    slots: tuple[int, ...]
    at: tuple[tuple[int, ...], ...]
    runs: tuple[tuple[tuple[int, ...], ...], ...]
    lack: tuple[int, ...]
    dues: tuple[tuple[tuple[int, ...], int], ...]
    loose: bool

    def ceiling(self, value: int) -> int:
        """Give a value of the level in units of the goal."""
        return (value - self.base) // self.step

    def value(self, goal: int) -> int:
        """Give a goal in units of the level."""
        return self.base + goal * self.step


def build(case: Case, aim: Aim, fixed: Mapping[Aim, int], most: Sequence[int]) -> Ask:
    """Write the program of a level.

    Args:
        case: the question.
        aim: the level; SHORT or a sum.
        fixed: values of the levels before.
        most: bars of each group at most.

    Returns:
        The program.
    """
    step = step_of(case, aim.level)
    goal = line(case, weights(case.problem, aim.level) or Sums(), step)
    lines = [found for before, value in fixed.items() if (found := _held(case, before, value))]
    slots, at, runs = _slots(case)
    loose = not runs and not any(one.scrap or one.remnant for one in (goal, *lines))
    dues, lack = _dues(case, slots, aim, fixed)
    counted = sums(case, loose=loose, most=most)
    return Ask(
        case,
        aim,
        step,
        0 if aim.level is Level.SHORT else settled_value(case, aim),
        goal,
        (*lines, *counted),
        len(lines),
        len(lines) + max(0, len(counted) - len(case.groups)),
        tuple(most),
        slots,
        at,
        runs,
        lack,
        dues,
        loose,
    )


def line(case: Case, by: Sums, step: int) -> Line:
    """Write a sum of the levels over its step."""
    bars = tuple((by.cost * group.price + by.full * group.full + by.handled) // step for group in case.groups)
    return Line(bars, by.scrap * case.unit // step, by.remnants // step)


def _held(case: Case, aim: Aim, value: int) -> Line | None:
    """Hold a level before at its value; None where that asks nothing of the bars."""
    by = weights(case.problem, aim.level)
    if by is None:
        return None
    step = step_of(case, aim.level)
    free = line(case, by, step)
    if not (any(free.bars) or free.scrap or free.remnant):
        return None
    return Line(free.bars, free.scrap, free.remnant, high=(value - settled_value(case, aim)) // step)


def sums(case: Case, *, loose: bool, most: Sequence[int]) -> list[Line]:
    """List sums that are whole numbers whatever is cut: full bars, bars, remnants, then the bars of each group."""
    if len(case.groups) < 2:
        return []
    found = [line(case, Sums(full=1), 1), line(case, Sums(handled=1), 1)]
    if not loose:
        found.append(line(case, Sums(remnants=1), 1))
    groups = range(len(case.groups))
    found += [Line(tuple(int(i == number) for i in groups), high=most[number]) for number in groups]
    return [replace(one, low=0) for one in found]


def _slots(
    case: Case,
) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...], tuple[tuple[tuple[int, ...], ...], ...]]:
    heats = sorted({group.heat for group in case.groups}) if case.problem.one_heat else []
    slots: list[int] = []
    slot: dict[tuple[int, Heat | None], int] = {}
    runs: dict[Hashable, list[int]] = {}
    for index, kind in enumerate(case.kinds):
        free = kind.heats is None and bool(heats)
        for heat in heats if free else [None]:
            slot[index, heat] = len(slots)
            slots.append(index)
        if free:
            runs.setdefault(kind.run, []).append(index)
    at = []
    for group in case.groups:
        row = []
        for index, kind in enumerate(case.kinds):
            open_ = kind.heats is None or group.heat in kind.heats
            row.append(slot.get((index, group.heat), slot.get((index, None), -1)) if open_ else -1)
        at.append(tuple(row))
    choices = tuple(tuple(tuple(slot[index, heat] for index in kinds) for heat in heats) for kinds in runs.values())
    return tuple(slots), tuple(at), choices


def _dues(
    case: Case, slots: Sequence[int], aim: Aim, fixed: Mapping[Aim, int]
) -> tuple[tuple[tuple[tuple[int, ...], int], ...], tuple[int, ...]]:
    if not case.by_due:
        return (), ()
    rows = []
    for before, value in fixed.items():
        if before.level is Level.SHORT:
            rows.append((tuple(s for s, kind in enumerate(slots) if case.kinds[kind].due == before.due), value))
    short = aim.level is Level.SHORT
    lack = tuple(int(short and case.kinds[kind].due == aim.due) for kind in slots)
    return tuple(rows), lack


def bind(ask: Ask, choices: Sequence[Sequence[float]]) -> Ask:
    """Bind every run that may choose to a mill heat.

    Args:
        ask: the program.
        choices: for each run, how much it is of each choice; the largest is taken.

    Returns:
        The program with one slot a kind.
    """
    heats = sorted({group.heat for group in ask.case.groups})
    chosen = [heats[max(range(len(row)), key=lambda at: (row[at], -at))] for row in choices]
    runs = dict.fromkeys(kind.run for kind in ask.case.kinds if kind.heats is None)
    case = purity.bound(ask.case, dict(zip(runs, chosen, strict=True)))
    slots, at, _ = _slots(case)
    lack = dict(zip(ask.slots, ask.lack, strict=False))
    dues = []
    for members, most in ask.dues:
        kinds = {ask.slots[slot] for slot in members}
        dues.append((tuple(slot for slot, kind in enumerate(slots) if kind in kinds), most))
    return replace(
        ask,
        case=case,
        slots=slots,
        at=at,
        runs=(),
        lack=tuple(lack[kind] for kind in slots) if lack else (),
        dues=tuple(dues),
    )
