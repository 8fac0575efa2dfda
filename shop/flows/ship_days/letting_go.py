"""Lets go of what was said on the phone when its day is over."""

import datetime as dt
from collections.abc import Callable

from orders.services import queueing
from shop.access.actor import Actor
from shop.shared import clock, shop_row, transactions
from shop.shared.models import Shop


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
