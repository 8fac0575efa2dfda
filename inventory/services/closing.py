"""Closing a month: what stood where at its end, so that the nightly check need not begin at the first movement."""

import datetime as dt
from collections import defaultdict

from django.db.models import Max

from inventory.models import BookClose, Holding, Movement
from inventory.queries.checking.counters import Key, moved
from inventory.queries.checking.span import last_movement
from shop.shared import clock, transactions
from shop.shared.errors import Refusal

# Whoever was booking when the month ended has long finished, so no movement turns up below the last one of the close.
SETTLED = dt.timedelta(hours=1)
_BATCH = 1000


class CannotClose(Refusal):
    """The month is not over, or it or a later one is closed."""

    code = "cannot_close"


def due(*, at: dt.datetime, zone: str) -> dt.date | None:
    """Return the first day of the last month that is over and not closed, or nothing."""
    today = clock.local_date(at - SETTLED, zone)
    month = (today.replace(day=1) - dt.timedelta(days=1)).replace(day=1)
    return None if BookClose.objects.filter(month__gte=month).exists() else month


def close_month(month: dt.date, *, at: dt.datetime, zone: str) -> int:
    """Write what every holding stood at after the last movement booked in the month; return how many rows that were.

    It is summed up from the movements and never copied from the counters, whose faults it must not hide.
    """
    transactions.assert_open()
    if month.day != 1:
        raise CannotClose(f"A month is named by its first day; write {month.replace(day=1)}.")
    end = _end(month, zone)
    if at < end + SETTLED:
        raise CannotClose(f"{month:%Y-%m} is not over; close it an hour after its end or later.")
    if BookClose.objects.filter(month__gte=month).exists():
        raise CannotClose(f"{month:%Y-%m} or a later month is closed already; close the next one when it is over.")
    before = BookClose.objects.order_by("-month").values_list("month", flat=True).first()
    after = last_movement(before) if before else 0
    upto = max(after, _last_before(end))
    balance = _stood(before) if before else defaultdict(int)
    for key, qty in moved(after=after, upto=upto).items():
        balance[key] += qty
    ids = {
        (lot, place, step): pk
        for pk, lot, place, step in Holding.objects.values_list("pk", "lot_id", "place_id", "step").iterator(_BATCH)
    }
    rows = [
        BookClose(month=month, holding_id=ids[key], qty=qty, last_movement=upto)
        for key, qty in sorted(balance.items())
        if qty
    ]
    BookClose.objects.bulk_create(rows, batch_size=_BATCH)
    return len(rows)


def _stood(month: dt.date) -> dict[Key, int]:
    """Return what every holding stood at when a month was closed."""
    balance: dict[Key, int] = defaultdict(int)
    rows = BookClose.objects.filter(month=month).values_list(
        "holding__lot_id", "holding__place_id", "holding__step", "qty"
    )
    for lot, place, step, qty in rows.iterator(_BATCH):
        balance[lot, place, step] = qty
    return balance


def _last_before(end: dt.datetime) -> int:
    last: int | None = Movement.objects.filter(entry__booked_at__lt=end).aggregate(last=Max("pk"))["last"]
    return last or 0


def _end(month: dt.date, zone: str) -> dt.datetime:
    following = (month + dt.timedelta(days=31)).replace(day=1)
    return clock.at_local(following, 0, zone)
