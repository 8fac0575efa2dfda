"""Who has to be told that a day given will not be kept, whose answer is awaited, whose money is to go back."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Q

from orders.models import Notice, Order, OrderLine, Promise, RatedPromise


@dataclass(frozen=True, slots=True)
class ToTell:
    """An open order whose day will not be kept, or is over, and whose customer has not been told since.

    `sure_day` is the day that would be as sure as was wanted, as it was rated last; `holds` what holds it up.
    """

    order: Order
    promise: Promise
    since: dt.datetime
    over: bool
    lines: tuple[OrderLine, ...]
    sure_day: dt.date | None = None
    holds: str = ""


def late(order: Order, *, today: dt.date) -> ToTell | None:
    """Return what of an order's days slips or is over, whether its customer was told or not; nothing where none is."""
    return next(iter(_late(today=today, order=order)), None)


def to_tell(*, today: dt.date) -> list[ToTell]:
    """Return the orders whose customers have to be told, the oldest day first.

    A day slips from the moment it was rated so, or is over unsent. A notice since then settles it, until the new day
    that it named is over too.
    """
    rows = _late(today=today)
    told: dict[int, list[Notice]] = defaultdict(list)
    for notice in Notice.objects.filter(order__in=[row.order.pk for row in rows]).defer("text"):
        if notice.new_day is None or notice.new_day >= today:
            told[notice.order_id].append(notice)
    return [row for row in rows if not any(one.told_at >= row.since for one in told[row.order.pk])]


def awaited() -> list[Notice]:
    """Return the last notice of each open order where it has no answer, the oldest first."""
    later = Notice.objects.filter(order=OuterRef("order"), pk__gt=OuterRef("pk"))
    found = Notice.objects.filter(~Exists(later), answer=Notice.Answer.NONE, order__closed_at=None)
    return list(found.select_related("order__customer").order_by("told_at", "id"))


def to_refund() -> list[Notice]:
    """Return the notices that were answered with cancelling, where money received has not gone back; oldest first."""
    found = Notice.objects.filter(
        answer=Notice.Answer.CANCELLED, refunded_at=None, order__received_minor__gt=0
    ).select_related("order__customer")
    return list(found.order_by("answered_at", "id"))


def of_order(order: Order) -> list[Notice]:
    """Return what the customer of an order was told, the first first."""
    return list(order.notices.select_related("promise", "by").order_by("told_at", "id"))


def find(order_number: int, notice_id: int) -> Notice | None:
    """Return a notice of an order."""
    found = Notice.objects.select_related("order__customer", "promise", "by")
    return found.filter(order__number=order_number, pk=notice_id).first()


def _late(*, today: dt.date, order: Order | None = None) -> list[ToTell]:
    standing = Promise.objects.filter(order__closed_at=None, order__release=None, superseded_by=None).filter(
        Q(line=None) | Q(line__ordered__gt=F("line__shipped") + F("line__cancelled")),
        Q(day__lt=today) | Q(rated__slips_since__isnull=False),
    )
    if order is not None:
        standing = standing.filter(order=order)
    found: dict[int, Promise] = {}
    for promise in standing.select_related("order__customer", "rated").order_by("day", "id"):
        found.setdefault(promise.order_id, promise)
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    owed = OrderLine.objects.filter(order__in=list(found), ordered__gt=F("shipped") + F("cancelled"))
    for line in owed.select_related("item").order_by("number"):
        lines[line.order_id].append(line)
    return [_row(promise, lines[promise.order_id], today) for promise in found.values()]


def _row(promise: Promise, lines: list[OrderLine], today: dt.date) -> ToTell:
    rated: RatedPromise | None = getattr(promise, "rated", None)
    mine = [line for line in lines if promise.line_id in (None, line.pk)]
    since = rated.slips_since if rated and rated.slips_since else promise.given_at
    return ToTell(
        promise.order, promise, since, promise.day < today, tuple(mine), rated.sure_day if rated else None,
        rated.holds if rated else "",
    )  # fmt: skip
