"""Putting stock by without an order: for minutes, or on the phone until a day."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from django.db.models import F

from inventory.services import allocating, catalogue
from orders.models import Hold, Order, OrderLine
from orders.services import reserving
from orders.services.ordering import MOST_PIECES
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal

if TYPE_CHECKING:
    from inventory.models import Item
    from inventory.services.ledger import Locks

LONGEST_MINUTES = 24 * 60
LONGEST_DAYS = 60


class HoldEnded(Refusal):
    """The hold has lapsed, was let go or became an order."""

    code = "hold_ended"


def put_by(item: Item, qty: int, *, minutes: int, at: dt.datetime, made_by: str, name: str = "") -> Hold:
    """Put stock by for minutes; from the second it lapses it counts for nobody."""
    if not 1 <= minutes <= LONGEST_MINUTES:
        raise Invalid.field("minutes", f"A hold lasts 1 to {LONGEST_MINUTES} minutes, not {minutes}.")
    until = at + dt.timedelta(minutes=minutes)
    return _hold(Hold.Kind.MINUTES, item, qty, until=until, at=at, made_by=made_by, name=name)


def say_on_the_phone(item: Item, qty: int, *, name: str, until: dt.datetime, at: dt.datetime, made_by: str) -> Hold:
    """Put stock by for a named caller until a moment (the end of a day)."""
    if not name.strip():
        raise Invalid.field("name", "A phone hold needs the caller's name.")
    if not at < until <= at + dt.timedelta(days=LONGEST_DAYS):
        raise Invalid.field("until", f"Keep it until a day from today to {LONGEST_DAYS} days ahead.")
    return _hold(Hold.Kind.PHONE, item, qty, until=until, at=at, made_by=made_by, name=name)


def _hold(kind: str, item: Item, qty: int, *, until: dt.datetime, at: dt.datetime, made_by: str, name: str) -> Hold:
    transactions.assert_open()
    if not 1 <= qty <= MOST_PIECES:
        raise Invalid.field("qty", f"Hold 1 to {MOST_PIECES}, not {qty}.")
    if not catalogue.for_sale(item):
        raise Invalid.field("item", f"{item.code} is not for sale; choose another item.")
    locks = reserving.lock_and_tidy({item.pk}, at=at)
    allocation = allocating.open_allocation(at=at, expires_at=until)
    allocating.add(locks, allocation, item.pk, qty)
    return Hold.objects.create(
        kind=kind, item=item, qty=qty, name=name, until=until, allocation=allocation, made_at=at, made_by=made_by
    )


def let_go(hold: Hold, *, at: dt.datetime, by: Actor) -> Hold:
    """Let a hold go before its time; those who wait are served."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({hold.item_id}, at=at)
    hold = _open(hold)
    if hold.allocation is None:
        raise RuntimeError("An open hold has an allocation.")
    allocating.let_go_all(locks, hold.allocation)
    Hold.objects.filter(pk=hold.pk).update(ended_at=at, version=F("version") + 1)
    reserving.serve_waiting(locks)
    audit.write(at=at, by=by.label, action="hold let go", subject=f"hold {hold.pk}", after={"qty": hold.qty})
    hold.refresh_from_db()
    return hold


def become(
    hold: Hold,
    order: Order,
    *,
    price_minor: int,
    at: dt.datetime,
    number: int,
    queue_no: int,
    locks: Locks | None = None,
) -> OrderLine:
    """Turn a hold into an order line: a change of owner, the counters stay as they are."""
    transactions.assert_open()
    locks = locks or reserving.lock_and_tidy({hold.item_id}, at=at)
    hold = _open(hold)
    line = OrderLine.objects.create(
        order=order, number=number, item_id=hold.item_id, ordered=hold.qty, price_minor=price_minor, queue_no=queue_no
    )
    allocation = hold.allocation
    if allocation is None:
        raise RuntimeError("An open hold has an allocation.")
    Hold.objects.filter(pk=hold.pk).update(ended_at=at, allocation=None, became=line, version=F("version") + 1)
    reserving.join(locks, line, allocation, hold.qty)
    return line


def _open(hold: Hold) -> Hold:
    fresh = Hold.objects.select_related("allocation", "item").get(pk=hold.pk)
    if fresh.ended_at is not None:
        what = "became an order" if fresh.became_id else "has lapsed or was let go"
        raise HoldEnded(f"Hold {fresh.pk} {what}; ask again what can be promised.")
    return fresh
