"""How orders, their lines and shipments look in the API; names and addresses only to keys that may see them."""

from collections.abc import Sequence
from typing import Any

from orders.models import Order, OrderLine, Shipment
from orders.queries import book
from orders.queries.book import Row
from shop.api import fields, order_days, shapes
from shop.api.view import Call
from shop.shared.errors import NotFound
from shop.shared.models import Shop
from shop.shared.shop_row import the_shop

TAG = "Orders"
LINE = shapes.thing(
    line=shapes.WHOLE,
    version=shapes.TEXT,
    item=shapes.maybe(shapes.TEXT),
    words=shapes.TEXT,
    options=shapes.TEXT,
    unit=shapes.UNIT,
    ordered=shapes.QUANTITY,
    sent=shapes.QUANTITY,
    cancelled=shapes.QUANTITY,
    set_aside=shapes.QUANTITY,
    waiting=shapes.QUANTITY,
    takes_what_comes=shapes.YES_NO,
    whole=shapes.YES_NO,
    one_off=shapes.YES_NO,
    price=shapes.maybe(shapes.MONEY),
)
ORDER = shapes.thing(
    number=shapes.WHOLE,
    version=shapes.TEXT,
    state=shapes.words("open", "closed"),
    customer=shapes.thing(id=shapes.WHOLE, kind=shapes.words("one-off", "dealer"), name=shapes.maybe(shapes.TEXT)),
    reference=shapes.TEXT,
    ship_to=shapes.maybe(shapes.TEXT),
    gift=shapes.YES_NO,
    gift_note=shapes.TEXT,
    taken_at=shapes.MOMENT,
    source=shapes.TEXT,
    day_given=shapes.maybe(shapes.DAY),
    days=shapes.many(order_days.DAY_GIVEN),
    said_until=shapes.maybe(shapes.DAY),
    let_go_at=shapes.maybe(shapes.MOMENT),
    not_before=shapes.maybe(shapes.DAY),
    not_after=shapes.maybe(shapes.DAY),
    zone=shapes.TEXT,
    start_when_deposit=shapes.YES_NO,
    send_when_paid=shapes.YES_NO,
    deposit=shapes.maybe(shapes.MONEY),
    carriage=shapes.maybe(shapes.MONEY),
    total=shapes.maybe(shapes.MONEY),
    received=shapes.maybe(shapes.MONEY),
    note=shapes.TEXT,
    closed_at=shapes.maybe(shapes.MOMENT),
    lines=shapes.many(LINE),
)
SENT_LINE = shapes.thing(
    line=shapes.WHOLE,
    item=shapes.maybe(shapes.TEXT),
    words=shapes.TEXT,
    unit=shapes.UNIT,
    quantity=shapes.QUANTITY,
    lots=shapes.many(shapes.thing(lot=shapes.TEXT, quantity=shapes.QUANTITY, heat_number=shapes.maybe(shapes.TEXT))),
)
SHIPMENT = shapes.thing(
    number=shapes.WHOLE,
    version=shapes.TEXT,
    order=shapes.WHOLE,
    sent_at=shapes.MOMENT,
    carrier=shapes.TEXT,
    tracking=shapes.TEXT,
    parcels=shapes.WHOLE,
    computed_mass=shapes.maybe(shapes.MASS),
    scale_mass=shapes.maybe(shapes.MASS),
    ship_to=shapes.maybe(shapes.TEXT),
    undone_at=shapes.maybe(shapes.MOMENT),
    lines=shapes.many(SENT_LINE),
)
LINE_EXAMPLE = {
    "line": 1,
    "version": "2",
    "item": "HAM-2LB",
    "words": "",
    "options": "16 in handle",
    "unit": "piece",
    "ordered": "2",
    "sent": "0",
    "cancelled": "0",
    "set_aside": "2",
    "waiting": "0",
    "takes_what_comes": False,
    "whole": False,
    "one_off": False,
    "price": {"amount": "125.00", "currency": "USD"},
}
EXAMPLE = {
    "number": 1042,
    "version": "1.2",
    "state": "open",
    "customer": {"id": 8, "kind": "one-off", "name": "Example Customer"},
    "reference": "web 1042",
    "ship_to": "1 Example Lane",
    "gift": False,
    "gift_note": "",
    "taken_at": "2026-03-02T14:05:00Z",
    "source": "api",
    "day_given": "2026-03-20",
    "days": [order_days.EXAMPLE],
    "said_until": None,
    "let_go_at": None,
    "not_before": "2026-03-16",
    "not_after": None,
    "zone": "America/Chicago",
    "start_when_deposit": False,
    "send_when_paid": False,
    "deposit": {"amount": "0.00", "currency": "USD"},
    "carriage": {"amount": "9.50", "currency": "USD"},
    "total": {"amount": "259.50", "currency": "USD"},
    "received": {"amount": "0.00", "currency": "USD"},
    "note": "",
    "closed_at": None,
    "lines": [LINE_EXAMPLE],
}
SHIPMENT_EXAMPLE = {
    "number": 77,
    "version": "1",
    "order": 1042,
    "sent_at": "2026-03-20T19:00:00Z",
    "carrier": "Example Carrier",
    "tracking": "EX123456",
    "parcels": 1,
    "computed_mass": {"g": "2630", "pounds": "5.798 lb"},
    "scale_mass": None,
    "ship_to": "1 Example Lane",
    "undone_at": None,
    "lines": [
        {
            "line": 1,
            "item": "HAM-2LB",
            "words": "",
            "unit": "piece",
            "quantity": "2",
            "lots": [{"lot": "L204", "quantity": "2", "heat_number": "0A7731"}],
        }
    ],
}


def find(number: int) -> Order:
    """Return the order of a number, or refuse it."""
    order = book.find_order(number)
    if order is None:
        raise NotFound(f"There is no order {number}; read the list of orders.")
    return order


def find_line(number: int, line: int) -> OrderLine:
    """Return a line of an order, or refuse it."""
    found = OrderLine.objects.select_related("item", "order").filter(order__number=number, number=line).first()
    if found is None:
        raise NotFound(f"There is no line {line} of an order {number}; read the order.")
    return found


def one(number: int, call: Call) -> dict[str, Any]:
    """Return an order as it stands now."""
    return several([find(number)], call)[0]


def several(orders: Sequence[Order], call: Call) -> list[dict[str, Any]]:
    """Return orders with their lines and days."""
    shop, named = the_shop(), call.may("addresses:read")
    given, people = book.days_of(orders), order_days.hidden(call)
    days = {one.pk: order_days.shown(given[one.pk], people) for one in orders}
    return [_order(row, days[row.order.pk], shop, named=named) for row in book.rows(orders)]


def _order(row: Row, days: list[dict[str, Any]], shop: Shop, *, named: bool) -> dict[str, Any]:
    order, currency = row.order, shop.currency
    total = sum((line.ordered - line.cancelled) * line.price_minor for line in row.lines) + order.carriage_minor
    return {
        "number": order.number,
        "version": f"{order.version}.{sum(line.version for line in row.lines)}",
        "state": "closed" if order.closed_at else "open",
        "customer": {
            "id": order.customer_id,
            "kind": order.customer.kind,
            "name": order.customer.name if named else None,
        },
        "reference": order.reference,
        "ship_to": order.ship_to if named else None,
        "gift": order.gift,
        "gift_note": order.gift_note,
        "taken_at": fields.moment(order.taken_at),
        "source": order.source,
        "day_given": fields.day(row.day),
        "days": days,
        "said_until": fields.day(order.said_until),
        "let_go_at": fields.moment(order.let_go_at),
        "not_before": fields.day(order.not_before),
        "not_after": fields.day(order.not_after),
        "zone": shop.zone,
        "start_when_deposit": order.start_when_deposit,
        "send_when_paid": order.send_when_paid,
        "deposit": fields.money(order.deposit_minor, currency),
        "carriage": fields.money(order.carriage_minor, currency),
        "total": fields.money(total, currency),
        "received": fields.money(order.received_minor, currency),
        "note": order.note,
        "closed_at": fields.moment(order.closed_at),
        "lines": [line(made, currency) for made in row.lines],
    }


def line(made: OrderLine, currency: str) -> dict[str, Any]:
    """Return an order line; what is made to order is counted in pieces."""
    unit = made.item.unit if made.item else "piece"

    def many(raw: int) -> str:
        return fields.quantity(raw, unit)

    return {
        "line": made.number,
        "version": str(made.version),
        "item": made.item.code if made.item else None,
        "words": made.words,
        "options": made.options,
        "unit": fields.unit_name(unit),
        "ordered": many(made.ordered),
        "sent": many(made.shipped),
        "cancelled": many(made.cancelled),
        "set_aside": many(made.reserved),
        "waiting": many(made.waiting),
        "takes_what_comes": made.gathers,
        "whole": made.whole,
        "one_off": made.one_off,
        "price": fields.money(made.price_minor, currency),
    }


def shipment(made: Shipment, call: Call) -> dict[str, Any]:
    """Return a shipment with the lots that went in it."""
    return {
        "number": made.number,
        "version": str(made.version),
        "order": made.order.number,
        "sent_at": fields.moment(made.sent_at),
        "carrier": made.carrier,
        "tracking": made.tracking,
        "parcels": made.parcels,
        "computed_mass": fields.mass(made.computed_mass_mg),
        "scale_mass": fields.mass(made.scale_mass_mg),
        "ship_to": made.ship_to if call.may("addresses:read") else None,
        "undone_at": fields.moment(made.reversed_at),
        "lines": [_sent(sent) for sent in made.lines.all()],
    }


def _sent(sent: Any) -> dict[str, Any]:
    item = sent.line.item
    unit = item.unit if item else "piece"
    return {
        "line": sent.line.number,
        "item": item.code if item else None,
        "words": sent.line.words,
        "unit": fields.unit_name(unit),
        "quantity": fields.quantity(sent.qty, unit),
        "lots": [
            {
                "lot": part.lot.code,
                "quantity": fields.quantity(part.qty, unit),
                "heat_number": part.lot.melt.heat_number if part.lot.melt else None,
            }
            for part in sent.lots.all()
        ],
    }
