"""A delivery: a draft kept as typed until it is booked, booked once; bars come in one by one with their own length."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.calc.shares import share
from inventory.models import (
    Bar,
    Delivery,
    DeliveryLine,
    Entry,
    Holding,
    Item,
    Lot,
    Place,
    PurchaseOrder,
    PurchaseOrderLine,
    Supplier,
)
from inventory.services import arriving, catalogue, certificates, checking_in, delivery_lines, ledger, purchasing
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.delivery_lines import Paper, PaperLine, ReadyLine
from inventory.services.ledger import Line, Locks, Stamp
from shop.access.actor import Actor
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal, Stale
from shop.shared.units import length_inches, parse_length


class AlreadyBooked(Refusal):
    """The delivery is in the book; it is booked once."""

    code = "already_booked"


class NotWaiting(Refusal):
    """The bar does not wait at the door to be measured."""

    code = "not_at_the_door"


@dataclass(frozen=True, slots=True)
class Booked:
    """A delivery in the book: its entry, its lots in the order of the lines, and what to say about the order."""

    delivery: Delivery
    lots: Sequence[Lot]
    said: Sequence[str]


def start(
    supplier: Supplier,
    *,
    at: dt.datetime,
    by: Actor,
    order: PurchaseOrder | None = None,
    typed: Paper | None = None,
) -> Delivery:
    """Begin a delivery as a draft, with or without a purchase order."""
    transactions.assert_open()
    if order is not None and order.supplier_id != supplier.pk:
        raise Invalid.field(
            "order", f"Purchase order {order.number} is {order.supplier.name}'s, not {supplier.name}'s."
        )
    typed = typed or Paper([PaperLine(order_line=str(line.number)) for line in _to_come(order)])
    return Delivery.objects.create(
        number=series.take("delivery"),
        supplier=supplier,
        order=order,
        draft=typed.as_json(),
        note=typed.note[:300],
        supplier_paper=typed.supplier_paper[:60],
        started_at=at,
        started_by=by.person,
    )


def _to_come(order: PurchaseOrder | None) -> list[PurchaseOrderLine]:
    lines = order.lines.select_related("item").order_by("number") if order else []
    return [line for line in lines if not purchasing.complete(line)]


def save(delivery: Delivery, typed: Paper, *, version: int) -> Delivery:
    """Keep what has been typed so far; the version must be the one that was read."""
    transactions.assert_open()
    rows = Delivery.objects.filter(pk=delivery.pk, state=Delivery.State.DRAFT, version=version).update(
        draft=typed.as_json(),
        note=typed.note[:300],
        supplier_paper=typed.supplier_paper[:60],
        version=F("version") + 1,
    )
    if rows != 1:
        _refuse_changed(delivery)
    delivery.refresh_from_db()
    return delivery


def throw_away(delivery: Delivery, *, version: int, at: dt.datetime, by: Actor) -> None:
    """Empty a draft that was begun by mistake; its number stays used."""
    save(delivery, Paper(note="begun by mistake"), version=version)
    audit.write(at=at, by=by.label, action="draft emptied", subject=f"delivery {delivery.number}")


def read(delivery: Delivery, *, at: dt.datetime, by: Actor) -> list[ReadyLine]:
    """Read the draft into what would be booked."""
    if delivery.state != Delivery.State.DRAFT:
        _refuse_changed(delivery)
    return delivery_lines.read(delivery_lines.paper(delivery.draft), delivery.order, at=at, by=by)


def book(
    delivery: Delivery, ready: Sequence[ReadyLine], *, locks: Locks, stamp: Stamp, although_closed: bool = False
) -> Booked:
    """Book a draft as it was read: bars and goods come in, the order's lines follow. A delivery is booked once.

    Of an order that is closed it is taken only `although_closed`: two people may have met the same lorry.
    """
    transactions.assert_open()
    if delivery.order_id is not None and not although_closed:
        _refuse_closed(delivery)
    claim = Delivery.objects.filter(pk=delivery.pk, state=Delivery.State.DRAFT, version=delivery.version)
    if claim.update(version=F("version") + 1) != 1:
        _refuse_changed(delivery)
    lines = [_delivery_line(delivery, number, line) for number, line in enumerate(ready, 1)]
    arrivals = [arrival for line, kept in zip(ready, lines, strict=True) for arrival in _arrivals(line, kept)]
    entry, lots = arriving.arrive(
        Entry.Kind.DELIVERY, arrivals, source=catalogue.place("SUPPLIER"), locks=locks, stamp=stamp
    )
    Delivery.objects.filter(pk=delivery.pk).update(
        state=Delivery.State.BOOKED, entry=entry, happened_at=entry.happened_at
    )
    delivery.refresh_from_db()
    said = purchasing.came(delivery, lines, at=stamp.at)
    _note_papers(delivery, ready, lines, stamp)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="delivery booked",
        subject=f"delivery {delivery.number}",
        after={"entry": entry.pk, "lines": len(lines), **({"although_closed": True} if although_closed else {})},
    )
    return Booked(delivery, lots, said)


def _refuse_closed(delivery: Delivery) -> None:
    """Refuse where nothing more of the order is expected; its row stays locked, so that the next one waits for this."""
    order = PurchaseOrder.objects.select_for_update().get(pk=delivery.order_id or 0)
    if order.closed_at is None:
        return
    last = order.deliveries.filter(state=Delivery.State.BOOKED).order_by("-happened_at", "-pk").first()
    came = f"; delivery {last.number} brought the last of it" if last else ""
    raise purchasing.OrderClosed(
        f"Purchase order {order.number} is closed{came}. Say that this came although it is closed, or look whether it is"
        " in the book already."
    )


def undo(delivery: Delivery) -> None:
    """Follow the reversal of the entry: the delivery is void and the order's lines are to come again."""
    Delivery.objects.filter(pk=delivery.pk).update(state=Delivery.State.REVERSED, version=F("version") + 1)
    if delivery.order_id:
        purchasing.went_back(list(delivery.lines.select_related("order_line").order_by("number")))


def measure(
    bar: Bar, length: str, *, locks: Locks, stamp: Stamp, unit: str | None = None, place: Place | None = None
) -> Entry:
    """Write down the measured length of a bar that stands unmeasured at the door and put it on the rack."""
    read_length = parse_length(length, default_unit=unit, field="length")
    return rack(bar, read_length.nm, read_length.typed, locks=locks, stamp=stamp, place=place)


def rack(bar: Bar, length_nm: int, typed: str, *, locks: Locks, stamp: Stamp, place: Place | None = None) -> Entry:
    """Put a bar that stands unmeasured at the door on the rack with the length that was taped."""
    transactions.assert_open()
    door, target = catalogue.place("DOOR"), place or catalogue.place("RACK")
    if target.kind != Place.Kind.RACK:
        raise Invalid.field("place", f"Place: {target.name} is no rack; choose a slot of the rack.")
    there = Holding.objects.filter(lot_id=bar.pk, place=door, step=0, on_hand__gt=0).first()
    bar.refresh_from_db()
    if bar.measured or there is None:
        raise NotWaiting(f"Bar {bar.number} does not wait to be measured at the door; correct its length instead.")
    lines = _measured_lines(bar.lot, there.on_hand, length_nm, door, target)
    entry = ledger.commit(Entry.Kind.CORRECTION, lines, locks=locks, stamp=stamp)
    Bar.objects.filter(pk=bar.pk).update(length_nm=length_nm, typed=typed[:40], measured=True)
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="bar measured",
        subject=f"bar {bar.number}",
        before={"length_nm": there.on_hand, "typed": bar.typed},
        after={"length_nm": length_nm, "typed": typed, "entry": entry.pk},
    )
    bar.refresh_from_db()
    return entry


def _measured_lines(lot: Lot, was: int, now: int, door: Place, rack: Place) -> list[Line]:
    difference = catalogue.place("DIFFERENCE")
    lines = [Line(lot=lot, qty=min(was, now), source=door, target=rack)]
    if was > now:
        lines.append(Line(lot=lot, qty=was - now, source=door, target=difference))
    if now > was:
        lines.append(Line(lot=lot, qty=now - was, source=difference, target=rack))
    return lines


def _refuse_changed(delivery: Delivery) -> None:
    fresh = Delivery.objects.get(pk=delivery.pk)
    if fresh.state != Delivery.State.DRAFT:
        raise AlreadyBooked(
            f"Delivery {fresh.number} is {fresh.state} already; begin a new one for what else came.",
            facts={"entry": fresh.entry_id},
        )
    raise Stale(f"Delivery {fresh.number} has changed since it was read; read it again and repeat what you typed.")


def _delivery_line(delivery: Delivery, number: int, line: ReadyLine) -> DeliveryLine:
    return DeliveryLine.objects.create(
        delivery=delivery,
        number=number,
        item=line.item,
        order_line=line.order_line,
        melt=line.melt,
        qty=line.qty,
        bars=len(line.bars) or None,
        typed=line.typed,
        scale_mass_mg=line.scale_mass_mg,
        scale_typed=line.scale_typed,
        weighed_by=line.weighed_by,
        computed_mass_mg=line.computed_mass_mg,
        cost_minor=line.cost_minor,
        damage=line.damage,
    )


def _note_papers(delivery: Delivery, ready: Sequence[ReadyLine], lines: Sequence[DeliveryLine], stamp: Stamp) -> None:
    """Note which certificates are to come, and claim for what was seen to be damaged."""
    for line, kept in zip(ready, lines, strict=True):
        if line.melt is not None and line.certificate_awaited and not certificates.standing(line.melt):
            certificates.wait_for(line.melt, awaited=True, at=stamp.at, by=stamp.by)
        if line.damage:
            words = f"{line.item.name}: {line.damage}"
            checking_in.claim(delivery, "damage", words, at=stamp.at, by=stamp.by, line=kept)


def _arrivals(line: ReadyLine, kept: DeliveryLine) -> list[Arrival]:
    if line.item.kind != Item.Kind.BAR:
        return [
            Arrival(
                item=line.item,
                qty=line.qty,
                place=line.place,
                melt=line.melt,
                cost_minor=line.cost_minor,
                delivery_line=kept,
            )
        ]
    masses = list(line.masses_mg)
    weighed = share(line.scale_mass_mg, masses) if line.scale_mass_mg is not None else None
    costs = share(line.cost_minor, masses) if line.cost_minor is not None else None
    return [_bar_arrival(line, kept, index, weighed, costs) for index in range(len(line.bars))]


def _bar_arrival(
    line: ReadyLine, kept: DeliveryLine, index: int, weighed: list[int] | None, costs: list[int] | None
) -> Arrival:
    bar, section = line.bars[index], line.item.section
    if section is None:
        raise RuntimeError("A bar item has a section.")
    facts = BarFacts(
        section=section,
        typed=bar.typed or length_inches(bar.nm),
        measured=line.measured,
        mass_mg=weighed[index] if weighed else None,
        mass_typed=f"share of {line.scale_typed}"[:40] if weighed else "",
        weighed_by=line.weighed_by if weighed else "",
    )
    return Arrival(
        item=line.item,
        qty=bar.nm,
        place=line.place,
        melt=line.melt,
        bar=facts,
        cost_minor=costs[index] if costs else None,
        delivery_line=kept,
        mass_mg=weighed[index] if weighed else line.masses_mg[index],
        basis="measured" if weighed else "worked out",
    )
