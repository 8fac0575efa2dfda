"""The curve of ship dates to scale: the chance that all of it is sent by each day, with the days that matter named."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from orders.queries.ship_day import chance_on
from shop.shared.hours import Hours
from shop.staff import wording
from shop.staff.ruled import Column, Ruled

BOTTOM, TOP, HEIGHT = 266, 26, 312  # px: the line of nought, of a hundred, the whole drawing
FEW, SOME, MANY = 18, 49, 70  # days up to which every day, every Monday, is numbered; no more are drawn
SAID_IN_TITLE: Final = 9
CROWDED: Final = 0.62  # a wanted chance under which its words and the 50 would stand on one another


@dataclass(frozen=True, slots=True)
class Mark:
    """A day on the axis: where it stands, its number, the word under it; `dim` ones give way on a telephone."""

    x: str
    number: str
    under: str
    dim: bool


@dataclass(frozen=True, slots=True)
class Dot:
    """A named point of the curve."""

    x: str
    y: float
    said: str
    label_x: str
    anchor: str
    label_y: float


@dataclass(frozen=True, slots=True)
class Curve:
    """Everything the drawing prints; x in per cent, y in px."""

    title: str
    caption: str
    path: str
    tens: list[float]
    wanted_y: float
    wanted_said: str
    half_said: str
    shut: list[tuple[str, str]]
    marks: list[Mark]
    given: Dot | None
    asked: Dot | None
    table: Ruled
    height: int = HEIGHT


def height_of(chance: float) -> float:
    """Return how far down a chance stands."""
    return round(BOTTOM - (BOTTOM - TOP) * chance, 1)


def drawn(answer: Mapping[str, Any], *, what: str, wanted: str, hours: Hours, today: dt.date) -> Curve | None:
    """Place the curve of an answer; nothing where it is never sent.

    Args:
        answer: of a question, as it is kept.
        what: all of it, in words: "all 30 are", "it is".
        wanted: whose figure the wanted chance is: "what a dealer is told".
        hours: of the shop, for the days it is shut.
        today: the first day that is drawn, where the curve does not begin far from it.
    """
    points = {dt.date.fromisoformat(row["day"]): float(row["chance"]) for row in answer["curve"]}
    if not points:
        return None
    given = dt.date.fromisoformat(answer["day"]) if answer["day"] else None
    asked = dt.date.fromisoformat(answer["by"]["day"]) if answer["by"] else None
    days = _days(points, today, [one for one in (given, asked) if one])
    chances = [chance_on(answer, day) for day in days]
    wide = 100 / len(days)
    path = f"M0 {BOTTOM}"
    for place, chance in enumerate(chances):
        path += f" H{place * wide:.2f} V{height_of(chance)}"
    place_of = {day: place for place, day in enumerate(days)}
    same = asked is not None and asked == given
    return Curve(
        title=_title(points, answer, what),
        caption=_caption(days, hours),
        path=f"{path} H100",
        tens=[height_of(ten / 10) for ten in range(1, 11)],
        wanted_y=height_of(answer["sure"]),
        wanted_said=f"{wording.in_hundred(answer['sure'])} in 100, {wanted}",
        half_said="50" if answer["sure"] > CROWDED else "",
        shut=[(f"{place * wide:.2f}%", f"{wide:.2f}%") for day, place in place_of.items() if not hours.is_open_on(day)],
        marks=_marks(days, wide),
        given=_dot(place_of[given], wide, chances) if given in place_of else None,
        asked=_dot(place_of[asked], wide, chances, left=True) if asked in place_of and not same else None,
        table=_table(points, answer, what),
    )


def _days(points: Mapping[dt.date, float], today: dt.date, named: list[dt.date]) -> list[dt.date]:
    """Return the days that are drawn: from just before it can be sent, as far as it goes on or a day is named."""
    first = min([min(points) - dt.timedelta(days=2), *named])
    first = today if first - today < dt.timedelta(days=4) else first
    last = max([max(points), *(day + dt.timedelta(days=2) for day in named)])
    most = max([FEW, *((day - first).days + SOME // 2 for day in named)])
    last = max(min(last, first + dt.timedelta(days=min(MANY, most))), first + dt.timedelta(days=6))
    return [first + dt.timedelta(days=number) for number in range((last - first).days + 1)]


def _marks(days: list[dt.date], wide: float) -> list[Mark]:
    marks = []
    for place, day in enumerate(days):
        monday = day.weekday() == 0
        if not monday and len(days) > FEW:
            continue
        if monday and len(days) > SOME and day.isocalendar().week % 2:
            continue
        under = f"{day:%b}" if len(days) > FEW else "Mon" if monday else ""
        dim = len(days) <= FEW and not monday and place % 2 == 1
        marks.append(Mark(f"{(place + 0.5) * wide:.2f}%", str(day.day), under, dim))
    return marks


def _dot(place: int, wide: float, chances: list[float], *, left: bool = False) -> Dot:
    x, y = (place + 0.5) * wide, height_of(chances[place])
    said = str(wording.in_hundred(chances[place]))
    if left and x > 12:
        return Dot(f"{x:.2f}%", y, said, f"{x - 1.6:.2f}%", "end", y - 6)
    anchor = "start" if x < 4 else "end" if x > 96 else "middle"
    return Dot(f"{x:.2f}%", y, said, f"{x:.2f}%", anchor, y - 13)


def _title(points: Mapping[dt.date, float], answer: Mapping[str, Any], what: str) -> str:
    named = [dt.date.fromisoformat(answer["day"])] if answer["day"] else []
    step = max(1, len(points) // SAID_IN_TITLE)
    shown = sorted({*list(points)[::step], *list(points)[-1:], *named})
    said = ", ".join(f"{wording.in_hundred(chance_on(answer, day))} in 100 by {wording.on_day(day)}" for day in shown)
    never = answer["never"]
    rest = f"; in {wording.in_hundred(never)} of 100 it is never sent" if never >= 0.005 else ""
    return f"Chance that {what} sent by each day: {said}{rest}."


def _caption(days: list[dt.date], hours: Hours) -> str:
    months = list(dict.fromkeys(f"{day:%B}" for day in days))
    said = " and ".join([", ".join(months[:-1]), months[-1]]) if len(months) > 1 else months[0]
    return (
        f"{said}. On hatched days the shop is shut." if any(not hours.is_open_on(day) for day in days) else f"{said}."
    )


def _table(points: Mapping[dt.date, float], answer: Mapping[str, Any], what: str) -> Ruled:
    said = {answer["half"]: "half the time; inside only", answer["day"]: "as sure as was wanted"}
    columns = [Column("by the end of"), Column("times in 100", figures=True), Column("what that is")]
    rows = [
        [wording.on_day(day), wording.in_hundred(chance), said.get(day.isoformat(), "")]
        for day, chance in points.items()
    ]
    return Ruled(f"Chance that {what} sent by each day", columns, rows)
