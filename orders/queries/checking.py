"""Checks that the order book agrees with itself and with what the stock book has set aside."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from django.db.models import Count, F, Q, Sum

from inventory.models import Allocation, AllocationPart, ItemStock
from orders.models import (
    Hold,
    Money,
    Order,
    OrderLine,
    Return,
    ReturnOutcome,
    Shipment,
    ShipmentLine,
    ShippedLot,
)


def differences() -> Iterator[str]:
    """Yield one sentence for each row of the order tables that does not agree."""
    yield from _owners()
    yield from _reserved()
    yield from _waiting()
    yield from _shipped()
    yield from _money()
    yield from _closed()
    yield from _returns()


def _owners() -> Iterator[str]:
    owners: Counter[int] = Counter()
    for allocation_id in OrderLine.objects.filter(allocation__isnull=False).values_list("allocation_id", flat=True):
        owners[allocation_id or 0] += 1
    open_holds = Hold.objects.filter(ended_at=None, allocation__isnull=False)
    for allocation_id in open_holds.values_list("allocation_id", flat=True):
        owners[allocation_id or 0] += 1
    for allocation_id in Allocation.objects.filter(closed_at=None).order_by("id").values_list("id", flat=True):
        if owners[allocation_id] != 1:
            yield f"Allocation {allocation_id} is open and has {owners[allocation_id]} owners instead of one."
    for line in OrderLine.objects.filter(allocation__closed_at__isnull=False).order_by("id"):
        yield f"Order line {line.pk} points to the closed allocation {line.allocation_id}."
    for hold in Hold.objects.filter(ended_at=None, allocation__closed_at__isnull=False).order_by("id"):
        yield f"Hold {hold.pk} is open and its allocation {hold.allocation_id} is closed."


def _set_sizes() -> dict[int, dict[int, int]]:
    totals: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for allocation_id, item_id, total in (
        AllocationPart.objects.filter(open=True).values_list("allocation_id", "item_id").annotate(total=Sum("qty"))
    ):
        totals[allocation_id][item_id] += int(total)
    return totals


def _holds_of(totals: dict[int, int], item_id: int, recipe: dict[int, int]) -> int | None:
    """Return how many of the item an allocation comes to, or None where its parts make no whole sets."""
    parts = {part: total for part, total in totals.items() if part != item_id}
    if not parts:
        return totals.get(item_id, 0)
    if set(parts) != set(recipe) or any(parts[part] % per for part, per in recipe.items()):
        return None
    sets = {parts[part] // per for part, per in recipe.items()}
    return totals.get(item_id, 0) + sets.pop() if len(sets) == 1 else None


def _reserved() -> Iterator[str]:
    totals = _set_sizes()
    for line in OrderLine.objects.filter(Q(reserved__gt=0) | Q(allocation__isnull=False)).select_related("item"):
        held = totals.get(line.allocation_id or 0, {})
        recipe = dict(line.item.recipe.values_list("part_id", "quantity")) if line.item else {}
        found = _holds_of(held, line.item_id or 0, recipe)
        if found != line.reserved:
            yield f"Order line {line.pk} says {line.reserved} set aside; its allocation holds {found}."
    for hold in Hold.objects.filter(ended_at=None).select_related("item"):
        recipe = dict(hold.item.recipe.values_list("part_id", "quantity"))
        found = _holds_of(totals.get(hold.allocation_id or 0, {}), hold.item_id, recipe)
        if found != hold.qty:
            yield f"Hold {hold.pk} says {hold.qty} put by; its allocation holds {found}."


def _waiting() -> Iterator[str]:
    waits = F("ordered") - F("shipped") - F("cancelled") - F("reserved")
    totals = dict(
        OrderLine.objects.filter(gathers=True, item__isnull=False).values_list("item_id").annotate(total=Sum(waits))
    )
    for row in ItemStock.objects.order_by("item_id"):
        total = int(totals.get(row.item_id, 0))
        if row.waiting != total:
            yield f"Item stock {row.item_id} says {row.waiting} waited for; the lines come to {total}."


def _shipped() -> Iterator[str]:
    sent = dict(
        ShipmentLine.objects.filter(shipment__reversed_at=None).values_list("line_id").annotate(total=Sum("qty"))
    )
    for line in OrderLine.objects.order_by("id"):
        if line.shipped != int(sent.get(line.pk, 0)):
            yield f"Order line {line.pk} says {line.shipped} sent; its shipments come to {sent.get(line.pk, 0)}."
    lots = dict(ShippedLot.objects.values_list("shipment_line_id").annotate(total=Sum("qty")))
    for sent_line in ShipmentLine.objects.filter(line__item__isnull=False).order_by("id"):
        if int(lots.get(sent_line.pk, 0)) != sent_line.qty:
            yield f"Shipment line {sent_line.pk} sent {sent_line.qty}; its lots come to {lots.get(sent_line.pk, 0)}."
    moved = dict(
        Shipment.objects.filter(entry__isnull=False).values_list("id").annotate(total=Sum("entry__movements__qty"))
    )
    with_stock = ShipmentLine.objects.filter(line__item__isnull=False).values_list("shipment_id")
    for shipment_id, total in with_stock.annotate(total=Sum("qty")):
        if int(moved.get(shipment_id) or 0) != int(total):
            yield f"Shipment {shipment_id} sent {total}; its entry moved {moved.get(shipment_id)}."


def _money() -> Iterator[str]:
    totals = dict(Money.objects.values_list("order_id").annotate(total=Sum("amount_minor")))
    for order_id, received in Order.objects.order_by("id").values_list("id", "received_minor"):
        if received != int(totals.get(order_id, 0)):
            yield f"Order {order_id} says {received} received; its money lines come to {totals.get(order_id, 0)}."


def _closed() -> Iterator[str]:
    owed = OrderLine.objects.filter(ordered__gt=F("shipped") + F("cancelled"))
    for order in Order.objects.filter(closed_at__isnull=False, pk__in=owed.values("order_id")).order_by("id"):
        yield f"Order {order.number} is closed and still owes something."
    for order in Order.objects.filter(closed_at=None).exclude(pk__in=owed.values("order_id")).order_by("id"):
        yield f"Order {order.number} owes nothing and is not closed."
    for order in Order.objects.annotate(n=Count("lines")).filter(n=0).order_by("id"):
        yield f"Order {order.number} has no line."


def _returns() -> Iterator[str]:
    decided = dict(ReturnOutcome.objects.filter(reversed_at=None).values_list("returned_id").annotate(total=Sum("qty")))
    for returned in Return.objects.order_by("id"):
        if returned.inspected != int(decided.get(returned.pk, 0)):
            yield f"Return {returned.pk} says {returned.inspected} inspected; outcomes come to {decided.get(returned.pk, 0)}."
    back = Return.objects.filter(reversed_at=None).values_list("shipment_line_id").annotate(total=Sum("qty"))
    sent = dict(ShipmentLine.objects.values_list("id", "qty"))
    for line_id, total in back:
        if int(total) > sent.get(line_id, 0):
            yield f"Shipment line {line_id} sent {sent.get(line_id, 0)} and {total} came back."
