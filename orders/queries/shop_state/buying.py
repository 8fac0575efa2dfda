"""Deliveries under way and how late each supplier's came, as the calculator takes them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from inventory.models import DeliveryLine, Item, PurchaseOrderLine
from inventory.queries import lasting
from orders.calc.dates.state import Coming, Supplier
from shop.shared import clock

LATE_BELIEVED: Final = (0, 0, 0, 0, 1, 2, 5)  # days, before a supplier has a record. No source
LEAD_DAYS: Final = 14  # where the item says none. No source
RECORD: Final = 60  # deliveries that are looked back at


@dataclass(frozen=True, slots=True)
class Bought:
    """Deliveries under way, suppliers with their record, and from which an item can be bought today."""

    coming: tuple[Coming, ...]
    suppliers: tuple[Supplier, ...]
    buys_from: dict[str, str]


def bought(items: Sequence[Item], blank_nm: Mapping[str, int], *, zone: str, first: dt.date) -> Bought:
    """Return what is on order and what could be, of items that are bought: steel in blanks of so much, the rest in pieces.

    An item is bought from its own supplier in its own lead time, so each has its own row.
    """
    late = _late({one.supplier_id for one in items if one.supplier_id}, zone)
    suppliers = {one.code: _supplier(one, late) for one in items}
    buys = {one.code: suppliers[one.code].code for one in items if one.supplier_id}
    coming = []
    rows = PurchaseOrderLine.objects.filter(order__closed_at=None, item__in=[one.pk for one in items])
    for line in rows.select_related("order", "item").order_by("order__number", "number"):
        pieces = _amount(line.item, lasting.left(line), blank_nm)
        day = line.order.confirmed_on or line.order.wanted_on
        day = day or line.order.ordered_on + dt.timedelta(days=line.item.lead_days or LEAD_DAYS)
        if pieces:
            coming.append(Coming(line.item.code, pieces, (day - first).days, suppliers[line.item.code].code))
    return Bought(tuple(coming), tuple(suppliers.values()), buys)


def _amount(item: Item, qty: int, blank_nm: Mapping[str, int]) -> int:
    if item.kind != Item.Kind.BAR:
        return qty
    return qty // blank_nm[item.code] if blank_nm.get(item.code) else 0


def _supplier(item: Item, late: dict[int, list[int]]) -> Supplier:
    record = (*LATE_BELIEVED, *late.get(item.supplier_id or 0, []))
    lead = LEAD_DAYS if item.lead_days is None else item.lead_days
    return Supplier(f"{item.supplier.name if item.supplier else 'nobody yet'}: {item.code}", record, lead)


def _late(suppliers: Iterable[int], zone: str) -> dict[int, list[int]]:
    """Return the days by which deliveries against an order came late, early below nothing, the latest first."""
    lines = DeliveryLine.objects.filter(
        delivery__supplier__in=set(suppliers), delivery__state="booked", order_line__isnull=False
    ).select_related("delivery", "order_line__order")
    found: dict[int, list[int]] = defaultdict(list)
    seen: set[tuple[int, int]] = set()
    for line in lines.order_by("-delivery_id")[: RECORD * 10]:
        if line.order_line is None or line.delivery.happened_at is None:
            continue
        order = line.order_line.order
        day = order.confirmed_on or order.wanted_on
        if day is None:
            continue
        if (line.delivery_id, order.pk) in seen or len(found[line.delivery.supplier_id]) >= RECORD:
            continue
        seen.add((line.delivery_id, order.pk))
        came = clock.local_date(line.delivery.happened_at, zone)
        found[line.delivery.supplier_id].append((came - day).days)
    return dict(found)
