"""Orders out of a release: pieces go from its line to the new order's in one transaction, under the item's lock."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from inventory.services.ledger import Locks
from orders.models import Customer, Order, OrderLine, Release
from orders.queries import customers as buyers
from orders.queries import releases as queries
from orders.services import minimums, ordering, releases, windows
from orders.services.ordering import MOST_MINOR, Terms
from shop.access.actor import Actor
from shop.flows.ordering import Buyer, NewCustomer, written_down
from shop.shared import audit, transactions
from shop.shared.errors import Invalid

MOST_PASTED = 200


@dataclass(frozen=True, slots=True)
class Sold:
    """One order out of a release: who, how many, and the number of the line it was pasted on."""

    buyer: NewCustomer
    qty: int
    number: int


def take(
    release: Release,
    buyer: Buyer,
    qty: int,
    terms: Terms | None = None,
    *,
    at: dt.datetime,
    by: Actor,
    price_minor: int | None = None,
) -> Order:
    """Take one order out of an open release, or refuse it whole."""
    transactions.assert_open()
    if price_minor is not None and not 0 <= price_minor <= MOST_MINOR:
        raise Invalid.field("price", "The price is below nothing or absurdly high; write what was agreed for one.")
    locks, release, line = releases.lock(release, at=at)
    releases.check_open(release, at=at)
    releases.check_left(release, line, qty)
    return _take(locks, release, line, buyer, qty, terms or Terms(), price_minor, at=at, by=by)


def take_all(release: Release, sold: Sequence[Sold], *, at: dt.datetime, by: Actor) -> list[Order]:
    """Take several orders out of an open release, all of them or none; a customer the book knows is not written anew."""
    transactions.assert_open()
    if not 1 <= len(sold) <= MOST_PASTED:
        raise Invalid.field("pasted", f"{len(sold)} orders; 1 to {MOST_PASTED} at once would work.")
    locks, release, line = releases.lock(release, at=at)
    releases.check_open(release, at=at)
    _check_all(release, line, sold)
    orders = []
    for one in sold:
        known = _known(one.buyer)
        terms = Terms(ship_to=one.buyer.address, below_minimum=True)
        orders.append(_take(locks, release, line, known or one.buyer, one.qty, terms, None, at=at, by=by))
    return orders


def _check_all(release: Release, line: OrderLine, sold: Sequence[Sold]) -> None:
    """Refuse at the first pasted line for which too few are left."""
    left = line.reserved
    for one in sold:
        if one.qty > left:
            said = f"Line {one.number}: {one.qty} wanted and {left} of the release {release.name} left for it."
            raise Invalid.field("pasted", f"{said} Take lines out, or fewer of them.")
        left -= one.qty


def _take(
    locks: Locks,
    release: Release,
    line: OrderLine,
    buyer: Buyer,
    qty: int,
    terms: Terms,
    price_minor: int | None,
    *,
    at: dt.datetime,
    by: Actor,
) -> Order:
    customer = written_down(buyer, at=at, by=by)
    agreed = replace(terms, day_given=None)
    order = ordering.open_empty(customer, agreed, at=at, by=by, source=queries.source_of(release))
    assert line.item is not None
    price = ordering.price_for(line.item, customer) if price_minor is None else price_minor
    releases.hand_over(locks, release, line, order, qty, price_minor=price, at=at, by=by)
    minimums.check(order, all_the_same=terms.below_minimum, at=at, by=by)
    if terms.day_given:
        windows.check_day(order, terms.day_given, field="day_given")
        ordering.give_day(order, terms.day_given, source=terms.day_source, at=at, by=by)
    audit.write(
        at=at,
        by=by.label,
        action="order taken",
        subject=f"order {order.number}",
        after={"lines": 1, "release": release.pk},
    )
    return order


def _known(buyer: NewCustomer) -> Customer | None:
    """Return the customer of this name and e-mail, where the book has one."""
    found = buyers.listed().filter(name__iexact=buyer.name, active=True)
    return found.filter(email__iexact=buyer.email).first() if buyer.email else None
