"""Every level's value, counted from the bars as the saw leaves them."""

from collections.abc import Callable, Mapping, Sequence

from inventory.calc.cut_problem import LEVELS, Level, Problem
from inventory.calc.cut_verifier.saw import Sawn


def values(problem: Problem, sawn: Sequence[Sawn]) -> list[tuple[Level, str, int]]:
    """Work out what a plan is worth on each level.

    Args:
        problem: the question.
        sawn: every bar of the plan, replayed.

    Returns:
        (level, due date, value) in the order of the levels; the date is "" but for SHORT. A date that only lines of no
        pieces bear has a level too, of value 0.
    """
    rows: list[tuple[Level, str, int]] = []
    for level in LEVELS[problem.order]:
        if level is Level.SHORT:
            rows += [(level, due, short) for due, short in _short(problem, sawn)]
        else:
            rows.append((level, "", _VALUE[level](problem, sawn)))
    return rows


def age_ranks(problem: Problem) -> Mapping[int, int]:
    """Rank the ages on the rack.

    Args:
        problem: for its stock.

    Returns:
        Rank by age, days: the oldest 0, the next younger age 1 and so on. A bought bar has the rank after them all.
    """
    return {age: rank for rank, age in enumerate(sorted({bar.age for bar in problem.stock}, reverse=True))}


def _short(problem: Problem, sawn: Sequence[Sawn]) -> list[tuple[str, int]]:
    short: dict[str, int] = {}
    for piece in problem.pieces:
        short[piece.due] = short.get(piece.due, 0) + piece.count
    for bar in sawn:
        for index in bar.pieces:
            short[problem.pieces[index].due] -= 1
    return sorted(short.items(), key=lambda row: (row[0] == "", row[0]))


def _cost(problem: Problem, sawn: Sequence[Sawn]) -> int:
    price = {length.name: length.price for length in problem.buyable}
    return sum(price[bar.bar.name] for bar in sawn if bar.bought)


def _loss(problem: Problem, sawn: Sequence[Sawn]) -> int:
    prices = problem.prices
    return (
        _scrap(problem, sawn)
        + prices.remnant * _remnants(problem, sawn)
        + prices.handled * len(sawn)
        + prices.full * _full(problem, sawn)
    )


def _full(_problem: Problem, sawn: Sequence[Sawn]) -> int:
    return sum(bar.full for bar in sawn)


def _scrap(_problem: Problem, sawn: Sequence[Sawn]) -> int:
    return sum(bar.scrap for bar in sawn)


def _remnants(_problem: Problem, sawn: Sequence[Sawn]) -> int:
    return sum(bar.remnant for bar in sawn)


def _handled(_problem: Problem, sawn: Sequence[Sawn]) -> int:
    return len(sawn)


def _longest(_problem: Problem, sawn: Sequence[Sawn]) -> int:
    return -max((bar.left for bar in sawn if bar.remnant), default=0)


def _patterns(problem: Problem, sawn: Sequence[Sawn]) -> int:
    """Lines of one length are one setting of the stop, and the order of the pieces is none."""
    ways = {
        (bar.bar.length - bar.bar.trim, *sorted(problem.pieces[index].length for index in bar.pieces)) for bar in sawn
    }
    return len(ways)


def _age(problem: Problem, sawn: Sequence[Sawn]) -> int:
    ranks = age_ranks(problem)
    age = {bar.name: bar.age for bar in problem.stock}
    return sum(len(ranks) if bar.bought else ranks[age[bar.bar.name]] for bar in sawn)


_VALUE: Mapping[Level, Callable[[Problem, Sequence[Sawn]], int]] = {
    Level.COST: _cost,
    Level.LOSS: _loss,
    Level.FULL: _full,
    Level.SCRAP: _scrap,
    Level.REMNANTS: _remnants,
    Level.HANDLED: _handled,
    Level.LONGEST: _longest,
    Level.PATTERNS: _patterns,
    Level.AGE: _age,
}
