"""The rule of thumb: the day a shop would say that looks at its shelf and at mean minutes, and at nobody else's work.

It stands beside the days that are given, so that a record can show what they are worth.
"""

import math
from collections import Counter
from collections.abc import Sequence

from orders.calc.dates.minutes import minutes_of
from orders.calc.dates.route import Product
from orders.calc.dates.state import Line, Shop
from orders.calc.dates.worktime import WorkTime, of


def plain_day(shop: Shop, lines: Sequence[Line]) -> int | None:
    """Give the day by the rule of thumb.

    What the shelf has beyond all that is owed of an item goes with the next carrier. Otherwise a run for all pieces is
    begun now and goes through its route alone: everybody there, all material there, each step at its mean minutes with
    its set-up, one load of the oven; then the next carrier. No queue, no rejects but the mean, no packing.

    Args:
        shop: as it stands, without the order.
        lines: of the order; those of one item count together.

    Returns:
        The latest day of all items, counted from the first day; nothing where one is neither on the shelf nor made
        here, or past the horizon.

    Source: no source; shop practice.
    """
    wanted: Counter[str] = Counter()
    for line in lines:
        wanted[line.item] += line.pieces
    time, clock = of(shop.hours, shop.horizon_days), shop.now
    for item, pieces in wanted.items():
        if not on_shelf(shop, item, pieces):
            product = next((one for one in shop.products if one.item == item), None)
            if product is None:
                return None
            clock = max(clock, _through(time, shop.now, product, pieces))
    day = int(time.ships[clock])
    return day if day < shop.horizon_days else None


def on_shelf(shop: Shop, item: str, pieces: int) -> bool:
    """Say whether the shelf has so many pieces of an item beyond what is owed of it."""
    owed = sum(line.pieces for line in shop.lines if line.item == item)
    return not pieces or shop.stock.get(item, 0) >= owed + pieces


def _through(time: WorkTime, clock: int, product: Product, pieces: int) -> int:
    """Give the minute by the clock at which a run for so many good pieces is through its route."""
    started = pieces / math.prod(step.rate for step in product.steps)
    for step in product.steps:
        work = float(time.worked[clock]) + step.set_up + step.change + minutes_of(step, started)
        passing = step.cure + (step.oven.minutes if step.oven else 0)
        clock = min(max(clock, time.clock_at(work)) + passing, time.never)
    return clock
