"""Further runs for what is short in the end, behind the last run of an item, one after the other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.calc.starts import Point
from orders.calc.dates import sizing, streams
from orders.calc.dates.futures import Futures
from orders.calc.dates.minutes import loads, minutes_of
from orders.calc.dates.pieces import MOST, good_of
from orders.calc.dates.route import Product
from orders.calc.dates.state import Shop
from orders.calc.dates.supply import Supply

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
TOP_UPS = 3  # further runs for what is short, then it is never; design of the calculator


@dataclass(frozen=True, slots=True, eq=False)
class Material:
    """An item as it comes in each future, and how much of it others take before."""

    supply: Supply
    taken: float


@dataclass(frozen=True, slots=True, eq=False)
class _Sizes:
    """By pieces that are short, 0 to the most: pieces to start, minutes of work, minutes that pass besides."""

    pieces: Whole
    work: Floats
    passes: Whole


def top_ups(
    shop: Shop, futures: Futures, product: Product, short: Whole, last: Whole, material: Mapping[str, Material]
) -> list[tuple[Whole, Whole]]:
    """Make up for what is short.

    What would be short of fewer pieces counts against more of them, so that a piece less to make up is never later.

    Args:
        shop: as it stands.
        futures: that were played.
        product: that is short.
        short: pieces, by future.
        last: minute by the clock at which the last run is finished; in a future in which it never is, nothing is made up.
        material: what a run takes, by item.

    Returns:
        For each run its minutes by the clock, never where none is made, and its good pieces.
    """
    found: list[tuple[Whole, Whole]] = []
    never, used = futures.time.never, dict.fromkeys(material, np.zeros(futures.count))
    ahead = sizing.points(product.steps, 0)
    for turn in range(TOP_UPS):
        at = np.flatnonzero((short > 0) & (last < never))
        if not len(at):
            break
        sizes = _sizes(shop, product, ahead, int(short[at].max()))
        begins = last[at]
        for item, much in _taken(product, sizes.pieces[short[at]]):
            used[item] = used[item].copy()
            used[item][at] += much
            begins = np.maximum(begins, material[item].supply.when(material[item].taken + used[item])[at])
        time = futures.time
        ends = time.to_clock(time.to_work(begins) + sizes.work[short[at]])
        ends = np.maximum(ends, begins) + sizes.passes[short[at]]
        left = _left(futures, product, short, at, sizes.pieces, turn)
        last, good = last.copy(), np.zeros_like(short)
        last[at] = np.where(begins < never, np.minimum(ends, never), never)
        good[at] = short[at] - left
        found.append((np.where(good > 0, last, never), good))
        short = short - good
    return found


def _sizes(shop: Shop, product: Product, ahead: tuple[Point, ...], most: int) -> _Sizes:
    pieces = [0, *(min(MOST, sizing.start_for(short, ahead, shop.starts_sure)) for short in range(1, most + 1))]
    pieces = np.maximum.accumulate(pieces).tolist()
    fixed, cures = sum(step.set_up + step.change for step in product.steps), sum(step.cure for step in product.steps)
    work = [fixed + sum(minutes_of(step, count) for step in product.steps) for count in pieces]
    ovens = [step.oven for step in product.steps if step.oven]
    passes = [cures + sum(oven.minutes * loads(oven, count) for oven in ovens) for count in pieces]
    return _Sizes(np.array(pieces), shop.top_up_waits * np.array(work), np.array(passes))


def _taken(product: Product, pieces: Whole) -> list[tuple[str, Floats]]:
    found = [(product.made_from, pieces.astype(np.float64))] if product.made_from else []
    return found + [(item, np.ceil(pieces * each)) for step in product.steps for item, each in step.uses]


def _left(
    futures: Futures, product: Product, short: Whole, at: Whole, sizes: Sequence[int] | Whole, turn: int
) -> Whole:
    """Give what is short still: the most that any number of pieces up to what was short would have left."""
    draws = []
    for step in product.steps:
        if step.good:
            rate = futures.rate(product.pattern, step)
            uniform = streams.stream(futures.seed, "top-up", product.item, step.number, turn).random(futures.count)
            draws.append((rate + (1 - rate) * step.rework * rate, uniform))
    left = np.zeros(len(at), dtype=np.int64)
    for count in range(1, int(short[at].max()) + 1):
        some = np.flatnonzero(short[at] >= count)
        good = np.full(len(some), sizes[count], dtype=np.int64)
        for rate, uniform in draws:
            good = good_of(good, rate[at[some]], uniform[at[some]])
        left[some] = np.maximum(left[some], count - good)
    return left
