"""How the API shows a purchase order."""

from collections.abc import Sequence
from typing import Any

from inventory.models import PurchaseOrder, PurchaseOrderLine
from inventory.queries import deliveries, order_sum
from shop.api import fields, shapes
from shop.api.view import Call
from shop.flows import purchase_sending
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

TAG = "Purchase orders"
LINE = shapes.thing(
    line=shapes.WHOLE,
    item=shapes.TEXT,
    unit=shapes.UNIT,
    quantity=shapes.QUANTITY,
    typed=shapes.TEXT,
    bars=shapes.maybe(shapes.WHOLE),
    received=shapes.QUANTITY,
    received_bars=shapes.WHOLE,
    price=shapes.maybe(shapes.MONEY),
)
LETTER = shapes.thing(
    about=shapes.words("order", "where it is"),
    to=shapes.TEXT,
    day=shapes.DAY,
    state=shapes.words("waiting", "sent", "given up"),
    said=shapes.TEXT,
)
ORDER = shapes.thing(
    number=shapes.WHOLE,
    version=shapes.TEXT,
    state=shapes.words("open", "closed"),
    supplier=shapes.thing(id=shapes.WHOLE, name=shapes.TEXT),
    ordered_on=shapes.DAY,
    wanted_on=shapes.maybe(shapes.DAY),
    first_confirmed_on=shapes.maybe(shapes.DAY),
    confirmed_on=shapes.maybe(shapes.DAY),
    sent=shapes.maybe(
        shapes.thing(how=shapes.words(*PurchaseOrder.Sent.values), at=shapes.MOMENT, to=shapes.TEXT),
    ),
    asked_on=shapes.maybe(shapes.DAY),
    closed_at=shapes.maybe(shapes.MOMENT),
    cut_plan=shapes.maybe(shapes.WHOLE),
    note=shapes.TEXT,
    lines=shapes.many(LINE),
    goods=shapes.maybe(shapes.MONEY),
    unpriced=shapes.maybe(shapes.WHOLE),
    freight=shapes.maybe(shapes.MONEY),
    letters=shapes.many(LETTER),
)
EXAMPLE = {
    "number": 12,
    "version": "3",
    "state": "open",
    "supplier": {"id": 4, "name": "Example Steel"},
    "ordered_on": "2026-03-02",
    "wanted_on": "2026-03-16",
    "first_confirmed_on": "2026-03-13",
    "confirmed_on": "2026-03-16",
    "sent": {"how": "e-mail", "at": "2026-03-02T14:05:00Z", "to": "orders@steel.example"},
    "asked_on": None,
    "closed_at": None,
    "cut_plan": None,
    "note": "",
    "lines": [
        {
            "line": 1,
            "item": "BAR-1045-R2",
            "unit": "mm",
            "quantity": "30480",
            "typed": "5 @ 20 ft",
            "bars": 5,
            "received": "0",
            "received_bars": 0,
            "price": {"amount": "490.00", "currency": "USD"},
        }
    ],
    "goods": {"amount": "490.00", "currency": "USD"},
    "unpriced": 0,
    "freight": None,
    "letters": [
        {"about": "order", "to": "orders@steel.example", "day": "2026-03-02", "state": "sent", "said": "Taken by the server: OK"}
    ],
}  # fmt: skip


def find(number: int) -> PurchaseOrder:
    """Return an order with its lines."""
    found = deliveries.order(number)
    if found is None:
        raise NotFound(f"There is no purchase order {number}; read the list of purchase orders.")
    return found


def several(orders: Sequence[PurchaseOrder], call: Call) -> list[dict[str, Any]]:
    """Return the orders of one page of a list."""
    letters = purchase_sending.carried_of(orders)
    return [_shown(one, letters[one.number], call) for one in orders]


def shown(order: PurchaseOrder, call: Call) -> dict[str, Any]:
    """Return an order as it stands; prices only to those who may see them."""
    return _shown(order, purchase_sending.carried(order), call)


def _shown(order: PurchaseOrder, letters: Sequence[purchase_sending.Carried], call: Call) -> dict[str, Any]:
    currency = the_shop().currency if call.may("costs:read") else None
    cost = order_sum.of(order)
    sent = {"how": order.sent_how, "at": fields.moment(order.sent_at), "to": order.sent_to} if order.sent_how else None
    return {
        "number": order.number,
        "version": str(order.version),
        "state": "closed" if order.closed_at else "open",
        "supplier": {"id": order.supplier.pk, "name": order.supplier.name},
        "ordered_on": fields.day(order.ordered_on),
        "wanted_on": fields.day(order.wanted_on),
        "first_confirmed_on": fields.day(order.first_confirmed_on),
        "confirmed_on": fields.day(order.confirmed_on),
        "sent": sent,
        "asked_on": fields.day(order.asked_on),
        "closed_at": fields.moment(order.closed_at),
        "cut_plan": order.cut_plan.number if order.cut_plan else None,
        "note": order.note,
        "lines": [_line(line, currency) for line in order.lines.all()],
        "goods": fields.money(cost.goods, currency) if currency and cost.unpriced < len(order.lines.all()) else None,
        "unpriced": cost.unpriced if currency else None,
        "freight": fields.money(cost.freight, currency) if currency else None,
        "letters": [_letter(one) for one in letters],
    }


def _line(line: PurchaseOrderLine, currency: str | None) -> dict[str, Any]:
    return {
        "line": line.number,
        "item": line.item.code,
        "unit": fields.unit_name(line.item.unit),
        "quantity": fields.quantity(line.qty, line.item.unit),
        "typed": line.typed,
        "bars": line.bars,
        "received": fields.quantity(line.received, line.item.unit),
        "received_bars": line.received_bars,
        "price": fields.money(line.price_minor, currency) if currency else None,
    }


def _letter(one: purchase_sending.Carried) -> dict[str, Any]:
    return {
        "about": "where it is" if one.asking else "order",
        "to": one.message.recipient,
        "day": fields.day(one.message.local_date),
        "state": one.state,
        "said": one.said,
    }
