"""A delivery comes in: what it brings serves the lines that wait, in the same transaction."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Bar, Delivery, Entry, Lot, Place, PurchaseOrder, Supplier
from inventory.services import receiving
from inventory.services.delivery_lines import Paper, ReadyLine
from inventory.services.ledger import Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.shared import transactions
from shop.shared.errors import Stale


@dataclass(frozen=True, slots=True)
class Received:
    """What a booked delivery did: its lots, what to say about the purchase order, the order lines it served."""

    delivery: Delivery
    lots: Sequence[Lot]
    said: Sequence[str]
    served: Sequence[OrderLine]


def look(delivery: Delivery, *, stamp: Stamp) -> list[ReadyLine]:
    """Return what booking the draft would bring in; nothing of it is written."""
    transactions.assert_open()
    with transaction.atomic():
        ready = receiving.read(delivery, at=stamp.at, by=stamp.by)
        transaction.set_rollback(True)
    return ready


def book(delivery: Delivery, *, stamp: Stamp, version: int | None = None) -> Received:
    """Book a draft and serve the lines that wait for what came."""
    transactions.assert_open()
    delivery.refresh_from_db()
    if version is not None and version != delivery.version and delivery.state == Delivery.State.DRAFT:
        raise Stale(
            f"Delivery {delivery.number} has changed since it was read; read it again and repeat what you typed."
        )
    ready = receiving.read(delivery, at=stamp.at, by=stamp.by)
    locks = reserving.lock_and_tidy({line.item.pk for line in ready}, at=stamp.at)
    booked = receiving.book(delivery, ready, locks=locks, stamp=stamp)
    served = reserving.serve_waiting(locks)
    return Received(booked.delivery, booked.lots, booked.said, served)


def receive(supplier: Supplier, typed: Paper, *, stamp: Stamp, order: PurchaseOrder | None = None) -> Received:
    """Begin a delivery and book it in one go."""
    delivery = receiving.start(supplier, order=order, typed=typed, at=stamp.at, by=stamp.by)
    return book(delivery, stamp=stamp)


def measure(bar: Bar, length: str, *, stamp: Stamp, unit: str | None = None, place: Place | None = None) -> Entry:
    """Measure a bar that stands unmeasured at the door; from then on it may be cut."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({bar.lot.item_id}, at=stamp.at)
    entry = receiving.measure(bar, length, locks=locks, stamp=stamp, unit=unit, place=place)
    reserving.serve_waiting(locks)
    return entry
