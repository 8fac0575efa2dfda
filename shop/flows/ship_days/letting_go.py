"""Lets go of what was said on the phone when its day is over."""

import datetime as dt
from collections.abc import Callable

from orders.models import Order
from orders.services import queueing
from shop.access.actor import Actor
from shop.shared import clock, shop_row, transactions
from shop.shared.errors import Invalid
from shop.shared.models import Shop


def let_go(order: Order, *, at: dt.datetime, by: Actor) -> Order:
    """Let go of what was only said on the phone before its day is over: they do not want it."""
    transactions.assert_open()
    if order.said_until is None or order.let_go_at is not None:
        raise Invalid.field("order", f"Order {order.number} was not only said on the phone; cancel it, or look at it.")
    return queueing.let_go(order, at=at, by=by)


def sweep(now: Callable[[], dt.datetime]) -> int:
    """Let go, one short transaction after the other; return how many orders."""
    if not Shop.objects.filter(pk=1).exists():
        return 0
    at = now()
    found = queueing.over(today=clock.local_date(at, shop_row.the_shop().zone))
    for order in found:
        with transactions.entry_point():
            queueing.let_go(order, at=at, by=Actor.command("sweep"))
    return len(found)
