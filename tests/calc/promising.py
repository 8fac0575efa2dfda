"""Promises by other ways than the code's: pushing back, a day-by-day walk, and trying all; with invented books."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from hypothesis import strategies as st

from orders.calc.available import Commitment, Supply, arrives
from orders.calc.pegging import Pegged, Recipe

TODAY = 100
Owed = list[tuple[str, int, int]]  # what, day, pieces
HAMMER = Recipe("hammer", (("hammer head", 1), ("handle", 1), ("wedge", 2)), 2)
SET = Recipe("set", (("set head", 1), ("handle", 1)))
RECIPES = (HAMMER, SET)
PARTS = ("hammer head", "set head", "handle", "wedge")
ITEMS = ("hammer", "set", *PARTS, "belt")
WANTED = (*ITEMS, "hammer", "hammer", "set", "set", "handle")  # tools and what both need are asked for more often


def pushed_back(free: Sequence[int | None]) -> list[int | None]:
    """Let earlier receipts bear what is below 0, the nearest first; what none can bear stays with the first."""
    found, below = list(free), 0
    for at in range(len(found) - 1, -1, -1):
        each = found[at]
        if each is not None:
            below, found[at] = min(0, each + below), max(0, each + below)
    if below:
        found[0] = below
    return found


def running_sum(free: Sequence[int | None]) -> list[int]:
    """Add up figures, with nothing for what has none."""
    total, found = 0, []
    for each in free:
        total += each or 0
        found.append(total)
    return found


def _by_day(supplies: Iterable[Supply], owed: Owed) -> dict[str, dict[int, int]]:
    moves: dict[str, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for row in supplies:
        day = arrives(row, today=TODAY, late_counts=False)
        if day is not None:
            moves[row.what][day] += row.qty
    for what, day, qty in owed:
        moves[what][day] -= qty
    return moves


def walk(supplies: Iterable[Supply], owed: Owed, recipes: Sequence[Recipe] = RECIPES) -> bool:
    """Tell whether all can be given in time: day by day, a tool is begun on the last day on which it must be."""
    moves = _by_day(supplies, owed)
    last = max((day for days in moves.values() for day in days), default=TODAY)
    stock: dict[str, int] = defaultdict(int)  # tools: finished ones, with those that will be when they are wanted
    seen = dict.fromkeys([recipe.tool for recipe in recipes], TODAY - 1)
    for day in range(TODAY, last + 1):
        for what in [name for name in moves if name not in seen]:
            stock[what] += moves[what][day]
        for recipe in recipes:
            for ahead in range(seen[recipe.tool] + 1, day + recipe.days + 1):
                stock[recipe.tool] += moves[recipe.tool][ahead]
                if stock[recipe.tool] < 0 and ahead < TODAY + recipe.days:
                    return False  # it should have been begun before today
                for part, per in recipe.parts if stock[recipe.tool] < 0 else ():
                    stock[part] += per * stock[recipe.tool]
                stock[recipe.tool] = max(0, stock[recipe.tool])
            seen[recipe.tool] = day + recipe.days
        if min(stock.values(), default=0) < 0:
            return False
    return True


def try_all(supplies: Sequence[Supply], owed: Owed, recipes: Sequence[Recipe]) -> bool:
    """Tell the same by beginning every number of every tool on every day; for very small books."""
    moves = _by_day(supplies, owed)
    last = max((day for days in moves.values() for day in days), default=TODAY)

    def from_day(day: int, stock: Mapping[str, int], oven: Mapping[int, Mapping[str, int]]) -> bool:
        if day > last:
            return True
        there = dict(stock)
        for what, days in moves.items():
            there[what] = there.get(what, 0) + days[day]
        for what, qty in oven.get(day, {}).items():
            there[what] = there.get(what, 0) + qty
        return begin(0, day, there, oven)

    def begin(at: int, day: int, stock: dict[str, int], oven: Mapping[int, Mapping[str, int]]) -> bool:
        if at == len(recipes):
            return min(stock.values(), default=0) >= 0 and from_day(day + 1, stock, oven)
        recipe = recipes[at]
        for count in range(1 + max(0, min(stock.get(part, 0) // per for part, per in recipe.parts))):
            left = {**stock, **{part: stock.get(part, 0) - per * count for part, per in recipe.parts}}
            ready = dict(oven)
            if recipe.days:
                day_ready = day + recipe.days
                ready[day_ready] = {**ready.get(day_ready, {}), recipe.tool: count}
            else:
                left[recipe.tool] = left.get(recipe.tool, 0) + count
            if begin(at + 1, day, left, ready):
                return True
        return False

    return from_day(TODAY, {}, {})


def as_met(pegged: Pegged) -> Owed:
    """Return what is owed as it will be met."""
    return [(row.commitment.what, day, qty) for row in pegged.served for day, qty in row.pieces]


def supplies(
    items: Sequence[str] = ITEMS, *, most: int = 9, days: tuple[int, int] = (-3, 12), rows: int = 10
) -> st.SearchStrategy[list[Supply]]:
    """Invent what is there, of every item, and what comes."""
    shelf = st.tuples(*[st.builds(Supply, st.just(TODAY), st.integers(0, most), st.just(item)) for item in items])
    return st.builds(lambda there, later: [*there, *later], shelf, arrivals(items, most=most, days=days, rows=rows))


def arrivals(
    items: Sequence[str] = ITEMS, *, most: int = 9, days: tuple[int, int] = (-3, 12), rows: int = 10
) -> st.SearchStrategy[list[Supply]]:
    """Invent what comes."""
    day = st.integers(TODAY + days[0], TODAY + days[1])
    return st.lists(st.builds(Supply, day, st.integers(0, most), st.sampled_from(items)), max_size=rows)


def commitments(
    items: Sequence[str] = WANTED, *, most: int = 4, days: tuple[int, int] = (-3, 14), rows: int = 8
) -> st.SearchStrategy[list[Commitment]]:
    """Invent what is owed, by a day or at once, at places in the queue."""
    at = st.integers(TODAY + days[0], TODAY + days[1])
    row = st.builds(Commitment, at | at | st.none(), st.integers(0, most), st.integers(0, 5), st.sampled_from(items))
    return st.lists(row, max_size=rows)
