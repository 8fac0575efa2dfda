"""What a bar costs on the levels that are sums over the bars."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from inventory.calc.cut_problem import Buyable, Level, Problem, Stock
from inventory.calc.cut_verifier.levels import age_ranks


@dataclass(frozen=True, slots=True)
class Rate:
    """A bar that is cut costs `bar`, and `remnant` where one is kept, else `scrap` a unit left over."""

    bar: int = 0
    remnant: int = 0
    scrap: int = 0


def rate(problem: Problem, level: Level, bar: Stock | Buyable) -> Rate | None:
    """Give what cutting a bar costs on a level.

    Args:
        problem: for the prices and the ages.
        level: which aim.
        bar: the bar.

    Returns:
        Its rate in the level's unit; None for a level that is no sum over the bars (SHORT, LONGEST, PATTERNS).
    """
    full = 1 if isinstance(bar, Buyable) or bar.full else 0
    prices = problem.prices
    rates: Mapping[Level, Rate] = {
        Level.COST: Rate(bar=bar.price if isinstance(bar, Buyable) else 0),
        Level.LOSS: Rate(bar=prices.handled + full * prices.full, remnant=prices.remnant, scrap=1),
        Level.FULL: Rate(bar=full),
        Level.SCRAP: Rate(scrap=1),
        Level.REMNANTS: Rate(remnant=1),
        Level.HANDLED: Rate(bar=1),
        Level.AGE: Rate(bar=_rank(problem, bar)),
    }
    return rates.get(level)


def lattice(problem: Problem, level: Level) -> int:
    """Give the step between values a level can have.

    Args:
        problem: the question.
        level: a sum over the bars.

    Returns:
        A whole number of 1 or more that divides every value the level can have.
    """
    if level is Level.COST:
        return math.gcd(*(bar.price for bar in problem.buyable)) or 1
    if level not in {Level.LOSS, Level.SCRAP}:
        return 1
    bars: tuple[Stock | Buyable, ...] = (*problem.stock, *problem.buyable)
    step = math.gcd(
        *(bar.length - bar.trim for bar in bars), *(piece.length + problem.kerf for piece in problem.pieces)
    )
    if level is Level.LOSS:
        step = math.gcd(step, problem.prices.remnant, problem.prices.handled, problem.prices.full)
    return step or 1


def _rank(problem: Problem, bar: Stock | Buyable) -> int:
    ranks = age_ranks(problem)
    return ranks[bar.age] if isinstance(bar, Stock) else len(ranks)
