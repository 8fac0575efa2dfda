"""What can be promised now: one snapshot for one, many or all items.

Can promise = sellable - allocated + expired and not yet released - what waiting lines would take of it.
A tool counts its finished ones and the sets its free parts would make.
"""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from django.db.models import Count, Max, Sum

from inventory.models import AllocationPart, Item, ItemStock, RecipePart


@dataclass(frozen=True, slots=True)
class Listed:
    """What a list tells of an item; rows of a model cost five times as much, which is most of a long list."""

    pk: int
    code: str
    name: str
    kind: str
    unit: str
    active: bool
    reorder_point: int | None
    eye_size: str
    section_nm: int | None


AnItem = TypeVar("AnItem", Item, Listed)


@dataclass(frozen=True, slots=True)
class Availability(Generic[AnItem]):
    """One item's figures in its own unit; `parts` is how many more could be made up."""

    item: AnItem
    there: int
    spoken_for: int
    waiting: int
    parts: int
    can_promise: int
    version: int
    as_of: dt.datetime | None
    etag: str


@dataclass(slots=True)
class _Row:
    sellable: int
    allocated: int
    waiting: int
    version: int
    changed_at: dt.datetime | None
    expired: int = 0
    lapses: int = 0  # allocations that lapsed and are not released yet
    lapsed_at: dt.datetime | None = None
    claims: dict[int, int] = field(default_factory=dict)  # tool: what lines waiting for it may take when those go free
    claim_lapses: int = 0

    def left(self, tool_id: int | None = None) -> int:
        """Return what is left for one who asks now, or for making up a tool, when those who wait are served."""
        claimed = sum(qty for claimant, qty in self.claims.items() if claimant != tool_id) if self.claims else 0
        return self.sellable - self.allocated + self.expired - self.waiting - claimed


@dataclass(frozen=True, slots=True)
class _Lapsed:
    qty: int
    count: int
    last: dt.datetime


def of(item_ids: Iterable[int] | None, *, at: dt.datetime) -> list[Availability[Item]]:
    """Return the availability of these items (all active ones where None), by code."""
    items = Item.objects.order_by("code", "id")
    items = items.filter(active=True) if item_ids is None else items.filter(pk__in=list(item_ids))
    wanted = list(items)
    recipes = _recipes(None if item_ids is None else [item.pk for item in wanted])
    ids = None if item_ids is None else {i.pk for i in wanted} | {p for parts in recipes.values() for p, _ in parts}
    rows = _rows(ids, at)
    return [_availability(item, recipes.get(item.pk, []), rows) for item in wanted if item.pk in rows]


def listed(*, codes: Sequence[str] | None = None, at: dt.datetime) -> list[Availability[Listed]]:
    """Return the availability of all that is sold, or of these codes among it, by code; for long lists."""
    found = Item.objects.exclude(kind=Item.Kind.BAR).order_by("code", "id")
    found = found.filter(active=True) if codes is None else found.filter(code__in=codes)
    columns = ("pk", "code", "name", "kind", "unit", "active", "reorder_point", "eye_size", "section__size_nm")
    wanted = [Listed(*row) for row in found.values_list(*columns)]
    recipes = _recipes(None if codes is None else [item.pk for item in wanted])
    ids = None if codes is None else {i.pk for i in wanted} | {p for parts in recipes.values() for p, _ in parts}
    rows = _rows(ids, at)
    return [_availability(item, recipes.get(item.pk, []), rows) for item in wanted if item.pk in rows]


def one(item: Item, *, at: dt.datetime) -> Availability[Item]:
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
    if ids is not None:
        stock = stock.filter(pk__in=ids)
    columns = stock.values_list("item_id", "sellable", "allocated", "waiting", "version", "changed_at")
    rows = {row[0]: _Row(*row[1:]) for row in columns}
    lapsed = _lapsed(at)
    if lapsed:
        _leave_out_lapsed(rows, lapsed)
        _leave_to_those_who_wait(rows, lapsed)
    return rows


def _lapsed(at: dt.datetime) -> dict[int, _Lapsed]:
    """Return what has lapsed and is not released; the sweep leaves none for longer than a minute, so it is asked whole."""
    parts = AllocationPart.objects.filter(open=True, allocation__closed_at=None, allocation__expires_at__lte=at)
    totals = parts.values_list("item_id").annotate(
        qty=Sum("qty"), count=Count("allocation_id", distinct=True), last=Max("allocation__expires_at")
    )
    return {item_id: _Lapsed(int(qty), count, last) for item_id, qty, count, last in totals}


def _leave_out_lapsed(rows: dict[int, _Row], lapsed: dict[int, _Lapsed]) -> None:
    for item_id, lapse in lapsed.items():
        row = rows.get(item_id)
        if row is not None:
            row.expired, row.lapses, row.lapsed_at = lapse.qty, lapse.count, lapse.last


def _leave_to_those_who_wait(rows: dict[int, _Row], lapsed: dict[int, _Lapsed]) -> None:
    """Leave to the lines that wait for a tool what they may take of its parts once the lapsed pieces are released.

    Without a lapse such a line has taken all it can. With one it takes at most a set for each tool it waits for; that
    is left out whole, so that nothing is promised that the release would give away first.
    """
    recipes: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
    waiting = RecipePart.objects.filter(tool__stock__waiting__gt=0)
    for tool_id, waits, part_id, per in waiting.values_list("tool_id", "tool__stock__waiting", "part_id", "quantity"):
        recipes[tool_id, waits].append((part_id, per))
    for (tool_id, waits), parts in recipes.items():
        released = [lapsed[i] for i in (tool_id, *(part for part, _ in parts)) if i in lapsed]
        for part_id, per in parts if released else []:
            row = rows.get(part_id)
            if row is not None:
                row.claims[tool_id] = waits * per
                row.claim_lapses += sum(lapse.count for lapse in released)
                row.lapsed_at = max(filter(None, [row.lapsed_at, *(lapse.last for lapse in released)]))


def _availability(item: AnItem, recipe: list[tuple[int, int]], rows: dict[int, _Row]) -> Availability[AnItem]:
    row = rows[item.pk]
    made = min((max(0, rows[part].left(item.pk)) // per for part, per in recipe), default=0)
    seen = [row, *(rows[part] for part, _ in recipe)]
    moments = [moment for r in seen for moment in (r.changed_at, r.lapsed_at) if moment]
    return Availability(
        item=item,
        there=row.sellable,
        spoken_for=row.allocated - row.expired,
        waiting=row.waiting,
        parts=made,
        can_promise=max(0, row.left() + made),
        version=sum(r.version for r in seen),
        as_of=max(moments, default=None),
        etag=_etag([item.pk, *(part for part, _ in recipe)], seen),
    )


def _etag(ids: list[int], rows: list[_Row]) -> str:
    text = ";".join(
        f"{item_id}:{row.version}:{row.lapses}:{sum(row.claims.values())}:{row.claim_lapses}"
        for item_id, row in zip(ids, rows, strict=True)
    )
    return hashlib.blake2b(text.encode(), digest_size=9).hexdigest()
