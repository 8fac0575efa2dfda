"""The days that stand: for each open order, and each line with a day of its own, the day given and what is still owed."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import F

from orders.models import Order, OrderLine, Promise, RatedPromise


@dataclass(frozen=True, slots=True)
class Standing:
    """A day that stands; `first` is the day given first in its chain, `times` how often it was given anew."""

    order: Order
    day: dt.date
    given_at: dt.datetime
    first: Promise
    times: int
    slips: bool
    lines: tuple[OrderLine, ...]


def standing() -> list[Standing]:
    """Return what stands, the next day first, in two queries; a line with a day of its own is not in its order's."""
    given = Promise.objects.filter(order__closed_at=None, order__release=None)
    chain = {one.pk: one for one in given.select_related("order", "rated").order_by("id")}
    replaced = {one.supersedes_id for one in chain.values()}
    last = [one for one in chain.values() if one.pk not in replaced]
    own = {one.line_id for one in last if one.line_id is not None}
    owed: dict[int, list[OrderLine]] = defaultdict(list)
    lines = OrderLine.objects.filter(order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
    for line in lines.select_related("item").order_by("order", "number"):
        owed[line.order_id].append(line)
    found = []
    for one in sorted(last, key=lambda each: (each.day, each.pk)):
        mine = [line for line in owed[one.order_id] if (line.pk == one.line_id if one.line_id else line.pk not in own)]
        if mine:
            first, times = _root(one, chain)
            found.append(Standing(one.order, one.day, one.given_at, first, times, _slips(one), tuple(mine)))
    return found


def _root(promise: Promise, chain: Mapping[int, Promise]) -> tuple[Promise, int]:
    times = 0
    while promise.supersedes_id is not None:
        promise, times = chain[promise.supersedes_id], times + 1
    return promise, times


def _slips(promise: Promise) -> bool:
    rated: RatedPromise | None = getattr(promise, "rated", None)
    return rated is not None and rated.slips_since is not None
