"""Cut plans by rules of thumb: what a planner has to beat, and what tests cut with where any plan will do."""

from collections.abc import Mapping, Sequence

from inventory.calc.cut_problem import Buyable, CutBar, Plan, Problem, Stock
from inventory.calc.cut_verifier import restated


def cut(problem: Problem, bars: Sequence[tuple[str, Sequence[int]]]) -> Plan:
    """Make a plan of bars named with their pieces; what is left is worked out by the closed formula, not cut by cut."""
    rack = {bar.name: bar for bar in problem.stock}
    to_buy = {bar.name: bar for bar in problem.buyable}
    made = tuple(_bar(problem, rack.get(name) or to_buy[name], pieces) for name, pieces in bars)
    done = [index for _, pieces in bars for index in pieces]
    missing = tuple(piece.count - done.count(index) for index, piece in enumerate(problem.pieces))
    return restated(problem, Plan(made, missing, (), complete=True, seconds=0, method="by hand"))


def greedy(problem: Problem, *, shortest_first: bool) -> Plan:
    """Take the bars by length; on each cut the longest piece that still fits, again and again. Bought bars come last."""
    todo = [piece.count for piece in problem.pieces]
    cuts: list[tuple[str, list[int]]] = []
    settled = {lock.stock: lock.pieces for lock in problem.locked}
    for name, pieces in settled.items():
        cuts += [(name, list(pieces))] if pieces else []
        for index in pieces:
            todo[index] -= 1
    rack = [bar for bar in problem.stock if bar.name not in settled]
    for bar in sorted(rack, key=lambda bar: bar.length if shortest_first else -bar.length):
        cuts += [(bar.name, taken)] if (taken := _fill(problem, bar, todo)) else []
    for length in problem.buyable:
        most = sum(todo) if length.most is None else length.most
        for _ in range(most):
            taken = _fill(problem, length, todo)
            if not taken:
                break
            cuts.append((length.name, taken))
    return cut(problem, cuts)


def left_over(problem: Problem, bar: Stock | Buyable, pieces: Sequence[int]) -> int:
    """Give what a bar's pieces leave; below 0 where they do not fit."""
    rest = bar.length - bar.trim - sum(problem.pieces[index].length + problem.kerf for index in pieces)
    if problem.tail_hold:
        return rest if rest >= problem.tail_hold else -1
    return max(rest, 0) if rest >= -problem.kerf else -1


def kept(problem: Problem, left: int) -> bool:
    """Whether what is left is a remnant."""
    return left >= problem.min_remnant and left > problem.tail_hold


def _bar(problem: Problem, bar: Stock | Buyable, pieces: Sequence[int]) -> CutBar:
    left = left_over(problem, bar, pieces)
    return CutBar(bar.name, isinstance(bar, Buyable), tuple(pieces), left, kept(problem, left))


def _fill(problem: Problem, bar: Stock | Buyable, todo: list[int]) -> list[int]:
    """Fill one bar and strike what it gives off `todo`."""
    taken: list[int] = []
    for index in sorted(range(len(todo)), key=lambda index: -problem.pieces[index].length):
        while todo[index] and left_over(problem, bar, [*taken, index]) >= 0:
            taken.append(index)
            todo[index] -= 1
    return taken


def value(plan: Plan) -> Mapping[str, int]:
    """Give a plan's values by level; the shorts of all dates together."""
    values: dict[str, int] = {}
    for row in plan.standings:
        values[row.level.value] = values.get(row.level.value, 0) + row.value
    return values
