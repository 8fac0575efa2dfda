"""The last day on which an item can be ordered and still be sent by a day. Reckoned outside any transaction, never kept."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from inventory.models import Item
from orders.calc.dates import last_day
from orders.models import Customer
from orders.queries import ship_day, shop_state
from orders.queries.shop_state import calendar
from orders.queries.shop_state.queue import sure_of
from shop.flows.ship_days.asking import MOST_PIECES
from shop.shared import clock, shop_row, snapshot
from shop.shared.errors import Invalid

FUTURES: Final = 500  # ± 2.6 points at 90 in 100 (binomial, nineteen times in twenty); each day tried costs one pass
MOST_DAYS: Final = 3


@dataclass(frozen=True, slots=True)
class Last:
    """The last day to order for a day: nothing where today is too late; `chance` of one ordered then, or today."""

    by: dt.date
    order_by: dt.date | None
    chance: float
    leaves_out: str


def find(
    item: Item, pieces: int, by: Sequence[dt.date], *, kind: str = Customer.Kind.ONE_OFF, at: dt.datetime
) -> list[Last]:
    """Find the last days to order so many pieces for up to three days, in the order of these.

    Args:
        item: wanted.
        pieces: of it, 1 to 1,000.
        by: days by the end of which it is to be sent.
        kind: of customer, which says how sure the shop wants to be.
        at: now.

    Raises:
        Invalid: a day that is over or more than 399 days off, too many, or an item that cannot be asked for.
    """
    shop = shop_row.the_shop()
    _check(item, pieces, by, today=clock.local_date(at, shop.zone))
    with snapshot.one_moment():
        stated = shop_state.state(at=at, items=[item])
    first = stated.first_day
    try:
        found = last_day.last_days(
            stated.shop, item.code, pieces, [(day - first).days for day in by],
            sure=sure_of(kind, shop), seed=ship_day.SEED, futures=FUTURES, keep=False,
        )  # fmt: skip
    except ValueError as why:
        raise Invalid.field("item", f"Item: {item.code} cannot be worked out: {why}.") from why
    return [
        Last(
            first + dt.timedelta(days=one.by),
            None if one.order_by is None else first + dt.timedelta(days=one.order_by),
            one.sure,
            one.leaves_out,
        )
        for one in found
    ]


def _check(item: Item, pieces: int, by: Sequence[dt.date], *, today: dt.date) -> None:
    last = today + dt.timedelta(days=calendar.AHEAD - 1)
    if not item.active:
        raise Invalid.field("item", f"Item: {item.code} is not sold any more; choose another.")
    if not 1 <= pieces <= MOST_PIECES:
        raise Invalid.field("qty", f"How many: {pieces} cannot be asked for; 1 to {MOST_PIECES} would work.")
    if not 1 <= len(by) <= MOST_DAYS:
        raise Invalid.field("by.0", f"To be sent by: name 1 to {MOST_DAYS} days.")
    for number, day in enumerate(by):
        if not today <= day <= last:
            raise Invalid.field(
                f"by.{number}",
                f"To be sent by: {day:%Y-%m-%d} cannot be asked about; a day from {today:%Y-%m-%d} to {last:%Y-%m-%d} "
                "would work.",
            )
