"""What was used of items lately, and purchase orders that are due, late, or written and not sent."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from django.db.models import Case, Exists, Min, OuterRef, Q, QuerySet, Sum, Value, When

from inventory.models import Delivery, Entry, Item, Movement, Place, PurchaseOrder, PurchaseOrderLine
from inventory.queries import lead_record
from shop.shared import shop_row

MOSTLY: Final = 0.9  # share of orders that have come by the day after which one without a day is late. No source
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


def not_sent() -> list[PurchaseOrder]:
    """Return the open purchase orders that the supplier has never heard of, the oldest first."""
    found = PurchaseOrder.objects.filter(closed_at=None).exclude(_sent()).select_related("supplier")
    rows = found.prefetch_related("lines__item").order_by("ordered_on", "number")
    return [order for order in rows if any(map(left, order.lines.all()))]


def open_lines() -> QuerySet[PurchaseOrderLine]:
    """Return the lines of open orders, each with `sent`: whether its order is out."""
    lines = PurchaseOrderLine.objects.filter(order__closed_at=None).select_related("order", "item")
    return lines.annotate(sent=Case(When(_sent("order__"), then=Value(True)), default=Value(False)))


def late_of(orders: Iterable[PurchaseOrder], *, today: dt.date) -> dict[int, dt.date]:
    """Return which of these orders, all out and with something still to come, are late, by number with the day that passed."""
    orders = list(orders)
    usual = usually_here_by([order for order in orders if not _given(order)], today=today)
    days = {order.number: _given(order) or usual[order.pk] for order in orders}
    return {number: day for number, day in days.items() if day < today}


def overdue_orders(*, today: dt.date) -> list[tuple[PurchaseOrder, dt.date]]:
    """Return purchase orders that are out and whose day has passed with something still to come, the latest first by day.

    One that nobody gave a day for is late after the day by which nine in ten have come.
    """
    return [(order, day) for order, day in _open_orders(today) if day < today]


def arriving_orders(*, today: dt.date) -> list[tuple[PurchaseOrder, dt.date]]:
    """Return purchase orders that are out and to arrive today."""
    return [(order, day) for order, day in _open_orders(today) if day == today and _given(order)]


def _sent(order: str = "") -> Q:
    """Say that the supplier has an order: it went out, was confirmed or asked after, or a delivery of it was begun."""
    silent = Q(**{f"{order}sent_how": "", f"{order}confirmed_on": None, f"{order}asked_on": None})
    return ~silent | Q(Exists(Delivery.objects.filter(order=OuterRef(f"{order}pk"))))


def _given(order: PurchaseOrder) -> dt.date | None:
    return order.confirmed_on or order.wanted_on


def _open_orders(today: dt.date) -> list[tuple[PurchaseOrder, dt.date]]:
    """Return the open orders that are out with their day: confirmed, else wanted, else the one usual orders are here by."""
    orders = PurchaseOrder.objects.filter(_sent(), closed_at=None).select_related("supplier")
    rows = orders.prefetch_related("lines__item__supplier")
    waiting = [order for order in rows if any(map(left, order.lines.all()))]
    usual = usually_here_by([order for order in waiting if not _given(order)], today=today)
    dated = [(order, _given(order) or usual[order.pk]) for order in waiting]
    return sorted(dated, key=lambda pair: (pair[1], pair[0].number))


def usually_here_by(orders: Iterable[PurchaseOrder], *, today: dt.date) -> Mapping[int, dt.date]:
    """Return the day by which nine in ten orders like each have come, by the first of its lines still to come."""
    orders = list(orders)
    if not orders:
        return {}
    record = lead_record.lines({order.supplier_id for order in orders}, zone=shop_row.the_shop().zone)
    found = {}
    for order in orders:
        others = [one for one in record.get(order.supplier_id, ()) if one.line.order_id != order.pk]
        leads = [lead_record.of_item(line.item, others, today=today) for line in order.lines.all() if left(line)]
        days = min(lead.within(MOSTLY) for lead in leads)
        found[order.pk] = order.ordered_on + dt.timedelta(days=days)
    return found


def _by_entry(lines: QuerySet[Movement]) -> QuerySet[Movement, tuple[int, int, int]]:
    return lines.values_list("item_id", "entry_id").annotate(total=Sum("qty")).order_by()
