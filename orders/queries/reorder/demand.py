"""What was asked for, week by week: orders taken, what could not be given, and what the shop used up itself."""

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from django.db.models import Min

from inventory.models import Entry, Item, Lot, Movement, Place
from orders.models import OWN_SOURCE, PROGRAM_SOURCE, Notice, OrderLine
from orders.queries.reorder.refused import Refusals
from orders.queries.reorder.structure import Structure
from shop.shared import clock

WEEKS: Final = 156  # looked back at, three years
Weekly = npt.NDArray[np.float32]
_USED: Final = (Place.Kind.OWN_USE, Place.Kind.WORKED_UP, Place.Kind.DIFFERENCE)


@dataclass(frozen=True, slots=True)
class Demand:
    """Items in rows, weeks in columns, the last of which ended yesterday; `since` is the first week an item was known."""

    rows: dict[int, int]
    weekly: Weekly
    since: npt.NDArray[np.int64]
    begins: dt.date

    def of(self, item_id: int) -> tuple[int, ...]:
        """Return the weeks of an item since it was known, whole units."""
        row = self.rows[item_id]
        return tuple(round(float(one)) for one in self.weekly[row, int(self.since[row]) :])


def demand(built: Structure, *, today: dt.date, zone: str, weeks: int = WEEKS) -> Demand:
    """Return what customers' demand and the shop's own use came to, item by item and week by week, through the recipes.

    Lines and refusals marked as one-off, releases and what was cancelled are left out; what was cancelled because the shop
    was late was wanted all the same, and counts. What a part was asked for is
    what the tools it goes into were asked for, and its own sales; what is in no recipe is counted as it was used up.
    """
    begins = today - dt.timedelta(days=7 * weeks)
    rows = {item: at for at, item in enumerate(built.items)}
    found = Demand(rows, np.zeros((len(rows), weeks), dtype=np.float32), _known(rows, begins, zone, weeks), begins)
    parts = {one.part for one in built.goes}
    start = clock.at_local(begins, 0, zone)
    end = clock.at_local(today, 0, zone)
    refusals = Refusals(start, end)
    for events in (_ordered(start, end, refusals), refusals.events(), _used(start, end, built, parts)):
        _add(found, events, start)
    for one in built.goes:
        whole, part = rows[one.whole], rows[one.part]
        found.weekly[part] += np.float32(one.per) * found.weekly[whole]
    _known_by_demand(found, built)
    return found


Event = tuple[int, dt.datetime, int]


def _add(found: Demand, events: Iterable[Event], start: dt.datetime) -> None:
    weeks = found.weekly.shape[1]
    zero, week = start.timestamp(), 7 * 86_400
    for item, at, qty in events:
        row = found.rows.get(item)
        if row is not None:
            found.weekly[row, min(weeks - 1, max(0, int((at.timestamp() - zero) // week)))] += qty


def _ordered(start: dt.datetime, end: dt.datetime, refusals: Refusals) -> Iterator[Event]:
    lines = OrderLine.objects.filter(
        item__isnull=False, one_off=False, order__taken_at__gte=start, order__taken_at__lt=end
    ).exclude(order__source__startswith=OWN_SOURCE)
    late = set(Notice.objects.filter(answer=Notice.Answer.CANCELLED).values_list("order_id", flat=True))
    rows = lines.order_by().values_list(
        "item_id", "order__taken_at", "ordered", "cancelled", "order_id", "order__source"
    )
    for item, at, ordered, cancelled, order, source in rows.iterator(chunk_size=5_000):
        wanted = ordered if order in late else ordered - cancelled
        if wanted > 0:
            yield item or 0, at, wanted
            if source == PROGRAM_SOURCE:
                refusals.note_taken(item or 0, at, wanted)


def _used(start: dt.datetime, end: dt.datetime, built: Structure, parts: set[int]) -> Iterator[Event]:
    """Yield what went to own use; of what is in no recipe also what was worked up or missing when it was counted."""
    whole = {one.pk for one in built.items.values() if one.kind == Item.Kind.CONSUMABLE and one.pk not in parts}
    lines = Movement.objects.filter(
        entry__happened_at__gte=start, entry__happened_at__lt=end, entry__reversed_by=None
    ).exclude(entry__kind=Entry.Kind.REVERSAL)
    bought = lines.filter(item__kind=Item.Kind.CONSUMABLE)
    own = lines.filter(to_place__kind=Place.Kind.OWN_USE).exclude(item__kind__in=(Item.Kind.BAR, Item.Kind.BLANK))
    for rows, sign, plain in (
        (own, 1, True),
        (bought.filter(to_place__kind__in=_USED), 1, False),
        (bought.filter(from_place__kind__in=_USED), -1, False),
    ):
        found = rows.order_by().values_list("item_id", "entry__happened_at", "qty")
        for item, at, qty in found.iterator(chunk_size=5_000):
            if (item in whole) is not plain:
                yield item, at, sign * qty


def _known(rows: dict[int, int], begins: dt.date, zone: str, weeks: int) -> npt.NDArray[np.int64]:
    """Return the week in which each item came into the book; the last week where it never did."""
    since = np.full(len(rows), weeks - 1, dtype=np.int64)
    first = Lot.objects.order_by().values_list("item_id").annotate(first=Min("born_at"))
    for item, at in first.iterator(chunk_size=5_000):
        row = rows.get(item)
        if row is not None:
            since[row] = min(weeks - 1, max(0, (clock.local_date(at, zone) - begins).days // 7))
    return since


def _known_by_demand(found: Demand, built: Structure) -> None:
    """An item is known from the first week it was asked for on, and a part as long as what it goes into."""
    np.maximum(found.weekly, 0, out=found.weekly)
    asked = found.weekly > 0
    first = np.where(asked.any(axis=1), asked.argmax(axis=1), found.weekly.shape[1] - 1)
    np.minimum(found.since, first, out=found.since)
    for one in built.goes:
        whole, part = found.rows[one.whole], found.rows[one.part]
        found.since[part] = min(found.since[part], found.since[whole])
