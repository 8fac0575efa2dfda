"""The book, newest line first: entries with what they moved, in pages that stay put while new lines are written."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Max, Q, QuerySet, Sum

from inventory.models import Delivery, Entry, Item, Lot, Movement, OvenLoad, Place, RunCount, TakeOut

PAGE = 50


@dataclass(frozen=True, slots=True)
class Moved:
    """What an entry moved of one item from one place to another, its lots taken together."""

    item: Item
    source: Place
    target: Place
    qty: int
    lots: int


@dataclass(frozen=True, slots=True)
class Written:
    """One entry of the book with what it moved and the paper behind it."""

    entry: Entry
    moved: tuple[Moved, ...]
    delivery: Delivery | None
    take_out: TakeOut | None
    undone_by: int | None
    count: RunCount | None = None
    load: OvenLoad | None = None
    run: str = ""


@dataclass(frozen=True, slots=True)
class Sought:
    """What of the book is wanted; nothing said is everything."""

    item_id: int | None = None
    lot_id: int | None = None
    kind: str = ""
    after: dt.datetime | None = None
    until: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Some entries, and the number before which older ones follow, where there are any."""

    entries: list[Written]
    older: int | None


def page(sought: Sought, *, before: int | None = None, size: int = PAGE) -> Page:
    """Return one page of the book."""
    entries = _selected(sought)
    if before is not None:
        entries = entries.filter(pk__lt=before)
    found = list(entries.order_by("-pk")[: size + 1])
    older = found[size - 1].pk if len(found) > size else None
    return Page(written(found[:size]), older)


def _selected(sought: Sought) -> QuerySet[Entry]:
    entries = Entry.objects.select_related("by", "reverses")
    if sought.kind:
        entries = entries.filter(kind=sought.kind)
    if sought.after is not None:
        entries = entries.filter(happened_at__gte=sought.after)
    if sought.until is not None:
        entries = entries.filter(happened_at__lt=sought.until)
    touching = Q()
    if sought.item_id is not None:
        touching &= Q(item=sought.item_id)
    if sought.lot_id is not None:
        touching &= Q(lot=sought.lot_id)
    if touching:
        entries = entries.filter(pk__in=Movement.objects.filter(touching).values("entry_id"))
    return entries


def written(entries: list[Entry]) -> list[Written]:
    """Return entries with what they moved: the same few queries however many lines they have."""
    ids = [entry.pk for entry in entries]
    moved = _moved(ids)
    deliveries = {d.entry_id: d for d in Delivery.objects.filter(entry__in=ids).select_related("supplier", "order")}
    take_outs = {t.entry_id: t for t in TakeOut.objects.filter(entry__in=ids)}
    kinds = {entry.kind for entry in entries}
    counts, loads, runs = _on_the_floor(ids) if kinds & _FLOOR else ({}, {}, {})
    undone = dict(Entry.objects.filter(reverses__in=ids).values_list("reverses_id", "id"))
    return [
        Written(
            entry,
            tuple(moved[entry.pk]),
            deliveries.get(entry.pk),
            take_outs.get(entry.pk),
            undone.get(entry.pk),
            counts.get(entry.pk),
            loads.get(entry.pk),
            runs.get(entry.pk, ""),
        )
        for entry in entries
    ]


_FLOOR = {Entry.Kind.RUN_STARTED, Entry.Kind.RUN_SPLIT, Entry.Kind.RUN_COUNT, Entry.Kind.OVEN, Entry.Kind.HAFTED}


def _on_the_floor(ids: Iterable[int]) -> tuple[dict[int, RunCount], dict[int, OvenLoad], dict[int, str]]:
    """Return the counts, oven loads and runs behind entries."""
    wanted = list(ids)
    counts = {c.entry_id: c for c in RunCount.objects.filter(entry__in=wanted).select_related("run", "step")}
    runs = dict(Lot.objects.filter(entry__in=wanted, run__isnull=False).values_list("entry_id", "run__code"))
    return counts, _loads(wanted), runs


def _loads(ids: Iterable[int]) -> dict[int, OvenLoad]:
    """Return the oven load that an entry put in or took out."""
    wanted = list(ids)
    found: dict[int, OvenLoad] = {}
    for load in OvenLoad.objects.filter(Q(entry__in=wanted) | Q(out_entry__in=wanted)):
        found[load.entry_id] = load
        if load.out_entry_id:
            found[load.out_entry_id] = load
    return found


def _moved(entry_ids: Iterable[int]) -> dict[int, list[Moved]]:
    grouped = (
        Movement.objects.filter(entry__in=list(entry_ids))
        .values("entry_id", "item_id", "from_place_id", "to_place_id")
        .annotate(total=Sum("qty"), lots=Count("lot_id", distinct=True), last=Max("line"))
        .order_by("entry_id", "last")
    )
    rows = list(grouped)
    items = Item.objects.select_related("section").in_bulk({row["item_id"] for row in rows})
    places = Place.objects.in_bulk({row[side] for row in rows for side in ("from_place_id", "to_place_id")})
    moved: dict[int, list[Moved]] = defaultdict(list)
    for row in rows:
        moved[row["entry_id"]].append(
            Moved(
                items[row["item_id"]],
                places[row["from_place_id"]],
                places[row["to_place_id"]],
                row["total"],
                row["lots"],
            )
        )
    return moved


def find_entry(number: int) -> Entry | None:
    """Return the entry of this number."""
    return Entry.objects.select_related("by", "reverses").filter(pk=number).first()


def lines(entry: Entry, *, most: int = 600) -> list[Movement]:
    """Return the lines of an entry in their order."""
    found = entry.movements.select_related("item__section", "lot__melt", "lot__bar", "from_place", "to_place")
    return list(found.order_by("line")[:most])


def last_number() -> int:
    """Return the number of the newest entry, nought where the book is empty."""
    return int(Entry.objects.aggregate(last=Max("pk"))["last"] or 0)
