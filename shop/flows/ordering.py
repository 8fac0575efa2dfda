"""Orders as they come in at the counter: with a customer who may be new, or out of a hold."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from orders.models import Customer, Hold, Order, Promise
from orders.services import customers, holding, minimums, ordering, reserving, windows
from orders.services.ordering import MOST_MINOR, Terms, Wanted
from shop.access.actor import Actor
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid


@dataclass(frozen=True, slots=True)
class NewCustomer:
    """Somebody who has not bought before."""

    name: str
    kind: str = Customer.Kind.ONE_OFF
    email: str = ""
    phone: str = ""
    address: str = ""


Buyer = Customer | NewCustomer


def take(
    buyer: Buyer,
    wanted: Sequence[Wanted],
    terms: Terms,
    *,
    at: dt.datetime,
    by: Actor,
    source: str = "desk",
    wait: bool = True,
) -> Order:
    """Take an order; a new customer is written down with it, or neither is."""
    transactions.assert_open()
    return ordering.take(written_down(buyer, at=at, by=by), wanted, terms, at=at, by=by, source=source, wait=wait)


def order_from_hold(
    hold: Hold,
    buyer: Buyer,
    terms: Terms,
    *,
    at: dt.datetime,
    by: Actor,
    source: str = "desk",
    price_minor: int | None = None,
) -> Order:
    """Take an order whose one line takes over what the hold has set aside, so that nobody else can get it between."""
    transactions.assert_open()
    if price_minor is not None and not 0 <= price_minor <= MOST_MINOR:
        raise Invalid.field("price", "The price is below nothing or absurdly high; write what was agreed for one.")
    locks = reserving.lock_and_tidy({hold.item_id}, at=at)
    customer = written_down(buyer, at=at, by=by)
    order = ordering.open_empty(customer, terms, at=at, by=by, source=source)
    price = ordering.price_for(hold.item, customer) if price_minor is None else price_minor
    holding.become(hold, order, price_minor=price, at=at, number=1, queue_no=series.take("queue"), locks=locks)
    minimums.check(order, all_the_same=terms.below_minimum, at=at, by=by)
    if terms.day_given:
        windows.check_day(order, terms.day_given, field="day_given")
        ordering.give_day(order, terms.day_given, source=Promise.Source.BY_HAND, at=at, by=by)
    audit.write(
        at=at,
        by=by.label,
        action="order taken",
        subject=f"order {order.number}",
        after={"lines": 1, "from_hold": hold.pk},
    )
    return order


def written_down(buyer: Buyer, *, at: dt.datetime, by: Actor) -> Customer:
    """Return the customer, written down where new."""
    if isinstance(buyer, Customer):
        return buyer
    return customers.add(
        name=buyer.name,
        kind=buyer.kind,
        email=buyer.email,
        phone=buyer.phone,
        address=buyer.address,
        at=at,
        by=by,
    )
