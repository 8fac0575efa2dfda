"""The one place that writes quantities: entries, movements, holdings and the items' counters.

The write rule: the first stock statement of a transaction locks the item rows in id order (`lock`); only then are
holdings touched. Whoever posts must show the lock, so that nobody can forget it.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import F

from inventory.models import Entry, Holding, ItemStock, Lot, Movement, Place
from inventory.queries import seals
from shop.access.actor import Actor
from shop.shared import bell, transactions
from shop.shared.errors import Invalid, Refusal

Kind = Entry.Kind


class NotThere(Refusal):
    """More was taken from a place than stands there free."""

    code = "not_there"


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who books it, when it is typed, when it happened, and why."""

    at: dt.datetime
    by: Actor
    happened_at: dt.datetime | None = None
    device: str = ""
    reason: str = ""

    @property
    def when(self) -> dt.datetime:
        """Return when it happened: what was said, or the moment it was typed."""
        return self.happened_at or self.at


@dataclass(frozen=True, slots=True)
class Line:
    """One movement to be posted; quantity in the item's unit."""

    lot: Lot
    qty: int
    source: Place
    target: Place
    source_step: int = 0
    target_step: int = 0
    mass_mg: int | None = None
    basis: str = ""


@dataclass(frozen=True, slots=True)
class Locks:
    """Proof that these items' rows are locked in the open transaction."""

    ids: frozenset[int]
    at: dt.datetime = field(compare=False)

    def need(self, item_ids: Iterable[int]) -> None:
        """Raise where an item was not locked: a programming error."""
        missing = sorted(set(item_ids) - self.ids)
        if missing:
            raise RuntimeError(f"Items {missing} are written without their lock.")


def lock(item_ids: Iterable[int], *, at: dt.datetime) -> Locks:
    """Lock the items' rows in id order and raise their version; the first stock statement of a transaction."""
    transactions.assert_open()
    ids = sorted(set(item_ids))
    for item_id in ids:
        rows = ItemStock.objects.filter(pk=item_id).update(version=F("version") + 1, changed_at=at)
        if rows != 1:
            raise RuntimeError(f"Item {item_id} has no stock row.")
    bell.ring_after_commit()  # days given may have become less sure
    return Locks(frozenset(ids), at)


def begin(kind: str, *, lines: int, stamp: Stamp, reverses: Entry | None = None) -> Entry:
    """Write the head of an entry of so many lines; the lots it makes can then name it."""
    transactions.assert_open()
    if stamp.when > stamp.at:
        raise Invalid.field("happened_at", "Happened at lies in the future; write a time that has passed.")
    entry = Entry(
        kind=kind,
        happened_at=stamp.when,
        booked_at=stamp.at,
        by=stamp.by.person,
        device=stamp.device or ("" if stamp.by.person else stamp.by.label),
        reason=stamp.reason,
        reverses=reverses,
        lines=lines,
    )
    entry.seal = seals.entry_seal(entry)
    entry.save(force_insert=True)
    return entry


def post(entry: Entry, lines: Sequence[Line], locks: Locks) -> list[Movement]:
    """Post the lines of an entry: take from holdings, give to holdings, keep the items' counters."""
    if len(lines) != entry.lines:
        raise RuntimeError(f"Entry {entry.pk} was begun with {entry.lines} lines and gets {len(lines)}.")
    locks.need(line.lot.item_id for line in lines)
    sellable: dict[int, int] = defaultdict(int)
    for line in lines:
        if line.qty < 1:
            raise RuntimeError("A movement moves at least one unit.")
        _take(line)
        _give(line)
        sellable[line.lot.item_id] += line.qty * (
            _sells(line.target, line.target_step) - _sells(line.source, line.source_step)
        )
    for item_id, change in sorted(sellable.items()):
        if change:
            ItemStock.objects.filter(pk=item_id).update(sellable=F("sellable") + change)
    return Movement.objects.bulk_create([_movement(entry, number, line) for number, line in enumerate(lines, 1)])


def commit(kind: str, lines: Sequence[Line], *, locks: Locks, stamp: Stamp, reverses: Entry | None = None) -> Entry:
    """Write an entry and its lines in one go, where no lot has to name the entry first."""
    entry = begin(kind, lines=len(lines), stamp=stamp, reverses=reverses)
    post(entry, lines, locks)
    return entry


def change_waiting(locks: Locks, item_id: int, change: int) -> None:
    """Add to what lines wait for of an item."""
    locks.need([item_id])
    if change:
        ItemStock.objects.filter(pk=item_id).update(waiting=F("waiting") + change)


def _sells(place: Place, step: int) -> int:
    return int(place.sellable and step == 0)


def _take(line: Line) -> None:
    if not line.source.inside:
        return
    rows = Holding.objects.filter(
        lot=line.lot, place=line.source, step=line.source_step, on_hand__gte=F("allocated") + line.qty
    ).update(on_hand=F("on_hand") - line.qty)
    if rows != 1:
        there = Holding.objects.filter(lot=line.lot, place=line.source, step=line.source_step).first()
        free = there.on_hand - there.allocated if there else 0
        raise NotThere(
            f"Lot {line.lot.code} has {free} free at {line.source.name}, not {line.qty}; "
            "take less, or release what is set aside.",
            {"qty": f"Only {free} are free there."},
            {"available": free, "requested": line.qty},
        )


def _give(line: Line) -> None:
    if not line.target.inside:
        return
    key = {"lot": line.lot, "place": line.target, "step": line.target_step}
    if not Holding.objects.filter(**key).update(on_hand=F("on_hand") + line.qty):
        Holding.objects.create(**key, item_id=line.lot.item_id, on_hand=line.qty)


def _movement(entry: Entry, number: int, line: Line) -> Movement:
    movement = Movement(
        entry=entry,
        line=number,
        item_id=line.lot.item_id,
        lot=line.lot,
        from_place=line.source,
        from_step=line.source_step,
        to_place=line.target,
        to_step=line.target_step,
        qty=line.qty,
        mass_mg=line.mass_mg,
        basis=line.basis,
    )
    movement.seal = seals.movement_seal(movement)
    return movement
