"""The week as it is proposed around the pins: read by day and place, lines pinned and unpinned by a program."""

import datetime as dt
from typing import Any, ClassVar

from orders.calc.dates.sheet import PLACES, Kind, Line, SheetDay
from orders.calc.dates.state import DAY
from orders.queries import week as proposing
from orders.queries.week import Proposed
from orders.services import week
from shop.api import etags, fields, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.shared.errors import NotFound

TAG = "Week"
USUAL_DAYS, MOST_DAYS = 7, 60
LONGEST_RUN = 40

_PART = shapes.thing(
    run=shapes.TEXT, item=shapes.TEXT, step=shapes.WHOLE, name=shapes.TEXT, pieces=shapes.WHOLE, about=shapes.YES_NO,
    to_start=shapes.YES_NO, for_shelf=shapes.YES_NO, pinned=shapes.YES_NO,
    further_steps=shapes.many(shapes.thing(step=shapes.WHOLE, name=shapes.TEXT)),
)  # fmt: skip
_LINE = shapes.thing(
    kind=shapes.words(*Kind), parts=shapes.many(_PART), begins=shapes.TEXT, ends=shapes.TEXT, goes_on=shapes.YES_NO,
    people=shapes.many(shapes.TEXT), machines=shapes.many(shapes.TEXT),
    waits_for=shapes.TEXT, comes=shapes.many(shapes.thing(item=shapes.TEXT, day=shapes.DAY)),
    buys=shapes.many(shapes.TEXT), loads=shapes.WHOLE, tooling_out=shapes.TEXT, tooling_in=shapes.TEXT,
    change_minutes=shapes.WHOLE,
)  # fmt: skip
_DAY = shapes.thing(
    day=shapes.DAY, open=shapes.YES_NO,
    places=shapes.many(shapes.thing(place=shapes.words(*PLACES), lines=shapes.many(_LINE))),
)  # fmt: skip
_PIN = shapes.thing(run=shapes.TEXT, step=shapes.WHOLE, day=shapes.DAY)
_WEEK = shapes.thing(
    days=shapes.many(_DAY),
    pins=shapes.many(_PIN),
    stuck=shapes.many(shapes.thing(run=shapes.TEXT, item=shapes.TEXT, step=shapes.TEXT, why=shapes.TEXT)),
    short=shapes.many(shapes.thing(item=shapes.TEXT, pieces=shapes.WHOLE, runs=shapes.many(shapes.TEXT))),
)
_PIN_EXAMPLE = {"run": "K7", "step": 2, "day": "2026-12-03"}
_LINE_EXAMPLE = {
    "kind": "work", "begins": "2026-12-03T08:00", "ends": "2026-12-03T11:40", "goes_on": False, "people": ["ines"],
    "machines": ["HAMMER"], "waits_for": "week sheet", "comes": [], "buys": [], "loads": 1, "tooling_out": "",
    "tooling_in": "", "change_minutes": 0,
    "parts": [{
        "run": "K7", "item": "HAM-2LB", "step": 2, "name": "second forging heat", "pieces": 26, "about": True,
        "to_start": False, "for_shelf": False, "pinned": True, "further_steps": [],
    }],
}  # fmt: skip
_WEEK_EXAMPLE = {
    "days": [{"day": "2026-12-03", "open": True, "places": [{"place": "forge", "lines": [_LINE_EXAMPLE]}]}],
    "pins": [_PIN_EXAMPLE],
    "stuck": [{"run": "J8", "item": "HAM-3LB", "step": "hafted", "why": "HA16 runs out and cannot be bought"}],
    "short": [{"item": "HA14", "pieces": 12, "runs": ["M2"]}],
}


class AfterBody(fields.Body):
    """The line that another goes behind."""

    run = fields.Text(longest=LONGEST_RUN)
    step = fields.Whole(low=1, high=32_767)


class PinBody(fields.Body):
    """A line of the sheet, and where it goes."""

    run = fields.Text(
        longest=LONGEST_RUN,
        help_text="Code of the run; of one still to be started its item and number: CP2+1, or CP2+shelf1.",
    )
    step = fields.Whole(low=1, high=32_767)
    day = fields.Day(help_text="It begins no sooner.")
    after = AfterBody(required=False, help_text="A line of that day and place; without it, it goes first.")


class Week(Endpoint):
    """The sheet."""

    operations: ClassVar = {
        "GET": Operation(
            name="readWeek",
            summary="Read the week as it is proposed",
            tag=TAG,
            words=(
                "Days by places of work, at mean times, as proposed around the pins. Times of day are those of the shop's "
                "wall; of an oven load from door shut to door open. Numbers of pieces are rounded, `about` where that is a mean."
            ),
            query=[
                reading.Day("from", "First day; without it, today."),
                reading.Whole("days", "How many days.", default=USUAL_DAYS, low=1, high=MOST_DAYS),
            ],
            replies={200: Reply("The week.", _WEEK, _WEEK_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        found = proposing.proposed(at=call.at)
        first = call.query.get("from") or found.stated.first_day
        return reply(
            {
                "days": [_day_shown(one, found) for one in found.days(first, call.query["days"])],
                "pins": [_pin_shown(one.run, one.step, one.day) for one in found.alive],
                "stuck": [
                    {"run": one.run, "item": one.item, "step": one.name, "why": one.why} for one in found.stuck()
                ],
                "short": [{"item": one.item, "pieces": one.pieces, "runs": list(one.runs)} for one in found.short()],
            }
        )


class Pins(Endpoint):
    """Lines pinned by a hand or a program."""

    operations: ClassVar = {
        "POST": Operation(
            name="pinLine",
            summary="Move a line of the week and pin it",
            tag=TAG,
            words=(
                "What stands before it on that day and place is pinned with it. An oven load goes whole: name one of its runs. "
                "Dates follow the sheet."
            ),
            body=PinBody,
            example={"run": "K7", "step": 2, "day": "2026-12-03"},
            replies={
                201: Reply(
                    "All pins, in the order of the sheet.",
                    shapes.thing(pins=shapes.many(_PIN)),
                    {"pins": [_PIN_EXAMPLE]},
                )
            },
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Pin one."""
        found, body = proposing.proposed(at=call.at), call.body
        after = (body["after"]["run"], body["after"]["step"]) if body.get("after") else None
        keys = found.together(body["run"], body["step"])
        week.move_and_pin(found, keys, body["day"], after=after, at=call.at, by=call.actor)
        return reply({"pins": [_pin_shown(one.run, one.step, one.day) for one in proposing.pins()]}, status=201)


class OnePin(Endpoint):
    """One pin."""

    operations: ClassVar = {
        "GET": Operation(
            name="readPin",
            summary="Read a pin",
            tag=TAG,
            words="With the tag that taking it out asks for.",
            replies={200: Reply("The pin.", _PIN, _PIN_EXAMPLE)},
            snapshot=True,
        ),
        "DELETE": Operation(
            name="unpinLine",
            summary="Take a pin out",
            tag=TAG,
            words="The calculator proposes the line again.",
            replies={204: Reply("It is out.")},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(_pin_found(call))

    def delete(self, call: Call) -> Answer:
        """Take it out."""
        etags.check(call.tags, reply(_pin_found(call)).headers["ETag"].strip('"'))
        week.unpin(call.path["run"], call.path["step"], at=call.at, by=call.actor)
        return nothing()


def _day_shown(day: SheetDay, found: Proposed) -> dict[str, Any]:
    places = [
        {"place": place, "lines": [_line_shown(one, found) for one in lines]} for place, lines in day.cells.items()
    ]
    return {"day": day.date.isoformat(), "open": day.open, "places": places}


def _line_shown(line: Line, found: Proposed) -> dict[str, Any]:
    first, coming = found.stated.first_day, [found.stated.shop.coming[number] for number in line.comes]
    return {
        "kind": line.kind.value,
        "parts": [
            {
                "run": one.run, "item": one.item, "step": one.step, "name": one.name, "pieces": one.pieces,
                "about": one.about, "to_start": one.planned, "for_shelf": one.shelf, "pinned": one.pinned,
                "further_steps": [{"step": step, "name": name} for step, name in one.more],
            }
            for one in line.parts
        ],
        "begins": _moment(first, line.begins),
        "ends": _moment(first, line.ends),
        "goes_on": line.goes_on,
        "people": list(line.people),
        "machines": list(line.machines),
        "waits_for": line.why,
        "comes": [{"item": one.item, "day": (first + dt.timedelta(days=one.day)).isoformat()} for one in coming],
        "buys": list(line.buys),
        "loads": line.loads,
        "tooling_out": line.out,
        "tooling_in": line.tooling,
        "change_minutes": line.minutes,
    }  # fmt: skip


def _moment(first: dt.date, minute: int) -> str:
    day, rest = divmod(minute, DAY)
    return f"{first + dt.timedelta(days=day)}T{rest // 60:02}:{rest % 60:02}"


def _pin_found(call: Call) -> dict[str, Any]:
    key = (call.path["run"], call.path["step"])
    found = next((one for one in proposing.pins() if one.key == key), None)
    if found is None:
        raise NotFound(f"Step {key[1]} of {key[0]} is not pinned; read the week for what is.")
    return _pin_shown(found.run, found.step, found.day)


def _pin_shown(run: str, step: int, day: dt.date) -> dict[str, Any]:
    return {"run": run, "step": step, "day": day.isoformat()}
