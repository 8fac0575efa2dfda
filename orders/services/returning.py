"""What comes back from a customer: to inspection first, then first, second, re-haft, replaced or scrap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db.models import F, Sum

from inventory.queries import setting_aside
from inventory.services import catalogue, ledger
from inventory.services.ledger import Line, Locks, Stamp
from orders.models import Order, OrderLine, Return, ReturnOutcome, Shipment, ShipmentLine
from orders.services import ordering, reserving
from orders.services.ordering import Wanted
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inventory.models import Entry, Lot

Outcome = ReturnOutcome.Outcome

# Where inspected pieces go; a tool to be re-hafted stays at inspection's bench until its new handle is in.
_GOES_TO = {
    Outcome.FIRST: "SHELF",
    Outcome.SECOND: "SECONDS",
    Outcome.REPLACED: "SCRAP",
    Outcome.SCRAP: "SCRAP",
}


def come_back(shipment: Shipment, line_number: int, qty: int, *, why: str, stamp: Stamp) -> Return:
    """Book pieces of a shipment back in, to inspection and never straight to the shelf."""
    transactions.assert_open()
    lines = ShipmentLine.objects.filter(shipment=shipment, shipment__reversed_at=None, line__number=line_number)
    sent = lines.select_related("line__item").first()
    if sent is None:
        raise Invalid.field("line", f"Shipment {shipment.number} has no line {line_number}; look at its packing slip.")
    if sent.line.item_id is None:
        raise Invalid.field("line", "A made-to-order piece that comes back is taken in as a repair, not as stock.")
    if not why.strip():
        raise Invalid.field("why", "Say in a few words why it came back.")
    locks = reserving.lock_and_tidy({sent.line.item_id}, at=stamp.at)
    out = sent.qty - _came_back(sent)
    if not 1 <= qty <= out:
        raise Invalid.field("qty", f"{out} of that line are still with the customer, not {qty}; write 1 to {out}.")
    entry = ledger.commit(ledger.Kind.RETURN, _lines_back(sent, qty), locks=locks, stamp=stamp)
    returned = Return.objects.create(
        number=series.take("return"),
        shipment_line=sent,
        qty=qty,
        why=why.strip(),
        came_at=stamp.when,
        by=stamp.by.person,
        entry=entry,
    )
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="came back",
        subject=f"return {returned.number}",
        after={"shipment": shipment.number, "qty": qty},
        reason=why.strip(),
    )
    return returned


def decide(returned: Return, outcome: str, qty: int, *, stamp: Stamp) -> ReturnOutcome:
    """Say what inspection decided for some of a return; a replacement is a new line without price on the order."""
    transactions.assert_open()
    if outcome not in Outcome.values:
        raise Invalid.field("outcome", f"The outcome {outcome!r} is none of {', '.join(Outcome.values)}.")
    item_id = returned.shipment_line.line.item_id
    locks = reserving.lock_and_tidy({item_id} if item_id else set(), at=stamp.at)
    Return.objects.filter(pk=returned.pk).update(inspected=F("inspected"))
    returned = Return.objects.select_related("shipment_line__line__order__customer", "shipment_line__line__item").get(
        pk=returned.pk
    )
    left = returned.qty - returned.inspected
    if returned.reversed_at is not None or not 1 <= qty <= left:
        raise Invalid.field("qty", f"{left} of return {returned.number} wait for inspection, not {qty}.")
    Return.objects.filter(pk=returned.pk).update(inspected=F("inspected") + qty)
    decided = ReturnOutcome.objects.create(
        returned=returned,
        outcome=outcome,
        qty=qty,
        at=stamp.when,
        by=stamp.by.person,
        entry=_move_inspected(returned, outcome, qty, locks, stamp),
        replacement=_replacement(returned, qty, locks, stamp) if outcome == Outcome.REPLACED else None,
    )
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action=f"inspected: {outcome}",
        subject=f"return {returned.number}",
        after={"qty": qty},
    )
    reserving.serve_waiting(locks)
    return decided


def undo_return(returned: Return, *, stamp: Stamp) -> None:
    """Follow the reversal of a return's entry: the pieces are with the customer again."""
    Return.objects.filter(pk=returned.pk).update(reversed_at=stamp.at)


def undo_decision(decided: ReturnOutcome, *, locks: Locks, stamp: Stamp) -> None:
    """Follow the reversal of an inspection's entry: the pieces wait for inspection again, no new one is owed for them."""
    instead = decided.replacement
    if instead and instead.waiting + instead.reserved:
        left = instead.waiting + instead.reserved
        ordering.cancel(instead, left, at=stamp.at, by=stamp.by, reason="inspected anew", locks=locks)
    ReturnOutcome.objects.filter(pk=decided.pk).update(reversed_at=stamp.at)
    Return.objects.filter(pk=decided.returned_id).update(inspected=F("inspected") - decided.qty)


def _came_back(sent: ShipmentLine) -> int:
    total = Return.objects.filter(shipment_line=sent, reversed_at=None).aggregate(n=Sum("qty"))["n"]
    return int(total or 0)


def _lines_back(sent: ShipmentLine, qty: int) -> list[Line]:
    """Take back from the lots that went out, the last first, leaving out what came back before."""
    customer, inspection = catalogue.place("CUSTOMER"), catalogue.place("INSPECT")
    before, lines, left = _came_back(sent), [], qty
    for shipped in sent.lots.select_related("lot__item").order_by("-id"):
        skipped = min(before, shipped.qty)
        before -= skipped
        take = min(left, shipped.qty - skipped)
        if take:
            lines.append(Line(lot=shipped.lot, qty=take, source=customer, target=inspection))
            left -= take
    return lines


def _move_inspected(returned: Return, outcome: str, qty: int, locks: Locks, stamp: Stamp) -> Entry | None:
    if outcome == Outcome.REHAFT:
        return None
    target = catalogue.place(_GOES_TO[Outcome(outcome)])
    inspection = catalogue.place("INSPECT")
    lots: Sequence[tuple[Lot, int]] = setting_aside.lots_moved(returned.entry_id)
    there = setting_aside.standing_at(inspection, [lot.pk for lot, _ in lots])
    lines, left = [], qty
    for lot, _ in lots:
        take = min(left, there.get(lot.pk, 0))
        if take:
            lines.append(Line(lot=lot, qty=take, source=inspection, target=target))
            left -= take
    if left:
        raise ledger.NotThere(
            f"{qty - left} of return {returned.number} still stand at inspection, not {qty}; "
            "look up in the Book where the rest went.",
            {"qty": f"Only {qty - left} stand at inspection."},
            {"available": qty - left, "requested": qty},
        )
    return ledger.commit(ledger.Kind.INSPECTION, lines, locks=locks, stamp=stamp)


def _replacement(returned: Return, qty: int, locks: Locks, stamp: Stamp) -> OrderLine:
    line = returned.shipment_line.line
    order: Order = line.order
    if order.closed_at is not None:
        Order.objects.filter(pk=order.pk).update(closed_at=None, version=F("version") + 1)
    wanted = Wanted(qty=qty, item=line.item, options=line.options, price_minor=0)
    return ordering.add_line(order, wanted, at=stamp.at, by=stamp.by, locks=locks)
