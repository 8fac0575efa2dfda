"""Setting aside for order lines, serving those that wait, and giving way when pieces are lost.

Every write that touches stock goes: reach -> lock -> tidy (lapsed holds let go, waiting lines served) -> act -> serve.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.db.models import F, Q

from inventory.queries import setting_aside
from inventory.services import allocating, cut_planning, ledger
from inventory.services.allocating import NotEnough
from inventory.services.ledger import Locks
from orders.models import Hold, OrderLine
from shop.shared import transactions
from shop.shared.errors import Invalid

if TYPE_CHECKING:
    from inventory.models import Allocation, AllocationPart, Holding

MANY = 2**62


def reach(item_ids: Iterable[int], *, at: dt.datetime) -> set[int]:
    """Return every item that acting on these may touch: their parts, tools that wait for them, lapsed holds on them."""
    ids: set[int] = set()
    fresh = set(item_ids)
    while fresh:
        ids |= fresh
        fresh = setting_aside.parts_of(fresh) | _waiting_tools(fresh) | setting_aside.lapsed_together(fresh, at=at)
        fresh -= ids
    return ids


def _waiting_tools(ids: set[int]) -> set[int]:
    lines = OrderLine.objects.filter(gathers=True, item__recipe__part_id__in=ids)
    return {item_id for item_id in lines.values_list("item_id", flat=True) if item_id is not None}


def lock_and_tidy(item_ids: Iterable[int], *, at: dt.datetime) -> Locks:
    """Lock all that is in reach, let lapsed holds go and serve the lines that wait."""
    transactions.assert_open()
    locks = ledger.lock(reach(item_ids, at=at), at=at)
    if end_lapsed(locks):
        serve_waiting(locks)
    return locks


def end_lapsed(locks: Locks) -> int:
    """Let go of every lapsed hold that lies wholly inside the locked items; the rest is left to the sweep."""
    ended = 0
    for allocation in setting_aside.lapsed_within(locks.ids, at=locks.at):
        allocating.let_go_all(locks, allocation)
        Hold.objects.filter(allocation=allocation, ended_at=None).update(ended_at=locks.at, version=F("version") + 1)
        ended += 1
    return ended


def serve_waiting(locks: Locks) -> list[OrderLine]:
    """Give free pieces to the lines that gather, in queue order; return the lines that got some."""
    served = []
    lines = OrderLine.objects.filter(gathers=True, item_id__in=locks.ids).select_related("item", "order")
    for line in lines.order_by("queue_no"):
        recipe = allocating.recipe_of(line.item_id) if line.item_id else {}
        if not locks.ids >= set(recipe) or line.item_id is None:
            continue  # it came to wait after the lock was taken: the sweep serves it
        finished, made = allocating.can_take(line.item_id, recipe)
        take = min(line.waiting, finished + made)
        if take:
            set_aside(locks, line, take)
            served.append(line)
    return served


def set_aside(locks: Locks, line: OrderLine, qty: int) -> None:
    """Set aside so many for a line, or refuse; the line stops waiting for them."""
    if line.item_id is None:
        raise Invalid.field("line", "A made-to-order line has no stock to set aside until it is made.")
    if not 1 <= qty <= line.waiting:
        raise Invalid.field("qty", f"Line {line.number} still waits for {line.waiting}; set aside 1 to {line.waiting}.")
    if line.allocation_id is None or line.reserved == 0:
        line.allocation = allocating.open_allocation(at=locks.at)
    allocation = line.allocation
    if allocation is None:
        raise RuntimeError("A line that holds pieces has an allocation.")
    allocating.add(locks, allocation, line.item_id, qty)
    _shift(locks, line, reserved=qty)


def let_go(locks: Locks, line: OrderLine, qty: int, *, waits: bool) -> None:
    """Let go of pieces set aside for a line; it gathers again where `waits` says so."""
    if not 1 <= qty <= line.reserved:
        raise Invalid.field("qty", f"Line {line.number} has {line.reserved} set aside; let go 1 to {line.reserved}.")
    if line.item_id is None or line.allocation is None:
        raise RuntimeError("A line that holds pieces has an item and an allocation.")
    allocating.let_go(locks, line.allocation, line.item_id, qty, reserved=line.reserved)
    _shift(locks, line, reserved=-qty, gathers=line.gathers or waits)


def gather(locks: Locks, line: OrderLine) -> None:
    """Let a line gather what it still waits for, in queue order."""
    _shift(locks, line, gathers=True)


def join(locks: Locks, line: OrderLine, allocation: Allocation, qty: int) -> None:
    """Take over a hold's allocation for a line that has none yet: a change of owner, counters untouched."""
    if line.reserved or line.waiting < qty:
        raise RuntimeError("Only a line that waits for as many can take over a hold.")
    allocating.keep(allocation)
    line.allocation = allocation
    _shift(locks, line, reserved=qty)


def _shift(locks: Locks, line: OrderLine, *, reserved: int = 0, gathers: bool | None = None) -> None:
    """Write a line's quantities and keep the item's waiting counter with them."""
    before = line.waiting if line.gathers else 0
    line.reserved += reserved
    if gathers is not None:
        line.gathers = gathers
    if line.waiting == 0:
        line.gathers = False
    if line.reserved == 0:
        line.allocation = None
    store(locks, line, before=before)


def store(locks: Locks, line: OrderLine, *, before: int) -> None:
    """Save a line whose quantities changed and carry the change of what gathers into the item's row."""
    line.version += 1
    line.save(update_fields=["ordered", "shipped", "cancelled", "reserved", "gathers", "allocation", "version"])
    after = line.waiting if line.gathers else 0
    if line.item_id is not None:
        ledger.change_waiting(locks, line.item_id, after - before)


def give_way(locks: Locks, holding: Holding, qty: int) -> list[OrderLine]:
    """Free so many allocated pieces of a holding that were lost: holds first, then the line promised last.

    Returns the lines that lost pieces; they gather again at their old place in the queue.
    """
    lost: list[OrderLine] = []
    left = qty
    parts = setting_aside.open_parts_on(holding)
    owners = OrderLine.objects.filter(allocation_id__in=[part.allocation_id for part in parts])
    lines = {line.allocation_id: line for line in owners.select_related("item", "order", "allocation")}
    ordered = sorted(
        parts, key=lambda part: -lines[part.allocation_id].queue_no if part.allocation_id in lines else -MANY
    )
    for part in ordered:
        if left <= 0:
            break
        left -= _give_way_part(locks, part, left, lines.get(part.allocation_id))
        if part.allocation_id in lines:
            lost.append(lines[part.allocation_id])
    return lost


def _give_way_part(locks: Locks, part: AllocationPart, left: int, line: OrderLine | None) -> int:
    before = part.qty
    if line is None:
        allocating.let_go_all(locks, part.allocation)
        Hold.objects.filter(allocation=part.allocation_id, ended_at=None).update(
            ended_at=locks.at, version=F("version") + 1
        )
        cut_planning.gave_way([part.allocation_id], at=locks.at)
        return before
    # A set of parts is let go whole: a head without its handle is of no use to the line.
    per = 1 if part.item_id == line.item_id else allocating.recipe_of(line.item_id or 0).get(part.item_id, 1)
    take = min(left, part.qty)
    tools = -(-take // per)
    if part.item_id == line.item_id:
        allocating.let_go_part(locks, part, take)
        if tools == line.reserved and line.allocation:
            allocating.close(line.allocation, at=locks.at)
    else:
        if line.allocation is None or line.item_id is None:
            raise RuntimeError("A line that holds pieces has an item and an allocation.")
        allocating.let_go(
            locks, line.allocation, line.item_id, tools, reserved=line.reserved, lost_from=part.holding_id
        )
    _shift(locks, line, reserved=-tools, gathers=True)
    return min(before, tools * per)


def sweep(*, at: dt.datetime) -> int:
    """Let go of every lapsed hold and serve the lines that wait; one transaction's worth."""
    transactions.assert_open()
    items = setting_aside.lapsed_items(at=at, most=50)
    # Lines that wait although pieces are free: they turned up after a lock was taken.
    waiting = OrderLine.objects.filter(gathers=True).filter(
        Q(item__stock__sellable__gt=F("item__stock__allocated")) | Q(item__recipe__isnull=False)
    )
    items |= {item_id for item_id in waiting.values_list("item_id", flat=True) if item_id is not None}
    if not items:
        return 0
    locks = ledger.lock(reach(items, at=at), at=at)
    ended = end_lapsed(locks)
    return ended + len(serve_waiting(locks))


__all__ = [
    "NotEnough",
    "end_lapsed",
    "gather",
    "give_way",
    "join",
    "let_go",
    "lock_and_tidy",
    "reach",
    "serve_waiting",
    "set_aside",
    "store",
    "sweep",
]
