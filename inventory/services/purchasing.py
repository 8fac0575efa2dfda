"""Suppliers and purchase orders: what was ordered, for when, what came of it and what is still to come."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Value
from django.db.models.functions import Coalesce

from inventory.models import CutPlan, Delivery, DeliveryLine, Item, PurchaseOrder, PurchaseOrderLine, Supplier
from inventory.queries import prices
from inventory.services import purchase_words, reading
from shop.access.actor import Actor
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal, Stale

MOST_LINES = 200
FARTHEST = 731  # days ahead that a supplier can have meant


class OrderClosed(Refusal):
    """Nothing more is expected of the purchase order."""

    code = "purchase_order_closed"


@dataclass(frozen=True, slots=True)
class ToBuy:
    """One line as ordered: bars and their length for steel (`7 @ 20 ft`), else a quantity (`3 dozen`).

    The price is of the whole line, minor units; without one the supplier's noted price holds, where there is one.
    """

    item: Item
    typed: str
    price_minor: int | None = None


def add_supplier(
    name: str, *, at: dt.datetime, by: Actor, email: str = "", phone: str = "", claim_days: int | None = None
) -> Supplier:
    """Add a firm that sells to the shop."""
    transactions.assert_open()
    name = _supplier_name(name)
    if Supplier.objects.filter(name__iexact=name).exists():
        raise Invalid.field("name", f"Name: {name} is in the book already; choose it from the list.")
    made = Supplier.objects.create(name=name, email=email, phone=phone[:40], claim_days=claim_days)
    audit.write(at=at, by=by.label, action="supplier added", subject=f"supplier {made.pk}", after={"name": name})
    return made


def supplier_named(name: str, *, at: dt.datetime, by: Actor) -> Supplier:
    """Return the supplier of this name, added where it is new: a lorry does not wait for a form."""
    plain = _supplier_name(name, field="supplier")
    found = Supplier.objects.filter(name__iexact=plain).order_by("id").first()
    return found or add_supplier(plain, at=at, by=by)


def change_supplier(supplier: Supplier, *, at: dt.datetime, by: Actor, **facts: object) -> Supplier:
    """Change name, e-mail, phone or the days to claim a shortage."""
    transactions.assert_open()
    unknown = sorted(set(facts) - {"name", "email", "phone", "claim_days"})
    if unknown:
        raise Invalid.field(unknown[0], f"{unknown[0]} of a supplier cannot be changed; choose another field.")
    if "name" in facts:
        facts["name"] = _supplier_name(str(facts["name"]))
        if Supplier.objects.filter(name__iexact=str(facts["name"])).exclude(pk=supplier.pk).exists():
            raise Invalid.field("name", f"Name: {facts['name']} is another supplier's already; choose another name.")
    before = {name: getattr(supplier, name) for name in facts}
    Supplier.objects.filter(pk=supplier.pk).update(**facts)
    audit.write(
        at=at, by=by.label, action="supplier changed", subject=f"supplier {supplier.pk}", before=before, after=facts
    )
    supplier.refresh_from_db()
    return supplier


def open_order(
    supplier: Supplier,
    lines: Sequence[ToBuy],
    *,
    ordered_on: dt.date,
    at: dt.datetime,
    by: Actor,
    wanted_on: dt.date | None = None,
    note: str = "",
    cut_plan: CutPlan | None = None,
) -> PurchaseOrder:
    """Write down what is ordered from a supplier and for when; `cut_plan` names the plan that wants its bars."""
    transactions.assert_open()
    if ordered_on > at.date() + dt.timedelta(days=1):  # it may be tomorrow already where the shop is
        raise Invalid.field("ordered_on", "Ordered on: this day has not come yet; today or an earlier day would work.")
    check_wanted_day(wanted_on, ordered_on)
    if cut_plan is not None:
        _check_plan(cut_plan, lines)
    fresh = new_lines(supplier, lines)
    order = PurchaseOrder.objects.create(
        number=series.take("purchase order"),
        supplier=supplier,
        ordered_on=ordered_on,
        wanted_on=wanted_on,
        note=note,
        cut_plan=cut_plan,
    )
    for line in fresh:
        line.order = order
    PurchaseOrderLine.objects.bulk_create(fresh)
    audit.write(
        at=at,
        by=by.label,
        action="ordered from supplier",
        subject=f"purchase order {order.number}",
        after={"supplier": supplier.name, "lines": len(lines)},
    )
    return order


def confirm(order: PurchaseOrder, day: dt.date, *, version: int, at: dt.datetime, by: Actor) -> PurchaseOrder:
    """Write down the day the supplier confirmed; the day first promised is kept when a later one comes."""
    if day < order.ordered_on:
        raise Invalid.field(
            "confirmed_on", "Confirmed for: the day lies before the day of ordering; write a later one."
        )
    if (day - at.date()).days > FARTHEST:
        raise Invalid.field(
            "confirmed_on", f"Confirmed for: {day} is more than two years away; a day within two years would work."
        )
    before = {"confirmed_on": order.confirmed_on}
    first = Coalesce("first_confirmed_on", "confirmed_on", Value(day))
    change_row(order, version, confirmed_on=day, first_confirmed_on=first)
    noted(order, "supplier confirmed", at=at, by=by, before=before, after={"confirmed_on": day})
    return order


def close(order: PurchaseOrder, *, version: int, at: dt.datetime, by: Actor, reason: str = "") -> PurchaseOrder:
    """Close an order of which nothing more will come."""
    change_row(order, version, closed_at=at)
    noted(order, "purchase order closed", at=at, by=by, reason=reason)
    return order


def cancel_line(line: PurchaseOrderLine, *, version: int, at: dt.datetime, by: Actor, reason: str = "") -> None:
    """Cancel what has not come of a line: it asks for no more than what came; one of which nothing came goes."""
    order = line.order
    change_row(order, version)
    line.refresh_from_db()
    if complete(line):
        raise Invalid.field("line", f"Line {line.number} has come whole; nothing of it is left to cancel.")
    before = {"line": line.number, "item": line.item.code, "typed": line.typed, "qty": line.qty, "bars": line.bars}
    if line.received:
        PurchaseOrderLine.objects.filter(pk=line.pk).update(**purchase_words.as_came(line))
    elif line.deliveries.exists():
        raise Invalid.field(
            "line", f"Line {line.number} is named by a delivery that was undone; close the order instead."
        )
    elif order.lines.count() == 1:
        raise Invalid.field("line", f"Line {line.number} is the only one; close the order instead.")
    else:
        line.delete()
    after = {"qty": line.received, "bars": line.received_bars if line.bars is not None else None}
    noted(order, "purchase line cancelled", at=at, by=by, before=before, after=after, reason=reason)
    _close_if_complete(order.pk, at=at)
    order.refresh_from_db()


def complete(line: PurchaseOrderLine) -> bool:
    """Return whether all of a line has come: bars are counted, random lengths never add up to the inch."""
    if line.bars is not None:
        return line.received_bars >= line.bars
    return line.received >= line.qty


def came(delivery: Delivery, lines: Sequence[DeliveryLine], *, at: dt.datetime) -> list[str]:
    """Add what came to the order's lines, close the order when all has come; return what to say about each line."""
    transactions.assert_open()
    if delivery.order is None:
        return []
    PurchaseOrder.objects.filter(pk=delivery.order.pk).update(version=F("version") + 1)
    for line in lines:
        _add(line, 1)
    _close_if_complete(delivery.order.pk, at=at)
    return purchase_words.said(
        PurchaseOrderLine.objects.filter(order=delivery.order).select_related("item").order_by("number")
    )


def went_back(lines: Sequence[DeliveryLine]) -> None:
    """Take what a reversed delivery brought off the order's lines; an order of which something lacks now is open again."""
    for line in lines:
        _add(line, -1)
    for order_id in {line.order_line.order_id for line in lines if line.order_line is not None}:
        lacking = not all(complete(line) for line in PurchaseOrderLine.objects.filter(order_id=order_id))
        facts: dict[str, object] = {"closed_at": None} if lacking else {}
        PurchaseOrder.objects.filter(pk=order_id).update(**facts, version=F("version") + 1)


def _add(line: DeliveryLine, sign: int) -> None:
    if line.order_line_id is not None:
        PurchaseOrderLine.objects.filter(pk=line.order_line_id).update(
            received=F("received") + sign * line.qty, received_bars=F("received_bars") + sign * (line.bars or 0)
        )


def _close_if_complete(order_id: int, *, at: dt.datetime) -> None:
    lines = list(PurchaseOrderLine.objects.filter(order_id=order_id))
    if all(complete(line) for line in lines):
        PurchaseOrder.objects.filter(pk=order_id, closed_at=None).update(closed_at=at)


def check_wanted_day(wanted_on: dt.date | None, ordered_on: dt.date) -> None:
    """Refuse a day that lies before the day of ordering."""
    if wanted_on is not None and wanted_on < ordered_on:
        raise Invalid.field("wanted_on", "Wanted on: the day lies before the day of ordering; write a later one.")


def new_lines(supplier: Supplier, lines: Sequence[ToBuy]) -> list[PurchaseOrderLine]:
    """Return the rows of the lines, read and priced, not yet of an order."""
    if not 1 <= len(lines) <= MOST_LINES:
        raise Invalid.field("lines", f"Lines: {len(lines)} are written; 1 to {MOST_LINES} would work.")
    wanted = [_wanted(number, line) for number, line in enumerate(lines)]
    known = prices.noted([supplier.pk])
    found = []
    for number, (line, (qty, bars)) in enumerate(zip(lines, wanted, strict=True), 1):
        price = line.price_minor
        if price is None:
            price = prices.of_line(known.get((supplier.pk, line.item.pk), ()), line.item, qty, bars)
        found.append(
            PurchaseOrderLine(
                number=number, item=line.item, qty=qty, bars=bars, typed=line.typed.strip()[:60], price_minor=price
            )
        )
    return found


def _check_plan(plan: CutPlan, lines: Sequence[ToBuy]) -> None:
    if plan.state in {CutPlan.State.ASKED, CutPlan.State.DROPPED}:
        raise Invalid.field("cut_plan", f"Cut plan: plan {plan.number} is {plan.state}; name one that is answered.")
    if all(line.item.pk != plan.item_id for line in lines):
        raise Invalid.field("cut_plan", f"Cut plan: plan {plan.number} saws {plan.item.name}; no line orders that.")


def _wanted(number: int, line: ToBuy) -> tuple[int, int | None]:
    try:
        if line.item.kind == Item.Kind.BAR:
            bars = reading.bar_list(line.typed, field="quantity")
            return sum(bar.nm for bar in bars), len(bars)
        return reading.quantity(line.typed, line.item).qty, None
    except Invalid as refusal:
        raise Invalid(refusal.sentence, {f"lines.{number}.quantity": refusal.sentence}) from refusal


def change_row(order: PurchaseOrder, version: int, **facts: object) -> None:
    """Write facts of an open order that is still as it was read, and read it again; else refuse."""
    transactions.assert_open()
    rows = PurchaseOrder.objects.filter(pk=order.pk, version=version, closed_at=None).update(
        **facts, version=F("version") + 1
    )
    if rows != 1:
        order.refresh_from_db()
        if order.closed_at is not None:
            raise OrderClosed(f"Purchase order {order.number} is closed; write a new one for what is wanted now.")
        raise Stale(
            f"Purchase order {order.number} has changed since it was read; read it again and repeat the change."
        )
    order.refresh_from_db()


def noted(
    order: PurchaseOrder,
    action: str,
    *,
    at: dt.datetime,
    by: Actor,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
    reason: str = "",
) -> None:
    """Write the audit line of what was done to an order."""
    subject = f"purchase order {order.number}"
    audit.write(at=at, by=by.label, action=action, subject=subject, before=before, after=after, reason=reason)


def _supplier_name(name: str, *, field: str = "name") -> str:
    plain = " ".join(name.split())
    if not 1 <= len(plain) <= 120 or not plain.isprintable():
        raise Invalid.field(field, f"{field.capitalize()}: write the supplier's name, up to 120 characters.")
    return plain
