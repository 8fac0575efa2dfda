"""Reads of what is set aside: which items hang together, which holds have lapsed, which pieces belong to whom."""

import datetime as dt
from collections.abc import Iterable

from inventory.models import Allocation, AllocationPart, Holding, Lot, Movement, Place, RecipePart


def parts_of(ids: Iterable[int]) -> set[int]:
    """Return the items that go into these."""
    return set(RecipePart.objects.filter(tool_id__in=ids).values_list("part_id", flat=True))


def lapsed_together(ids: Iterable[int], *, at: dt.datetime) -> set[int]:
    """Return every item of the lapsed allocations that touch these items."""
    lapsed = AllocationPart.objects.filter(
        open=True, item_id__in=ids, allocation__closed_at=None, allocation__expires_at__lte=at
    )
    together = AllocationPart.objects.filter(open=True, allocation_id__in=lapsed.values("allocation_id"))
    return set(together.values_list("item_id", flat=True))


def lapsed_within(ids: Iterable[int], *, at: dt.datetime) -> list[Allocation]:
    """Return the lapsed allocations that touch nothing but these items."""
    ids = list(ids)
    open_parts = AllocationPart.objects.filter(open=True)
    return list(
        Allocation.objects.filter(closed_at=None, expires_at__lte=at)
        .filter(pk__in=open_parts.filter(item_id__in=ids).values("allocation_id"))
        .exclude(pk__in=open_parts.exclude(item_id__in=ids).values("allocation_id"))
        .order_by("id")
    )


def lapsed_items(*, at: dt.datetime, most: int) -> set[int]:
    """Return the items of the allocations that lapsed first."""
    first = Allocation.objects.filter(closed_at=None, expires_at__lte=at).order_by("expires_at", "id")[:most]
    parts = AllocationPart.objects.filter(open=True, allocation_id__in=[allocation.pk for allocation in first])
    return set(parts.values_list("item_id", flat=True))


def open_parts_on(holding: Holding) -> list[AllocationPart]:
    """Return what is set aside of one holding."""
    parts = AllocationPart.objects.filter(holding=holding, open=True).select_related("allocation")
    return list(parts.order_by("id"))


def open_parts(allocation: Allocation, item_id: int | None = None) -> list[AllocationPart]:
    """Return what an allocation holds, of one item or of all, with the lots and places."""
    parts = AllocationPart.objects.filter(allocation=allocation, open=True)
    if item_id is not None:
        parts = parts.filter(item_id=item_id)
    return list(parts.select_related("holding__lot__item", "holding__lot__melt", "holding__place").order_by("id"))


def lots_moved(entry_id: int) -> list[tuple[Lot, int]]:
    """Return the lots that an entry moved and how much of each."""
    movements = Movement.objects.filter(entry_id=entry_id).select_related("lot__item").order_by("line")
    return [(movement.lot, movement.qty) for movement in movements]


def standing_at(place: Place, lot_ids: Iterable[int]) -> dict[int, int]:
    """Return how much of each lot stands free at a place, at step 0."""
    holdings = Holding.objects.filter(place=place, lot_id__in=lot_ids, step=0)
    return {holding.lot_id: holding.on_hand - holding.allocated for holding in holdings}
