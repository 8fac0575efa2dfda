"""The curve of ship days, drawn: steps in ink, the day asked about, the chance wanted, shut days hatched; and in words."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shop.shared.hours import Hours
from shop.staff import wording
from shop.staff.ruled import Column, Ruled

TOP, BOTTOM = 26, 266  # pixels of the certain and of the impossible
MOST_DAYS = 45
LABELS = 8


@dataclass(frozen=True, slots=True)
class Mark:
    """A day with its chance, to be named in the drawing."""

    x: str
    y: int
    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A day under the axis."""

    x: str
    day: str
    weekday: str


@dataclass(frozen=True, slots=True)
class Drawn:
    """All that the template draws; `table` says the same."""

    title: str
    path: str
    shut: Sequence[tuple[str, str]]
    wanted_y: int
    wanted: str
    given: Mark | None
    asked: Mark | None
    ticks: Sequence[Tick]
    table: Ruled


def drawn(answer: Mapping[str, Any], hours: Hours) -> Drawn | None:
    """Draw the curve of an answer; nothing where it is never sent."""
    points = [(dt.date.fromisoformat(one["day"]), float(one["chance"])) for one in answer["curve"]]
    if not points:
        return None
    asked = dt.date.fromisoformat(answer["by"]["day"]) if answer["by"] else None
    given = dt.date.fromisoformat(answer["day"]) if answer["day"] else None
    days = _days(points, asked, given)
    chances = dict(zip(days, _chances(points, days), strict=True))
    width = 100 / len(days)
    wanted = round(answer["sure"] * 100)
    return Drawn(
        _title(points),
        _path(days, chances, width),
        [(f"{n * width:.2f}%", f"{width:.2f}%") for n, day in enumerate(days) if not hours.is_open_on(day)],
        _y(answer["sure"]),
        f"{wanted} in 100, what is wanted",
        _mark(given, days, chances, width),
        _mark(asked, days, chances, width) if asked != given else None,
        _ticks(days, width),
        _table(points),
    )


def _days(points: Sequence[tuple[dt.date, float]], *named: dt.date | None) -> list[dt.date]:
    first = points[0][0] - dt.timedelta(days=1)
    last = max([points[-1][0], *(day for day in named if day)])
    count = min(MOST_DAYS, (last - first).days + 1)
    return [first + dt.timedelta(days=number) for number in range(count)]


def _chances(points: Sequence[tuple[dt.date, float]], days: Sequence[dt.date]) -> list[float]:
    by_day, found, now = dict(points), [], 0.0
    for day in days:
        now = by_day.get(day, now)
        found.append(now)
    return found


def _y(chance: float) -> int:
    return round(BOTTOM - (BOTTOM - TOP) * chance)


def _path(days: Sequence[dt.date], chances: Mapping[dt.date, float], width: float) -> str:
    said = f"M0 {BOTTOM}"
    for number, day in enumerate(days):
        said += f" H{(number + 0.5) * width:.2f} V{_y(chances[day])}"
    return f"{said} H100"


def _mark(day: dt.date | None, days: Sequence[dt.date], chances: Mapping[dt.date, float], width: float) -> Mark | None:
    if day not in chances or day is None:
        return None
    place = (days.index(day) + 0.5) * width
    anchor = "start" if place < 10 else "end" if place > 90 else "middle"
    return Mark(f"{place:.2f}%", _y(chances[day]), str(round(100 * chances[day])), anchor)


def _ticks(days: Sequence[dt.date], width: float) -> list[Tick]:
    every = -(-len(days) // LABELS)
    return [
        Tick(f"{(number + 0.5) * width:.2f}%", str(day.day), f"{day:%a}")
        for number, day in enumerate(days)
        if number % every == every // 2
    ]


def _title(points: Sequence[tuple[dt.date, float]]) -> str:
    said = ", ".join(f"{round(100 * chance)} by {wording.on_day(day)}" for day, chance in points[:12])
    return f"Chance in 100 that all of it is sent by the end of a day: {said}"


def _table(points: Sequence[tuple[dt.date, float]]) -> Ruled:
    columns = [Column("by the end of"), Column("sent, times in 100", figures=True)]
    return Ruled("Day by day", columns, [[wording.on_day(day), round(100 * chance)] for day, chance in points])
