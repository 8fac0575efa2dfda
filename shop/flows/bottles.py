"""A bottle read or changed: what is gone from it is booked as used, and the floor's note teaches what a piece takes."""

from itertools import pairwise

from inventory.calc.bottles import content
from inventory.models import Bottle, Entry, FloorNote, Holding, Item
from inventory.services import bottles, counting, floor_notes
from inventory.services.ledger import Stamp
from orders.services import reserving
from shop.flows import reversing
from shop.shared import transactions


def read(bottle: Bottle, quarters: int, *, version: int, stamp: Stamp) -> Entry | None:
    """Read a bottle: less than before is booked as used; more than before undoes what wrong readings booked."""
    transactions.assert_open()
    item, entry = bottle.item, None
    level = bottle.quarters if quarters <= bottle.quarters else _undone_to(bottle, quarters, stamp)
    if 0 <= quarters < level:
        entry = _use(item, content(item.issue_per_buy, level) - content(item.issue_per_buy, quarters), stamp)
    bottles.read(bottle, quarters, version=version, stamp=stamp, entry=entry)
    return entry


def change(bottle: Bottle, *, version: int, stamp: Stamp) -> Bottle | None:
    """Put a bottle in for the one that is in, which is empty by that; return the empty one."""
    transactions.assert_open()
    before = Bottle.objects.filter(item=bottle.item, in_use=True).first()
    if before is not None and before.pk != bottle.pk:
        read(before, 0, version=before.version, stamp=stamp)
    bottles.put_in(bottle, version=version, stamp=stamp)
    floor_notes.note(FloorNote.What.BOTTLE, stamp=stamp, item=bottle.item, words=f"bottle {bottle.number} put in")
    return before


def _undone_to(bottle: Bottle, quarters: int, stamp: Stamp) -> int:
    """Undo the newest uses of a bottle until it held so much before them; return how much that is, in quarters."""
    level = bottle.quarters
    for one, before in pairwise(bottle.changes.order_by("-pk")):
        if level >= quarters:
            break
        if one.entry_id is not None and not Entry.objects.filter(reverses=one.entry_id).exists():
            reversing.reverse(one.entry_id, stamp=stamp)
        level = before.quarters
    return level


def _use(item: Item, qty: int, stamp: Stamp) -> Entry | None:
    """Book gas as used, as much of it as the book knows: an empty bottle is empty whatever the book says."""
    locks = reserving.lock_and_tidy({item.pk}, at=stamp.at)
    there = Holding.objects.filter(item=item, step=0, place__sellable=True)
    free = sum(one.on_hand - one.allocated for one in there)
    taken = min(qty, free)
    entry = counting.use(item, taken, locks=locks, stamp=stamp) if taken else None
    reserving.serve_waiting(locks)
    return entry


__all__ = ["change", "read"]
