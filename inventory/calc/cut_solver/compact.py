"""The question as one whole-number program: how many pieces of each kind on each bar, and what becomes of its rest.

For every bar: steps of its pieces + scrap + remnant - kerf that ran out of the bar = room, where it is sawn. A remnant is
0 or long enough, scrap is 0 where there is one, and kerf runs out only where nothing is left. For up to some hundred
bars times kinds this is proven in seconds; beyond that `columns` is better.

Source: bounded-leftover model split into scrap and remnant (own, from the rules of cut_problem).
"""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from inventory.calc.cut_problem import Level
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.program import FREE, Program
from inventory.calc.cut_solver.shape import Case, Cut, Cuts, Heat
from inventory.calc.cut_solver.tally import Aim, Sums, fits, left, settled, step_of, weights

Terms = dict[int, float]
NEAR: Final = 1e-4  # No source: HiGHS's bounds are taken as whole numbers from this far below them


@dataclass(slots=True)
class Bar:
    """Variables of one bar: sawn, scrap, remnant, whether a remnant, kerf run out, whether so, pieces by kind."""

    group: int
    sawn: int
    scrap: int
    rest: int
    kept: int
    over: int
    flush: int
    pieces: dict[int, int] = field(default_factory=dict)


@dataclass(slots=True)
class Compact:
    """The program with what its variables mean."""

    case: Case
    program: Program
    bars: list[Bar]
    missing: list[int]
    heats: dict[tuple[Hashable, Heat], int]


def size(case: Case, most: Sequence[int]) -> int:
    """Give bars times kinds, a measure of how hard the program is.

    Args:
        case: the question.
        most: how many bars of each group a good plan can use.

    Returns:
        The number of piece variables at most.
    """
    return sum(most) * len(case.kinds)


def write(case: Case, most: Sequence[int]) -> Compact:
    """Write the rows all levels share.

    Args:
        case: the question.
        most: how many bars of each group a good plan can use.

    Returns:
        The program, without an aim.
    """
    program = Program()
    missing = [program.variable(0, kind.count if case.by_due else 0) for kind in case.kinds]
    model = Compact(case, program, [], missing, {})
    for group, number in enumerate(most):
        for twin in range(number):
            bar = _bar(model, group)
            if twin:
                program.row(0, 1, {model.bars[-1].sawn: 1, bar.sawn: -1})
            model.bars.append(bar)
    for kind, slot in enumerate(missing):
        terms: Terms = {bar.pieces[kind]: 1 for bar in model.bars if kind in bar.pieces}
        count = case.kinds[kind].count
        program.row(count, count, {slot: 1, **terms})
    _bind_runs(model)
    _balance(model)
    return model


def _bar(model: Compact, number: int) -> Bar:
    case, program = model.case, model.program
    group = case.groups[number]
    tail = group.room - group.end if case.problem.tail_hold else 0
    kerf = max(0, group.end - group.room)
    bar = Bar(
        number,
        sawn=program.variable(0, 1),
        scrap=program.variable(0, max(0, min(case.keep - 1, group.room)), whole=False),
        rest=program.variable(0, group.room, whole=False),
        kept=program.variable(0, 1 if group.room >= case.keep else 0),
        over=program.variable(0, kerf, whole=False),
        flush=program.variable(0, 1),
    )
    for index, kind in enumerate(case.kinds):
        if kind.step <= group.end and (kind.heats is None or group.heat in kind.heats):
            bar.pieces[index] = program.variable(0, min(kind.count, group.end // kind.step))
    steps: Terms = {slot: case.kinds[kind].step for kind, slot in bar.pieces.items()}
    program.row(0, 0, {**steps, bar.scrap: 1, bar.rest: 1, bar.over: -1, bar.sawn: -group.room})
    program.row(0, group.room, {bar.rest: 1, bar.kept: -case.keep})
    program.row(-group.room, 0, {bar.rest: 1, bar.kept: -group.room})
    most = max(0, min(case.keep - 1, group.room))
    program.row(-most, 0, {bar.scrap: 1, bar.sawn: -most, bar.kept: most, bar.flush: most})
    program.row(-kerf, 0, {bar.over: 1, bar.flush: -kerf})
    program.row(-1, 0, {bar.kept: 1, bar.flush: 1, bar.sawn: -1})
    if tail:
        program.row(0, group.room, {bar.scrap: 1, bar.rest: 1, bar.sawn: -tail})
    program.row(0, sum(kind.count for kind in case.kinds), {**dict.fromkeys(bar.pieces.values(), 1.0), bar.sawn: -1})
    return bar


def _bind_runs(model: Compact) -> None:
    """Let every run not bound yet choose one mill heat."""
    case, program = model.case, model.program
    if not case.problem.one_heat:
        return
    heats = sorted({case.groups[bar.group].heat for bar in model.bars})
    for run in dict.fromkeys(kind.run for kind in case.kinds if kind.heats is None):
        for heat in heats:
            model.heats[run, heat] = program.variable(0, 1)
        program.row(0, 1, {model.heats[run, heat]: 1 for heat in heats})
    for bar in model.bars:
        group = case.groups[bar.group]
        for index, slot in bar.pieces.items():
            kind = case.kinds[index]
            if kind.heats is None:
                most = min(kind.count, group.end // kind.step)
                program.row(-most, 0, {slot: 1, model.heats[kind.run, group.heat]: -most})


def _balance(model: Compact) -> None:
    """Say once more, of all bars together, that steel goes into pieces, scrap and remnants; it helps the search."""
    case = model.case
    terms: Terms = {}
    for bar in model.bars:
        terms |= {bar.sawn: case.groups[bar.group].room, bar.scrap: -1, bar.rest: -1, bar.over: 1}
    terms |= {slot: kind.step for slot, kind in zip(model.missing, case.kinds, strict=True)}
    wanted = sum(kind.step * kind.count for kind in case.kinds)
    model.program.row(wanted, wanted, terms)


def level_terms(model: Compact, aim: Aim, step: int) -> Terms:
    """Give an aim as a weighted sum of variables, over its step; settled bars not counted in.

    Args:
        model: the program.
        aim: a level, not LONGEST or a later one.
        step: divides every value of the level.

    Returns:
        Weights by variable.
    """
    case = model.case
    if aim.level is Level.SHORT:
        pairs = zip(model.missing, case.kinds, strict=True)
        return {slot: 1 for slot, kind in pairs if not case.by_due or kind.due == aim.due}
    by = weights(case.problem, aim.level) or Sums()
    terms: Terms = {}
    for bar in model.bars:
        group = case.groups[bar.group]
        terms[bar.sawn] = (by.cost * group.price + by.full * group.full + by.handled) / step
        terms[bar.scrap] = by.scrap * case.unit / step
        terms[bar.kept] = by.remnants / step
    return {slot: weight for slot, weight in terms.items() if weight}


def aim_longest(model: Compact) -> None:
    """Make the longest remnant as long as can be: one bar is named, and what it keeps counts."""
    program = model.program
    named = []
    for bar in model.bars:
        room = model.case.groups[bar.group].room
        this = program.variable(0, 1)
        counts = program.variable(0, room, cost=-1, whole=False)
        program.row(-room, 0, {counts: 1, bar.rest: -1})
        program.row(-room, 0, {counts: 1, this: -room})
        named.append(this)
    program.row(0, 1, dict.fromkeys(named, 1.0))


def start(model: Compact, cuts: Cuts) -> Mapping[int, float]:
    """Write a plan down in the program's variables.

    Args:
        model: the program.
        cuts: the plan; bars beyond those of the program are left out.

    Returns:
        Values by variable, but for those of the longest remnant.
    """
    case = model.case
    row: dict[int, float] = {}
    short = [kind.count for kind in case.kinds]
    bars: dict[int, list[Bar]] = {}
    for bar in model.bars:
        bars.setdefault(bar.group, []).append(bar)
    for cut, times in cuts.items():
        for _ in range(times):
            bar = bars[cut[0]].pop(0)
            rest = left(case, cut)
            fill = sum(n * kind.step for n, kind in zip(cut[1], case.kinds, strict=True))
            kept = rest >= case.keep
            row |= {bar.sawn: 1, bar.kept: int(kept), bar.rest if kept else bar.scrap: rest, bar.flush: int(not rest)}
            row[bar.over] = rest + fill - case.groups[cut[0]].room
            for kind, n in enumerate(cut[1]):
                short[kind] -= n
                if n:
                    row[bar.pieces[kind]] = n
                    row |= _named_heat(model, kind, bar)
    return row | dict(zip(model.missing, short, strict=True))


def _named_heat(model: Compact, kind: int, bar: Bar) -> dict[int, float]:
    slot = model.heats.get((model.case.kinds[kind].run, model.case.groups[bar.group].heat))
    return {} if slot is None else {slot: 1}


def read(model: Compact, values: Sequence[float]) -> dict[Cut, int] | None:
    """Read a plan from the program's variables.

    Args:
        model: the program.
        values: by variable, as HiGHS gives them.

    Returns:
        The plan, or None where rounding leaves none that can be sawn.
    """
    plan: dict[Cut, int] = {}
    for bar in model.bars:
        counts = tuple(round(values[bar.pieces[k]]) if k in bar.pieces else 0 for k in range(len(model.case.kinds)))
        if any(counts):
            cut = (bar.group, counts)
            if not fits(model.case, cut):
                return None
            plan[cut] = plan.get(cut, 0) + 1
    return plan


def settled_value(case: Case, aim: Aim) -> int:
    """Give what settled bars add to an aim that is a sum."""
    by = weights(case.problem, aim.level)
    return sum(a * b for a, b in zip(by, settled(case.problem).sums, strict=True)) if by else 0


def improve(
    case: Case, cuts: Cuts, fixed: Mapping[Aim, int], aim: Aim, *, most: Sequence[int], clock: Clock, seed: int
) -> tuple[dict[Cut, int] | None, int | None]:
    """Make one level as small as can be, those before it held.

    Args:
        case: the question.
        cuts: the plan so far, a start.
        fixed: values of the levels before.
        aim: the level.
        most: how many bars of each group a good plan can use.
        clock: time to stop.
        seed: for HiGHS.

    Returns:
        A plan if one was found, and a bound on the level's value; settled bars are not counted in for LONGEST.
    """
    model, step = write(case, most), step_of(case, aim.level)
    for before, value in fixed.items():
        unit = step_of(case, before.level)
        target = (value - settled_value(case, before)) / unit
        model.program.row(target, target, level_terms(model, before, unit))
    given: Mapping[int, float] | None = None
    if aim.level is Level.LONGEST:
        aim_longest(model)
    else:
        for slot, weight in level_terms(model, aim, step).items():
            model.program.cost[slot] = weight
        given = start(model, cuts)
    found = model.program.solve(clock, seed, start=given)
    bound = math.ceil(found.bound - NEAR) * step + settled_value(case, aim) if abs(found.bound) < FREE else None
    return (read(model, found.values) if found.values else None), bound
