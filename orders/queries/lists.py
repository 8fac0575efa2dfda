"""Lists of orders, holds and shipments for readers that page through them."""

import datetime as dt

from django.db.models import Prefetch, Q, QuerySet

from orders.models import OWN_SOURCE, Hold, Order, Shipment, ShipmentLine, ShippedLot


def orders(*, state: str | None = None, customer: int | None = None, reference: str | None = None,
           since: dt.datetime | None = None) -> QuerySet[Order]:  # fmt: skip
    """Select orders of customers: open, closed or all of them."""
    found = Order.objects.exclude(source=OWN_SOURCE).select_related("customer")
    wanted = {"customer": customer, "reference": reference, "taken_at__gte": since}
    found = found.filter(**{name: value for name, value in wanted.items() if value is not None})
    return found if state is None else found.filter(closed_at__isnull=state == "open")


def holds(*, made_by: str, at: dt.datetime, every: bool = False) -> QuerySet[Hold]:
    """Select what one program put by and what still counts, or all of it."""
    found = Hold.objects.filter(made_by=made_by).select_related("item", "became__order")
    return found if every else found.filter(Q(ended_at=None), until__gt=at)


def shipments(*, order: int | None = None, since: dt.datetime | None = None) -> QuerySet[Shipment]:
    """Select shipments with what went in them."""
    lots = ShippedLot.objects.select_related("lot__melt").order_by("lot")
    lines = ShipmentLine.objects.select_related("line__item").prefetch_related(Prefetch("lots", lots))
    found = Shipment.objects.select_related("order").prefetch_related(Prefetch("lines", lines.order_by("line__number")))
    wanted = {"order__number": order, "sent_at__gte": since}
    return found.filter(**{name: value for name, value in wanted.items() if value is not None})
