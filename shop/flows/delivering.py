"""A delivery comes in: what it brings serves the lines that wait, in the same transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Bar, Delivery, Entry, Lot, Place, PurchaseOrder, Supplier
from inventory.services import delivery_lines, receiving
from inventory.services.delivery_lines import Paper, ReadLine
from inventory.services.ledger import Stamp
from orders.models import OrderLine
from orders.services import reserving
from shop.shared import transactions
from shop.shared.errors import Invalid, Refusal, Stale


@dataclass(frozen=True, slots=True)
class Received:
    """What a booked delivery did: its lots, what to say about the purchase order, the order lines it served."""

    delivery: Delivery
    lots: Sequence[Lot]
    said: Sequence[str]
    served: Sequence[OrderLine]


def look(delivery: Delivery, *, stamp: Stamp) -> list[ReadLine]:
    """Return line by line what booking the draft would bring in, or what is wrong; nothing of it is written."""
    transactions.assert_open()
    with transaction.atomic():
        paper = delivery_lines.paper(delivery.draft)
        lines = delivery_lines.read_each(paper, delivery.order, at=stamp.at, by=stamp.by)
        transaction.set_rollback(True)
    return lines


def book(delivery: Delivery, *, stamp: Stamp, version: int | None = None, although_closed: bool = False) -> Received:
    """Book a draft and serve the lines that wait for what came."""
    transactions.assert_open()
    delivery.refresh_from_db()
    if version is not None and version != delivery.version and delivery.state == Delivery.State.DRAFT:
        raise Stale(
            f"Delivery {delivery.number} has changed since it was read; read it again and repeat what you typed."
        )
    ready = receiving.read(delivery, at=stamp.at, by=stamp.by)
    locks = reserving.lock_and_tidy({line.item.pk for line in ready}, at=stamp.at)
    booked = receiving.book(delivery, ready, locks=locks, stamp=stamp, although_closed=although_closed)
    served = reserving.serve_waiting(locks)
    return Received(booked.delivery, booked.lots, booked.said, served)


def receive(
    supplier: Supplier,
    typed: Paper,
    *,
    stamp: Stamp,
    order: PurchaseOrder | None = None,
    although_closed: bool = False,
) -> Received:
    """Begin a delivery and book it in one go."""
    delivery = receiving.start(supplier, order=order, typed=typed, at=stamp.at, by=stamp.by)
    return book(delivery, stamp=stamp, although_closed=although_closed)


def measure(bar: Bar, length: str, *, stamp: Stamp, unit: str | None = None, place: Place | None = None) -> Entry:
    """Measure a bar that stands unmeasured at the door; from then on it may be cut."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({bar.lot.item_id}, at=stamp.at)
    entry = receiving.measure(bar, length, locks=locks, stamp=stamp, unit=unit, place=place)
    reserving.serve_waiting(locks)
    return entry


def measure_all(
    lengths: Mapping[Bar, str], *, stamp: Stamp, unit: str | None = None, place: Place | None = None
) -> int:
    """Measure several bars at the door in one go; one that cannot be read keeps all of them at the door."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({bar.lot.item_id for bar in lengths}, at=stamp.at)
    wrong: dict[str, str] = {}
    for bar, length in lengths.items():
        try:
            receiving.measure(bar, length, locks=locks, stamp=stamp, unit=unit, place=place)
        except Refusal as refusal:
            wrong[f"bar_{bar.pk}" if "place" not in refusal.fields else "place"] = refusal.sentence
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    if not lengths:
        raise Invalid("No length is written yet; measure at least one bar.")
    reserving.serve_waiting(locks)
    return len(lengths)
