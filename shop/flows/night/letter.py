"""The night's e-mail, made from the kept result and from nothing else."""

import datetime as dt
import re
from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string

from shop.flows.night import headline, words
from shop.flows.night.body import Body, Part, path

# A day or a number is not torn from what belongs to it at the end of a line on a phone.
_TOGETHER = re.compile(r"(?<=\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)) (?=\d)|(?<=\d) (?=×|[A-Z][a-z]{2}\b)|(?<=×) ")
_UNBROKEN = "\u00a0"


@dataclass(frozen=True, slots=True)
class Letter:
    """Subject, plain text and HTML, which say the same in the same order."""

    subject: str
    text: str
    html: str


def render(body: Body) -> Letter:
    """Write the message of a result."""
    shop, parts = body["shop"], told_once(body["parts"])
    at = dt.datetime.fromisoformat(body["computed_at"])
    context = {
        "body": body,
        "shop": shop,
        "parts": parts,
        "when": f"{words.full_day(dt.date.fromisoformat(body['local_date']))}, {words.hour(at, shop['zone'])}",
        "late": _late(body, at),
        "foot": _foot(body, at),
        "base": settings.BASE_ADDRESS,
        "day_sheet": path("staff:day"),
    }
    subject = f"{body['headline']} (late)" if body["late"] else body["headline"]
    text = render_to_string("staff/mail/night.txt", context)
    html = render_to_string("staff/mail/night.html", {**context, "parts": _held_together(parts)})
    return Letter(subject, text.strip() + "\n", html.strip() + "\n")


def for_person(body: Body, keys: list[str]) -> Body:
    """Return a result with only the parts that somebody wants, its headline and lead about those; no keys: all."""
    if not keys:
        return body
    parts = [part for part in body["parts"] if part["key"] in keys]
    told = [Part(part["key"], part["name"], (), part["said"], part["counted"]) for part in parts]
    return {
        **body,
        "parts": parts,
        "news": bool(parts),
        "headline": headline.subject(told),
        "lead": headline.lead(told, balanced=not body["book"]["found"]),
    }


def told_once(parts: list[Body]) -> list[Body]:
    """Say of an order that slips and whose customer is to be told both in one line; the Day sheet has two places for it."""
    to_tell = {
        line["facts"]["order"]: line
        for part in parts
        if part["key"] == "tell"
        for line in part["lines"]
        if "since" in line["facts"]
    }
    told: set[int] = set()
    found = []
    for part in parts:
        lines = part["lines"]
        if part["key"] == "slips":
            lines = [_to_tell(line, to_tell.get(line["facts"].get("order")), told) for line in lines]
        elif part["key"] == "tell":
            lines = [line for line in lines if "since" not in line["facts"] or line["facts"]["order"] not in told]
        if lines:
            found.append({**part, "lines": lines})
    return found


def _to_tell(line: Body, tell: Body | None, told: set[int]) -> Body:
    if tell is None:
        return line
    told.add(tell["facts"]["order"])
    return {**line, "words": f"{line['words']} Not told yet.", "link": tell["link"]}


def _held_together(parts: list[Body]) -> list[Body]:
    def line(found: Body) -> Body:
        return {**found, "words": _TOGETHER.sub(_UNBROKEN, found["words"])}

    return [{**part, "lines": [line(found) for found in part["lines"]]} for part in parts]


def _late(body: Body, at: dt.datetime) -> str:
    if not body["late"]:
        return ""
    written = words.hour(at, body["shop"]["zone"])
    return f"This is late: the machine was off or asleep at {body['night_hour']}:00. Written at {written}."


def _foot(body: Body, at: dt.datetime) -> str:
    book = body["book"]
    if not book["lines"] and not book["found"]:
        return ""
    lines = words.count(book["lines"], "line") if book["lines"] < 13 else f"{words.grouped(book['lines'])} lines"
    when = words.hour(at, body["shop"]["zone"])
    if book["found"]:
        return f"The book was checked at {when}: {lines}, {words.count(len(book['found']), 'difference')}."
    return f"The book balanced at {when}: {lines}, no difference."
