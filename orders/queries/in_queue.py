"""The queue as it stands: what is owed in its order, with the days given and how sure they are."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from orders.models import Order, OrderLine, Promise, RatedPromise
from orders.queries.shop_state import queue
from shop.shared import shop_row


@dataclass(frozen=True, slots=True)
class Standing:
    """Lines of an order that stand together in the queue, under one day or none.

    `place` counts from 1. `chance` of the day as it was rated last, 0 to 1, nothing where it has no day or was not rated
    yet; `wanted` likewise. `first` says whether nothing of the order stands before it, `alone` whether all of it is here.
    """

    place: int
    order: Order
    lines: tuple[OrderLine, ...]
    promise: Promise | None
    chance: float | None
    wanted: float
    first: bool
    alone: bool


def standing() -> list[Standing]:
    """Return the queue from its head."""
    lines, shop = queue.open_lines(), shop_row.the_shop()
    by_line, by_order = queue.days_given({one.order_id for one in lines})
    rated = dict(RatedPromise.objects.filter(promise__superseded_by=None).values_list("promise_id", "chance_ppm"))

    def day_of(line: OrderLine) -> Promise | None:
        return by_line.get(line.pk) or by_order.get(line.order_id)

    groups = [(one, tuple(of)) for one, of in groupby(lines, lambda line: (line.order_id, day_of(line)))]
    of_order = [order for (order, _), _ in groups]
    found = []
    for place, ((order, promise), mine) in enumerate(groups):
        wanted = queue.sure_of(mine[0].order.customer.kind, shop)
        ppm = rated.get(promise.pk) if promise else None
        if promise is not None and promise.wanted_chance_ppm:
            wanted = promise.wanted_chance_ppm / queue.MILLION
        found.append(
            Standing(
                place + 1, mine[0].order, mine, promise, None if ppm is None else ppm / queue.MILLION, wanted,
                first=of_order.index(order) == place, alone=of_order.count(order) == 1,
            )
        )  # fmt: skip
    return found


def orders() -> Iterator[Order]:
    """Give the orders in the queue, each once, by the first of their lines."""
    return iter({line.order_id: line.order for line in queue.open_lines()}.values())
