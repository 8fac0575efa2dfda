"""What can be promised of tools and of their parts together: nothing counts twice, the first in the queue goes first.

A tool is there finished, or it is made up of parts so many days before it is. Of the tools owed, only those that no
finished one covers in time need parts, and the fewest and latest that do are known: the greatest shortage so far. So
parts are claimed, day by day, by what their tools are short of, and what a tool can be promised is

    least over that day and later ones of  finished + what free parts still make - owed

which is exact as long as parts are not made up of parts; such recipes are refused. What cannot be given in time is
given as soon as it can without taking from who stands before it. A tool that is owed and that nothing covers yet keeps
its claim on the parts there will be at the end, or its handles would be promised twice before its heads are known of.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from orders.calc.available import MOST, ByDay, Commitment, Counts, Supply, arrives, due, least_ahead, running, steps


@dataclass(frozen=True, slots=True)
class Recipe:
    """So many of each part go into one tool; `days` from the day they are all there until it is finished."""

    tool: str
    parts: tuple[tuple[str, int], ...]
    days: int = 0

    def __post_init__(self) -> None:
        names = [part for part, _ in self.parts]
        if not names or len(set(names)) < len(names) or self.tool in names:
            raise ValueError("a tool is made of parts, each named once, none of them itself")
        if self.days < 0 or not all(1 <= per <= MOST for _, per in self.parts):
            raise ValueError("one or more of each part goes into a tool, in 0 days or more")


@dataclass(frozen=True, slots=True)
class Served:
    """When a commitment is met: so many pieces from each day on, and how many never are."""

    commitment: Commitment
    pieces: tuple[tuple[int, int], ...]
    never: int

    @property
    def whole(self) -> int | None:
        """The day from which all of it is met; nothing where a piece never is, or none is owed."""
        return self.pieces[-1][0] if self.pieces and not self.never else None


@dataclass(frozen=True, slots=True)
class Pegged:
    """What can be promised of each item by day, and when every commitment is met, in the order of the queue."""

    today: int
    lines: Mapping[str, ByDay]
    served: tuple[Served, ...]

    def of(self, what: str) -> ByDay:
        """Return what can be promised of an item; of one that was not named, nothing."""
        return self.lines.get(what) or ByDay((self.today,), (0,))


@dataclass(slots=True)
class _Item:
    """What is left of an item by each day when all that is served has been given."""

    days: Counts
    free: Counts

    def figure(self) -> Counts:
        return least_ahead(self.free)

    def take(self, taken: Counts) -> None:
        self.free = self.free - taken

    def claim(self, qty: int) -> None:
        """Leave so many, or all that is free, to one whose day nobody knows."""
        self.free[-1] -= min(qty, int(self.free[-1]))


@dataclass(slots=True)
class _Tool(_Item):
    """Finished tools, with the parts that more of them are made of. The days of all parts are the same."""

    parts: list[tuple[_Item, int]]
    ready: Counts  # for each day of the parts, where the day on which tools begun then are finished is among `days`
    begun: Counts  # for each of `days`, where the last day is among the parts' on which one must begin; -1 before any
    made: Counts  # tools that must be made up by each of `days`

    def figure(self) -> Counts:
        own = self.made[self.ready]
        sets = np.min([(part.free + per * own) // per for part, per in self.parts], axis=0)
        return least_ahead(self.free + np.where(self.begun >= 0, least_ahead(sets)[self.begun], 0))

    def take(self, taken: Counts) -> None:
        self.free = self.free - taken
        made: Counts = np.maximum.accumulate(np.maximum(0, -self.free))
        more = (made - self.made)[self.ready]
        for part, per in self.parts:
            part.take(per * more)
        self.made = made

    def claim(self, qty: int) -> None:
        for part, per in self.parts:
            part.claim(per * qty)


def peg(
    supplies: Iterable[Supply],
    commitments: Iterable[Commitment],
    recipes: Iterable[Recipe] = (),
    *,
    today: int,
    late_counts: bool = False,
    wishes: Iterable[Commitment] = (),
) -> Pegged:
    """Give what can be promised of every item by day, and when each commitment is met.

    Args:
        supplies: what is there and what comes, of finished tools, of parts and of anything else.
        commitments: all that is owed, reserved or waiting. Those with the lowest `queue` are served first, of equal
            ones the one that stands first here. One without a day, or whose day has passed, is due today.
        recipes: one for each tool that can be made up of parts; a part may go into many tools.
        today: the day of asking.
        late_counts: whether a supply whose day has passed is taken to come today, else it is left out.
        wishes: what is nobody's yet; served in this order after the whole queue, without a claim on what is missing.

    Returns:
        Figures, and when what is owed is met, in the order of the queue, then the wishes. Any one figure can be
        promised, behind the queue, without a commitment being met later than it says here; two figures at once may want
        the same piece, so book the first before asking for the second. Where everything is met in time the order of the
        queue changes nothing, and more or earlier supply lowers no figure. Where something is late, supply that lets it
        be met sooner may take parts that another tool could have had.

    Raises:
        ValueError: two recipes for a tool, or a part that is made of parts.

    Source: least_ahead for each item; the fewest and latest tools to make up are the running greatest shortage (own
    derivation; tests/calc compares it with every possible way of making up in small shops).
    """
    queue, behind = sorted(commitments, key=lambda row: row.queue), list(wishes)
    arrivals = _arrivals(supplies, today, late_counts=late_counts)
    items = _items(arrivals, [*queue, *behind], _checked(recipes), today)
    served = []
    for row in queue:
        served.append(_serve(items[row.what], row, today))
        items[row.what].claim(served[-1].never)
    served += [_serve(items[row.what], row, today) for row in behind]
    lines = {what: steps(item.days, item.figure()) for what, item in items.items()}
    return Pegged(today, lines, tuple(served))


def _checked(recipes: Iterable[Recipe]) -> dict[str, Recipe]:
    rows = list(recipes)
    by_tool = {recipe.tool: recipe for recipe in rows}
    if len(by_tool) < len(rows):
        raise ValueError("a tool has one recipe")
    if any(part in by_tool for recipe in rows for part, _ in recipe.parts):
        raise ValueError("parts that are made of parts are not followed")
    return by_tool


def _arrivals(supplies: Iterable[Supply], today: int, *, late_counts: bool) -> dict[str, list[tuple[int, int]]]:
    found: dict[str, list[tuple[int, int]]] = {}
    for row in supplies:
        day = arrives(row, today=today, late_counts=late_counts)
        moves = found.setdefault(row.what, [])
        if day is not None:
            moves.append((day, row.qty))
    return found


def _items(
    arrivals: Mapping[str, list[tuple[int, int]]],
    queue: Sequence[Commitment],
    recipes: Mapping[str, Recipe],
    today: int,
) -> dict[str, _Item]:
    """Lay out every item on the days on which its figure can change."""
    parts = {part for recipe in recipes.values() for part, _ in recipe.parts}
    own = {what: {today, *(day for day, _ in moves)} for what, moves in arrivals.items()}
    for row in queue:
        own.setdefault(row.what, {today}).add(due(row, today=today))
    for what in (*recipes, *parts):
        own.setdefault(what, {today})
    shared = sorted(set(_days_of_parts(own, parts, recipes, today)))
    items: dict[str, _Item] = {}
    for what, days in own.items():
        if what not in recipes:
            items[what] = _item(shared if what in parts else sorted(days), arrivals.get(what, []))
    for what, recipe in recipes.items():
        days = {*own[what], *(day + recipe.days for day in shared)}
        items[what] = _tool(_item(sorted(days), arrivals.get(what, [])), recipe, items)
    return items


def _days_of_parts(
    own: Mapping[str, set[int]], parts: Iterable[str], recipes: Mapping[str, Recipe], today: int
) -> Iterator[int]:
    """Yield the days on which what is left of any part can change: its own, and those to begin a tool on."""
    yield today
    for part in parts:
        yield from own[part]
    for what, recipe in recipes.items():
        yield from (max(today, day - recipe.days) for day in own[what])


def _item(days: Sequence[int], arrivals: Iterable[tuple[int, int]]) -> _Item:
    return _Item(np.array(days, dtype=np.int64), running(days, arrivals))


def _tool(finished: _Item, recipe: Recipe, items: Mapping[str, _Item]) -> _Tool:
    shared = items[recipe.parts[0][0]].days
    return _Tool(
        days=finished.days,
        free=finished.free,
        parts=[(items[part], per) for part, per in recipe.parts],
        ready=np.searchsorted(finished.days, shared + recipe.days),
        begun=np.searchsorted(shared, finished.days - recipe.days, side="right") - 1,
        made=np.zeros_like(finished.free),
    )


def _serve(item: _Item, row: Commitment, today: int) -> Served:
    """Give a commitment what its item's figure allows from its day on, the rest as it comes."""
    given: Counts = np.where(item.days >= due(row, today=today), np.minimum(row.qty, item.figure()), 0)
    item.take(given)
    each = np.diff(given, prepend=0)
    pieces = tuple((int(item.days[at]), int(each[at])) for at in np.flatnonzero(each))
    return Served(row, pieces, row.qty - int(given[-1]))
