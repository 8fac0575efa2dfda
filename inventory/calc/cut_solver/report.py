"""Cuts of groups and kinds, told as bars by name and demand lines."""

from collections.abc import Mapping, Sequence

from inventory.calc.cut_problem import CutBar, Problem
from inventory.calc.cut_solver.shape import Case, Cuts
from inventory.calc.cut_solver.tally import left, left_of


def bars(case: Case, cuts: Cuts) -> tuple[CutBar, ...]:
    """Name the bars of a plan: settled ones first, then each group's oldest, longest pieces at the first end.

    Args:
        case: the question.
        cuts: the plan.

    Returns:
        The bars as the saw takes them.
    """
    lines = [[(index, case.rest[index]) for index in kind.lines] for kind in case.kinds]
    taken = [0] * len(case.groups)
    made = list(_locked(case.problem))
    for (number, counts), times in sorted(cuts.items(), key=lambda row: (row[0][0], [-n for n in row[0][1]])):
        group = case.groups[number]
        for _ in range(times):
            name = group.names[0 if group.bought else taken[number]]
            taken[number] += 1
            pieces = [index for kind, count in enumerate(counts) for index in _take(lines[kind], count)]
            rest = left(case, (number, counts)) * case.unit
            made.append(CutBar(name, group.bought, tuple(pieces), rest, rest >= case.keep * case.unit))
    return tuple(made)


def _locked(problem: Problem) -> Sequence[CutBar]:
    stock = {bar.name: bar for bar in problem.stock}
    made = []
    for lock in problem.locked:
        if lock.pieces:
            rest, kept = left_of(problem, stock[lock.stock], [problem.pieces[i].length for i in lock.pieces])
            made.append(CutBar(lock.stock, False, lock.pieces, rest, kept))
    return made


def _take(lines: list[tuple[int, int]], count: int) -> Sequence[int]:
    """Take pieces off the lines of a kind, the first line first."""
    taken: list[int] = []
    while count:
        index, rest = lines[0]
        now = min(count, rest)
        taken += [index] * now
        count -= now
        if now == rest:
            lines.pop(0)
        else:
            lines[0] = (index, rest - now)
    return taken


def missing(problem: Problem, made: Sequence[CutBar]) -> tuple[int, ...]:
    """Give the pieces no bar gives, one number a demand line."""
    short = [piece.count for piece in problem.pieces]
    for bar in made:
        for index in bar.pieces:
            short[index] -= 1
    return tuple(short)


def age(problem: Problem, made: Sequence[CutBar]) -> int:
    """Sum the age ranks of the bars sawn."""
    ages = sorted({bar.age for bar in problem.stock}, reverse=True)
    rank: Mapping[str, int] = {bar.name: ages.index(bar.age) for bar in problem.stock}
    return sum(len(ages) if bar.bought else rank[bar.source] for bar in made)
