"""What cuts are worth on each level, settled bars counted in, and which of two plans is better."""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from inventory.calc.cut_problem import LEVELS, Level, Problem, Stock
from inventory.calc.cut_solver.shape import Case, Cut, Cuts


class Aim(NamedTuple):
    """A level; `due` tells the levels of missing pieces apart."""

    level: Level
    due: str = ""


class Sums(NamedTuple):
    """What adds up over the bars: price, full bars, scrap in units of the problem, new remnants, bars."""

    cost: int = 0
    full: int = 0
    scrap: int = 0
    remnants: int = 0
    handled: int = 0


def aims(problem: Problem) -> list[Aim]:
    """List the levels in order.

    Args:
        problem: the question.

    Returns:
        One aim a level, SHORT once for each due date, no date last.
    """
    dues = sorted({piece.due for piece in problem.pieces}, key=lambda due: (due == "", due))
    short = [Aim(Level.SHORT, due) for due in dues]
    return short + [Aim(level) for level in LEVELS[problem.order] if level is not Level.SHORT]


def weights(problem: Problem, level: Level) -> Sums | None:
    """Give a level as a weighted sum.

    Args:
        problem: for the prices.
        level: which.

    Returns:
        The weight of each of the sums; None for a level that is none of that kind.
    """
    prices = problem.prices
    table: Mapping[Level, Sums] = {
        Level.COST: Sums(cost=1),
        Level.LOSS: Sums(0, prices.full, 1, prices.remnant, prices.handled),
        Level.FULL: Sums(full=1),
        Level.SCRAP: Sums(scrap=1),
        Level.REMNANTS: Sums(remnants=1),
        Level.HANDLED: Sums(handled=1),
    }
    return table.get(level)


def step_of(case: Case, level: Level) -> int:
    """Give a number that divides every value of a level.

    Args:
        case: the question.
        level: which.

    Returns:
        A number of 1 or more.
    """
    prices = case.problem.prices
    if level is Level.COST:
        return math.gcd(*(group.price for group in case.groups)) or 1
    if level in {Level.SCRAP, Level.LONGEST}:
        return case.unit
    if level is Level.LOSS:
        return math.gcd(case.unit, prices.remnant, prices.handled, prices.full)
    return 1


def left(case: Case, cut: Cut) -> int:
    """Give what a cut leaves of its bar, units of the case."""
    group, counts = cut
    fill = sum(count * kind.step for count, kind in zip(counts, case.kinds, strict=True) if count)
    return max(0, case.groups[group].room - fill)


def fits(case: Case, cut: Cut) -> bool:
    """Say whether the pieces go on the bar."""
    group, counts = cut
    fill = sum(count * kind.step for count, kind in zip(counts, case.kinds, strict=True) if count)
    return 0 < fill <= case.groups[group].end


def sums_of(case: Case, cut: Cut) -> Sums:
    """Give what one bar adds."""
    group = case.groups[cut[0]]
    rest = left(case, cut)
    kept = rest >= case.keep
    return Sums(group.price, int(group.full), 0 if kept else rest * case.unit, int(kept), 1)


class Settled(NamedTuple):
    """What the settled bars add: sums, longest remnant in units of the problem, ways to cut."""

    sums: Sums
    longest: int
    ways: frozenset[tuple[int, ...]]


def settled(problem: Problem) -> Settled:
    """Count the settled bars.

    Args:
        problem: the question.

    Returns:
        What they add to the levels.
    """
    bars = {bar.name: bar for bar in problem.stock}
    total, longest, ways = Sums(), 0, set()
    for lock in problem.locked:
        if lock.pieces:
            bar = bars[lock.stock]
            rest, kept = left_of(problem, bar, [problem.pieces[index].length for index in lock.pieces])
            total = _plus(total, Sums(0, int(bar.full), 0 if kept else rest, int(kept), 1))
            longest = max(longest, rest if kept else 0)
            ways.add((bar.length - bar.trim, *sorted(problem.pieces[index].length for index in lock.pieces)))
    return Settled(total, longest, frozenset(ways))


def left_of(problem: Problem, bar: Stock, lengths: Sequence[int]) -> tuple[int, bool]:
    """Give what pieces leave of a bar they fit on, units of the problem, and whether it is kept."""
    rest = max(0, bar.length - bar.trim - sum(lengths) - len(lengths) * problem.kerf)
    return rest, rest >= problem.min_remnant and rest > problem.tail_hold


def _plus(one: Sums, other: Sums, times: int = 1) -> Sums:
    return Sums(*(a + times * b for a, b in zip(one, other, strict=True)))


def missing(case: Case, cuts: Cuts) -> list[int]:
    """Give the pieces of each kind that are not cut."""
    short = [kind.count for kind in case.kinds]
    for (_, counts), times in cuts.items():
        for index, count in enumerate(counts):
            short[index] -= times * count
    return short


def values(case: Case, cuts: Cuts) -> tuple[int, ...]:
    """Work out every level but the age of the bars, in order: of two plans the smaller is better.

    Args:
        case: the question.
        cuts: the plan.

    Returns:
        One number a level.
    """
    problem = case.problem
    done = settled(problem)
    total, longest = done.sums, done.longest
    ways = set(done.ways)
    for cut, times in cuts.items():
        more = sums_of(case, cut)
        total = _plus(total, more, times)
        longest = max(longest, left(case, cut) * case.unit if more.remnants else 0)
        ways.add(_way(case, cut))
    short = missing(case, cuts)
    row: list[int] = []
    for aim in aims(problem):
        by_weight = weights(problem, aim.level)
        if aim.level is Level.SHORT:
            row.append(_short(case, short, aim.due) if case.by_due or row else sum(short))
        elif by_weight:
            row.append(sum(weight * value for weight, value in zip(by_weight, total, strict=True)))
        elif aim.level is not Level.AGE:
            row.append(-longest if aim.level is Level.LONGEST else len(ways))
    return tuple(row)


def _short(case: Case, short: Sequence[int], due: str) -> int:
    return sum(n for n, kind in zip(short, case.kinds, strict=True) if kind.due == due and case.by_due)


def _way(case: Case, cut: Cut) -> tuple[int, ...]:
    group, counts = cut
    lengths = [
        case.problem.pieces[kind.lines[0]].length
        for kind, count in zip(case.kinds, counts, strict=True)
        for _ in range(count)
    ]
    return (case.groups[group].room * case.unit, *sorted(lengths))
