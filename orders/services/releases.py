"""Releases: pieces kept for a sale on the web from a moment on, in an order of the shop's own."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from inventory.services.allocating import NotEnough
from orders.models import OWN_SOURCE, Customer, Order, OrderLine, Release
from orders.services import customers, ordering, reserving
from orders.services.ordering import Terms, Wanted
from shop.shared import audit, series, shop_row, transactions
from shop.shared.errors import Invalid, Refusal

if TYPE_CHECKING:
    from inventory.models import Item
    from inventory.services.ledger import Locks
    from shop.access.actor import Actor

OWN_NAME = "Releases of the shop"
LONGEST_NAME = 80


class NotOpen(Refusal):
    """The release is not open: its moment has not come, or it is over."""

    code = "release_not_open"


def begin(
    name: str,
    item: Item,
    qty: int,
    *,
    opens_at: dt.datetime,
    closes_at: dt.datetime | None,
    at: dt.datetime,
    by: Actor,
) -> Release:
    """Keep so many of an item for a sale from a moment on; what is not there waits its turn in the queue."""
    transactions.assert_open()
    name = _checked(name, opens_at, closes_at)
    if closes_at is not None and closes_at <= at:
        raise Invalid.field("closes_at", "The sale would be over already; a moment to come would work, or none.")
    if not 1 <= qty <= ordering.MOST_PIECES:
        raise Invalid.field("qty", f"{qty} cannot be kept; write 1 to {ordering.MOST_PIECES}.")
    if item.unit != "piece":
        raise Invalid.field("item", f"{item.code} is not counted in pieces; choose an item that is.")
    reserving.lock_and_tidy({item.pk}, at=at)
    series.take(OWN_SOURCE)  # two first releases meet here, so the shop's own customer is made once
    wanted = [Wanted(qty=qty, item=item, price_minor=0)]
    terms = Terms(note=f"set aside for the release {name}"[:300])
    order = ordering.take(_own_customer(at=at, by=by), wanted, terms, at=at, by=by, source=OWN_SOURCE)
    release = Release.objects.create(name=name, order=order, opens_at=opens_at, closes_at=closes_at)
    _audit(release, "release begun", at, by, {"name": name, "order": order.number, "item": item.code, "qty": qty})
    return release


def change(
    release: Release,
    *,
    name: str,
    opens_at: dt.datetime,
    closes_at: dt.datetime | None,
    at: dt.datetime,
    by: Actor,
) -> Release:
    """Change a release's name and its moments while it is not ended."""
    transactions.assert_open()
    name = _checked(name, opens_at, closes_at)
    before = {"name": release.name, "opens_at": release.opens_at, "closes_at": release.closes_at}
    after = {"name": name, "opens_at": opens_at, "closes_at": closes_at}
    if not Release.objects.filter(pk=release.pk, ended_at=None).update(**after):
        raise NotOpen(f"The release {release.name} is ended; begin a new one.")
    if before != after:
        told = {key: value.isoformat() if isinstance(value, dt.datetime) else value for key, value in after.items()}
        _audit(release, "release changed", at, by, told)
    release.refresh_from_db()
    return release


def lock(release: Release, *, at: dt.datetime) -> tuple[Locks, Release, OrderLine]:
    """Lock a release's item and read the release and its line under the lock."""
    transactions.assert_open()
    item_ids = {pk for pk in OrderLine.objects.filter(order=release.order_id).values_list("item_id", flat=True) if pk}
    locks = reserving.lock_and_tidy(item_ids, at=at)
    ordering.locked(release.order, open_only=False)
    fresh = Release.objects.select_related("order").get(pk=release.pk)
    line = OrderLine.objects.select_related("order", "item", "allocation").get(order=release.order_id)
    return locks, fresh, line


def check_open(release: Release, *, at: dt.datetime) -> None:
    """Refuse before a release opens, from the moment it closes on and when it is ended."""
    if release.ended_at is not None:
        raise NotOpen(f"The release {release.name} is ended; take an order of what can be promised instead.")
    if at < release.opens_at:
        raise NotOpen(
            f"The release {release.name} opens {_on_the_wall(release.opens_at)}; take the order from then on.",
            facts={"opens_at": release.opens_at.isoformat()},
        )
    if release.closes_at is not None and release.closes_at <= at:
        raise NotOpen(
            f"The release {release.name} closed {_on_the_wall(release.closes_at)}; set a later moment on its page, or take an order of what can "
            "be promised.",
            facts={"closes_at": release.closes_at.isoformat()},
        )


def check_left(release: Release, line: OrderLine, qty: int, *, field: str = "qty") -> None:
    """Refuse more than is set aside for a release now."""
    if not 1 <= qty <= ordering.MOST_PIECES:
        raise Invalid.field(field, f"{qty} are asked for; write 1 to {ordering.MOST_PIECES}.")
    if qty > line.reserved:
        left, code = line.reserved, line.item.code if line.item else ""
        said = _too_many(release, left, line.waiting)
        raise NotEnough(said, {field: said}, {"item": code, "available": left, "requested": qty})


def _too_many(release: Release, left: int, waiting: int) -> str:
    come = f", {waiting} more to come" if waiting else ""
    if left:
        return f"{left} {'is' if left == 1 else 'are'} left in the release {release.name}{come}; take {left} or fewer."
    stands = f"has nothing set aside yet{come}" if waiting else "is sold out"
    return f"The release {release.name} {stands}; take an order of what can be promised instead."


def hand_over(
    locks: Locks, release: Release, line: OrderLine, order: Order, qty: int, *, price_minor: int, at: dt.datetime,
    by: Actor,
) -> OrderLine:  # fmt: skip
    """Move pieces from a release's line to the one line of a new order; both keep their own place in the queue.

    Nobody is served in between, so the pieces that are let go are the ones that are set aside again.
    """
    check_left(release, line, qty)
    reserving.let_go(locks, line, qty, waits=False)
    before = line.waiting if line.gathers else 0
    line.cancelled += qty
    line.gathers = line.gathers and line.waiting > 0
    reserving.store(locks, line, before=before)
    made = OrderLine.objects.create(
        order=order, number=1, item=line.item, ordered=qty, price_minor=price_minor, queue_no=series.take("queue")
    )
    reserving.set_aside(locks, made, qty)
    ordering.touched(release.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="cancelled",
        subject=f"order {release.order.number}",
        after={"line": line.number, "qty": qty},
        reason=f"taken as order {order.number}",
    )
    return made


def end(release: Release, *, at: dt.datetime, by: Actor) -> Release:
    """End a release: what is left of it goes to those who wait, what it waited for is wanted no more."""
    transactions.assert_open()
    _, release, line = lock(release, at=at)
    if release.ended_at is not None:
        raise NotOpen(f"The release {release.name} is ended already; nothing more is set aside for it.")
    left = line.reserved + line.waiting
    Release.objects.filter(pk=release.pk).update(ended_at=at)
    if release.order.closed_at is None:
        ordering.cancel_order(release.order, at=at, by=by, reason=f"the release {release.name} is ended"[:300])
    _audit(release, "release ended", at, by, {"left": left})
    release.refresh_from_db()
    return release


def _own_customer(*, at: dt.datetime, by: Actor) -> Customer:
    """Return the customer that stands for the shop itself; no list of customers shows it."""
    found = Customer.objects.filter(orders__source=OWN_SOURCE).order_by("pk").first()
    if found is not None:
        return found
    made = customers.add(name=OWN_NAME, at=at, by=by)
    return customers.change(made, at=at, by=by, active=False)


def _checked(name: str, opens_at: dt.datetime, closes_at: dt.datetime | None) -> str:
    name = " ".join(name.split())
    if not 1 <= len(name) <= LONGEST_NAME:
        raise Invalid.field("name", f"Name: 1 to {LONGEST_NAME} characters would work.")
    if closes_at is not None and closes_at <= opens_at:
        raise Invalid.field("closes_at", "It would close before it opens; a later moment would work, or none.")
    return name


def _on_the_wall(at: dt.datetime) -> str:
    here = at.astimezone(ZoneInfo(shop_row.hours().zone))
    return f"{here:%a} {here.day} {here:%b %Y, %H:%M}"


def _audit(release: Release, action: str, at: dt.datetime, by: Actor, after: dict[str, object]) -> None:
    audit.write(at=at, by=by.label, action=action, subject=f"release {release.pk}", after=after)


__all__ = ["NotOpen", "begin", "change", "check_left", "check_open", "end", "hand_over", "lock"]
