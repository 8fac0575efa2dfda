"""What an order of a customer comes to at the least."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from shop.shared import audit, shop_row
from shop.shared.errors import Refusal
from shop.shared.units import money

if TYPE_CHECKING:
    from orders.models import Order
    from shop.access.actor import Actor


class BelowMinimum(Refusal):
    """The order comes to less than this customer's orders come to."""

    code = "below_minimum"


def check(order: Order, *, all_the_same: bool, at: dt.datetime, by: Actor) -> None:
    """Refuse an order whose lines come to less than its customer's minimum; one taken all the same is written down.

    Carriage is not counted. Called in the transaction that takes the order.
    """
    least = order.customer.minimum_minor
    if not least:
        return
    comes_to = sum(line.ordered * line.price_minor for line in order.lines.all())
    if comes_to >= least:
        return
    if not all_the_same:
        currency = shop_row.the_shop().currency
        raise BelowMinimum(
            f"The lines come to {money(comes_to, currency)} and an order of {order.customer.name} to "
            f"{money(least, currency)} or more; add {money(least - comes_to, currency)}, or say that it is taken all "
            "the same.",
            {"below_minimum": f"It is {money(least - comes_to, currency)} short; tick this to take it all the same."},
            {"minimum_minor": least, "comes_to_minor": comes_to},
        )
    audit.write(
        at=at,
        by=by.label,
        action="taken under the minimum",
        subject=f"order {order.number}",
        after={"minimum_minor": least, "comes_to_minor": comes_to},
    )
