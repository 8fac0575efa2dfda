"""What is owed, in the order of the queue, with the days that were given, as the calculator takes it."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.models import Item
from orders.calc.dates.state import Line
from orders.models import Customer, OrderLine, Promise
from orders.queries.shop_state import standing
from shop.shared.models import Shop

MILLION = 1_000_000
MOST = 1_000  # pieces of a line that the calculator takes at once


@dataclass(frozen=True, slots=True)
class Named:
    """What a name of the calculator stands for: an order, or one line of it that has a day of its own."""

    order_id: int
    number: int
    line: int | None
    customer: str
    kind: str
    promise_id: int | None
    day: dt.date | None
    wanted: float


@dataclass(frozen=True, slots=True)
class Owed:
    """Lines as the calculator takes them and what their orders stand for; `words` are made-to-order items by name."""

    lines: tuple[Line, ...]
    names: Mapping[str, Named]
    words: Mapping[str, OrderLine]


def open_lines() -> list[OrderLine]:
    """Return the lines of which something is neither sent nor cancelled, in the order of the queue."""
    found = OrderLine.objects.filter(order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
    return list(found.select_related("order__customer", "item", "pattern").order_by("queue_no"))


def owed(lines: Sequence[OrderLine], shop: Shop, first: dt.date, also: int | None = None) -> Owed:
    """Return open lines with what each still needs made or finished; nought where only the parcel is to go.

    A line with no day given whose pieces are all set aside asks for nothing, and is left out, but of the order `also`;
    so is what is weighed or measured, and steel by the length.
    """
    finished = standing.finished_for([one for one in lines if one.reserved])
    by_line, by_order = days_given({one.order_id for one in lines})
    alone = _rests(lines, by_line)
    names: dict[str, Named] = {}
    words: dict[str, OrderLine] = {}
    found = []
    for line in lines:
        promise = by_line.get(line.pk) or by_order.get(line.order_id)
        own = line.pk in by_line
        name = f"{line.order.number}.{line.number}" if own else str(line.order.number)
        item = line.item.code if line.item else made_to_order(line)
        pieces = line.ordered - line.shipped - line.cancelled - finished.get(line.pk, 0)
        if (promise is None and not pieces and line.order_id != also) or (
            line.item and line.item.unit != Item.Unit.PIECE
        ):
            continue
        wanted = sure_of(line.order.customer.kind, shop)
        if promise is not None and promise.wanted_chance_ppm:
            wanted = promise.wanted_chance_ppm / MILLION
        if line.item is None:
            words[item] = line
        names[name] = Named(
            line.order_id, line.order.number, line.number if own else None, line.order.customer.name,
            line.order.customer.kind, promise.pk if promise else None, promise.day if promise else None, wanted,
        )  # fmt: skip
        day = (promise.day - first).days if promise else None
        found += [Line(name, item, part, day, wanted, line.pk in alone) for part in _parts(pieces)]
    return Owed(tuple(found), names, words)


def _parts(pieces: int) -> list[int]:
    """Give the pieces of a line in parts that the calculator takes at once."""
    return [MOST] * (pieces // MOST) + ([pieces % MOST] if pieces % MOST or not pieces else [])


def _rests(lines: Sequence[OrderLine], by_line: Mapping[int, Promise]) -> set[int]:
    """Return the lines that are the later part of an order that was split: they are made in a run of their own."""
    first: dict[tuple[int, int | None], dt.date] = {}
    for line in lines:
        if line.pk in by_line and line.item_id:
            key = (line.order_id, line.item_id)
            first[key] = min(first.get(key, by_line[line.pk].day), by_line[line.pk].day)
    return {
        line.pk
        for line in lines
        if line.pk in by_line and line.item_id and by_line[line.pk].day > first[line.order_id, line.item_id]
    }


def made_to_order(line: OrderLine) -> str:
    """Return the name of what a made-to-order line asks for."""
    return f"{line.order.number}.{line.number}"


def sure_of(kind: str, shop: Shop) -> float:
    """Return the chance that is wanted of a day given to a kind of customer."""
    return (shop.sure_dealer if kind == Customer.Kind.DEALER else shop.sure_one_off) / 100


def days_given(orders: Iterable[int]) -> tuple[dict[int, Promise], dict[int, Promise]]:
    """Return the days of orders that stand: by the line where it has one of its own, and by the order."""
    by_line: dict[int, Promise] = {}
    by_order: dict[int, Promise] = {}
    for one in Promise.objects.filter(order__in=set(orders), superseded_by=None).order_by("id"):
        if one.line_id is None:
            by_order[one.order_id] = one
        else:
            by_line[one.line_id] = one
    return by_line, by_order
