"""Setting aside for several lines of an order at once: all of what was asked, or nothing."""

import datetime as dt
from collections.abc import Mapping

from inventory.services.allocating import NotEnough
from orders.models import Order, OrderLine
from orders.services import ordering, reserving
from shop.access.actor import Actor
from shop.shared import transactions
from shop.shared.errors import Invalid


def reserve(order: Order, wanted: Mapping[int, int] | None, *, at: dt.datetime, by: Actor) -> list[OrderLine]:
    """Set aside so many of each line (number to quantity), or for every line as many as there are where nothing is said."""
    transactions.assert_open()
    items = {line.item_id for line in order.lines.all() if line.item_id}
    if not items:
        raise Invalid.field(
            "lines", f"Order {order.number} has only lines made to order; there is nothing to set aside."
        )
    reserving.lock_and_tidy(items, at=at)
    lines = {line.number: line for line in order.lines.select_related("item", "order").order_by("number")}
    unknown = sorted(set(wanted or ()) - set(lines))
    if unknown:
        raise Invalid.field("lines", f"Order {order.number} has no line {unknown[0]}.")
    every = {number: None for number, line in lines.items() if line.item_id and line.waiting}
    chosen: Mapping[int, int | None] = wanted or every
    return [_reserve(lines[number], qty, at=at, by=by) for number, qty in sorted(chosen.items())]


def _reserve(line: OrderLine, qty: int | None, *, at: dt.datetime, by: Actor) -> OrderLine:
    try:
        return ordering.reserve(line, qty, at=at, by=by)
    except NotEnough as refusal:
        if line.item is not None:
            refusal.facts |= {"item": line.item.code, "line": line.number}
        raise
