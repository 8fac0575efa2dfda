"""Count sheets as they are read: what is due, what stands where, what the book said at a moment, how right it is."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Exists, Max, OuterRef, Q, Sum
from django.db.models.functions import Coalesce

from inventory.calc.counts import accuracy as measuring
from inventory.calc.counts import due as turns
from inventory.calc.counts.accuracy import Accuracy
from inventory.calc.counts.due import Day, Thing
from inventory.models import Bar, Entry, Holding, Item, Lot, Movement, Place, StockCount, StockCountLine
from shop.shared import clock

COUNTED_AT = (Place.Kind.RACK, Place.Kind.BIN, Place.Kind.SHELF)


@dataclass(frozen=True, slots=True)
class ToCount:
    """One item at a place, or one bar."""

    item: Item
    place: Place
    lot: Lot | None = None


def last_counted(zone: str) -> dict[int, dt.date]:
    """Return the day each item was counted last, on a sheet or by itself."""
    found: dict[int, dt.datetime] = {}
    lines = StockCountLine.objects.filter(counted__isnull=False).order_by()
    counts = Movement.objects.filter(entry__kind=Entry.Kind.COUNT, entry__reversed_by=None).order_by()
    for rows in (
        lines.values_list("item_id").annotate(at=Max("counted_at")),
        counts.values_list("item_id").annotate(at=Max("entry__happened_at")),
    ):
        for item, at in rows:
            if at is not None and (item not in found or at > found[item]):
                found[item] = at
    return {item: clock.local_date(at, zone) for item, at in found.items()}


def due(counted: Mapping[int, str], *, today: dt.date, zone: str, open_days: int) -> Day:
    """Return what is due to be counted today of the items that stand on rack, bin or shelf.

    Args:
        counted: how often each item is counted, by its id; what is missing is counted sometimes.
        today: an open day of the shop.
        zone: of the shop.
        open_days: days a week it is open.
    """
    last = last_counted(zone)
    held = Holding.objects.filter(on_hand__gt=0, step=0, place__kind__in=COUNTED_AT, item__active=True).order_by()
    items = dict(held.values_list("item_id", "item__code").distinct())
    things = [Thing(code, counted.get(pk, "sometimes"), last.get(pk)) for pk, code in items.items()]
    return turns.due(things, today, open_days)


def of_items(codes: Iterable[str]) -> list[ToCount]:
    """Return every place where items stand, and every bar of those that are steel."""
    return _stands(Q(item__code__in=list(codes)))


def of_place(place: Place) -> list[ToCount]:
    """Return what the book knows at a place."""
    return _stands(Q(place=place))


def of_kind(kind: str) -> list[ToCount]:
    """Return every place where a kind of item stands."""
    return _stands(Q(item__kind=kind))


def _stands(where: Q) -> list[ToCount]:
    held = Holding.objects.filter(where, on_hand__gt=0, step=0, place__kind__in=COUNTED_AT, item__active=True)
    rows = held.select_related("item", "place", "lot").order_by("place__code", "item__code", "lot__code")
    found: dict[tuple[int, int, int], ToCount] = {}
    for row in rows:
        bar = row.item.kind == Item.Kind.BAR
        key = (row.place_id, row.item_id, row.lot_id if bar else 0)
        found.setdefault(key, ToCount(row.item, row.place, row.lot if bar else None))
    return list(found.values())


def sheet(number: int) -> StockCount | None:
    """Return a count sheet by its number."""
    return StockCount.objects.select_related("opened_by").filter(number=number).first()


def lines(count: StockCount) -> list[StockCountLine]:
    """Return the lines of a sheet in their order; bars with their numbers."""
    return list(count.lines.select_related("item__section", "place", "lot__bar", "entry").order_by("number"))


def open_sheets() -> list[StockCount]:
    """Return the sheets that are not closed, the oldest first."""
    return list(StockCount.objects.filter(closed_at=None).order_by("number"))


def there(item: Item, place: Place, lot: Lot | None, *, at: dt.datetime) -> tuple[int, int]:
    """Return what the book says stands now, and what it says stood at a moment, whoever booked it since.

    What moved after that moment is taken off again by when it happened; what was undone never happened, so an undoing
    counts at the moment of what it undoes. Read under the item's lock.
    """
    held = Holding.objects.filter(item=item, place=place, step=0)
    happened = Coalesce("entry__reverses__happened_at", "entry__happened_at")
    # The first condition lets the index find the few that matter.
    moved = Movement.objects.filter(item=item, entry__happened_at__gt=at).annotate(happened=happened)
    moved = moved.filter(happened__gt=at)
    if lot is not None:
        held, moved = held.filter(lot=lot), moved.filter(lot=lot)
    now = int(held.aggregate(sum=Sum("on_hand"))["sum"] or 0)
    came = int(moved.filter(to_place=place, to_step=0).aggregate(sum=Sum("qty"))["sum"] or 0)
    went = int(moved.filter(from_place=place, from_step=0).aggregate(sum=Sum("qty"))["sum"] or 0)
    return now, now - came + went


def counted_later(line: StockCountLine, *, at: dt.datetime) -> dt.datetime | None:
    """Return when the same thing was counted at a later moment than this, on a sheet or by itself."""
    lines = StockCountLine.objects.filter(item=line.item, place=line.place, lot=line.lot, counted_at__gt=at)
    moved = Movement.objects.filter(item=line.item, entry__kind=Entry.Kind.COUNT, entry__happened_at__gt=at)
    moved = moved.filter(Q(from_place=line.place) | Q(to_place=line.place), entry__reversed_by=None)
    moved = moved.filter(lot=line.lot) if line.lot_id else moved
    found = [*lines.values_list("counted_at", flat=True), *moved.values_list("entry__happened_at", flat=True)]
    return max((one for one in found if one is not None), default=None)


def last_word(*, since: dt.datetime) -> list[StockCountLine]:
    """Return the last counted line of each item and place since a moment, bars left out.

    Where its entry was undone somebody has said that the count was wrong, so that it is no word on anything.
    """
    rows = StockCountLine.objects.filter(counted_at__gte=since, lot=None).order_by("counted_at", "pk")
    rows = rows.annotate(undone=Exists(Entry.objects.filter(reverses=OuterRef("entry"))))
    newest = {(one.item_id, one.place_id): one for one in rows.select_related("item", "place", "count", "entry")}
    return [one for one in newest.values() if not one.undone]


def whole_counts(item: Item) -> list[dt.datetime]:
    """Return the moments at which an item was counted whole, the oldest first: all its lines of a sheet were."""
    by_sheet: dict[int, list[dt.datetime | None]] = defaultdict(list)
    rows = StockCountLine.objects.filter(item=item, lot=None).order_by("pk")
    for count, at in rows.values_list("count_id", "counted_at"):
        by_sheet[count].append(at)
    told = [[at for at in times if at is not None] for times in by_sheet.values() if None not in times]
    return sorted({max(times) for times in told})


def gone(item: Item, start: dt.datetime, end: dt.datetime) -> int:
    """Return what of an item was used between two counts: booked as used or worked up, and what counts found missing."""
    used = (Place.Kind.OWN_USE, Place.Kind.WORKED_UP, Place.Kind.DIFFERENCE)
    happened = Coalesce("entry__reverses__happened_at", "entry__happened_at")
    moved = Movement.objects.filter(item=item).annotate(happened=happened).filter(happened__gt=start, happened__lte=end)
    out = moved.filter(from_place__inside=True, to_place__kind__in=used).aggregate(sum=Sum("qty"))["sum"]
    back = moved.filter(to_place__inside=True, from_place__kind__in=used).aggregate(sum=Sum("qty"))["sum"]
    return max(0, int(out or 0) - int(back or 0))


def length_of(lot: Lot) -> int:
    """Return a bar's length, nanometres."""
    return Bar.objects.values_list("length_nm", flat=True).get(lot=lot)


def accuracy(counted: Mapping[int, str], *, since: dt.datetime) -> dict[str, Accuracy]:
    """Return how right the book was by how often things are counted, and of all; classes without a count are missing."""
    rows = StockCountLine.objects.filter(counted__isnull=False, counted_at__gte=since).values_list(
        "item_id", "expected", "counted", "tolerance"
    )
    by_class: dict[str, list[measuring.Line]] = defaultdict(list)
    for item, expected, found, tolerance in rows:
        line = measuring.Line(expected or 0, found or 0, tolerance or 0)
        by_class[counted.get(item, "sometimes")].append(line)
        by_class["all"].append(line)
    told = {name: measuring.accuracy(found) for name, found in by_class.items()}
    return {name: one for name, one in told.items() if one is not None}


def off(count: StockCount) -> Sequence[StockCountLine]:
    """Return the lines of a sheet that were further off than allowed."""
    return [
        one for one in lines(count)
        if one.counted is not None and one.expected is not None and abs(one.counted - one.expected) > (one.tolerance or 0)
    ]  # fmt: skip
