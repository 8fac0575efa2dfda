"""Who gets what is finished: lines in the order of the queue; and what becomes of what is short in the end."""

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
import numpy.typing as npt

from orders.calc.dates import materials
from orders.calc.dates.futures import Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Product
from orders.calc.dates.scenarios import Played
from orders.calc.dates.state import Shop
from orders.calc.dates.supply import Supply, bought
from orders.calc.dates.topping import Material, top_ups
from orders.calc.dates.worktime import WorkTime

Whole = npt.NDArray[np.int64]
Takes = Mapping[str, Sequence[tuple[int, float]]]


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
    ready: list[Whole] = [np.full(futures.count, shop.now, dtype=np.int64) for _ in shop.lines]
    takes = materials.takes(plan)
    for item in dict.fromkeys(line.item for line in shop.lines if line.pieces):
        supply = _supply(shop, plan, futures, played, item, takes)
        for place, upto in _upto(shop, item, takes):
            ready[place] = supply.when(upto)
    mine: dict[str, list[Whole]] = {}
    for line, when in zip(shop.lines, ready, strict=True):
        mine.setdefault(line.order, []).append(when)
    return Filled(ready, tuple(mine), [_sent(shop, futures.time, rows) for rows in mine.values()])


def one_line(shop: Shop, plan: Plan, futures: Futures, played: Played, place: int, *, since: int = 0) -> Whole:
    """Give the day on which one line is sent, as if it were an order by itself.

    Args:
        shop: as it stands.
        plan: that was played.
        futures: it was played through.
        played: what became of its runs.
        place: of a line that owes a piece or more.
        since: minute by the clock at which it is ordered; what is bought for its item is bought from then on.

    Returns:
        Days by future.
    """
    later, takes = copy(futures), materials.takes(plan)
    later.bought = futures.bought_since(since)
    supply = _supply(shop, plan, later, played, shop.lines[place].item, takes)
    ready = supply.when(dict(_upto(shop, shop.lines[place].item, takes))[place])
    return _sent(shop, futures.time, [np.maximum(ready, since)])


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
    line, takes = shop.lines[place], materials.takes(plan)
    supply = _supply(shop, plan, futures, played, line.item, takes)
    before = dict(_upto(shop, line.item, takes)).get(place, 0) - line.pieces
    pieces = range(1, line.pieces + 1)
    return [(count, _sent(shop, futures.time, [supply.when(before + count)])) for count in pieces]


def _upto(shop: Shop, item: str, takes: Takes) -> Iterator[tuple[int, float]]:
    """Give for each line of an item how many have to be there: for it, the lines and the runs before it."""
    places = [place for place, line in enumerate(shop.lines) if line.item == item and line.pieces]
    made = any(product.item == item for product in shop.products)
    for place, upto in zip(places, accumulate(shop.lines[place].pieces for place in places), strict=True):
        yield place, upto + (0 if made else sum(much for rank, much in takes.get(item, ()) if rank <= place))


def _sent(shop: Shop, time: WorkTime, ready: list[Whole]) -> Whole:
    """Give the carrier's day after all is there and packed."""
    there = np.maximum.reduce(ready) if len(ready) > 1 else ready[0]
    packed = time.to_clock(time.to_work(there) + shop.pack_minutes)
    packed = np.where(there >= time.never, time.never, np.maximum(packed, there))
    found: Whole = time.ships[packed]
    return found


def _supply(shop: Shop, plan: Plan, futures: Futures, played: Played, item: str, takes: Takes) -> Supply:
    product = next((one for one in shop.products if one.item == item), None)
    if product is None:
        return bought(shop, futures, item)
    owed, free, never = (
        sum(line.pieces for line in shop.lines if line.item == item),
        shop.stock.get(item, 0),
        futures.time.never,
    )
    mine = [number for number, start in enumerate(plan.runs) if start.product.item == item and not start.shelf]
    rows = [(played.finished[n], np.where(played.finished[n] < never, played.good[n], 0)) for n in mine]
    short = np.maximum(owed - free - sum(good for _, good in rows), 0)
    nothing = np.full(futures.count, shop.now)
    last = np.maximum.reduce([nothing, *(minute for minute, _ in rows)])
    last = np.where(last < never, np.minimum(last, _seen(futures, played, mine)), last)
    if short.any():
        short = np.broadcast_to(short, (futures.count,))
        rows += top_ups(shop, futures, product, short, last, _materials(shop, futures, product, takes))
    return Supply.of(free, [*rows, (np.full(futures.count, never), owed)], shop.now)


def _seen(futures: Futures, played: Played, mine: Sequence[int]) -> Whole:
    """Give when it is seen that pieces are short: as the last run is counted that gives too few; never where none is."""
    time, rows = futures.time, [played.short[number] for number in mine]
    latest = np.maximum.reduce([np.full(futures.count, -1.0), *(np.where(np.isinf(row), -1.0, row) for row in rows)])
    return np.where(latest >= 0, time.to_clock(np.maximum(latest, 0.0)), time.never)


def _materials(shop: Shop, futures: Futures, product: Product, takes: Takes) -> dict[str, Material]:
    """Give what a further run takes: behind the plan and the lines that want the same before it, not behind the shelf."""
    place = max(place for place, line in enumerate(shop.lines) if line.item == product.item)
    found = {}
    for item in dict.fromkeys([product.made_from, *(item for step in product.steps for item, _ in step.uses)]):
        if item:
            sold = sum(line.pieces for line in shop.lines[:place] if line.item == item)
            taken = sum(much for rank, much in takes.get(item, ()) if rank <= len(shop.lines))
            found[item] = Material(bought(shop, futures, item), taken + sold)
    return found
