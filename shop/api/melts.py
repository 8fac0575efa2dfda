"""Melts: where the steel of each is, its certificates, and who has pieces of it."""

from typing import Any, ClassVar

from inventory.models import Certificate, Melt, Movement, TakeOut
from inventory.queries import balance, findings, lists, trace
from inventory.queries.balance import Row, Sheet, Stage
from orders.models import ShippedLot
from orders.queries import went_into
from shop.api import fields, paging, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply, reply_csv
from shop.shared.errors import NotFound

TAG = "Steel"
CERTIFICATE = shapes.thing(
    id=shapes.WHOLE,
    number=shapes.TEXT,
    document=shapes.TEXT,
    edition=shapes.TEXT,
    paper_type=shapes.TEXT,
    finding=shapes.words(*Certificate.Finding.values),
    words=shapes.TEXT,
    read_by=shapes.TEXT,
    filed_at=shapes.MOMENT,
    taken_back=shapes.YES_NO,
)
# What was found more than had come stands with a minus.
SIGNED = {**shapes.QUANTITY, "pattern": r"^-?[0-9]{1,12}(\.[0-9]{1,6})?$"}
MASS = shapes.thing(g=SIGNED, pounds=shapes.TEXT)
ROW = shapes.thing(what=shapes.TEXT, quantity=SIGNED, mass=shapes.maybe(MASS), known=shapes.TEXT)
PART = shapes.thing(what=shapes.TEXT, mass=MASS, known=shapes.TEXT)
STAGE = shapes.thing(item=shapes.TEXT, unit=shapes.UNIT, came=shapes.many(ROW), parts=shapes.many(ROW))
SHORT = shapes.thing(
    id=shapes.WHOLE,
    heat_number=shapes.TEXT,
    mill=shapes.TEXT,
    grade=shapes.TEXT,
    known=shapes.YES_NO,
    certificate_awaited=shapes.YES_NO,
)
MELT = shapes.thing(
    id=shapes.WHOLE,
    heat_number=shapes.TEXT,
    mill=shapes.TEXT,
    grade=shapes.TEXT,
    known=shapes.YES_NO,
    certificate_awaited=shapes.YES_NO,
    whole=shapes.maybe(shapes.thing(received=shapes.MASS, parts=shapes.many(PART))),
    balance=shapes.many(STAGE),
    certificates=shapes.many(CERTIFICATE),
)
SENT = shapes.thing(
    order=shapes.WHOLE,
    shipment=shapes.WHOLE,
    sent_at=shapes.MOMENT,
    item=shapes.TEXT,
    lot=shapes.TEXT,
    pieces=shapes.WHOLE,
    customer=shapes.maybe(shapes.TEXT),
    email=shapes.maybe(shapes.TEXT),
    phone=shapes.maybe(shapes.TEXT),
)
TAKEN = shapes.thing(
    why=shapes.words(*TakeOut.Why.values),
    taken_at=shapes.MOMENT,
    item=shapes.TEXT,
    lot=shapes.TEXT,
    pieces=shapes.WHOLE,
    for_whom=shapes.maybe(shapes.TEXT),
)
WENT = shapes.thing(
    heat_number=shapes.TEXT,
    lots=shapes.many(shapes.TEXT),
    sent=shapes.many(SENT),
    taken_out=shapes.many(TAKEN),
)
_SHORT = {
    "id": 3, "heat_number": "0A7731", "mill": "Example Mill", "grade": "1045", "known": True,
    "certificate_awaited": False,
}  # fmt: skip
_PAPER = {
    "id": 9, "number": "C-118", "document": "ASTM A29/A29M", "edition": "16", "paper_type": "3.1",
    "finding": "within the limits", "words": "Certificate C-118: within the limits of ASTM A29/A29M, edition 16.",
    "read_by": "", "filed_at": "2026-03-02T14:05:00Z", "taken_back": False,
}  # fmt: skip
_ROW = {"what": "received", "quantity": "6096", "mass": {"g": "97000", "pounds": "213.8 lb"}, "known": "weighed"}
_MASS = {"g": "97000", "pounds": "213.8 lb"}
_MELT = _SHORT | {
    "whole": {"received": _MASS, "parts": [{"what": "on the rack", "mass": _MASS, "known": "worked out"}]},
    "balance": [{"item": "BAR-1045-R2", "unit": "mm", "came": [_ROW], "parts": [_ROW | {"what": "on the rack"}]}],
    "certificates": [_PAPER],
}
_WENT = {
    "heat_number": "0A7731",
    "lots": ["L118", "L204"],
    "sent": [
        {
            "order": 1042, "shipment": 88, "sent_at": "2026-03-09T15:00:00Z", "item": "HAM-2LB", "lot": "L204",
            "pieces": 3, "customer": None, "email": None, "phone": None,
        }
    ],
    "taken_out": [
        {
            "why": "gift", "taken_at": "2026-03-10T15:00:00Z", "item": "HAM-2LB", "lot": "L204", "pieces": 1,
            "for_whom": None,
        }
    ],
}  # fmt: skip


def _short(melt: Melt) -> dict[str, Any]:
    return {
        "id": melt.pk,
        "heat_number": melt.heat_number,
        "mill": melt.mill,
        "grade": melt.grade.code,
        "known": melt.known,
        "certificate_awaited": melt.certificate_awaited,
    }


def _stage(stage: Stage) -> dict[str, Any]:
    unit = stage.item.unit

    def row(one: Row) -> dict[str, Any]:
        quantity = fields.millimetres(one.qty) if unit == "nm" else str(one.qty)
        return {
            "what": one.words,
            "quantity": quantity,
            "mass": fields.mass(one.mass_mg),
            "known": one.basis or "counted",
        }

    came, parts = [row(one) for one in stage.came], [row(one) for one in stage.parts]
    return {"item": stage.item.code, "unit": fields.unit_name(unit), "came": came, "parts": parts}


def _whole(sheet: Sheet | None) -> dict[str, Any] | None:
    if sheet is None:
        return None
    parts = [{"what": row.words, "mass": fields.mass(row.mass_mg), "known": row.basis} for row in sheet.rows]
    return {"received": fields.mass(sheet.received_mg), "parts": parts}


def _paper(made: Certificate) -> dict[str, Any]:
    return {
        "id": made.pk,
        "number": made.number,
        "document": made.document,
        "edition": made.edition,
        "paper_type": made.paper_type,
        "finding": made.finding,
        "words": findings.paper_found(made, made.melt).words,
        "read_by": made.read_by,
        "filed_at": fields.moment(made.filed_at),
        "taken_back": made.withdrawn_at is not None,
    }


def _find(call: Call) -> Melt:
    found = trace.find_melt(call.path["id"])
    if found is None:
        raise NotFound(f"There is no melt {call.path['id']}; read the list of melts.")
    return found


class Melts(Endpoint):
    """The melts."""

    operations: ClassVar = {
        "GET": Operation(
            name="listMelts",
            summary="List melts",
            tag=TAG,
            words="Melts in the order they came; one without a known mill heat number stands for each grade.",
            query=(
                reading.Parameter("heat_number", "Only of this mill heat number.", longest=40),
                reading.Parameter("grade", "Only of the grade of this code.", longest=20),
                *paging.PARAMETERS,
            ),
            replies={200: Reply("One page of melts.", shapes.page(SHORT), {"rows": [_SHORT], "next": None}, ("Link",))},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.melts(heat_number=call.query["heat_number"], grade=call.query["grade"])
        page = paging.page(found, call.request, dict(call.query), by="id")
        return reply({"rows": [_short(one) for one in page.rows], "next": page.next}, headers=page.headers)


class OneMelt(Endpoint):
    """One melt."""

    operations: ClassVar = {
        "GET": Operation(
            name="readMelt",
            summary="Read one melt",
            tag=TAG,
            words=(
                "A melt with its balance and its certificates. `whole` lays bars and blanks together by mass; `balance`"
                " has each item by itself. The parts are what came, to the milligram."
            ),
            replies={200: Reply("The melt.", MELT, _MELT)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        melt = _find(call)
        papers = Certificate.objects.filter(melt=melt).select_related("melt__grade").order_by("id")
        stages = balance.of_melt(melt)
        found = {
            "whole": _whole(balance.whole(stages)),
            "balance": [_stage(one) for one in stages],
            "certificates": [_paper(one) for one in papers],
        }
        return reply(_short(melt) | found)


class WentInto(Endpoint):
    """What a melt went into."""

    operations: ClassVar = {
        "GET": Operation(
            name="readWentInto",
            summary="Read what a melt went into",
            tag=TAG,
            words=(
                "Every lot of a melt, what was sent of them, and what was taken out and is not back. Customers and names"
                " are null without the scope `addresses:read`."
            ),
            replies={200: Reply("What it went into.", WENT, _WENT)},
            csv=True,
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        found, seen = went_into.of_melt(_find(call)), call.may("addresses:read")
        if call.csv:
            return reply_csv(went_into.table(found, names=seen))
        return reply(
            {
                "heat_number": found.melt.heat_number,
                "lots": lists.lot_codes(found.lots),
                "sent": [_sent(one, seen=seen) for one in found.sent],
                "taken_out": [_taken(one, seen=seen) for one in found.taken],
            }
        )


def _taken(line: Movement, *, seen: bool) -> dict[str, Any]:
    taken = line.entry.take_out
    return {
        "why": taken.why,
        "taken_at": fields.moment(line.entry.happened_at),
        "item": line.lot.item.code,
        "lot": line.lot.code,
        "pieces": line.qty,
        "for_whom": taken.for_whom if seen else None,
    }


def _sent(one: ShippedLot, *, seen: bool) -> dict[str, Any]:
    shipment, order = one.shipment_line.shipment, one.shipment_line.line.order
    customer = order.customer
    return {
        "order": order.number,
        "shipment": shipment.number,
        "sent_at": fields.moment(shipment.sent_at),
        "item": one.lot.item.code,
        "lot": one.lot.code,
        "pieces": one.qty,
        "customer": customer.name if seen else None,
        "email": customer.email if seen else None,
        "phone": customer.phone if seen else None,
    }
