"""The run-down of an item to scale: stock day by day with its band, what comes, the last safe day, and nought."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Final

from inventory.calc.reorder.rundown import Day, RunDown
from inventory.models import Item
from shop.flows import buying_words
from shop.staff import wording
from shop.staff.ruled import Column, Ruled

TOP, BOTTOM, HEIGHT = 30, 250, 300  # px: the most, the least, the whole drawing
STEPS: Final = (1, 2, 5)
ROWS: Final = 14  # of the table behind the drawing


@dataclass(frozen=True, slots=True)
class Named:
    """A day with a word: where it stands in per cent, its number and what is under it."""

    x: str
    said: str
    under: str = ""
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything the drawing prints; x in per cent of the width, y in px."""

    title: str
    band: str
    median: str
    planned: str
    levels: list[tuple[float, str]]
    zero: float
    marks: list[Named]
    comes: list[Named]
    safe: Named | None
    table: Ruled
    height: int = HEIGHT


def drawn(item: Item, found: RunDown, ordered: RunDown | None) -> Drawing:
    """Place a run-down.

    Args:
        item: whose stock it is.
        found: without a new order.
        ordered: with what is proposed tonight, or nothing.
    """
    days = found.days
    most = max(1, *(one.high for one in days), *(one.median for one in ordered.days if ordered) if ordered else (1,))
    least = min(0, *(one.low for one in days))
    least = max(least, -most // 2)  # what is owed is drawn as far as half the height of what is there

    def y(units: int) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * (max(least, units) - least) / (most - least), 1)

    wide = 100 / (len(days) - 1)
    upper = " ".join(f"L{n * wide:.2f} {y(one.high)}" for n, one in enumerate(days))
    lower = " ".join(f"L{n * wide:.2f} {y(one.low)}" for n, one in reversed(list(enumerate(days))))
    return Drawing(
        title=_title(item, found),
        band=f"M{upper[1:]} {lower} Z",
        median=_path(days, wide, y),
        planned=_path(ordered.days, wide, y) if ordered else "",
        levels=[(y(level), buying_words.amount(item, level)) for level in _levels(most)],
        zero=y(0),
        marks=_marks(days, wide),
        comes=_comes(days, wide),
        safe=_safe(found, wide),
        table=_table(item, found, ordered),
    )


def _path(days: tuple[Day, ...], wide: float, y: object) -> str:
    assert callable(y)
    return "M" + " L".join(f"{n * wide:.2f} {y(one.median)}" for n, one in enumerate(days))


def _levels(most: int) -> list[int]:
    """Return three or so round levels up to the most."""
    power = 10 ** max(0, len(str(most)) - 1)
    step = next(
        (one * size for size in (power // 10 or 1, power) for one in STEPS if most / (one * size) <= 4), power * 10
    )
    return list(range(step, most + 1, step))


def _marks(days: tuple[Day, ...], wide: float) -> list[Named]:
    mondays = [n for n, one in enumerate(days) if one.day.weekday() == 0]
    every = max(1, math.ceil(len(mondays) / 9))
    return [Named(f"{n * wide:.2f}%", str(days[n].day.day), f"{days[n].day:%b}") for n in mondays[::every]]


def _comes(days: tuple[Day, ...], wide: float) -> list[Named]:
    """Name the day by which each order is as likely to have come as not."""
    found = []
    for place in range(len(days[0].comes)):
        so_far = 0.0
        for n, one in enumerate(days):
            so_far += one.comes[place]
            if so_far >= 0.5:
                anchor = "start" if n * wide < 6 else "end" if n * wide > 94 else "middle"
                found.append(Named(f"{n * wide:.2f}%", "delivery", anchor=anchor))
                break
    return found


def _safe(found: RunDown, wide: float) -> Named | None:
    if found.last_safe_day is None:
        return None
    n = (found.last_safe_day - found.days[0].day).days
    if not 0 <= n < len(found.days):
        return None
    anchor = "start" if n * wide < 50 else "end"
    return Named(f"{n * wide:.2f}%", f"safe until {wording.on_day(found.last_safe_day)}", anchor=anchor)


def _title(item: Item, found: RunDown) -> str:
    first, last = found.days[0], found.days[-1]
    until = (
        f"half the time it lasts until {wording.on_day(found.lasts_until)}"
        if found.lasts_until
        else "it lasts beyond a year"
    )
    return (
        f"Stock of {item.name} from {wording.on_day(first.day)}, {buying_words.amount(item, first.median)}, to "
        f"{wording.on_day(last.day)}, {buying_words.amount(item, last.median)} half the time, if nothing is ordered; {until}."
    )


def _table(item: Item, found: RunDown, ordered: RunDown | None) -> Ruled:
    columns = [
        Column("evening of"), Column("eight times in ten between", figures=True), Column("half the time", figures=True),
        Column("something is missing, of 100", figures=True),
        *([Column("with today’s order", figures=True)] if ordered else []),
    ]  # fmt: skip
    step = max(1, math.ceil((len(found.days) - 1) / (ROWS - 1)))
    rows = []
    for n in range(0, len(found.days), step):
        one = found.days[n]
        rows.append(
            [
                wording.on_day(one.day),
                f"{_stock(item, one.low)} and {_stock(item, one.high)}",
                _stock(item, one.median),
                wording.in_hundred(one.short),
                *([_stock(item, ordered.days[n].median)] if ordered else []),
            ]
        )
    return Ruled(f"Stock of {item.name} day by day", columns, rows)


def _stock(item: Item, units: int) -> str:
    return f"{buying_words.amount(item, -units)} owed" if units < 0 else buying_words.amount(item, units)


def days_of(lead_days: float, last_safe: dt.date | None, today: dt.date) -> int:
    """Return how many days are drawn: a lead time beyond the last safe day, four weeks to half a year."""
    safe = (last_safe - today).days if last_safe else 182
    return int(min(182, max(28, safe + 2 * lead_days)))
