"""Purchase orders, deliveries and take-outs against the entries that booked them."""

from collections import defaultdict
from collections.abc import Iterator

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet

from inventory.models import (
    Bar,
    Delivery,
    DeliveryLine,
    Entry,
    Lot,
    Movement,
    PurchaseOrder,
    PurchaseOrderLine,
    TakeOut,
)
from inventory.queries.checking import numbers
from inventory.queries.checking.span import CHUNK, Span
from inventory.queries.sums import total

State = Delivery.State
BROUGHT_BACK = "brought back"  # the line that says which entry brought a take-out back


def differences(span: Span) -> Iterator[str]:
    """Yield what differs between what was bought or taken out and what was booked."""
    yield from numbers.gaps("Purchase order", PurchaseOrder.objects.all(), "purchase order")
    yield from numbers.gaps("Delivery", Delivery.objects.all(), "delivery")
    yield from _purchase_orders()
    yield from _deliveries(span)
    yield from _delivery_lines(span)
    yield from _take_outs(span)
    yield from _taken_back()


def _purchase_orders() -> Iterator[str]:
    orders = PurchaseOrder.objects.annotate(n=Count("lines")).filter(n=0).order_by("pk")
    for number in orders.values_list("number", flat=True):
        yield f"Purchase order {number} has no line."
    came = DeliveryLine.objects.filter(delivery__state=State.BOOKED)
    lines = PurchaseOrderLine.objects.order_by("pk").annotate(
        came=total(came, order_line="pk"), came_bars=total(came, "bars", order_line="pk")
    )
    names = ("order__number", "number", "received", "came", "received_bars", "came_bars")
    wrong = lines.exclude(received=F("came"), received_bars=F("came_bars"))
    for order, line, says, sums, says_bars, sums_bars in wrong.values_list(*names).iterator(CHUNK):
        yield (
            f"Purchase order {order} line {line} says {says} received in {says_bars} bars; "
            f"its delivery lines come to {sums} in {sums_bars} bars."
        )


def _deliveries(span: Span) -> Iterator[str]:
    undone = Exists(Entry.objects.filter(reverses=OuterRef("entry_id")))
    booked = Delivery.objects.filter(entry__isnull=False).order_by("pk").annotate(undone=undone)
    wrong = booked.filter(Q(state=State.BOOKED, undone=True) | Q(state=State.REVERSED, undone=False))
    for number, state, entry in wrong.values_list("number", "state", "entry_id"):
        yield f"Delivery {number} is {state}; entry {entry}, which booked it, says otherwise."
    for number in booked.exclude(entry__kind=Entry.Kind.DELIVERY).values_list("number", flat=True):
        yield f"Delivery {number} names an entry that is no delivery."
    for number in booked.exclude(happened_at=F("entry__happened_at")).values_list("number", flat=True):
        yield f"Delivery {number} happened at another time than its entry says."
    other = Delivery.objects.filter(order__isnull=False).exclude(supplier_id=F("order__supplier_id")).order_by("pk")
    for number in other.values_list("number", flat=True):
        yield f"Delivery {number} is of another supplier than its purchase order."
    sums = booked.filter(entry_id__gte=span.first_entry).annotate(
        moved=total(Movement.objects.all(), entry="entry_id"), said=total(DeliveryLine.objects.all(), delivery="pk")
    )
    for number, entry, moved, said in sums.exclude(moved=F("said")).values_list("number", "entry_id", "moved", "said"):
        yield f"Delivery {number} has lines of {said} together; entry {entry} brought {moved}."


def _delivery_lines(span: Span) -> Iterator[str]:
    lines = DeliveryLine.objects.order_by("pk")
    fits = Q(order_line__order_id=F("delivery__order_id"), order_line__item_id=F("item_id"))
    strange = lines.filter(order_line__isnull=False).filter(Q(delivery__order=None) | ~fits)
    for pk, delivery, number in strange.values_list("pk", "delivery__number", "number"):
        yield f"{_line(pk, delivery, number)} names a line of another purchase order or item."
    for pk, delivery, number in lines.filter(delivery__entry=None).values_list("pk", "delivery__number", "number"):
        yield f"{_line(pk, delivery, number)} belongs to a delivery that was not booked."
    lots = Lot.objects.filter(delivery_line__isnull=False).order_by("pk")
    same = {"entry_id": F("delivery_line__delivery__entry_id"), "item_id": F("delivery_line__item_id")}
    for code, pk in lots.exclude(**same).values_list("code", "delivery_line_id").iterator(CHUNK):
        yield f"Lot {code} names delivery line {pk}, which is of another entry or item."
    lost = Lot.objects.filter(delivery_line=None, entry__kind=Entry.Kind.DELIVERY).order_by("pk")
    for code in lost.values_list("code", flat=True):
        yield f"Lot {code} came by a delivery and names no line of it."
    fresh = lines.filter(delivery__entry_id__gte=span.first_entry)
    came = Movement.objects.filter(entry=F("lot__entry"))
    brought = fresh.annotate(brought=total(came, lot__delivery_line="pk")).exclude(brought=F("qty"))
    for pk, delivery, number, qty, sums in brought.values_list("pk", "delivery__number", "number", "qty", "brought"):
        yield f"{_line(pk, delivery, number)} says {qty}; its lots were brought in with {sums}."
    yield from _bars_of(lines)


def _bars_of(lines: QuerySet[DeliveryLine]) -> Iterator[str]:
    counted = lines.annotate(found=Count("lots__bar"))
    for pk, delivery, number, says, found in counted.filter(~Q(bars=F("found")), bars__isnull=False).values_list(
        "pk", "delivery__number", "number", "bars", "found"
    ):
        yield f"{_line(pk, delivery, number)} says {says} bars; {found} name it."
    weighed = lines.filter(scale_mass_mg__isnull=False, bars__isnull=False)
    weighed = weighed.annotate(shares=total(Bar.objects.all(), "mass_mg", lot__delivery_line="pk"))
    for pk, delivery, number, mass, shares in weighed.exclude(shares=F("scale_mass_mg")).values_list(
        "pk", "delivery__number", "number", "scale_mass_mg", "shares"
    ):
        bars = Bar.objects.filter(lot__delivery_line=pk).order_by("pk").values_list("number", flat=True)
        yield f"{_line(pk, delivery, number)} weighed {mass} mg; bars {', '.join(bars)} come to {shares} mg."


def _line(pk: int, delivery: int, number: int) -> str:
    return f"Delivery line {pk} (delivery {delivery}, line {number})"


def _take_outs(span: Span) -> Iterator[str]:
    taken = TakeOut.objects.order_by("pk")
    for pk in taken.exclude(entry__kind=Entry.Kind.TAKE_OUT).values_list("pk", flat=True):
        yield f"Take-out {pk} names an entry that is no take-out."
    own = Movement.objects.exclude(item_id=OuterRef("item_id"))
    strange = taken.filter(Exists(own.filter(entry=OuterRef("entry_id"))))
    for pk, entry in strange.values_list("pk", "entry_id"):
        yield f"Take-out {pk} is of another item than entry {entry} took out."
    fresh = taken.filter(entry_id__gte=span.first_entry)
    wrong = fresh.annotate(moved=total(Movement.objects.all(), entry="entry_id")).exclude(moved=F("qty"))
    for pk, qty, entry, moved in wrong.values_list("pk", "qty", "entry_id", "moved"):
        yield f"Take-out {pk} says {qty}; entry {entry} took out {moved}."
    orphans = Entry.objects.filter(kind=Entry.Kind.TAKE_OUT, take_out=None, pk__gte=span.first_entry).order_by("pk")
    for pk in orphans.values_list("pk", flat=True):
        yield f"Entry {pk} took something out and no take-out says what for."


def _taken_back() -> Iterator[str]:
    """What came back of each take-out, by the entries that its audit lines name."""
    entries: dict[int, list[int]] = defaultdict(list)
    for taken, facts in numbers.told(BROUGHT_BACK, "take-out"):
        entries[taken].append(facts.get("entry", 0))
    known = {entry for ids in entries.values() for entry in ids}
    back = dict(
        Entry.objects.filter(kind=Entry.Kind.TAKE_BACK)
        .order_by("pk")
        .annotate(moved=total(Movement.objects.all(), entry="pk"))
        .values_list("pk", "moved")
    )
    for pk in sorted(set(back) - known):
        yield f"Entry {pk} brought something back and no take-out knows of it."
    for pk, says in TakeOut.objects.order_by("pk").values_list("pk", "back").iterator(CHUNK):
        came = sum(back.get(entry, 0) for entry in entries.get(pk, []))
        if says != came:
            yield f"Take-out {pk} says {says} came back; the entries that brought it back come to {came}."
