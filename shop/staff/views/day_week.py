"""The Day sheet's part of the week: what today holds, place by place, for everybody or for one person."""

import datetime as dt
import logging
from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict

from orders.calc.dates.sheet import PLACES, Kind, SheetDay
from orders.calc.dates.sheet import Line as Planned
from orders.queries import week
from shop.staff import wording
from shop.staff.views.day_lines import Line, Part
from shop.staff.views.week_words import Words

MOST, MOST_OF_ONE = 3, 8  # lines of a place that are named, of everybody and of one person; the Week sheet has all

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Today:
    """The day's column: its parts, who has something to do in it by log-in and name, and whose it is."""

    parts: tuple[Part, ...] = ()
    people: tuple[tuple[str, str], ...] = ()
    person: str = ""
    name: str = ""


def today(asked: QueryDict, *, at: dt.datetime, day: dt.date) -> Today:
    """Return what the week holds for today; a week that cannot be worked out keeps nobody from the rest of the sheet."""
    try:
        found = week.proposed(at=at)
        (column,) = found.days(day, 1)
    except Exception:
        log.exception("The week could not be worked out for the Day sheet.")
        return Today(
            (Part("Work", (Line("", "", "", "The week could not be worked out; the service's log says why."),)),)
        )
    words = Words(found)
    logins = dict.fromkeys(one for line in column.lines for one in line.people)
    people = tuple((one, words.names((one,))) for one in logins)
    person = asked.get("person", "")
    name = dict(people).get(person, "")
    return Today(tuple(_parts(column, words, person if name else "")), people, person if name else "", name)


def _parts(column: SheetDay, words: Words, person: str) -> list[Part]:
    parts = []
    for place in PLACES:
        lines = [line for line in column.cells.get(place, ()) if not person or person in line.people]
        if lines:
            parts.append(
                Part(
                    place.capitalize(),
                    tuple(_lines(lines, words, MOST_OF_ONE if person else MOST)),
                    "today by the Week sheet",
                )
            )
    return parts


def _lines(lines: Sequence[Planned], words: Words, most: int) -> list[Line]:
    work = [_line(line, words) for line in lines]
    more = len(work) - most
    if more > 0:
        address = wording.address("staff:week")
        work[most:] = [
            Line(
                str(more),
                "more",
                "",
                "lines on the Week sheet." if more > 1 else "line on the Week sheet.",
                address,
                "See the week",
            )
        ]
    return work


def _line(line: Planned, words: Words) -> Line:
    part, shown = line.parts[0], words.shown(line)
    pieces = sum(one.pieces for one in line.parts)
    runs = ", ".join(dict.fromkeys(run.code for run in shown.runs))
    notes = f" {shown.notes}." if shown.notes else ""
    pinned = " Pinned." if line.pinned else ""
    if line.kind is Kind.TOOLING:
        return Line(
            str(line.minutes), "min", f"{shown.lead}.", words.names(line.people) and f"{words.names(line.people)}."
        )
    if line.kind is Kind.BLANKS:
        return Line(wording.figures(part.pieces), "blanks", f"of {part.item}", "for a run that begins next.")
    names = ", ".join((part.name, *(name for _, name in part.more)))
    times = (
        f", {words.clock(line.begins)} to {words.clock(line.ends, than=line.begins)}" if line.kind is Kind.LOAD else ""
    )
    start = ", to start" if part.planned else ""
    address = words.page_of(part.run, part.item)
    about = "about" if any(one.about for one in line.parts) else "piece" if pieces == 1 else "pieces"
    do = f"Run {part.run}" if part.run in words.runs else "See it"
    return Line(
        wording.figures(pieces), about, f"{runs} {names}{times}{start}.", f"{notes}{pinned}".strip(), address, do
    )
