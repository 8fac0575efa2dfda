"""What was used of items lately, and purchase orders that are due or late."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Min, Q, QuerySet, Sum

from inventory.models import Entry, Item, Movement, Place, PurchaseOrder, PurchaseOrderLine

USED = (Place.Kind.CUSTOMER, Place.Kind.OWN_USE, Place.Kind.WORKED_UP)


@dataclass(frozen=True, slots=True)
class Use:
    """What was used of an item within the window, and since when the book knows it."""

    used: int
    known_since: dt.datetime | None


def uses(items: QuerySet[Item], *, since: dt.datetime, until: dt.datetime) -> dict[int, Use]:
    """Return what went to customers, own use or was worked up in the window, without what was reversed.

    What comes back from being worked up in the same entry, as a remnant does, is taken off again.
    """
    wanted = items.values("pk")
    valid = Q(entry__reversed_by=None) & ~Q(entry__kind=Entry.Kind.REVERSAL)
    window = Q(entry__happened_at__gt=since, entry__happened_at__lte=until)
    lines = Movement.objects.filter(valid, window, item__in=wanted)
    net: dict[tuple[int, int], int] = defaultdict(int)
    for item_id, entry_id, qty in _by_entry(lines.filter(to_place__kind__in=USED)):
        net[item_id, entry_id] += qty
    for item_id, entry_id, qty in _by_entry(lines.filter(from_place__kind=Place.Kind.WORKED_UP)):
        net[item_id, entry_id] -= qty
    used: dict[int, int] = defaultdict(int)
    for (item_id, _), qty in net.items():
        used[item_id] += max(0, qty)
    known = dict(
        Movement.objects.filter(item__in=wanted).values_list("item_id").annotate(first=Min("entry__happened_at"))
    )
    return {item_id: Use(used.get(item_id, 0), first) for item_id, first in known.items()}


def left(line: PurchaseOrderLine) -> int:
    """Return what of a purchase order's line is still to come; bars are counted, since their lengths never fit exactly."""
    if line.bars:
        return line.qty * max(0, line.bars - line.received_bars) // line.bars
    return max(0, line.qty - line.received)


def overdue_orders(*, today: dt.date) -> list[tuple[PurchaseOrder, dt.date]]:
    """Return open purchase orders whose day has passed with something still to come, the latest first by day."""
    return [(order, day) for order, day in _open_orders() if day < today]


def arriving_orders(*, today: dt.date) -> list[tuple[PurchaseOrder, dt.date]]:
    """Return open purchase orders that are to arrive today."""
    return [(order, day) for order, day in _open_orders() if day == today]


def _open_orders() -> list[tuple[PurchaseOrder, dt.date]]:
    orders = PurchaseOrder.objects.filter(closed_at=None).select_related("supplier").prefetch_related("lines")
    dated = [(order, order.confirmed_on or order.wanted_on) for order in orders if any(map(left, order.lines.all()))]
    return sorted(((o, day) for o, day in dated if day), key=lambda pair: (pair[1], pair[0].number))


def _by_entry(lines: QuerySet[Movement]) -> QuerySet[Movement, tuple[int, int, int]]:
    return lines.values_list("item_id", "entry_id").annotate(total=Sum("qty")).order_by()
