"""Shipments: what they say was sent, of which lots, and what their entries moved."""

from collections.abc import Iterator

from django.db.models import Exists, F, OuterRef, Q, Sum

from inventory.models import Entry, Movement
from inventory.queries.checking import Span, numbers
from inventory.queries.checking.span import CHUNK
from inventory.queries.sums import total
from orders.models import Shipment, ShipmentLine, ShippedLot


def differences(span: Span) -> Iterator[str]:
    """Yield what differs between shipments, their lines, their lots and their entries."""
    yield from numbers.gaps("Shipment", Shipment.objects.all(), "shipment")
    yield from _entries(span)
    yield from _lines()
    yield from _lots(span)


def _entries(span: Span) -> Iterator[str]:
    booked = Shipment.objects.filter(entry__isnull=False).order_by("pk")
    for number in booked.exclude(entry__kind=Entry.Kind.SHIPMENT).values_list("number", flat=True):
        yield f"Shipment {number} names an entry that is no shipment."
    shipments = Shipment.objects.order_by("pk").annotate(
        undone=Exists(Entry.objects.filter(reverses=OuterRef("entry_id")))
    )
    wrong = shipments.filter(Q(reversed_at=None, undone=True) | Q(reversed_at__isnull=False, undone=False))
    for number in wrong.values_list("number", flat=True):
        yield f"Shipment {number} was undone in the order book or in the stock book, and not in both."
    empty = Shipment.objects.filter(lines=None).order_by("pk")
    for number in empty.values_list("number", flat=True):
        yield f"Shipment {number} has no line."
    orphans = Entry.objects.filter(kind=Entry.Kind.SHIPMENT, shipment=None, pk__gte=span.first_entry).order_by("pk")
    for pk in orphans.values_list("pk", flat=True):
        yield f"Entry {pk} sent something and no shipment knows of it."


def _lines() -> Iterator[str]:
    lines = ShipmentLine.objects.order_by("pk")
    for pk in lines.exclude(line__order_id=F("shipment__order_id")).values_list("pk", flat=True):
        yield f"Shipment line {pk} sends a line of another order."
    by_lot = lines.filter(line__item__isnull=False).annotate(
        lots_sum=total(ShippedLot.objects.all(), shipment_line="pk")
    )
    wrong = by_lot.exclude(lots_sum=F("qty"))
    for pk, number, says, lots in wrong.values_list("pk", "shipment__number", "qty", "lots_sum"):
        yield f"Shipment line {pk} (shipment {number}) sent {says}; its shipped lots come to {lots}."


def _lots(span: Span) -> Iterator[str]:
    shipped = ShippedLot.objects.order_by("pk")
    odd = shipped.exclude(lot__item_id=F("shipment_line__line__item_id"))
    for pk, code in odd.values_list("pk", "lot__code"):
        yield f"Shipped lot {pk} names lot {code}, which is of another item than its line."
    fresh = Shipment.objects.filter(entry_id__gte=span.first_entry)
    said = shipped.filter(shipment_line__shipment__in=fresh).order_by()
    by_lot = said.values_list("shipment_line__shipment__number", "shipment_line__shipment__entry_id", "lot__code")
    sums = by_lot.annotate(
        sent=Sum("qty"),
        gone=total(Movement.objects.all(), entry="shipment_line__shipment__entry_id", lot="lot_id"),
    )
    for number, entry, code, sent, gone in sums.exclude(sent=F("gone")).iterator(CHUNK):
        yield f"Shipment {number} says it sent {int(sent)} of lot {code}; entry {entry} moved {gone}."
    whole = fresh.order_by("pk").annotate(
        gone=total(Movement.objects.all(), entry="entry_id"),
        sent=total(ShippedLot.objects.all(), shipment_line__shipment="pk"),
    )
    for number, sent, entry, gone in whole.exclude(sent=F("gone")).values_list("number", "sent", "entry_id", "gone"):
        yield f"Shipment {number} sent lots of {sent} together; entry {entry} moved {gone}."
    bare = Shipment.objects.filter(entry=None, lines__line__item__isnull=False).distinct().order_by("pk")
    for number in bare.values_list("number", flat=True):
        yield f"Shipment {number} sent something from stock and names no entry."
