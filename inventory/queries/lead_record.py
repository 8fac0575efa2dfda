"""How long suppliers took: every order line with what came of it and when, as lead times are learned from."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Q

from inventory.calc import lead_times
from inventory.calc.lead_times import LeadTime, Record
from inventory.models import Delivery, DeliveryLine, Item, PurchaseOrderLine
from shop.shared import clock

MOST: Final = 60  # lines of one supplier that are looked back at, the last ordered first


@dataclass(frozen=True, slots=True)
class Line:
    """An order line and its record."""

    line: PurchaseOrderLine
    record: Record


def lines(suppliers: Iterable[int] | None = None, *, zone: str) -> Mapping[int, Sequence[Line]]:
    """Return each supplier's order lines, the last ordered first; nothing given: of all suppliers.

    The day promised is the first that was confirmed, else the day it was wanted for. What came counts by its share of
    the line, bars by their number; of a closed order what came is the whole. An order that was closed before the
    supplier had it, and of which nothing came, is in no record.
    """
    never = Q(order__closed_at__isnull=False, order__sent_how="", order__confirmed_on=None, received=0)
    rows = PurchaseOrderLine.objects.select_related("order__supplier", "item").order_by("-order__ordered_on", "-pk")
    rows = rows.exclude(never)
    if suppliers is not None:
        rows = rows.filter(order__supplier__in=list(suppliers))
    found: dict[int, list[PurchaseOrderLine]] = defaultdict(list)
    for row in rows.iterator(chunk_size=2_000):
        if len(found[row.order.supplier_id]) < MOST:
            found[row.order.supplier_id].append(row)
    came = _came([row.pk for rows in found.values() for row in rows], zone)
    return {
        supplier: [Line(row, _record(row, came.get(row.pk, []))) for row in rows] for supplier, rows in found.items()
    }


def _came(numbers: Sequence[int], zone: str) -> Mapping[int, list[tuple[dt.date, int, int]]]:
    wanted = set(numbers)
    found: dict[int, list[tuple[dt.date, int, int]]] = defaultdict(list)
    booked = DeliveryLine.objects.filter(
        order_line__isnull=False, delivery__state=Delivery.State.BOOKED, delivery__happened_at__isnull=False
    ).order_by("pk")
    facts = booked.values_list("order_line_id", "delivery__happened_at", "qty", "bars")
    for number, at, qty, bars in facts.iterator(chunk_size=5_000):
        if number in wanted and at is not None:
            found[number or 0].append((clock.local_date(at, zone), qty, bars or 0))
    return found


def _record(row: PurchaseOrderLine, came: Sequence[tuple[dt.date, int, int]]) -> Record:
    order = row.order
    whole = row.bars or row.qty
    shares: dict[dt.date, float] = defaultdict(float)
    left = 1.0
    for day, qty, bars in came:
        share = min(left, (bars if row.bars else qty) / whole)
        if share > 0:
            shares[max(day, order.ordered_on)] += share
            left -= share
    if shares and order.closed_at is not None:
        all_of_it = sum(shares.values())
        shares = defaultdict(float, {day: share / all_of_it for day, share in shares.items()})
    promised = order.first_confirmed_on or order.confirmed_on or order.wanted_on
    return Record(order.ordered_on, promised, tuple(sorted(shares.items())))


def told(record: Sequence[Line]) -> list[Line]:
    """Return the lines that teach something: not those closed without anything having come."""
    return [one for one in record if one.record.came or one.line.order.closed_at is None]


def of_item(item: Item, record: Sequence[Line], *, today: dt.date) -> LeadTime:
    """Return the lead time of an item from its supplier's lines; what is believed is the item's own, else the supplier's.

    Lines that were closed without anything having come teach nothing.
    """
    known = told(record)
    own = [one.record for one in known if one.line.item_id == item.pk]
    others = [one.record for one in known if one.line.item_id != item.pk]
    written = item.lead_days
    if written is None and item.supplier is not None:
        written = item.supplier.lead_days
    return lead_times.learn(own, others, written=written, today=today)
