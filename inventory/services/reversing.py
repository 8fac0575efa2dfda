"""Undoing a whole entry, once, and only while everything it moved still lies where it put it."""

from collections import Counter
from collections.abc import Sequence

from django.db.models import Q

from inventory.models import AllocationPart, Entry, Holding, Movement
from inventory.services import ledger
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared.errors import Refusal


class CannotReverse(Refusal):
    """The entry cannot be undone as the book stands; the sentence says what to undo first."""

    code = "cannot_reverse"


def items_of(entry: Entry) -> set[int]:
    """Return the items whose rows must be locked to undo an entry."""
    return set(entry.movements.values_list("item_id", flat=True))


def reverse(entry: Entry, *, locks: Locks, stamp: Stamp) -> Entry:
    """Write the entry that undoes another one line by line."""
    if entry.kind == Entry.Kind.REVERSAL:
        raise CannotReverse(
            f"Line {entry.pk} of the book undoes line {entry.reverses_id}; book what happened anew instead."
        )
    undone = Entry.objects.filter(reverses=entry).first()
    if undone:
        raise CannotReverse(
            f"Line {entry.pk} of the book was undone by line {undone.pk} already; nothing is left to undo."
        )
    movements = list(entry.movements.select_related("lot__item", "from_place", "to_place").order_by("-line"))
    brought = _brought(movements)
    for movement in movements:
        _refuse_if_touched(movement, brought[movement.lot_id, movement.to_place_id, movement.to_step])
    lines = [
        Line(
            lot=m.lot,
            qty=m.qty,
            source=m.to_place,
            source_step=m.to_step,
            target=m.from_place,
            target_step=m.from_step,
            mass_mg=m.mass_mg,
            basis=m.basis,
        )
        for m in movements
    ]
    return ledger.commit(Entry.Kind.REVERSAL, lines, locks=locks, stamp=stamp, reverses=entry)


def _brought(movements: Sequence[Movement]) -> Counter[tuple[int, int, int]]:
    """Return what an entry brought to each place; what it brought and took away again comes to nothing."""
    brought: Counter[tuple[int, int, int]] = Counter()
    for m in movements:
        brought[m.lot_id, m.to_place_id, m.to_step] += m.qty
        brought[m.lot_id, m.from_place_id, m.from_step] -= m.qty
    return brought


def _refuse_if_touched(movement: Movement, brought: int) -> None:
    if not movement.to_place.inside:
        return
    later = (
        Movement.objects.filter(
            Q(from_place=movement.to_place_id, from_step=movement.to_step),
            lot=movement.lot_id,
            entry_id__gt=movement.entry_id,
            entry__reversed_by=None,
            entry__reverses=None,
        )
        .order_by("-entry_id")
        .first()
    )
    if later:
        raise CannotReverse(
            f"Lot {movement.lot.code} was moved on by line {later.entry_id} of the book; undo that line first.",
            facts={"first": later.entry_id},
        )
    holding = Holding.objects.get(lot=movement.lot_id, place=movement.to_place_id, step=movement.to_step)
    if holding.on_hand - holding.allocated < brought:
        part = AllocationPart.objects.filter(holding=holding, open=True).order_by("id").first()
        raise CannotReverse(
            f"{holding.allocated} of lot {movement.lot.code} are set aside; release them first.",
            facts={"allocation": part.allocation_id if part else None},
        )
