"""Releases as they stand: what is left, what was taken, and whether one may be bought from now."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, QuerySet, Sum

from inventory.models import Item
from orders.models import OWN_SOURCE, Order, OrderLine, Release

TO_COME, OPEN, SOLD_OUT, CLOSED, ENDED = "to come", "open", "sold out", "closed", "ended"
STATES = (TO_COME, OPEN, SOLD_OUT, CLOSED, ENDED)


@dataclass(frozen=True, slots=True)
class Standing:
    """One release: `left` is set aside for it, `waits` still to come, `taken` went into `orders` orders."""

    release: Release
    line: OrderLine
    taken: int
    orders: int
    state: str

    @property
    def item(self) -> Item:
        """Return what it keeps."""
        assert self.line.item is not None
        return self.line.item

    @property
    def left(self) -> int:
        """Return how many are set aside for it now."""
        return self.line.reserved

    @property
    def waits(self) -> int:
        """Return how many it still waits for."""
        return self.line.waiting


def source_of(release: Release) -> str:
    """Return the source of the orders taken out of a release."""
    return f"{OWN_SOURCE} {release.pk}"


def orders_of(release: Release) -> QuerySet[Order]:
    """Select the orders taken out of a release, newest first."""
    return Order.objects.filter(source=source_of(release)).select_related("customer").order_by("-number")


def state(release: Release, line: OrderLine, *, at: dt.datetime) -> str:
    """Return how a release stands at a moment; one that closes at noon is closed at noon."""
    if release.ended_at is not None:
        return ENDED
    if at < release.opens_at:
        return TO_COME
    if release.closes_at is not None and release.closes_at <= at:
        return CLOSED
    return OPEN if line.reserved or line.waiting else SOLD_OUT


def listed() -> QuerySet[Release]:
    """Select all releases, the newest first."""
    return Release.objects.select_related("order").order_by("-id")


def find(number: int) -> Release | None:
    """Return a release by its number."""
    return Release.objects.select_related("order").filter(pk=number).first()


def of_order(order: Order) -> Release | None:
    """Return the release whose pieces an order keeps, or out of which it was taken."""
    if order.source == OWN_SOURCE:
        return Release.objects.select_related("order").filter(order=order).first()
    start, _, number = order.source.partition(" ")
    own = start == OWN_SOURCE and number.isdecimal()
    return Release.objects.select_related("order").filter(pk=int(number)).first() if own else None


def standing(releases: Sequence[Release], *, at: dt.datetime) -> list[Standing]:
    """Return how these stand, in their order, in two queries for all of them."""
    lines = {
        line.order_id: line
        for line in OrderLine.objects.filter(order__in=[one.order_id for one in releases]).select_related("item")
    }
    taken = {
        source: (pieces, orders)
        for source, pieces, orders in Order.objects.filter(
            source__in=[source_of(one) for one in releases], lines__number=1
        )
        .order_by()
        .values_list("source")
        .annotate(pieces=Sum("lines__ordered"), orders=Count("pk"))
    }
    found = []
    for one in releases:
        line = lines[one.order_id]
        pieces, orders = taken.get(source_of(one), (0, 0))
        found.append(Standing(one, line, pieces, orders, state(one, line, at=at)))
    return found


def open_ones() -> QuerySet[Release]:
    """Select the releases that are not ended, the one that opens first first."""
    return Release.objects.filter(ended_at=None).select_related("order").order_by("opens_at", "id")


def to_look_at(*, at: dt.datetime, until: dt.datetime) -> list[Standing]:
    """Return those that open before a moment or are open, and those that closed with pieces left, for the Day sheet."""
    rows = standing(list(open_ones().filter(opens_at__lt=until)), at=at)
    return [row for row in rows if row.left or row.waits]
