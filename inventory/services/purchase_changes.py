"""What happens to a purchase order between writing it and its coming: lines changed, sent, asked after."""

import datetime as dt
from collections.abc import Sequence

from inventory.models import PurchaseOrder, PurchaseOrderLine
from inventory.services import purchasing
from inventory.services.purchasing import ToBuy
from shop.access.actor import Actor
from shop.shared.errors import Invalid, Refusal

Sent = PurchaseOrder.Sent


class AlreadySent(Refusal):
    """The supplier has the order, so it is not changed any more."""

    code = "purchase_order_sent"


class WrittenTwice(Refusal):
    """An open order of the same day asks the same supplier for the same."""

    code = "purchase_order_written_twice"


def check_not_twice(order: PurchaseOrder) -> None:
    """Refuse an order just written where another open one of its day asks the same supplier for the same.

    It is looked for after the number was taken, so of two at the same moment the later one sees the first.
    """
    wanted = _asked_for(order)
    same_day = PurchaseOrder.objects.filter(supplier=order.supplier_id, ordered_on=order.ordered_on, closed_at=None)
    for other in same_day.exclude(pk=order.pk).prefetch_related("lines").order_by("-number"):
        if _asked_for(other) == wanted:
            raise WrittenTwice(
                f"Order {other.number} to {order.supplier.name} of the same day asks for the same already; "
                "look at it, or write a second one.",
                facts={"order": other.number},
            )


def _asked_for(order: PurchaseOrder) -> list[tuple[int, int, int]]:
    return sorted((line.item_id, line.qty, line.bars or 0) for line in order.lines.all())


def change(
    order: PurchaseOrder,
    lines: Sequence[ToBuy],
    *,
    wanted_on: dt.date | None,
    note: str,
    version: int,
    at: dt.datetime,
    by: Actor,
) -> PurchaseOrder:
    """Write an order anew that the supplier does not have yet: its lines, the day wanted, the note."""
    before = {"lines": [said_of(line) for line in order.lines.select_related("item").order_by("number")]}
    purchasing.change_row(order, version, wanted_on=wanted_on, note=note)
    _not_away(order)
    purchasing.check_wanted_day(wanted_on, order.ordered_on)
    fresh = purchasing.new_lines(order.supplier, lines)
    order.lines.all().delete()
    for line in fresh:
        line.order = order
    PurchaseOrderLine.objects.bulk_create(fresh)
    after = {"lines": [said_of(line) for line in fresh]}
    purchasing.noted(order, "purchase order changed", at=at, by=by, before=before, after=after)
    return order


def said_of(line: PurchaseOrderLine) -> str:
    """Name a line as the audit line keeps it."""
    return f"{line.typed or line.qty} of {line.item.code}"


def may_change(order: PurchaseOrder) -> bool:
    """Return whether the lines of an order may still be changed."""
    return order.closed_at is None and not order.sent_how and not order.confirmed_on and not order.deliveries.exists()


def _not_away(order: PurchaseOrder) -> None:
    """Refuse where the supplier has the order or goods of it were met."""
    if order.sent_how:
        raise AlreadySent(f"Order {order.number} is sent; cancel a line of it, or write another order.")
    if order.confirmed_on:
        raise AlreadySent(f"Order {order.number} is confirmed; cancel a line of it, or write another order.")
    if order.deliveries.exists():
        raise AlreadySent(f"A delivery was begun for order {order.number}; write another order for what is wanted.")


def send(order: PurchaseOrder, how: str, *, version: int, at: dt.datetime, by: Actor, to: str = "") -> PurchaseOrder:
    """Note that an order went to the supplier: printed, said on the phone, or by e-mail to an address."""
    if how not in Sent.values:
        raise Invalid.field("how", f"How: {how[:20]!r} is no way; printed, e-mail or phone would work.")
    if (how == Sent.EMAIL) != bool(to):
        raise Invalid.field("to", "E-mail: an address goes with an e-mail, and with nothing else.")
    before = {"how": order.sent_how, "to": order.sent_to}
    purchasing.change_row(order, version, sent_how=how, sent_at=at, sent_to=to)
    purchasing.noted(order, "purchase order sent", at=at, by=by, before=before, after={"how": how, "to": to})
    return order


def asked(
    order: PurchaseOrder, today: dt.date, *, version: int, at: dt.datetime, by: Actor, to: str = ""
) -> PurchaseOrder:
    """Note that the supplier was asked today where the order is; `to` names the address where it was by e-mail."""
    before = {"asked_on": order.asked_on}
    purchasing.change_row(order, version, asked_on=today)
    purchasing.noted(
        order, "supplier asked where it is", at=at, by=by, before=before, after={"asked_on": today, "to": to}
    )
    return order
