"""Pieces that are gone are gone: orders give way, the last promised first, and are named."""

import datetime as dt
from collections.abc import Iterable, Sequence

from inventory.models import AllocationPart, Holding
from inventory.services.ledger import Locks
from orders.models import OrderLine
from orders.services import reserving
from shop.shared.errors import Refusal

LAST = 2**62


class SetAsideMeanwhile(Refusal):
    """Pieces were set aside together with other items between the look and the lock."""

    code = "set_aside_meanwhile"


def lock(item_ids: Iterable[int], *, at: dt.datetime) -> Locks:
    """Lock the items and everything their allocations hang together with, so that orders can give way."""
    ids = set(item_ids)
    locks = reserving.lock_and_tidy(_together(ids), at=at)
    if not _together(ids) <= locks.ids:
        raise SetAsideMeanwhile("Somebody set pieces of it aside in the same moment; book it again.")
    return locks


def _together(ids: set[int]) -> set[int]:
    touched = AllocationPart.objects.filter(open=True, item_id__in=ids).values("allocation_id")
    parts = AllocationPart.objects.filter(open=True, allocation_id__in=touched).values_list("item_id", flat=True)
    lines = OrderLine.objects.filter(allocation_id__in=touched).values_list("item_id", flat=True)
    return ids | set(parts) | {item_id for item_id in lines if item_id is not None}


def make_room(locks: Locks, holdings: Sequence[Holding], qty: int) -> list[OrderLine]:
    """Free what is missing of so many over these holdings; return the lines that gave way, the last promised first."""
    free = sum(holding.on_hand - holding.allocated for holding in holdings)
    gave: dict[int, OrderLine] = {}
    while free < qty:
        part = _last_promised(holdings)
        if part is None:
            raise RuntimeError(f"{qty} are to be freed, {free} are free and nothing is set aside.")
        holding = Holding.objects.get(pk=part.holding_id)
        for line in reserving.give_way(locks, holding, min(part.qty, qty - free)):
            gave[line.pk] = line
        fresh = Holding.objects.filter(pk__in=[holding.pk for holding in holdings])
        free = sum(holding.on_hand - holding.allocated for holding in fresh)
    return list(gave.values())


def _last_promised(holdings: Sequence[Holding]) -> AllocationPart | None:
    parts = list(AllocationPart.objects.filter(holding__in=[h.pk for h in holdings], open=True).order_by("id"))
    queue = dict(
        OrderLine.objects.filter(allocation_id__in=[part.allocation_id for part in parts]).values_list(
            "allocation_id", "queue_no"
        )
    )
    # A hold has no day given, so it gives way before any order.
    return max(parts, key=lambda part: queue.get(part.allocation_id, LAST), default=None)


def said(lines: Sequence[OrderLine]) -> str:
    """Name the orders that gave way; nothing where none did."""
    names = [f"order {line.order.number} line {line.number}" for line in lines]
    if not names:
        return ""
    return f"{', '.join(names)} gave way and {'wait' if len(names) > 1 else 'waits'} for pieces again.".capitalize()
