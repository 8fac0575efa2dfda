"""What is still owed, of everybody or of one customer, as JSON or as a table for a spreadsheet."""

from typing import Any, ClassVar

from orders.models import Customer
from orders.queries import customers, owed
from orders.queries.owed import Owed
from shop.api import fields, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply, reply_csv
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

LINE = shapes.thing(
    customer=shapes.thing(id=shapes.WHOLE, kind=shapes.words(*Customer.Kind.values), name=shapes.maybe(shapes.TEXT)),
    order=shapes.WHOLE,
    reference=shapes.TEXT,
    taken_at=shapes.MOMENT,
    line=shapes.WHOLE,
    item=shapes.maybe(shapes.TEXT),
    words=shapes.TEXT,
    options=shapes.TEXT,
    unit=shapes.UNIT,
    ordered=shapes.QUANTITY,
    sent=shapes.QUANTITY,
    owed=shapes.QUANTITY,
    set_aside=shapes.QUANTITY,
    waiting=shapes.QUANTITY,
    day_given=shapes.maybe(shapes.DAY),
    not_before=shapes.maybe(shapes.DAY),
    not_after=shapes.maybe(shapes.DAY),
)
_EXAMPLE = {
    "customer": {"id": 8, "kind": "dealer", "name": "Example Dealer"},
    "order": 1042,
    "reference": "PO 7",
    "taken_at": "2026-03-02T14:05:00Z",
    "line": 1,
    "item": "HAM-2LB",
    "words": "",
    "options": "",
    "unit": "piece",
    "ordered": "12",
    "sent": "4",
    "owed": "8",
    "set_aside": "3",
    "waiting": "5",
    "day_given": "2026-03-20",
    "not_before": None,
    "not_after": "2026-03-31",
}


class StillOwed(Endpoint):
    """The lines still owed."""

    operations: ClassVar = {
        "GET": Operation(
            name="listStillOwed",
            summary="List what is still owed",
            tag="Orders",
            words=(
                "Every line of an open order of which something is neither sent nor cancelled, by customer, order and "
                "line, with the day given for it and what is set aside. All of one answer is from the same moment, so "
                "it is never paged. Names are null without the scope `addresses:read`."
            ),
            query=(
                reading.Whole("customer", "Only of this customer.", low=1, high=10**12),
                reading.Choice("kind", "Only of customers of this kind.", choices=tuple(Customer.Kind.values)),
            ),
            replies={200: Reply("The lines.", shapes.thing(rows=shapes.many(LINE)), {"rows": [_EXAMPLE]})},
            refusals=(404,),
            csv=True,
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        number = call.query["customer"]
        if number is not None and customers.find(number) is None:
            raise NotFound(f"There is no customer {number}; read the list of customers.")
        found = owed.rows(owed.lines(customer=number, kind=call.query["kind"]))
        named = call.may("addresses:read")
        if call.csv:
            return reply_csv(owed.table(found, zone=the_shop().zone, names=named))
        return reply({"rows": [_shown(one, named=named) for one in found]})


def _shown(one: Owed, *, named: bool) -> dict[str, Any]:
    line, order = one.line, one.line.order
    unit = line.item.unit if line.item else "piece"
    return {
        "customer": {
            "id": order.customer_id,
            "kind": order.customer.kind,
            "name": order.customer.name if named else None,
        },
        "order": order.number,
        "reference": order.reference,
        "taken_at": fields.moment(order.taken_at),
        "line": line.number,
        "item": line.item.code if line.item else None,
        "words": line.words,
        "options": line.options,
        "unit": fields.unit_name(unit),
        "ordered": fields.quantity(line.ordered, unit),
        "sent": fields.quantity(line.shipped, unit),
        "owed": fields.quantity(one.left, unit),
        "set_aside": fields.quantity(line.reserved, unit),
        "waiting": fields.quantity(line.waiting, unit),
        "day_given": fields.day(one.day),
        "not_before": fields.day(order.not_before),
        "not_after": fields.day(order.not_after),
    }
