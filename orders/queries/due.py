"""Which open orders have a day given that is today or has passed, and which phone holds end soon."""

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import F, QuerySet

from orders.models import OWN_SOURCE, Hold, Order, OrderLine, Promise


@dataclass(frozen=True, slots=True)
class Due:
    """One order and one day given, with what of it has not been sent."""

    order: Order
    day: dt.date
    lines: tuple[OrderLine, ...]

    @property
    def left(self) -> int:
        """Return how many pieces are still to be sent."""
        return sum(line.ordered - line.shipped - line.cancelled for line in self.lines)

    @property
    def set_aside(self) -> int:
        """Return how many of them are set aside."""
        return sum(line.reserved for line in self.lines)


def until(day: dt.date) -> list[Due]:
    """Return what was given for this day or an earlier one and has not been sent, the oldest day first.

    A day given for a line goes before the one given for its whole order; a day that was replaced counts no more.
    """
    standing = Promise.objects.filter(superseded_by=None, order__closed_at=None).order_by("id")
    by_line: dict[int, dt.date] = {}
    by_order: dict[int, dt.date] = {}
    for promise in standing:
        if promise.line_id is None:
            by_order[promise.order_id] = promise.day
        else:
            by_line[promise.line_id] = promise.day
    grouped: dict[tuple[dt.date, int], list[OrderLine]] = defaultdict(list)
    for line in _unsent().filter(order__in={promise.order_id for promise in standing}):
        given_day = by_line.get(line.pk, by_order.get(line.order_id))
        if given_day is not None and given_day <= day:
            grouped[given_day, line.order.number].append(line)
    return [Due(lines[0].order, given, tuple(lines)) for (given, _), lines in sorted(grouped.items(), key=_first)]


def lapsing_phone_holds(*, after: dt.datetime, until: dt.datetime) -> QuerySet[Hold]:
    """Select the phone holds that end in this span."""
    return (
        Hold.objects.filter(kind=Hold.Kind.PHONE, ended_at=None, became=None, until__gt=after, until__lte=until)
        .select_related("item")
        .order_by("until", "id")
    )


def _unsent() -> QuerySet[OrderLine]:
    return (
        OrderLine.objects.filter(order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
        .exclude(order__source=OWN_SOURCE)
        .select_related("order__customer", "item", "pattern")
        .order_by("number")
    )


def _first(pair: tuple[tuple[dt.date, int], list[OrderLine]]) -> tuple[dt.date, int]:
    return pair[0]
