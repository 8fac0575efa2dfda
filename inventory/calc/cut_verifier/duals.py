"""Bounds worked out anew from a plan's dual numbers, by weak duality and nothing else.

For any worth of a piece y_i and any price f <= 0 of opening a full bar, every plan costs at least
sum of (pieces it cuts of line i) y_i + F f + sum over bars of min(0, least over the bar's ways of (cost - worth - f)),
where F is the most full bars it may open. The sum of its own bars' terms is its cost, and leaving a bar out adds 0.

Which plans a bound is for: those as short on each due date as the plan looked at (whichever lines the missing pieces
are of: the dearest are taken as missing), with its COST on the levels behind COST and its FULL on those behind FULL.
That pieces of one run come from one mill heat is not looked at; the bound then is lower than need be, and holds.

Source: weak linear programming duality (from memory; any textbook of linear programming).
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.calc.cut_problem import LEVELS, Buyable, Dual, Level, Problem, Stock
from inventory.calc.cut_verifier.fills import Fills, Item, reach
from inventory.calc.cut_verifier.rates import Rate, lattice, rate
from inventory.calc.cut_verifier.saw import replay

Row = tuple[Level, str, int]
SUMS = frozenset({Level.COST, Level.LOSS, Level.FULL, Level.SCRAP, Level.REMNANTS, Level.HANDLED, Level.AGE})


@dataclass(frozen=True, slots=True)
class _Question:
    """A dual with all it is read against."""

    problem: Problem
    dual: Dual
    fixed: dict[tuple[Level, str], int]

    @property
    def value(self) -> int:
        return self.fixed[self.dual.level, ""]

    def before(self, level: Level) -> int | None:
        """Give the value of a level that comes before the dual's own."""
        order = list(LEVELS[self.problem.order])
        if level in order and order.index(level) < order.index(self.dual.level):
            return self.fixed[level, ""]
        return None

    def copies(self, bar: Buyable) -> int:
        """Give how many of a length a plan can buy that costs no more than the one looked at."""
        numbers = [sum(piece.count for piece in self.problem.pieces)]  # a bar bought has a piece on it
        if bar.most is not None:
            numbers.append(bar.most)
        if bar.price:
            numbers.append(self.fixed[Level.COST, ""] // bar.price)
        return min(numbers)


def fault(problem: Problem, dual: Dual) -> str | None:
    """Say why a dual cannot be read.

    Args:
        problem: the question.
        dual: one of the plan's.

    Returns:
        One sentence; None for a dual that can be read.
    """
    name = f"The dual of level {dual.level.value}"
    if len(dual.piece) != len(problem.pieces):
        return f"{name} has {len(dual.piece)} worths for {len(problem.pieces)} demand lines."
    if dual.scale < 1 or dual.full > 0:
        return f"{name}: its scale is 1 or more and its price of a full bar 0 or less."
    return None


def useless(problem: Problem, dual: Dual) -> str | None:
    """Say why a dual that can be read shows nothing.

    Args:
        problem: the question.
        dual: one of the plan's.

    Returns:
        One sentence; None for a dual that shows a bound.
    """
    if dual.level in LEVELS[problem.order] and dual.level in SUMS:
        return None
    return f"The dual of level {dual.level.value} shows nothing: that level is none, or is no sum over the bars."


def certify(problem: Problem, dual: Dual, rows: Sequence[Row]) -> int | None:
    """Work out the bound a dual shows.

    Args:
        problem: the question.
        dual: one without `fault` and not `useless`.
        rows: level, due date and value of each level of the plan, worked out anew.

    Returns:
        The bound in the level's unit, rounded up to a value the level can have; not above the plan's own value. None
        where the lengths are too fine for a table.
    """
    question = _Question(problem, dual, {(level, due): value for level, due, value in rows})
    total = _worth_of_all(question) + _most_full(question) * dual.full + _of_locked(question)
    free = _of_free(question)
    if free is None:
        return None
    step = lattice(problem, dual.level)
    bound = -(-(total + free) // (dual.scale * step)) * step
    return min(bound, question.value)


def _worth_of_all(question: _Question) -> int:
    """Sum the worths of the pieces any plan so short cuts at least."""
    total = 0
    by_due: dict[str, list[tuple[int, int]]] = {}
    locked = Counter(index for lock in question.problem.locked for index in lock.pieces)
    for index, (piece, worth) in enumerate(zip(question.problem.pieces, question.dual.piece, strict=True)):
        total += piece.count * worth
        by_due.setdefault(piece.due, []).append((worth, piece.count - locked[index]))
    for due, lines in by_due.items():
        short = question.fixed[Level.SHORT, due]
        for worth, count in sorted(lines, reverse=True):
            taken = min(short, count)
            total -= taken * worth
            short -= taken
    return total


def _most_full(question: _Question) -> int:
    known = question.before(Level.FULL)
    if known is not None:
        return known
    problem = question.problem
    return sum(bar.full for bar in problem.stock) + sum(question.copies(bar) for bar in problem.buyable)


def _of_locked(question: _Question) -> int:
    """Sum what settled bars cost less their pieces' worth; they are cut in their one way."""
    bars = {bar.name: bar for bar in question.problem.stock}
    total = 0
    for lock in question.problem.locked:
        sawn = replay(question.problem, bars[lock.stock], lock.pieces)
        if not lock.pieces or isinstance(sawn, str):  # a lock that does not fit makes no problem
            continue
        price = _rate(question, bars[lock.stock])
        cost = price.bar + (price.remnant if sawn.remnant else price.scrap * sawn.left)
        total += question.dual.scale * cost - sum(question.dual.piece[index] for index in lock.pieces)
        total -= question.dual.full * sawn.full
    return total


def _of_free(question: _Question) -> int | None:
    """Sum the least that each bar free to be cut adds, 0 where it is better left alone."""
    problem, dual = question.problem, question.dual
    bars = _alike(question)
    longest = max((room for room, _, _ in bars), default=0) + (0 if problem.tail_hold else problem.kerf)
    dearest = max((price.bar + price.remnant + price.scrap * room for room, price, _ in bars), default=0)
    fills = reach(list(_items(question)), longest, dual.scale * (dearest + 1) - dual.full)
    if fills is None:
        return None
    total = 0
    for (room, price, full), count in bars.items():
        total += count * min(0, _least(question, fills, room, price) - dual.full * full)
    return total


def _alike(question: _Question) -> Counter[tuple[int, Rate, bool]]:
    """Count the bars not settled by room behind the squaring cut, rate and kind."""
    problem = question.problem
    locked = {lock.stock for lock in problem.locked}
    bars: Counter[tuple[int, Rate, bool]] = Counter()
    for stock in problem.stock:
        if stock.name not in locked:
            bars[stock.length - stock.trim, _rate(question, stock), stock.full] += 1
    for bar in problem.buyable:
        bars[bar.length - bar.trim, _rate(question, bar), True] += question.copies(bar)
    return bars


def _items(question: _Question) -> Iterable[Item]:
    problem = question.problem
    locked = Counter(index for lock in problem.locked for index in lock.pieces)
    for index, piece in enumerate(problem.pieces):
        yield Item(piece.length + problem.kerf, piece.count - locked[index], question.dual.piece[index])


def _rate(question: _Question, bar: Stock | Buyable) -> Rate:
    found = rate(question.problem, question.dual.level, bar)
    assert found is not None, "fault() lets only sums pass"
    return found


def _least(question: _Question, fills: Fills, room: int, price: Rate) -> int:
    """Give the least of (cost - worth) over the ways to cut a bar, over the scale; 0 where none fits."""
    problem = question.problem
    end = room - problem.tail_hold if problem.tail_hold else room + problem.kerf  # the last kerf may run out of the bar
    ways = int(np.searchsorted(fills.taken, end, side="right"))
    if not ways:
        return 0
    left = np.maximum(0, room - fills.taken[:ways])
    kept = (left >= problem.min_remnant) & (left > problem.tail_hold)
    worth = fills.worth[:ways]
    remnant: npt.NDArray[Any] = np.array(price.remnant, dtype=worth.dtype)
    cost = np.where(kept, remnant, left.astype(worth.dtype) * price.scrap)
    return int((question.dual.scale * (cost + price.bar) - worth).min())
