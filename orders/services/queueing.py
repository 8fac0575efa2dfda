"""The place in the queue: moved by the owner, kept for what was said on the phone, let go when its day is over."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import F, Max

from orders.models import Order, OrderLine
from orders.services import ordering, reserving
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid


def say_until(order: Order, until: dt.date, *, at: dt.datetime, by: Actor) -> Order:
    """Note that an order was only said on the phone: it keeps stock and place until the end of a day."""
    transactions.assert_open()
    Order.objects.filter(pk=order.pk).update(said_until=until, version=F("version") + 1)
    audit.write(
        at=at,
        by=by.label,
        action="said on the phone",
        subject=f"order {order.number}",
        after={"until": until.isoformat()},
    )
    order.refresh_from_db()
    return order


def confirm(order: Order, *, at: dt.datetime, by: Actor) -> Order:
    """Note that the caller wants it: it is an order like any other."""
    transactions.assert_open()
    rows = Order.objects.filter(pk=order.pk, said_until__isnull=False, let_go_at=None, closed_at=None).update(
        said_until=None, version=F("version") + 1
    )
    if rows != 1:
        raise Invalid.field(
            "order", f"Order {order.number} does not wait for a word; it was confirmed, let go or closed. Look at it."
        )
    audit.write(at=at, by=by.label, action="confirmed", subject=f"order {order.number}")
    order.refresh_from_db()
    return order


def over(*, today: dt.date) -> list[Order]:
    """Return what was said on the phone until a day that is over."""
    return list(
        Order.objects.filter(said_until__lt=today, let_go_at=None, closed_at=None).order_by("said_until", "pk")[:50]
    )


def let_go(order: Order, *, at: dt.datetime, by: Actor) -> Order:
    """Let go of what was said on the phone and not confirmed: stock and place are free for others."""
    transactions.assert_open()
    until = order.said_until
    order = ordering.cancel_order(
        order,
        at=at,
        by=by,
        reason=f"Said on the phone until {until:%a} {until.day} {until:%b}, not confirmed." if until else "",
    )
    Order.objects.filter(pk=order.pk).update(let_go_at=at)
    order.refresh_from_db()
    return order


def move(order: Order, before: Order | None, *, at: dt.datetime, by: Actor, reason: str = "") -> list[OrderLine]:
    """Move an order in the queue: before another, or behind all where there is none.

    What is set aside stays; from now on pieces that come free go by the new order.

    Returns:
        The lines whose place has changed, in their new order.
    """
    transactions.assert_open()
    lines = moved(order, before)
    mine = {line.pk for line in lines if line.order_id == order.pk}
    if not mine:
        raise Invalid.field("order", f"Order {order.number} has nothing waiting in the queue.")
    items = {line.item_id for line in lines if line.item_id}
    locks = reserving.lock_and_tidy(items, at=at) if items else None
    lines = moved(order, before)
    numbers = sorted(line.queue_no for line in lines)
    was = [line.queue_no for line in lines]
    if was != numbers:
        _renumber(lines, numbers)
        if locks:
            reserving.serve_waiting(locks)
    audit.write(
        at=at,
        by=by.label,
        action="moved in the queue",
        subject=f"order {order.number}",
        before={"places": sorted(line.queue_no for line in lines if line.pk in mine)},
        after={"before": before.number if before else None},
        reason=reason,
    )
    return lines


def moved(order: Order, before: Order | None) -> list[OrderLine]:
    """Return the lines that change their place when an order goes before another, or to the end, in their new order.

    Raises:
        Invalid: before itself, or before an order that is not in the queue.
    """
    if before is not None and before.pk == order.pk:
        raise Invalid.field("before", f"Before: order {order.number} cannot go before itself; choose another.")
    waiting = OrderLine.objects.filter(order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
    queue = list(waiting.select_related("order").order_by("queue_no"))
    mine = [line for line in queue if line.order_id == order.pk]
    others = [line for line in queue if line.order_id != order.pk]
    place = len(others)
    if before is not None:
        found = next((at for at, line in enumerate(others) if line.order_id == before.pk), None)
        if found is None:
            raise Invalid.field("before", f"Before: order {before.number} is not in the queue; choose one that is.")
        place = found
    wanted = [*others[:place], *mine, *others[place:]]
    changed = [at for at, (now, then) in enumerate(zip(queue, wanted, strict=True)) if now.pk != then.pk]
    return wanted[changed[0] : changed[-1] + 1] if changed else mine


def _renumber(lines: Sequence[OrderLine], numbers: Sequence[int]) -> None:
    """Give lines the numbers in order; by way of numbers nobody has, for no two lines may have one at any time."""
    highest = OrderLine.objects.aggregate(most=Max("queue_no"))["most"] or 0
    lowest = -highest - 1
    for offset, line in enumerate(lines):
        OrderLine.objects.filter(pk=line.pk).update(queue_no=lowest - offset)
    for line, number in zip(lines, numbers, strict=True):
        OrderLine.objects.filter(pk=line.pk).update(queue_no=number, version=F("version") + 1)
