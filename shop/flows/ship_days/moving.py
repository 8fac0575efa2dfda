"""Moves an order in the queue: first who loses by it, then the move, refused where the shop has changed in between."""

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any, Final

from orders.calc.dates import asking
from orders.models import Order, OrderLine
from orders.queries import ship_day, shop_state
from orders.queries.shop_state import queue
from orders.services import promising, queueing
from orders.services.promising import StaleAnswer
from shop.access.actor import Actor
from shop.shared import shop_row, snapshot, transactions
from shop.shared.errors import Invalid

FUTURES: Final = 1_000  # enough to tell who loses five points: ± 1.9 at 90 in 100 (binomial, nineteen times in twenty)

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Effect:
    """Each promised order with its chance before and after a move, as `ship_day.said_of` says it, in the order of the queue.

    `key` is the digest of the shop that it was reckoned for.
    """

    order: int
    rows: tuple[Row, ...]
    key: str

    @property
    def own(self) -> list[Row]:
        """The days of the order that is moved."""
        return [one for one in self.rows if one["order"] == self.order]

    @property
    def losers(self) -> list[Row]:
        """Others that fall below their wanted figure or lose more than five points."""
        return [one for one in self.rows if one["order"] != self.order and ship_day.loses(one)]

    @property
    def others(self) -> list[Row]:
        """Others that do not."""
        return [one for one in self.rows if one["order"] != self.order and not ship_day.loses(one)]


def effect(order: Order, before: Order | None, *, at: dt.datetime) -> Effect:
    """Say how sure every promised order is before and after a move; outside any transaction, nothing is written.

    Args:
        order: that is moved.
        before: which other it goes, or behind all where there is none.
        at: now.

    Raises:
        Invalid: nothing of it is in the queue, it stands there already, or the other is not in the queue.
    """
    with snapshot.one_moment():
        lines = _after(order, before)
        stated = shop_state.state(at=at)
        owed = queue.owed(lines, shop_row.the_shop(), stated.first_day)
    try:
        rated = asking.compare(stated.shop, replace(stated.shop, lines=owed.lines), seed=ship_day.SEED, futures=FUTURES)
    except ValueError as why:
        raise Invalid.field("order", f"Order {order.number}: what a move does cannot be worked out: {why}.") from why
    return Effect(order.number, tuple(ship_day.said_of(stated, one) for one in rated), stated.key())


def move(
    order: Order, before: Order | None, *, seen: str | None = None, at: dt.datetime, by: Actor, reason: str = ""
) -> list[OrderLine]:
    """Move an order before another, or behind all where there is none.

    Args:
        order: that is moved.
        before: which other it goes.
        seen: the key of the effect that was looked at; nothing is compared where there is none.
        at: now.
        by: who moves it.
        reason: why.

    Returns:
        The lines whose place has changed, in their new order.

    Raises:
        StaleAnswer: the shop has changed since the effect was looked at.
        Invalid: as `effect`.
    """
    transactions.assert_open()
    promising.lock_days()
    _after(order, before)
    if seen is not None and shop_state.state(at=at).key() != seen:
        raise StaleAnswer(
            "The shop has changed since this was worked out; nothing was moved. Look at who loses by it now."
        )
    return queueing.move(order, before, at=at, by=by, reason=reason)


def _after(order: Order, before: Order | None) -> list[OrderLine]:
    """Return the open lines as they would stand after a move."""
    lines = queue.open_lines()
    if order.pk not in {line.order_id for line in lines}:
        raise Invalid.field("order", f"Order {order.number} has nothing waiting in the queue.")
    changed = [line.pk for line in queueing.moved(order, before)]
    places = [place for place, line in enumerate(lines) if line.pk in set(changed)]
    if [lines[place].pk for place in places] == changed:
        where = f"before order {before.number}" if before else "behind all"
        raise Invalid.field("before", f"Before: order {order.number} stands {where} already; choose another place.")
    by_pk, found = {line.pk: line for line in lines}, list(lines)
    for place, pk in zip(places, changed, strict=True):
        found[place] = by_pk[pk]
    return found
