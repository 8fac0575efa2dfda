"""Who gets what is finished: lines in the order of the queue; and what becomes of what is short in the end."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from orders.calc.dates import sizing, streams
from orders.calc.dates.dispatch import minutes_of
from orders.calc.dates.pieces import MOST, good_of
from orders.calc.dates.plan import Plan
from orders.calc.dates.scenarios import Futures, Played
from orders.calc.dates.state import Product, Shop
from orders.calc.dates.worktime import WorkTime

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
TOP_UPS = 3  # further runs for what is short, then it is never; design of the calculator
ENDLESS = 10**9  # pieces; more than anybody orders


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """When each line is there, in minutes by the clock, and the day its parcel goes, by future; `days` stands for never.

    `ready` holds a row for each line, `sent` a row for each order in the order of its first line.
    """

    ready: list[Whole]
    orders: tuple[str, ...]
    sent: list[Whole]


def fill(shop: Shop, plan: Plan, futures: Futures, played: Played) -> Filled:
    """Give out what is finished.

    Args:
        shop: as it stands.
        plan: that was played.
        futures: it was played through.
        played: what became of its runs.

    Returns:
        When each line and each order is ready.
    """
    count, time = futures.count, futures.time
    ready: list[Whole] = [np.full(count, shop.now, dtype=np.int64) for _ in shop.lines]
    for product in shop.products:
        places = [place for place, line in enumerate(shop.lines) if line.item == product.item and line.pieces]
        if places:
            owed = np.cumsum([shop.lines[place].pieces for place in places])
            supply = _supply(shop, plan, futures, played, product, int(owed[-1]))
            for place, upto in zip(places, owed, strict=True):
                ready[place] = supply.when(int(upto))
    made = {product.item for product in shop.products}
    for item in dict.fromkeys(line.item for line in shop.lines if line.item not in made):
        places = [place for place, line in enumerate(shop.lines) if line.item == item and line.pieces]
        supply = _bought(shop, futures, item)
        for place, upto in zip(places, np.cumsum([shop.lines[place].pieces for place in places]), strict=True):
            ready[place] = supply.when(int(upto))
    orders = tuple(dict.fromkeys(line.order for line in shop.lines))
    sent = [
        _sent(shop, time, [ready[n] for n, line in enumerate(shop.lines) if line.order == order]) for order in orders
    ]
    return Filled(ready, orders, sent)


def by_pieces(shop: Shop, plan: Plan, futures: Futures, played: Played, place: int) -> list[tuple[int, Whole]]:
    """Give, for each number of pieces of a line upwards, the day on which so many can be sent.

    Args:
        shop: as it stands.
        plan: that was played.
        futures: it was played through.
        played: what became of its runs.
        place: of the line.

    Returns:
        Pairs of pieces and days by future.
    """
    line = shop.lines[place]
    before = sum(other.pieces for other in shop.lines[:place] if other.item == line.item)
    product = next((one for one in shop.products if one.item == line.item), None)
    owed = sum(other.pieces for other in shop.lines if other.item == line.item)
    if product is None:
        supply = _bought(shop, futures, line.item)
    else:
        supply = _supply(shop, plan, futures, played, product, owed)
    time, pieces = futures.time, range(1, line.pieces + 1)
    return [(count, _sent(shop, time, [supply.when(before + count)])) for count in pieces]


def _sent(shop: Shop, time: WorkTime, ready: list[Whole]) -> Whole:
    """Give the carrier's day after all is there and packed."""
    there = np.maximum.reduce(ready) if len(ready) > 1 else ready[0]
    packed = time.to_clock(time.to_work(there) + shop.pack_minutes)
    packed = np.where(there >= time.never, time.never, np.maximum(packed, there))
    found: Whole = time.ships[packed]
    return found


@dataclass(slots=True, eq=False)
class _Supply:
    """Pieces of an item as they come, row by run in the order they are finished, column by future."""

    free: int
    minute: Whole
    upto: Whole
    now: int

    def when(self, pieces: int) -> Whole:
        """Give when so many have come in all."""
        wanted = pieces - self.free
        if wanted <= 0:
            return np.full(self.minute.shape[1], self.now, dtype=np.int64)
        row = (self.upto < wanted).sum(axis=0)
        found: Whole = np.take_along_axis(self.minute, np.minimum(row, len(self.minute) - 1)[None, :], 0)[0]
        return found


def _supply(shop: Shop, plan: Plan, futures: Futures, played: Played, product: Product, owed: int) -> _Supply:
    free, never, count = shop.stock.get(product.item, 0), futures.time.never, futures.count
    mine = [number for number, start in enumerate(plan.runs) if start.product.item == product.item]
    minute = [played.finished[number] for number in mine]
    good = [np.where(when < never, played.good[number], 0) for number, when in zip(mine, minute, strict=True)]
    short = np.maximum(owed - free - sum(good, np.zeros(count, dtype=np.int64)), 0)
    last = _known(shop, futures, played, mine)
    for turn in range(TOP_UPS):
        if not short.any():
            break
        last, more = _top_up(shop, futures, product, short, last, turn)
        minute.append(np.where(short > 0, last, never))
        good.append(np.where(short > 0, more, 0))
        short = np.maximum(short - more, 0)
    minute.append(np.full(count, never, dtype=np.int64))
    good.append(np.full(count, owed, dtype=np.int64))
    table, pieces = np.stack(minute), np.stack(good)
    order = np.argsort(table, axis=0, kind="stable")
    upto = np.cumsum(np.take_along_axis(pieces, order, 0), axis=0)
    return _Supply(free, np.take_along_axis(table, order, 0), upto, shop.now)


def _known(shop: Shop, futures: Futures, played: Played, mine: list[int]) -> Whole:
    """Give when it is known that pieces are short: as the last run is counted that gave too few, else as all are done."""
    never, count = futures.time.never, futures.count
    done = [np.where(played.finished[number] < never, played.finished[number], shop.now) for number in mine]
    last = np.maximum.reduce(done) if done else np.full(count, shop.now)
    seen = [np.where(np.isinf(played.short[number]), -1.0, played.short[number]) for number in mine]
    latest = np.maximum.reduce(seen) if seen else np.full(count, -1.0)
    return np.where(latest >= 0, np.minimum(futures.time.to_clock(np.maximum(latest, 0.0)), last), last)


def _bought(shop: Shop, futures: Futures, item: str) -> _Supply:
    """Give what there is of an item that is not made here, what is coming, and what could be bought today."""
    rows = [(minute, one.pieces) for one, minute in zip(shop.coming, futures.arrivals, strict=True) if one.item == item]
    rows.append((futures.bought.get(item, np.full(futures.count, futures.time.never)), ENDLESS))
    rows.append((np.full(futures.count, futures.time.never), ENDLESS))
    table = np.stack([minute for minute, _ in rows])
    order = np.argsort(table, axis=0, kind="stable")
    pieces = np.array([pieces for _, pieces in rows])[order]
    return _Supply(shop.stock.get(item, 0), np.take_along_axis(table, order, 0), np.cumsum(pieces, axis=0), shop.now)


def _top_up(
    shop: Shop, futures: Futures, product: Product, short: Whole, begins: Whole, turn: int
) -> tuple[Whole, Whole]:
    """Make up for what is short with one more run: give when it is finished, and its good pieces."""
    ahead, time, count = sizing.points(product.steps, 0), futures.time, futures.count
    sizes = [0] + [
        min(MOST, sizing.start_for(n, ahead, shop.starts_sure)) for n in range(1, int(short.max()) + 1)
    ]  # fmt: skip
    pieces = np.array(sizes, dtype=np.int64)[short]
    good = pieces
    for step in product.steps:
        if step.good:
            rate = futures.rate(product.pattern, step)
            rate = rate + (1 - rate) * step.rework * rate
            uniform = streams.stream(futures.seed, "top-up", product.item, step.number, turn).random(count)
            good = good_of(good, rate, uniform)
    fixed = sum(step.set_up + step.change for step in product.steps)
    each = sum(minutes_of(step, 1) for step in product.steps)
    passing = sum(step.cure + (step.oven.minutes if step.oven else 0) for step in product.steps)
    ends = time.to_clock(time.to_work(begins) + shop.top_up_waits * (fixed + each * pieces))
    return np.minimum(np.where(pieces > 0, ends + passing, begins), time.never), good
