"""The best plan of a tiny problem by trying every way to cut every bar; levels are counted here once more.

Bars are laid one after the other. Of two ways to have come to the same pieces left (and the same heats taken by runs)
the one worse on the sums can never catch up, so it is dropped; what is no sum (longest remnant, patterns) is kept apart.
"""

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from inventory.calc.cut_problem import Buyable, Order, Problem, Stock
from tests.calc.cut_rules import kept, left_over

Sums = tuple[int, ...]


class Way(NamedTuple):
    """One way to cut one bar."""

    taken: tuple[int, ...]
    sums: Sums
    longest: int
    pattern: tuple[int, ...]
    age: int


class State(NamedTuple):
    """Where some bars' cuts have led."""

    todo: tuple[int, ...]
    heats: frozenset[tuple[str | int, str]]
    longest: int
    patterns: frozenset[tuple[int, ...]]


def best(problem: Problem) -> dict[str, int]:
    """Give the value of every level of the best plan; shorts are "short", "short 2026-12-01" and so on."""
    best_of: dict[State, tuple[Sums, int]] = {
        State(tuple(piece.count for piece in problem.pieces), frozenset(), 0, frozenset()): ((0,) * 6, 0)
    }
    for bar in _bars(problem):
        best_of = _laid(problem, bar, best_of)
    ends = ((_shorts(problem, state.todo), sums, state, age) for state, (sums, age) in best_of.items())
    short, sums, state, age = min(ends, key=lambda end: (end[0], end[1], -end[2].longest, len(end[2].patterns), end[3]))
    names = ["cost", *_names(problem)]
    dues = ["short" + (f" {due}" if due else "") for due in _dues(problem)]
    return {
        **dict(zip(dues, short, strict=True)),
        **dict(zip(names, sums, strict=False)),
        "longest": -state.longest,
        "patterns": len(state.patterns),
        "age": age,
    }


def least(problem: Problem, number: int, short: Sequence[int], fixed: dict[int, int]) -> int | None:
    """Give the least any plan so short on each date makes of one sum, others fixed; None where there is no such plan.

    Sums by number: as `every_sum` gives them.
    """
    states = {(tuple(piece.count for piece in problem.pieces), (0,) * 7)}
    for bar in _bars(problem):
        ways = list(_ways(problem, bar))
        states = {
            (tuple(a - b for a, b in zip(todo, way.taken, strict=True)), tuple(map(sum, zip(sums, more, strict=True))))
            for todo, sums in states
            for way in ways
            for more in [every_sum(problem, bar, way)]
            if all(a >= b for a, b in zip(todo, way.taken, strict=True))
        }
    found = [sums for todo, sums in states if list(_shorts(problem, todo)) == list(short)]
    return min((sums[number] for sums in found if all(sums[i] == value for i, value in fixed.items())), default=None)


def every_sum(problem: Problem, bar: Stock | Buyable, way: Way) -> Sums:
    """Give cost, loss, full, scrap, remnants, handled, age of one bar."""
    if not any(way.taken):
        return (0,) * 7
    cost, full, scrap, remnants, handled = _plain(problem, bar, way.taken)
    prices = problem.prices
    loss = scrap + prices.remnant * remnants + prices.handled * handled + prices.full * full
    return cost, loss, full, scrap, remnants, handled, way.age


def _names(problem: Problem) -> list[str]:
    return ["loss"] if problem.order is Order.ONE_PRICE else ["full", "scrap", "nrem", "used"]


def _dues(problem: Problem) -> list[str]:
    return sorted({piece.due for piece in problem.pieces}, key=lambda due: due or "~")


def _shorts(problem: Problem, todo: Sequence[int]) -> tuple[int, ...]:
    return tuple(
        sum(n for n, piece in zip(todo, problem.pieces, strict=True) if piece.due == due) for due in _dues(problem)
    )


def _bars(problem: Problem) -> Iterator[Stock | Buyable]:
    yield from problem.stock
    wanted = sum(piece.count for piece in problem.pieces)
    for bar in problem.buyable:
        yield from itertools.repeat(bar, wanted if bar.most is None else min(wanted, bar.most))


def _plain(problem: Problem, bar: Stock | Buyable, taken: Sequence[int]) -> Sums:
    left = left_over(problem, bar, [index for index, n in enumerate(taken) for _ in range(n)])
    keep = kept(problem, left)
    bought = isinstance(bar, Buyable)
    return (bar.price if bought else 0, int(bought or bar.full), 0 if keep else left, int(keep), 1)


def _ways(problem: Problem, bar: Stock | Buyable) -> Iterator[Way]:
    """Give every way to cut a bar, also not at all; a settled bar has one."""
    locks = [lock for lock in problem.locked if lock.stock == bar.name]
    for lock in locks:
        yield _way(problem, bar, tuple(lock.pieces.count(index) for index in range(len(problem.pieces))))
    if not locks:
        for taken in itertools.product(*(range(piece.count + 1) for piece in problem.pieces)):
            pieces = [index for index, n in enumerate(taken) for _ in range(n)]
            if not pieces or left_over(problem, bar, pieces) >= 0:
                yield _way(problem, bar, taken)


def _way(problem: Problem, bar: Stock | Buyable, taken: tuple[int, ...]) -> Way:
    if not any(taken):
        return Way(taken, (0,) * 6, 0, (), 0)
    cost, full, scrap, remnants, handled = _plain(problem, bar, taken)
    if problem.order is Order.ONE_PRICE:
        prices = problem.prices
        rest: Sums = (scrap + prices.remnant * remnants + prices.handled + prices.full * full, 0, 0, 0)
    else:
        rest = (full, scrap, remnants, handled)
    pieces = [index for index, n in enumerate(taken) for _ in range(n)]
    longest = left_over(problem, bar, pieces) if remnants else 0
    pattern = (bar.length - bar.trim, *sorted(problem.pieces[index].length for index in pieces))
    older = {other.age for other in problem.stock if isinstance(bar, Buyable) or other.age > bar.age}
    return Way(taken, (cost, *rest, 0), longest, pattern, len(older))


def _laid(
    problem: Problem, bar: Stock | Buyable, best_of: dict[State, tuple[Sums, int]]
) -> dict[State, tuple[Sums, int]]:
    ways = list(_ways(problem, bar))
    found: dict[State, tuple[Sums, int]] = {}
    leads: dict[tuple[object, ...], Sums] = {}
    for state, (sums, age) in best_of.items():
        for way in ways:
            heats = _heats(problem, bar, state, way)
            if heats is None or any(a < b for a, b in zip(state.todo, way.taken, strict=True)):
                continue
            todo = tuple(a - b for a, b in zip(state.todo, way.taken, strict=True))
            patterns = state.patterns | {way.pattern} if way.pattern else state.patterns
            new = State(todo, heats, max(state.longest, way.longest), patterns)
            worth = tuple(map(sum, zip(sums, way.sums, strict=True))), age + way.age
            if new not in found or worth < found[new]:
                found[new] = worth
            leads[todo, heats] = min(leads.get((todo, heats), worth[0]), worth[0])
    return {state: worth for state, worth in found.items() if worth[0] == leads[state.todo, state.heats]}


def _heats(problem: Problem, bar: Stock | Buyable, state: State, way: Way) -> frozenset[tuple[str | int, str]] | None:
    """Give the heats the runs have taken; None where a run would come from two."""
    if not problem.one_heat:
        return state.heats
    heat = "to buy" if isinstance(bar, Buyable) else f"heat {bar.heat}"
    runs = {problem.pieces[index].run or index for index, n in enumerate(way.taken) if n}
    if any(run in runs and other != heat for run, other in state.heats):
        return None
    return state.heats | {(run, heat) for run in runs}
