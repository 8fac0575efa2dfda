"""What can be promised now: one snapshot for one, many or all items.

Can promise = sellable - allocated + expired and not yet released - what waiting lines would take of it.
A tool counts its finished ones and the sets its free parts would make.
"""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Max, Sum

from inventory.models import AllocationPart, Item, ItemStock, RecipePart


@dataclass(frozen=True, slots=True)
class Availability:
    """One item's figures in its own unit; `parts` is how many more could be made up."""

    item: Item
    there: int
    spoken_for: int
    waiting: int
    parts: int
    can_promise: int
    version: int
    as_of: dt.datetime | None
    etag: str


@dataclass(frozen=True, slots=True)
class _Row:
    sellable: int
    allocated: int
    waiting: int
    version: int
    changed_at: dt.datetime | None
    expired: int
    lapsed: int
    lapsed_at: dt.datetime | None

    @property
    def free(self) -> int:
        return self.sellable - self.allocated + self.expired

    @property
    def spare(self) -> int:
        """Return what is free once the lines that wait for this item itself are served."""
        return max(0, self.free - self.waiting)


def of(item_ids: Iterable[int] | None, *, at: dt.datetime) -> list[Availability]:
    """Return the availability of these items (all active ones where None), by code."""
    items = Item.objects.order_by("code", "id")
    items = items.filter(active=True) if item_ids is None else items.filter(pk__in=list(item_ids))
    wanted = list(items)
    recipes = _recipes(None if item_ids is None else [item.pk for item in wanted])
    ids = None if item_ids is None else {i.pk for i in wanted} | {p for parts in recipes.values() for p, _ in parts}
    rows = _rows(ids, at)
    return [_availability(item, recipes.get(item.pk, []), rows) for item in wanted if item.pk in rows]


def one(item: Item, *, at: dt.datetime) -> Availability:
    """Return the availability of one item."""
    recipe = _recipes([item.pk]).get(item.pk, []) if item.kind == Item.Kind.TOOL else []
    return _availability(item, recipe, _rows({item.pk, *(part for part, _ in recipe)}, at))


def _recipes(tool_ids: list[int] | None) -> dict[int, list[tuple[int, int]]]:
    parts = RecipePart.objects.order_by("tool_id", "part_id")
    if tool_ids is not None:
        parts = parts.filter(tool_id__in=tool_ids)
    recipes: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for tool_id, part_id, quantity in parts.values_list("tool_id", "part_id", "quantity"):
        recipes[tool_id].append((part_id, quantity))
    return recipes


def _rows(ids: set[int] | None, at: dt.datetime) -> dict[int, _Row]:
    stock = ItemStock.objects.all()
    parts = AllocationPart.objects.filter(open=True, allocation__closed_at=None, allocation__expires_at__lte=at)
    if ids is not None:
        stock = stock.filter(pk__in=ids)
        parts = parts.filter(item_id__in=ids)
    lapsed = {
        item_id: (qty, count, last)
        for item_id, qty, count, last in parts.values_list("item_id").annotate(
            qty=Sum("qty"), count=Count("allocation_id", distinct=True), last=Max("allocation__expires_at")
        )
    }
    rows = {}
    for item_id, sellable, allocated, waiting, version, changed_at in stock.values_list(
        "item_id", "sellable", "allocated", "waiting", "version", "changed_at"
    ):
        qty, count, last = lapsed.get(item_id, (0, 0, None))
        rows[item_id] = _Row(sellable, allocated, waiting, version, changed_at, int(qty), count, last)
    return rows


def _availability(item: Item, recipe: list[tuple[int, int]], rows: dict[int, _Row]) -> Availability:
    row = rows[item.pk]
    made = min((rows[part].spare // per for part, per in recipe), default=0)
    seen = [row, *(rows[part] for part, _ in recipe)]
    moments = [moment for r in seen for moment in (r.changed_at, r.lapsed_at) if moment]
    return Availability(
        item=item,
        there=row.sellable,
        spoken_for=row.allocated - row.expired,
        waiting=row.waiting,
        parts=made,
        can_promise=max(0, row.free + made - row.waiting),
        version=sum(r.version for r in seen),
        as_of=max(moments, default=None),
        etag=_etag([item.pk, *(part for part, _ in recipe)], seen),
    )


def _etag(ids: list[int], rows: list[_Row]) -> str:
    text = ";".join(f"{item_id}:{row.version}:{row.lapsed}" for item_id, row in zip(ids, rows, strict=True))
    return hashlib.blake2b(text.encode(), digest_size=9).hexdigest()
