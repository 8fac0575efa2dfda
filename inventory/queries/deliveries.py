"""What is expected at the door, what was begun and not booked, and what came."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from inventory.calc.shares import difference_ppm
from inventory.models import Bar, Delivery, DeliveryLine, Item, Lot, PurchaseOrder, PurchaseOrderLine


@dataclass(frozen=True, slots=True)
class Expected:
    """A purchase order of which something is still to come, and the day it should."""

    order: PurchaseOrder
    day: dt.date | None
    lines: Sequence[PurchaseOrderLine]

    def late(self, today: dt.date) -> bool:
        """Return whether its day has passed."""
        return self.day is not None and self.day < today


@dataclass(frozen=True, slots=True)
class CameLine:
    """One line of a booked delivery with its lots and how far the scale is off the computed mass."""

    line: DeliveryLine
    lots: Sequence[Lot]

    @property
    def bars(self) -> list[Bar]:
        """Return the bars of the line in the order they were typed."""
        return [lot.bar for lot in self.lots] if self.line.bars else []

    @property
    def off_ppm(self) -> int | None:
        """Return how far the scale is off, in parts per million; nothing where it was not weighed."""
        if self.line.scale_mass_mg is None or self.line.computed_mass_mg is None:
            return None
        return difference_ppm(self.line.scale_mass_mg, self.line.computed_mass_mg)


def expected() -> list[Expected]:
    """Return the open purchase orders, the one that should come first first; those without a day come last."""
    orders = PurchaseOrder.objects.filter(closed_at=None).select_related("supplier")
    found = [Expected(order, order.confirmed_on or order.wanted_on, to_come(order)) for order in _with_lines(orders)]
    return sorted(found, key=lambda e: (e.day or dt.date.max, e.order.number))


def _with_lines(orders: QuerySet[PurchaseOrder]) -> QuerySet[PurchaseOrder]:
    lines = PurchaseOrderLine.objects.select_related("item__grade", "item__section").order_by("number")
    return orders.prefetch_related(Prefetch("lines", queryset=lines)).order_by("number")


def order(number: int) -> PurchaseOrder | None:
    """Return a purchase order with its lines."""
    return _with_lines(PurchaseOrder.objects.filter(number=number).select_related("supplier")).first()


def to_come(order: PurchaseOrder) -> list[PurchaseOrderLine]:
    """Return the lines of which something is still to come: bars are counted, other goods measured in their unit."""
    return [
        line
        for line in order.lines.all()
        if (line.received_bars < line.bars if line.bars is not None else line.received < line.qty)
    ]


def drafts() -> QuerySet[Delivery]:
    """Select the deliveries that were begun and not booked; those emptied again are left out."""
    begun = Delivery.objects.filter(state=Delivery.State.DRAFT).exclude(note="begun by mistake", draft__lines=[])
    return begun.select_related("supplier", "order", "started_by").order_by("-number")


def recent(*, most: int = 12) -> QuerySet[Delivery]:
    """Select the deliveries that came last."""
    came = Delivery.objects.exclude(state=Delivery.State.DRAFT).select_related("supplier", "order", "entry__by")
    return came.order_by("-number")[:most]


def by_number(number: int) -> Delivery | None:
    """Return a delivery by its number."""
    return Delivery.objects.select_related("supplier", "order", "entry__by", "started_by").filter(number=number).first()


def lines_of(delivery: Delivery) -> list[CameLine]:
    """Return the lines of a booked delivery with their lots."""
    lots = Lot.objects.select_related("bar__section", "item", "melt").prefetch_related("bar__remnants").order_by("id")
    lines = delivery.lines.select_related("item__grade", "item__section", "melt", "order_line")
    return [
        CameLine(line, list(line.lots.all()))
        for line in lines.prefetch_related(Prefetch("lots", lots)).order_by("number")
    ]


def unmeasured() -> QuerySet[Bar]:
    """Select the bars that stand at the door and wait to be measured, oldest first."""
    waiting = Bar.objects.filter(measured=False, lot__holdings__place__code="DOOR", lot__holdings__on_hand__gt=0)
    return waiting.select_related("lot__item", "lot__melt", "section", "lot__delivery_line__delivery").order_by(
        "lot_id"
    )


def receivable_items() -> QuerySet[Item]:
    """Select what can be bought by the piece, box or measure; bars are received by grade and section."""
    return Item.objects.filter(active=True).exclude(kind__in=(Item.Kind.BAR, Item.Kind.TOOL)).order_by("code")
