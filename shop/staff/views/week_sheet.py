"""The table of the week sheet and what stands under it: days with their heads, cells with their lines, what is stuck."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from orders.calc.dates.sheet import DESK, PLACES, SheetDay
from orders.queries import week as proposing
from orders.queries.reorder.needs import Need
from orders.queries.week import Proposed
from shop.staff import wording
from shop.staff.views import week_desk, week_print
from shop.staff.views.week_desk import Desk, Head
from shop.staff.views.week_words import Key, Shown, Words

if TYPE_CHECKING:
    from shop.staff.views.week import Span


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one place on one day; `unnamed` lines find no room on paper."""

    place: str
    lines: tuple[Shown, ...]
    desk: tuple[Desk, ...] = ()
    unnamed: int = 0

    @property
    def empty(self) -> bool:
        """Say whether nothing stands in it."""
        return not self.lines and not self.desk

    @property
    def entries(self) -> list[int]:
        """Return how many signs each of its lines has."""
        return [len(_text(one)) for one in self.lines] + [len(one.bold + one.words) + 1 for one in self.desk]


@dataclass(frozen=True, slots=True)
class Row:
    """A day of the sheet."""

    date: dt.date
    open: bool
    today: bool
    head: Head
    cells: tuple[Cell, ...]


def facts(
    found: Proposed,
    words: Words,
    span: "Span",
    *,
    today: dt.date,
    needs: Sequence[Need],
    chosen: frozenset[Key],
    desk: bool,
) -> dict[str, object]:
    """Return what the template prints of a proposed week."""
    days = found.days(span.first, (span.last - span.first).days + 1)
    rows = _rows(days, words, span.name if desk else None, today=today, needs=needs, chosen=chosen)
    size, named = week_print.fit([[cell.entries for cell in row.cells] for row in rows])
    if named is not None:
        rows = [
            replace(row, cells=tuple(replace(one, unnamed=max(0, len(one.entries) - named)) for one in row.cells))
            for row in rows
        ]
    return {
        "rows": rows,
        "places": [
            (cell.place, _hands(days, cell.place.lower(), words), all(row.cells[number].empty for row in rows))
            for number, cell in enumerate(rows[0].cells)
        ],
        "dense": size,
        "named": named,
        "stuck": [(one, words.page_of(one.run, one.item)) for one in found.stuck()],
        "short": [
            (words.items.get(one.item, one.item), one, wording.address("staff:item", one.item)) for one in found.short()
        ],
    }


def _rows(
    days: Sequence[SheetDay],
    words: Words,
    week: str | None,
    *,
    today: dt.date,
    needs: Sequence[Need],
    chosen: frozenset[Key],
) -> list[Row]:
    dates = [day.date for day in days]
    heads = week_desk.heads(dates, today=today)
    desk = week_desk.desk(dates, today=today, needs=needs)
    pick = {"week": week} if week is not None else None
    return [
        Row(
            day.date,
            day.open,
            day.date == today,
            heads[day.date],
            tuple(_cells(day, words, pick, chosen, desk.get(day.date, []))),
        )
        for day in days
    ]


def _cells(
    day: SheetDay, words: Words, pick: Mapping[str, str] | None, chosen: frozenset[Key], desk: Sequence[Desk]
) -> list[Cell]:
    return [
        Cell(
            place.capitalize(),
            tuple(words.shown(line, chosen=chosen, pick=pick) for line in day.cells.get(place, ())),
            tuple(desk) if place == DESK else (),
        )
        for place in PLACES
    ]


def _hands(days: Sequence[SheetDay], place: str, words: Words) -> str:
    """Name who works in a place that week."""
    people = dict.fromkeys(one for day in days for line in day.cells.get(place, ()) for one in line.people)
    return words.names(tuple(people))


def _text(one: Shown) -> str:
    return (
        f"{one.lead} {' '.join(run.code for run in one.runs)} {one.words} {one.notes}{' pinned' if one.pinned else ''}"
    )


def kept(zone: str) -> str:
    """Say how many days given are at their wanted figure, and which is worst."""
    found = proposing.kept()
    if found is None:
        return "No day given has been rated yet."
    days = "day given is" if found.promised == 1 else "days given are"
    said = f"{found.kept} of {found.promised} {days} at the wanted figure or better"
    if found.worst is not None:
        promise = found.worst.promise
        said += f"; order {promise.order.number}, {promise.order.customer.name}, is at {wording.in_hundred(found.worst.chance_ppm / 1_000_000, wanted=1)} in 100"
    return f"{said}, as rated {wording.at_moment(found.at, zone)}."
