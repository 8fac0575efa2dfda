"""Counting by a program: sheets are opened, read blind, counted line by line and closed."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar

from inventory.models import Place, StockCount, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.services import count_sheets as services
from shop.api import fields, shapes
from shop.api.runs import stamp
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import count_sheets as flow
from shop.shared import clock
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop

TAG = "Counting"
DAYS = 91
LINE = shapes.thing(
    line=shapes.WHOLE, item=shapes.TEXT, place=shapes.TEXT, bar=shapes.maybe(shapes.TEXT), unit=shapes.UNIT,
    state=shapes.words("left", "once more", "counted"), counted=shapes.maybe(shapes.QUANTITY), book=shapes.maybe(shapes.QUANTITY),
    allowed=shapes.maybe(shapes.QUANTITY), counted_at=shapes.maybe(shapes.MOMENT), reason=shapes.TEXT, entry=shapes.maybe(shapes.WHOLE),
)  # fmt: skip
SHEET = shapes.thing(
    number=shapes.WHOLE, name=shapes.TEXT, opened_at=shapes.MOMENT, closed_at=shapes.maybe(shapes.MOMENT),
    left=shapes.WHOLE, lines=shapes.many(LINE),
)  # fmt: skip
_LINE_EXAMPLE = {
    "line": 1, "item": "HA16", "place": "BIN", "bar": None, "unit": "piece", "state": "left", "counted": None, "book": None,
    "allowed": None, "counted_at": None, "reason": "", "entry": None,
}  # fmt: skip
_EXAMPLE = {
    "number": 12, "name": "what is due today", "opened_at": "2026-11-30T14:00:00Z", "closed_at": None, "left": 1,
    "lines": [_LINE_EXAMPLE],
}  # fmt: skip
_RIGHT = shapes.thing(
    counted=shapes.words("often", "sometimes", "seldom", "all"), lines=shapes.WHOLE, right=shapes.WHOLE,
    share={"type": "number"}, low={"type": "number"}, high={"type": "number"}, least={"type": "number"},
)  # fmt: skip


class OpenCountBody(fields.Body):
    """What to count."""

    what = fields.Word(choices=("due", "place", "kind"), help_text="What is due today, a place, or all of a kind.")
    place = fields.Text(longest=20, required=False, help_text="Code of the place.")
    kind = fields.Word(choices=("bar", "blank", "head", "handle", "consumable", "tool"), required=False)


class CountLineBody(fields.Body):
    """What was found."""

    found = fields.Quantity(none=True, required=False, help_text="How many or how much is there.")
    here = fields.YesNo(required=False, help_text="Of a bar: whether it is there.")
    length = fields.Text(
        longest=40, required=False, help_text="Of a bar that is there: its length, where it was taped."
    )
    reason = fields.Text(
        longest=300, required=False, help_text="Why it is so; with it a difference is written down at once."
    )
    happened_at = fields.Moment(required=False, help_text="When it was counted; without it, now.")


class Sheets(Endpoint):
    """Count sheets."""

    operations: ClassVar = {
        "GET": Operation(
            name="listCountSheets",
            summary="List open count sheets",
            tag=TAG,
            words="Blind: what the book said stands only with lines that are counted. `due` are the items due today.",
            replies={
                200: Reply(
                    "The sheets.", shapes.thing(rows=shapes.many(SHEET), due=shapes.many(shapes.TEXT)),
                    {"rows": [_EXAMPLE], "due": ["HA16"]},
                )
            },
        ),
        "POST": Operation(
            name="openCountSheet",
            summary="Open a count sheet",
            tag=TAG,
            body=OpenCountBody,
            example={"what": "due"},
            replies={201: Reply("The sheet.", SHEET, _EXAMPLE)},
            once=True,
        ),
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return them."""
        shop = the_shop()
        codes = flow.due_codes(shop, clock.local_date(call.at, shop.zone))
        return reply({"rows": [shown(one) for one in queries.open_sheets()], "due": list(codes)})

    def post(self, call: Call) -> Answer:
        """Open one."""
        body, shop = call.body, the_shop()
        made = stamp(call)
        if body["what"] == "due":
            sheet = flow.open_due(shop, clock.local_date(call.at, shop.zone), stamp=made)
        elif body["what"] == "kind":
            if not body.get("kind"):
                raise Invalid.field("kind", "Kind: say which kind of item; handle would work.")
            sheet = services.open_sheet(f"all {body['kind']}s", queries.of_kind(body["kind"]), stamp=made)
        else:
            place = Place.objects.filter(code=body.get("place", ""), kind__in=queries.COUNTED_AT).first()
            if place is None:
                raise Invalid.field(
                    "place", "Place: there is no rack, bin or shelf of that code; read the list of places."
                )
            sheet = services.open_sheet(place.name, queries.of_place(place), stamp=made)
        return reply(shown(sheet), status=201)


class OneSheet(Endpoint):
    """One count sheet."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCountSheet",
            summary="Read a count sheet",
            tag=TAG,
            replies={200: Reply("The sheet.", SHEET, _EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(_sheet(call)))


class CountLine(Endpoint):
    """One line of a count sheet."""

    operations: ClassVar = {
        "POST": Operation(
            name="countLine",
            summary="Count a line",
            tag=TAG,
            words="A first count that is further off than allowed answers `once more` and writes nothing down; a second one holds,"
            " whatever it is. The difference is to what the book said at the time of the count. Promised pieces that are"
            " missing make orders give way; the answer names them.",
            body=CountLineBody,
            example={"found": "31"},
            replies={
                200: Reply(
                    "The line.", shapes.thing(line=LINE, gave_way=shapes.many(shapes.thing(order=shapes.WHOLE, line=shapes.WHOLE))),
                    {"line": {**_LINE_EXAMPLE, "state": "counted", "counted": "31", "book": "31", "allowed": "0",
                              "counted_at": "2026-11-30T14:05:00Z"}, "gave_way": []},
                )
            },
            refusals=(409,),
            once=True,
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Count it."""
        sheet, body = _sheet(call), call.body
        line = sheet.lines.select_related("item", "place", "lot__bar", "count").filter(number=call.path["line"]).first()
        if line is None:
            raise NotFound(f"Sheet {sheet.number} has no line {call.path['line']}; read the sheet.")
        made = stamp(call)
        if line.lot_id is not None:
            if "here" not in body:
                raise Invalid.field("here", "Here: say whether the bar is there, true or false.")
            made = replace(made, reason=body.get("reason", ""))
            if body.get("length") and body["here"]:
                outcome = flow.tape_bar(line, body["length"], stamp=made)
            else:
                outcome = flow.tick_bar(line, here=body["here"], stamp=made)
        else:
            if "found" not in body:
                raise Invalid.field("found", "Found: say how many are there, 0 or more.")
            none = not Decimal(body["found"])
            found = 0 if none else fields.to_raw(body["found"], line.item.unit, "found")
            outcome = flow.count_line(line, found, typed=str(body["found"]), stamp=made, reason=body.get("reason", ""))
        gave = [{"order": one.order.number, "line": one.number} for one in outcome.gave_way]
        return reply({"line": line_shown(outcome.line), "gave_way": gave})


class CloseSheet(Endpoint):
    """Closing a count sheet."""

    operations: ClassVar = {
        "POST": Operation(
            name="closeCountSheet",
            summary="Close a count sheet",
            tag=TAG,
            words="What was not counted stays so.",
            replies={200: Reply("The sheet.", SHEET, {**_EXAMPLE, "closed_at": "2026-11-30T15:00:00Z"})},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Close it."""
        return reply(shown(flow.close(_sheet(call), stamp=stamp(call))))


class Right(Endpoint):
    """How right the book is."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCountAccuracy",
            summary="Read how right the book is",
            tag=TAG,
            words="Share of lines within what is allowed over a quarter of a year, with its 95 in 100 interval and one-sided"
            " lower bound; too many here and too few there are two wrong lines.",
            replies={
                200: Reply(
                    "By class.", shapes.thing(rows=shapes.many(_RIGHT)),
                    {"rows": [{"counted": "all", "lines": 60, "right": 57, "share": 0.95, "low": 0.863, "high": 0.983, "least": 0.876}]},
                )
            },
        )
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return it."""
        found = queries.accuracy(flow.classes(), since=call.at - dt.timedelta(days=DAYS))
        rows = [
            {
                "counted": name,
                "lines": one.lines,
                "right": one.right,
                "share": one.share,
                "low": one.low,
                "high": one.high,
                "least": one.least,
            }
            for name in ("often", "sometimes", "seldom", "all")
            if (one := found.get(name)) is not None
        ]
        return reply({"rows": rows})


def shown(one: StockCount) -> dict[str, Any]:
    """Return a sheet as the API shows it."""
    lines = queries.lines(one)
    return {
        "number": one.number,
        "name": one.name,
        "opened_at": fields.moment(one.opened_at),
        "closed_at": fields.moment(one.closed_at),
        "left": sum(line.counted is None for line in lines),
        "lines": [line_shown(line) for line in lines],
    }


def line_shown(line: StockCountLine) -> dict[str, Any]:
    """Return a line; the book's figure only once it is counted."""
    unit = line.item.unit
    done = line.counted is not None

    def told(value: int | None) -> str | None:
        return None if value is None else fields.quantity(value, unit)

    return {
        "line": line.number,
        "item": line.item.code,
        "place": line.place.code,
        "bar": line.lot.bar.number if line.lot else None,
        "unit": fields.unit_name(unit),
        "state": "counted" if done else "once more" if line.typed else "left",
        "counted": told(line.counted),
        "book": told(line.expected),
        "allowed": told(line.tolerance),
        "counted_at": fields.moment(line.counted_at),
        "reason": line.reason,
        "entry": line.entry_id,
    }


def _sheet(call: Call) -> StockCount:
    found = queries.sheet(call.path["number"])
    if found is None:
        raise NotFound(f"There is no count sheet {call.path['number']}; read the list of sheets.")
    return found
