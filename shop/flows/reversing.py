"""Undoing a whole entry; the delivery, shipment, return or decision it belongs to follows."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Cut, Delivery, Entry, OvenLoad
from inventory.services import cut_planning, ovens, receiving
from inventory.services import reversing as book
from inventory.services.ledger import Locks, Stamp
from inventory.services.reversing import CannotReverse
from orders.models import OrderLine, Return, ReturnOutcome, Shipment
from orders.services import for_shelf, reserving, returning, shipping
from shop.shared import audit, transactions
from shop.shared.errors import NotFound

# These change a fact beside the quantity, or were decided by somebody: they are answered anew, not undone.
ANSWERED_ANEW = {
    Entry.Kind.CORRECTION: "corrected a fact; correct it again instead",
    Entry.Kind.TAKE_BACK: "brought pieces back; take them out again instead",
    Entry.Kind.NOT_TO_BE_USED: "took steel or pieces out of use; the owner puts them back instead",
}


@dataclass(frozen=True, slots=True)
class Reversed:
    """The entry that undoes, and the order lines that got pieces through it."""

    entry: Entry
    served: Sequence[OrderLine]


def reverse(entry_id: int, *, stamp: Stamp) -> Reversed:
    """Undo an entry whole, once, and only while everything it moved lies where it put it."""
    transactions.assert_open()
    entry = Entry.objects.filter(pk=entry_id).first()
    if entry is None:
        raise NotFound(
            f"The book has no line {entry_id}; look the number up in it.", {"entry": "The book has no such line."}
        )
    why = ANSWERED_ANEW.get(Entry.Kind(entry.kind))
    if why:
        raise CannotReverse(f"Line {entry.pk} of the book {why}.")
    locks = reserving.lock_and_tidy(book.items_of(entry), at=stamp.at)
    _refuse_if_answered(entry)
    undoing = _reverse(entry, locks, stamp)
    _follow(entry, locks, stamp)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="entry undone",
        subject=f"entry {entry.pk}",
        after={"undone_by": undoing.pk, "kind": entry.kind},
        reason=stamp.reason,
    )
    return Reversed(undoing, reserving.serve_waiting(locks))


def _reverse(entry: Entry, locks: Locks, stamp: Stamp) -> Entry:
    try:
        return book.reverse(entry, locks=locks, stamp=stamp)
    except CannotReverse as refusal:
        number = refusal.facts.get("first")
        first = Entry.objects.filter(pk=number).first() if isinstance(number, int) else None
        why = ANSWERED_ANEW.get(Entry.Kind(first.kind)) if first else None
        if first and why:
            raise CannotReverse(
                f"Line {entry.pk} of the book cannot be undone any more: line {first.pk} {why}.",
                facts={"first": first.pk},
            ) from refusal
        raise


def _refuse_if_answered(entry: Entry) -> None:
    returned = Return.objects.filter(entry=entry).first()
    if returned and returned.inspected:
        raise CannotReverse(f"Return {returned.number} was inspected; undo what inspection decided first.")
    gone = Shipment.objects.filter(reversed_at=None, lines__line__in=_replacements(entry)).order_by("-id").first()
    if gone:
        raise CannotReverse(
            f"What replaces it went out as shipment {gone.number}; undo line {gone.entry_id} of the book first.",
            facts={"first": gone.entry_id},
        )
    back = Return.objects.filter(shipment_line__shipment__entry=entry, reversed_at=None).order_by("-id").first()
    if back:
        raise CannotReverse(
            f"Some of it came back as return {back.number}; undo line {back.entry_id} of the book first.",
            facts={"first": back.entry_id},
        )


def _replacements(entry: Entry) -> QuerySet[OrderLine]:
    decided = ReturnOutcome.objects.filter(entry=entry, replacement__isnull=False)
    return OrderLine.objects.filter(pk__in=decided.values("replacement"))


def _follow(entry: Entry, locks: Locks, stamp: Stamp) -> None:
    """Put right what belongs to the entry besides stock."""
    cut = Cut.objects.filter(entry=entry).first()
    if cut:
        cut_planning.cut_undone(cut)
    if entry.kind == Entry.Kind.RUN_STARTED:
        for_shelf.undone(entry, at=stamp.at, by=stamp.by)
    if entry.kind == Entry.Kind.OVEN:
        ovens.undone(OvenLoad.objects.filter(entry=entry).first(), OvenLoad.objects.filter(out_entry=entry).first())
    delivery = Delivery.objects.filter(entry=entry).select_related("order").first()
    if delivery:
        receiving.undo(delivery)
    shipment = Shipment.objects.filter(entry=entry).first()
    if shipment:
        shipping.undo(shipment, locks=locks, stamp=stamp)
    returned = Return.objects.filter(entry=entry).first()
    if returned:
        returning.undo_return(returned, stamp=stamp)
    decided = ReturnOutcome.objects.filter(entry=entry).select_related("replacement__order").first()
    if decided:
        returning.undo_decision(decided, locks=locks, stamp=stamp)
