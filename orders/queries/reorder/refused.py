"""What could not be given, as demand: who asks again is counted once, and less what was taken instead at once."""

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from inventory.models import RefusedDemand

_ASKED_AGAIN: Final = dt.timedelta(days=1)  # within it one asker's refusals of one item are one demand. No source
_TAKEN_INSTEAD: Final = dt.timedelta(
    hours=1
)  # within it an order of no more than there was is the same buyer's. No source


@dataclass(slots=True)
class Refusal:
    """One asker's demand of one item, in its unit; `there` is the most of it that could have been had."""

    first: dt.datetime
    last: dt.datetime
    qty: int
    there: int
    taken: int = 0


class Refusals:
    """The refusals of a time, by item and in the order they were asked."""

    def __init__(self, start: dt.datetime, end: dt.datetime) -> None:
        self._by_item: dict[int, list[Refusal]] = defaultdict(list)
        rows = RefusedDemand.objects.filter(one_off=False, at__gte=start, at__lt=end).order_by("at", "pk")
        asked: dict[tuple[int, str], Refusal] = {}
        columns = rows.values_list("item_id", "asked_by", "at", "qty", "available")
        for item, asked_by, at, qty, there in columns.iterator(chunk_size=5_000):
            one = asked.get((item, asked_by))
            if one is not None and at - one.first <= _ASKED_AGAIN:
                one.last, one.qty, one.there = at, max(one.qty, qty), max(one.there, there)
            else:
                one = asked[item, asked_by] = Refusal(at, at, qty, there)
                self._by_item[item].append(one)

    def note_taken(self, item: int, at: dt.datetime, qty: int) -> None:
        """Hear of a program's order: right after a refusal, and for what there was, it is part of what was asked for."""
        there = self._by_item.get(item)
        if not there:
            return
        for one in reversed(there[: bisect_right(there, at, key=lambda one: one.first)]):
            if at - one.first > _ASKED_AGAIN + _TAKEN_INSTEAD:
                return
            if not one.taken and qty <= one.there and at - one.last <= _TAKEN_INSTEAD:
                one.taken = qty
                return

    def events(self) -> Iterator[tuple[int, dt.datetime, int]]:
        """Yield item, instant and what of the demand no order speaks for; once the orders were heard."""
        for item, rows in self._by_item.items():
            for one in rows:
                if one.qty > one.taken:
                    yield item, one.first, one.qty - one.taken
