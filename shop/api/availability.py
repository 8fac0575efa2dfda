"""What can be promised now: one item, many or all, as JSON or as a table for a spreadsheet."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, ClassVar

from inventory.models import Item
from orders.queries import availability
from orders.queries.availability import Availability, Listed
from shop.api import fields, items, reading, shapes, states
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply, reply_csv
from shop.shared import csvs, units
from shop.shared.errors import NotFound

Figures = Availability[Listed]
TAG = "Availability"
SOLD = tuple(kind for kind in items.KINDS if kind != Item.Kind.BAR)
ROW = shapes.thing(
    item=shapes.TEXT,
    name=shapes.TEXT,
    kind=shapes.words(*SOLD),
    unit=shapes.UNIT,
    can_promise=shapes.QUANTITY,
    of_which_from_parts=shapes.QUANTITY,
    state=shapes.words(
        *(
            states.VOCABULARY + name
            for name in ("InStock", "LimitedAvailability", "BackOrder", "OutOfStock", "Discontinued")
        )
    ),
    stock_version=shapes.TEXT,
    as_of=shapes.maybe(shapes.MOMENT),
)
_EXAMPLE = {
    "item": "HAM-2LB",
    "name": "Cross peen hammer 2 lb",
    "kind": "tool",
    "unit": "piece",
    "can_promise": "7",
    "of_which_from_parts": "2",
    "state": "https://schema.org/InStock",
    "stock_version": "8f0c2b9ad1e34f7765",
    "as_of": "2026-03-02T14:05:00Z",
}
WORDS = (
    "Can promise = what may be sold, less what is set aside, less what waiting lines would take of it; an expired hold"
    " counts for nobody from its second. A tool counts its finished ones and the sets its free parts would make."
    f" Steel bars are cut and not sold. {states.TABLE}"
)
HEADER = (
    "code",
    "name",
    "kind",
    "unit",
    "can_promise",
    "state",
    "size_mm",
    "size_in",
    "size",
    "as_of",
)
"""A contract with spreadsheets: only ever append."""


def row(found: Figures) -> dict[str, Any]:
    """Return one item's figures as the API shows them."""
    item = found.item
    return {
        "item": item.code,
        "name": item.name,
        "kind": item.kind,
        "unit": fields.unit_name(item.unit),
        "can_promise": fields.quantity(found.can_promise, item.unit),
        "of_which_from_parts": fields.quantity(min(found.parts, found.can_promise), item.unit),
        "state": states.state(item, found.can_promise),
        "stock_version": found.etag,
        "as_of": fields.moment(found.as_of),
    }


def table(found: Sequence[Figures]) -> str:
    """Return the figures as CSV; every line says as of when."""
    as_of = latest(found)
    return csvs.write(HEADER, [_cells(one, as_of) for one in found])


def latest(found: Sequence[Figures]) -> dt.datetime | None:
    """Return the moment of the last change among these items."""
    return max((one.as_of for one in found if one.as_of), default=None)


def _cells(found: Figures, as_of: dt.datetime | None) -> list[csvs.Cell]:
    item = found.item
    size: list[csvs.Cell] = [None, None, item.eye_size]
    nm = item.section_nm
    if nm is not None:
        size = [Decimal(nm).scaleb(-6).normalize(), _inches(nm), units.length_inches(nm, feet=False)]
    return [
        item.code,
        item.name,
        item.kind,
        fields.unit_name(item.unit),
        Decimal(fields.quantity(found.can_promise, item.unit)),
        states.state(item, found.can_promise).rsplit("/", 1)[1],
        *size,
        as_of,
    ]


def _inches(nm: int) -> Decimal:
    return (Decimal(nm) / Decimal(units.NM_PER_INCH)).quantize(Decimal("0.0001"))


def _version(found: Sequence[Figures]) -> str:
    return hashlib.blake2b(" ".join(one.etag for one in found).encode(), digest_size=9).hexdigest()


class All(Endpoint):
    """Many items or all."""

    operations: ClassVar = {
        "GET": Operation(
            name="listAvailability",
            summary="What can be promised now, of many items or all",
            tag=TAG,
            words=WORDS + " All figures of one answer are from the same moment, so a list is never paged.",
            query=(
                reading.Several("item", "Only these items: codes with commas between.", example="HAM-2LB,TNG-WJ"),
                reading.Choice("kind", "Only items of this kind.", choices=SOLD),
            ),
            replies={
                200: Reply(
                    "The figures.",
                    shapes.thing(rows=shapes.many(ROW), stock_version=shapes.TEXT, as_of=shapes.maybe(shapes.MOMENT)),
                    {"rows": [_EXAMPLE], "stock_version": "51e3c07aa2b94d0c88", "as_of": "2026-03-02T14:05:00Z"},
                )
            },
            refusals=(404,),
            csv=True,
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return the figures."""
        found = _wanted(call.query["item"], call.query["kind"], at=call.at)
        if call.csv:
            return reply_csv(table(found))
        rows = [row(one) for one in found]
        return reply({"rows": rows, "stock_version": _version(found), "as_of": fields.moment(latest(found))})


class One(Endpoint):
    """One item."""

    operations: ClassVar = {
        "GET": Operation(
            name="readAvailability",
            summary="What can be promised now, of one item",
            tag=TAG,
            words=WORDS,
            replies={200: Reply("The figures.", ROW, _EXAMPLE)},
            csv=True,
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return the figures."""
        code = call.path["code"]
        found = _wanted([code], None, at=call.at)
        return reply_csv(table(found)) if call.csv else reply(row(found[0]))


def everything(*, at: dt.datetime) -> list[Figures]:
    """Return the figures of everything that is sold."""
    return _wanted(None, None, at=at)


def _wanted(codes: Sequence[str] | None, kind: str | None, *, at: dt.datetime) -> list[Figures]:
    found = availability.listed(codes=codes, at=at)
    missing = sorted(set(codes or ()) - {one.item.code for one in found})
    if missing:
        raise NotFound(
            f"There is no item {missing[0]} that is sold; read the list of availability.",
            facts={"unknown_items": missing[:50]},
        )
    return found if kind is None else [one for one in found if one.item.kind == kind]
