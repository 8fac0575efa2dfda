"""Sending what is set aside: parcels, weight, carrier, tracking; parts are made up into tools on the way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db.models import F

from inventory.queries import setting_aside
from inventory.services import allocating, catalogue, ledger, making
from inventory.services.ledger import Line, Locks, Stamp
from inventory.services.making import Pick
from orders.models import OWN_SOURCE, Order, OrderLine, Shipment, ShipmentLine, ShippedLot
from orders.services import ordering, reserving, windows
from shop.shared import audit, clock, series, shop_row, transactions
from shop.shared.errors import Invalid, Refusal

if TYPE_CHECKING:
    from inventory.models import Allocation, AllocationPart


class NotPaid(Refusal):
    """The order is to be sent only when it is paid."""

    code = "not_paid"


@dataclass(frozen=True, slots=True)
class Parcel:
    """How it travels; mass in milligrams where the parcels were weighed."""

    parcels: int = 1
    carrier: str = ""
    tracking: str = ""
    scale_mass_mg: int | None = None
    scale_typed: str = ""
    before_window: bool = False


class OnlyWhole(Refusal):
    """The customer takes an order only whole, and something of it is missing."""

    code = "only_whole"


def send(order: Order, sending: Mapping[int, int], parcel: Parcel, *, stamp: Stamp) -> Shipment:
    """Send so many of each line (line number to quantity) out of what is set aside."""
    transactions.assert_open()
    items = {line.item_id for line in order.lines.all() if line.item_id}
    locks = reserving.lock_and_tidy(items, at=stamp.at)
    order = ordering.locked(order)
    lines = _lines_to_send(order, sending)
    _check(order, parcel, day=clock.local_date(stamp.when, shop_row.hours().zone))
    _check_whole(order, {line.number: qty for line, qty in lines})
    for line, qty in lines:
        _make_up_sets(locks, line, qty, stamp)
    shipment = _shipment(order, lines, parcel, stamp)
    moves = [(line, qty, _parts_to_send(line, qty)) for line, qty in lines]
    _book(locks, shipment, moves, stamp)
    ordering.touched(order, at=stamp.at)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="sent",
        subject=f"order {order.number}",
        after={"shipment": shipment.number} | ({"before_window": True} if _early(order, stamp) else {}),
    )
    return shipment


def undo(shipment: Shipment, *, locks: Locks, stamp: Stamp) -> None:
    """Put the order's lines back after the shipment's entry was reversed: the pieces are owed and set aside again."""
    for sent in shipment.lines.select_related("line__order"):
        line = sent.line
        before = line.waiting if line.gathers else 0
        line.shipped -= sent.qty
        reserving.store(locks, line, before=before)
        if line.item_id:
            reserving.gather(locks, line)
    Shipment.objects.filter(pk=shipment.pk).update(reversed_at=stamp.at, version=F("version") + 1)
    Order.objects.filter(pk=shipment.order_id).update(closed_at=None, version=F("version") + 1)


def lacking(order: Order, sending: Mapping[int, int]) -> list[tuple[OrderLine, int]]:
    """Return the lines of an order that would still be owed something after sending so many of each, and how many."""
    lines = order.lines.select_related("item").order_by("number")
    left = [(line, line.ordered - line.cancelled - line.shipped - sending.get(line.number, 0)) for line in lines]
    return [(line, qty) for line, qty in left if qty > 0]


def _check_whole(order: Order, sending: Mapping[int, int]) -> None:
    missing = [] if order.customer.takes_parts else lacking(order, sending)
    if missing:
        named = ", ".join(f"{qty} of line {line.number}" for line, qty in missing)
        sentence = f"{order.customer.name} takes an order only whole; {named} would be missing: send them along."
        raise OnlyWhole(sentence, {"lines": sentence}, {"missing": {line.number: qty for line, qty in missing}})


def _early(order: Order, stamp: Stamp) -> bool:
    day = clock.local_date(stamp.when, shop_row.hours().zone)
    return order.not_before is not None and day < order.not_before


def _check(order: Order, parcel: Parcel, *, day: dt.date) -> None:
    if order.source == OWN_SOURCE:
        raise Invalid.field("lines", f"Order {order.number} keeps the pieces of a release; send the orders out of it.")
    windows.check_sending(order, day, all_the_same=parcel.before_window)
    owed = ordering.total_minor(order) - order.received_minor
    if order.send_when_paid and owed > 0:
        raise NotPaid(
            f"Order {order.number} goes only when paid and money is still owed; write down the money received first.",
            facts={"owed_minor": owed},
        )
    if not order.ship_to.strip():
        raise Invalid.field("ship_to", f"Order {order.number} has no address to go to; write one first.")
    if not 1 <= parcel.parcels <= 200:
        raise Invalid.field("parcels", f"Write 1 to 200 parcels, not {parcel.parcels}.")


def _lines_to_send(order: Order, sending: Mapping[int, int]) -> list[tuple[OrderLine, int]]:
    lines = {line.number: line for line in order.lines.select_related("item", "allocation").order_by("number")}
    chosen = []
    for number, qty in sorted(sending.items()):
        line = lines.get(number)
        if line is None:
            raise Invalid.field("lines", f"Order {order.number} has no line {number}.")
        # A made-to-order line has no stock behind it: what is said to be ready is sent.
        ready = line.reserved if line.item_id else line.waiting
        if not 1 <= qty <= ready:
            raise Invalid.field(
                "qty", f"Line {number} has {ready} ready to send, not {qty}; send 1 to {ready} or set more aside first."
            )
        if line.whole and qty != line.ordered - line.cancelled - line.shipped:
            raise Invalid.field("qty", f"Line {number} goes whole; send all {line.ordered - line.cancelled} together.")
        chosen.append((line, qty))
    if not chosen:
        raise Invalid.field("lines", "Nothing was chosen to send; say how many of which line.")
    return chosen


def _make_up_sets(locks: Locks, line: OrderLine, qty: int, stamp: Stamp) -> None:
    """Make up the tools that are set aside as parts, as many as this shipment needs beyond the finished ones."""
    if line.item_id is None or line.allocation is None:
        return
    parts = setting_aside.open_parts(line.allocation)
    finished = sum(part.qty for part in parts if part.item_id == line.item_id)
    sets = qty - finished
    if sets > 0:
        recipe = allocating.recipe_of(line.item_id)
        picks = _let_go_sets(locks, line.allocation, recipe, sets)
        _, lots = making.make_up(line.item, sets, picks, recipe=recipe, locks=locks, stamp=stamp)  # type: ignore[arg-type]
        allocating.add_lots(locks, line.allocation, [lot.holdings.get() for lot in lots])


def _let_go_sets(locks: Locks, allocation: Allocation, recipe: Mapping[int, int], sets: int) -> list[Pick]:
    picks = []
    for part_id, per in recipe.items():
        left = sets * per
        for part in setting_aside.open_parts(allocation, part_id):
            take = min(left, part.qty)
            holding = part.holding
            allocating.let_go_part(locks, part, take)
            picks.append(Pick(holding, take))
            left -= take
            if not left:
                break
    return picks


def _shipment(order: Order, lines: Sequence[tuple[OrderLine, int]], parcel: Parcel, stamp: Stamp) -> Shipment:
    masses = [line.item.shipped_mass_mg if line.item else None for line, _ in lines]
    known = [mass * qty for mass, (_, qty) in zip(masses, lines, strict=True) if mass is not None]
    return Shipment.objects.create(
        number=series.take("shipment"),
        order=order,
        sent_at=stamp.when,
        carrier=parcel.carrier,
        tracking=parcel.tracking,
        ship_to=order.ship_to,
        parcels=parcel.parcels,
        computed_mass_mg=sum(known) if len(known) == len(lines) else None,
        scale_mass_mg=parcel.scale_mass_mg,
        scale_typed=parcel.scale_typed,
        by=stamp.by.person,
    )


def _parts_to_send(line: OrderLine, qty: int) -> list[tuple[AllocationPart, int]]:
    if line.item_id is None or line.allocation is None:
        return []
    chosen, left = [], qty
    for part in setting_aside.open_parts(line.allocation, line.item_id):
        take = min(left, part.qty)
        chosen.append((part, take))
        left -= take
        if not left:
            break
    return chosen


def _book(
    locks: Locks,
    shipment: Shipment,
    moves: Sequence[tuple[OrderLine, int, list[tuple[AllocationPart, int]]]],
    stamp: Stamp,
) -> None:
    customer = catalogue.place("CUSTOMER")
    book_lines: list[Line] = []
    for line, qty, parts in moves:
        sent = ShipmentLine.objects.create(shipment=shipment, line=line, qty=qty)
        by_lot: dict[int, int] = {}
        for part, take in parts:
            allocating.let_go_part(locks, part, take)
            holding = part.holding
            book_lines.append(Line(lot=holding.lot, qty=take, source=holding.place, target=customer))
            by_lot[holding.lot_id] = by_lot.get(holding.lot_id, 0) + take
        ShippedLot.objects.bulk_create(
            [ShippedLot(shipment_line=sent, lot_id=lot_id, qty=n) for lot_id, n in by_lot.items()]
        )
        _mark_sent(locks, line, qty)
    if book_lines:
        entry = ledger.commit(ledger.Kind.SHIPMENT, book_lines, locks=locks, stamp=stamp)
        Shipment.objects.filter(pk=shipment.pk).update(entry=entry)
        shipment.entry = entry


def _mark_sent(locks: Locks, line: OrderLine, qty: int) -> None:
    before = line.waiting if line.gathers else 0
    line.shipped += qty
    if line.item_id:
        line.reserved -= qty
        if line.reserved == 0 and line.allocation:
            allocating.close(line.allocation, at=locks.at)
            line.allocation = None
    reserving.store(locks, line, before=before)
