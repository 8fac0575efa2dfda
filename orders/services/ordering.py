"""Taking an order and changing it: lines, ship-to, money, cancelling."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from django.db.models import F

from inventory.services import catalogue
from inventory.services.allocating import NotEnough, can_take, recipe_of
from inventory.services.ledger import Locks
from orders.models import OWN_SOURCE, Customer, Money, Order, OrderLine, Promise
from orders.services import minimums, reserving, windows
from shop.access.actor import Actor
from shop.shared import audit, bell, files, series, transactions
from shop.shared.errors import Invalid, Refusal, Stale
from shop.shared.files import Kept

if TYPE_CHECKING:
    from inventory.models import Item, Pattern

MOST_PIECES = 100_000
MOST_MINOR = 100_000_000_00


class Closed(Refusal):
    """Nothing is owed on the order any more."""

    code = "order_closed"


@dataclass(frozen=True, slots=True)
class Wanted:
    """One line as asked: an item and how it is wanted, or words for something made to order."""

    qty: int
    item: Item | None = None
    words: str = ""
    options: str = ""
    drawing: Kept | None = None
    pattern: Pattern | None = None
    price_minor: int | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Terms:
    """What was agreed about an order besides its lines; money in minor units."""

    reference: str = ""
    ship_to: str = ""
    gift: bool = False
    gift_note: str = ""
    start_when_deposit: bool = False
    deposit_minor: int = 0
    send_when_paid: bool = False
    carriage_minor: int = 0
    note: str = ""
    day_given: dt.date | None = None
    day_source: str = field(default=Promise.Source.BY_HAND)
    not_before: dt.date | None = None
    not_after: dt.date | None = None
    below_minimum: bool = False


def take(
    customer: Customer,
    wanted: Sequence[Wanted],
    terms: Terms,
    *,
    at: dt.datetime,
    by: Actor,
    source: str = "desk",
    wait: bool = True,
) -> Order:
    """Take an order and set aside what there is.

    With `wait` what is missing joins the queue; without it everything must be there now or the order is refused whole.
    """
    transactions.assert_open()
    _check(wanted, terms)
    items = {line.item.pk for line in wanted if line.item}
    locks = reserving.lock_and_tidy(items, at=at) if items else None
    order = open_empty(customer, terms, at=at, by=by, source=source)
    for number, line in enumerate(wanted, 1):
        _add_line(locks, order, number, line, wait=wait)
    minimums.check(order, all_the_same=terms.below_minimum, at=at, by=by)
    if terms.day_given:
        windows.check_day(order, terms.day_given, field="day_given")
        give_day(order, terms.day_given, source=terms.day_source, at=at, by=by)
    audit.write(at=at, by=by.label, action="order taken", subject=f"order {order.number}", after={"lines": len(wanted)})
    return order


def open_empty(customer: Customer, terms: Terms, *, at: dt.datetime, by: Actor, source: str = "desk") -> Order:
    """Open an order whose lines follow in the same transaction."""
    windows.check_span(terms.not_before, terms.not_after)
    return Order.objects.create(
        number=series.take("order"),
        customer=customer,
        reference=terms.reference,
        ship_to=terms.ship_to or customer.address,
        gift=terms.gift,
        gift_note=terms.gift_note,
        taken_at=at,
        taken_by=by.person,
        source=source,
        start_when_deposit=terms.start_when_deposit,
        deposit_minor=terms.deposit_minor,
        send_when_paid=terms.send_when_paid,
        carriage_minor=terms.carriage_minor,
        note=terms.note,
        not_before=terms.not_before,
        not_after=terms.not_after,
    )


def price_for(item: Item, customer: Customer) -> int:
    """Return the agreed price for one: the dealer's where the customer is a dealer and there is one, else retail."""
    dealer = item.dealer_minor if customer.kind == Customer.Kind.DEALER else None
    return dealer if dealer is not None else item.retail_minor or 0


def _add_line(locks: Locks | None, order: Order, number: int, wanted: Wanted, *, wait: bool) -> OrderLine:
    price = wanted.price_minor
    if price is None:
        price = price_for(wanted.item, order.customer) if wanted.item else 0
    line = OrderLine.objects.create(
        order=order,
        number=number,
        item=wanted.item,
        words=wanted.words,
        options=wanted.options,
        file=wanted.drawing.kept_as if wanted.drawing else "",
        file_name=wanted.drawing.name if wanted.drawing else "",
        pattern=wanted.pattern,
        ordered=wanted.qty,
        whole=wanted.whole,
        price_minor=price,
        queue_no=series.take("queue"),
    )
    if wanted.drawing:
        files.keep(wanted.drawing)
    if wanted.item is not None and locks is not None:
        _set_aside_new(locks, line, wanted.item, wait=wait)
    return line


def _set_aside_new(locks: Locks, line: OrderLine, item: Item, *, wait: bool) -> None:
    finished, made = can_take(item.pk, recipe_of(item.pk))
    take_now = min(line.ordered, finished + made)
    if take_now < line.ordered and not wait:
        raise NotEnough(
            f"{finished + made} of {item.code} can be set aside now, not {line.ordered}; "
            f"take {finished + made} or let the rest wait.",
            {f"lines.{line.number - 1}.qty": f"Only {finished + made} can be promised now."},
            {"item": item.code, "available": finished + made, "requested": line.ordered},
        )
    if take_now:
        reserving.set_aside(locks, line, take_now)
    if line.waiting:
        reserving.gather(locks, line)


def give_day(order: Order, day: dt.date, *, source: str, at: dt.datetime, by: Actor, reason: str = "") -> Promise:
    """Write down the ship day given to the customer; an earlier one is superseded, never changed."""
    transactions.assert_open()
    last = Promise.objects.filter(order=order, line=None).order_by("-id").first()
    bell.ring_after_commit()
    return Promise.objects.create(
        order=order, day=day, source=source, supersedes=last, given_at=at, by=by.person, reason=reason
    )


def change(order: Order, *, version: int, at: dt.datetime, by: Actor, **facts: object) -> Order:
    """Change reference, ship-to, gift, note or terms of an order that is still open; the version must be the one read."""
    transactions.assert_open()
    allowed = {
        "reference",
        "ship_to",
        "gift",
        "gift_note",
        "note",
        "carriage_minor",
        "deposit_minor",
        "start_when_deposit",
        "send_when_paid",
        "not_before",
        "not_after",
    }
    unknown = sorted(set(facts) - allowed)
    if unknown:
        raise Invalid.field(unknown[0], f"{unknown[0]} of an order cannot be changed; choose another field.")
    if order.closed_at is not None:
        raise Closed(f"Order {order.number} is closed; what was sent cannot be addressed anew.")
    windows.check_change(order, facts)
    before = {name: getattr(order, name) for name in facts}
    rows = Order.objects.filter(pk=order.pk, version=version, closed_at=None).update(**facts, version=F("version") + 1)
    if rows != 1:
        raise Stale(f"Order {order.number} has changed since it was read; read it again and repeat the change.")
    audit.write(
        at=at, by=by.label, action="order changed", subject=f"order {order.number}", before=before, after=dict(facts)
    )
    order.refresh_from_db()
    return order


def add_line(
    order: Order, wanted: Wanted, *, at: dt.datetime, by: Actor, wait: bool = True, locks: Locks | None = None
) -> OrderLine:
    """Add a line to an open order; a caller that holds the item's lock already hands it in."""
    transactions.assert_open()
    _check([wanted], Terms())
    if wanted.item and locks is None:
        locks = reserving.lock_and_tidy({wanted.item.pk}, at=at)
    order = locked(order)
    if order.source == OWN_SOURCE:
        raise Invalid.field("lines", f"Order {order.number} keeps the pieces of a release; take an order of its own.")
    number = order.lines.count() + 1
    line = _add_line(locks, order, number, wanted, wait=wait)
    touched(order, at=at)
    audit.write(at=at, by=by.label, action="line added", subject=f"order {order.number}", after={"line": number})
    return line


def change_quantity(line: OrderLine, ordered: int, *, at: dt.datetime, by: Actor) -> OrderLine:
    """Order more or fewer on a line; what is set aside too much is let go and serves those who wait."""
    transactions.assert_open()
    locks = _lock_for(line, at=at)
    line = _reread(line)
    least = line.shipped + line.cancelled
    if not max(1, least) <= ordered <= MOST_PIECES:
        raise Invalid.field(
            "ordered", f"Line {line.number} had {line.ordered}; write {max(1, least)} to {MOST_PIECES}, not {ordered}."
        )
    before, was = (line.waiting if line.gathers else 0), line.ordered
    spare = line.reserved - (ordered - least)
    if spare > 0 and locks:
        reserving.let_go(locks, line, spare, waits=False)
        before = line.waiting if line.gathers else 0
    line.ordered = ordered
    line.gathers = line.gathers and line.waiting > 0
    if locks:
        reserving.store(locks, line, before=before)
        if ordered > was and line.waiting:
            reserving.gather(locks, line)
        reserving.serve_waiting(locks)
    else:
        line.version += 1
        line.save(update_fields=["ordered", "version"])
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="quantity changed",
        subject=f"order {line.order.number}",
        before={"line": line.number, "ordered": was},
        after={"line": line.number, "ordered": ordered},
    )
    return line


def change_price(line: OrderLine, price_minor: int, *, at: dt.datetime, by: Actor) -> OrderLine:
    """Agree another price for one."""
    transactions.assert_open()
    if not 0 <= price_minor <= MOST_MINOR:
        raise Invalid.field("price", "The price is below nothing or absurdly high; write what was agreed for one.")
    before = line.price_minor
    OrderLine.objects.filter(pk=line.pk).update(price_minor=price_minor, version=F("version") + 1)
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="price changed",
        subject=f"order {line.order.number}",
        before={"line": line.number, "price_minor": before},
        after={"line": line.number, "price_minor": price_minor},
    )
    line.refresh_from_db()
    return line


def change_options(line: OrderLine, options: str, *, at: dt.datetime, by: Actor) -> OrderLine:
    """Write down anew how the pieces of a line are wanted: 16 in handle, name stamped."""
    transactions.assert_open()
    line = _reread(line)
    if line.item_id is None:
        raise Invalid.field("options", f"Line {line.number} is made to order; its words say how it is wanted.")
    before, line.options = line.options, options
    OrderLine.objects.filter(pk=line.pk).update(options=options, version=F("version") + 1)
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="options changed",
        subject=f"order {line.order.number}",
        before={"line": line.number, "options": before},
        after={"line": line.number, "options": options},
    )
    line.refresh_from_db()
    return line


def cancel(
    line: OrderLine, qty: int, *, at: dt.datetime, by: Actor, reason: str = "", locks: Locks | None = None
) -> OrderLine:
    """Cancel so many of a line: what waits first, then what is set aside, which serves those who wait."""
    transactions.assert_open()
    locks = locks or _lock_for(line, at=at)
    line = _reread(line)
    open_qty = line.waiting + line.reserved
    if not 1 <= qty <= open_qty:
        raise Invalid.field(
            "qty", f"Line {line.number} has {open_qty} not yet sent; cancel 1 to {open_qty}, not {qty}."
        )
    from_reserved = max(0, qty - line.waiting)
    if from_reserved and locks:
        reserving.let_go(locks, line, from_reserved, waits=False)
    before = line.waiting if line.gathers else 0
    line.cancelled += qty
    line.gathers = line.gathers and line.waiting > 0
    if locks:
        reserving.store(locks, line, before=before)
        reserving.serve_waiting(locks)
    else:
        line.version += 1
        line.save(update_fields=["cancelled", "version"])
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="cancelled",
        subject=f"order {line.order.number}",
        after={"line": line.number, "qty": qty},
        reason=reason,
    )
    return line


def cancel_order(order: Order, *, at: dt.datetime, by: Actor, reason: str = "") -> Order:
    """Cancel everything of an order that has not been sent."""
    transactions.assert_open()
    lines = list(order.lines.order_by("number"))
    items = {line.item_id for line in lines if line.item_id}
    locks = reserving.lock_and_tidy(items, at=at) if items else None
    order = locked(order)
    for line in OrderLine.objects.filter(order=order).order_by("number"):
        left = line.waiting + line.reserved
        if left:
            cancel(line, left, at=at, by=by, reason=reason, locks=locks)
    order.refresh_from_db()
    return order


def reserve(line: OrderLine, qty: int | None, *, at: dt.datetime, by: Actor) -> OrderLine:
    """Set aside so many for a line and no more; where None, as many as there are now, and the rest gathers."""
    transactions.assert_open()
    locks = _lock_for(line, at=at)
    line = _reread(line)
    if locks is None or line.item_id is None:
        raise Invalid.field("line", "A made-to-order line has no stock to set aside until it is made.")
    finished, made = can_take(line.item_id, recipe_of(line.item_id))
    wanted = qty if qty is not None else min(line.waiting, finished + made)
    if wanted:
        reserving.set_aside(locks, line, wanted)
    if qty is None and line.waiting and not line.gathers:
        reserving.gather(locks, line)
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="set aside",
        subject=f"order {line.order.number}",
        after={"line": line.number, "qty": wanted},
    )
    return line


def release(line: OrderLine, qty: int, *, at: dt.datetime, by: Actor, reason: str = "") -> OrderLine:
    """Let go of pieces set aside; the line no longer gathers until it is set aside again, others are served."""
    transactions.assert_open()
    locks = _lock_for(line, at=at)
    line = _reread(line)
    if locks is None:
        raise Invalid.field("line", "A made-to-order line has nothing set aside.")
    reserving.let_go(locks, line, qty, waits=False)
    before = line.waiting if line.gathers else 0
    line.gathers = False
    reserving.store(locks, line, before=before)
    reserving.serve_waiting(locks)
    touched(line.order, at=at)
    audit.write(
        at=at,
        by=by.label,
        action="let go",
        subject=f"order {line.order.number}",
        after={"line": line.number, "qty": qty},
        reason=reason,
    )
    return line


def receive_money(order: Order, amount_minor: int, *, how: str, at: dt.datetime, by: Actor) -> Money:
    """Write down money received for an order, or given back where negative."""
    transactions.assert_open()
    if amount_minor == 0 or abs(amount_minor) > MOST_MINOR:
        raise Invalid.field("amount", "The amount is nothing or absurdly high; write what was received.")
    order = locked(order, open_only=False)
    if order.received_minor + amount_minor < 0:
        raise Invalid.field("amount", "More would be given back than was received; write a smaller amount.")
    money = Money.objects.create(order=order, at=at, amount_minor=amount_minor, how=how, by=by.person)
    Order.objects.filter(pk=order.pk).update(
        received_minor=F("received_minor") + amount_minor, version=F("version") + 1
    )
    return money


def total_minor(order: Order) -> int:
    """Return what the order comes to: every line not cancelled at its agreed price, and carriage."""
    lines = order.lines.all()
    return sum((line.ordered - line.cancelled) * line.price_minor for line in lines) + order.carriage_minor


def _lock_for(line: OrderLine, *, at: dt.datetime) -> Locks | None:
    return reserving.lock_and_tidy({line.item_id}, at=at) if line.item_id else None


def _reread(line: OrderLine) -> OrderLine:
    """Lock the line's order row, which guards lines without an item, and read the line again."""
    Order.objects.filter(pk=line.order_id).update(version=F("version"))
    fresh = OrderLine.objects.select_related("order", "item", "allocation").get(pk=line.pk)
    if fresh.order.closed_at is not None:
        raise Closed(f"Order {fresh.order.number} is closed; take a new order for what is wanted now.")
    return fresh


def locked(order: Order, *, open_only: bool = True) -> Order:
    """Lock the order row (after the item rows) and read it again."""
    Order.objects.filter(pk=order.pk).update(version=F("version"))
    fresh = Order.objects.select_related("customer").get(pk=order.pk)
    if open_only and fresh.closed_at is not None:
        raise Closed(f"Order {fresh.number} is closed; take a new order for what is wanted now.")
    return fresh


def touched(order: Order, *, at: dt.datetime) -> None:
    """Raise the order's version, and close it when nothing of it is owed."""
    Order.objects.filter(pk=order.pk).update(version=F("version") + 1)
    bell.ring_after_commit()
    close_if_done(order, at=at)


def close_if_done(order: Order, *, at: dt.datetime) -> None:
    """Close an order of which everything is sent or cancelled."""
    owed = OrderLine.objects.filter(order=order, ordered__gt=F("shipped") + F("cancelled")).exists()
    if not owed:
        Order.objects.filter(pk=order.pk, closed_at=None).update(closed_at=at)


def _check(wanted: Sequence[Wanted], terms: Terms) -> None:
    if not wanted:
        raise Invalid.field("lines", "The order has no line; add what is wanted and how many.")
    if len(wanted) > 500:
        raise Invalid.field("lines", "The order has more than 500 lines; take it as two orders.")
    for number, line in enumerate(wanted):
        _check_line(number, line)
    for name in ("deposit_minor", "carriage_minor"):
        if not 0 <= getattr(terms, name) <= MOST_MINOR:
            raise Invalid.field(name, f"{name.removesuffix('_minor')} is below nothing or absurdly high.")


def _check_line(number: int, line: Wanted) -> None:
    if not 1 <= line.qty <= MOST_PIECES:
        raise Invalid.field(f"lines.{number}.qty", f"Line {number + 1} asks for {line.qty}; write 1 to {MOST_PIECES}.")
    if bool(line.item) == bool(line.words.strip()):
        raise Invalid.field(f"lines.{number}.item", f"Line {number + 1} needs an item, or words for one made to order.")
    if line.options and not line.item:
        raise Invalid.field(f"lines.{number}.options", "Options go with an item; say it in the words of what is made.")
    if line.drawing and line.item:
        raise Invalid.field(f"lines.{number}.file", "A file goes with words for what is to be made, not an item.")
    if line.item and not catalogue.for_sale(line.item):
        raise Invalid.field(f"lines.{number}.item", f"{line.item.code} is not for sale; choose another item.")
    if line.price_minor is not None and not 0 <= line.price_minor <= MOST_MINOR:
        raise Invalid.field(f"lines.{number}.price", f"Line {number + 1}: write the agreed price for one.")
