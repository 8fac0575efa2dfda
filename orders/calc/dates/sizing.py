"""What has to be started: how many pieces are short, out of what, in runs of which size."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from inventory.calc import starts
from inventory.calc.good_rates import Rate
from inventory.calc.starts import SAME, Point
from orders.calc.dates.state import Batch, Product, Shop, Step

PARTS = 10_000  # rates are kept to a ten-thousandth of a piece, so that equal rates are found again


@dataclass(frozen=True, slots=True)
class Start:
    """Pieces that go on together: a batch that is there, or a run that is to be started; first wanted by a line."""

    code: str
    product: Product
    step: int
    pieces: int
    good: int
    rank: int
    ready: int = 0
    done_minutes: float = 0.0
    by: tuple[str, ...] = ()
    planned: bool = False


def points(steps: Sequence[Step], after: int) -> tuple[Point, ...]:
    """Give the counting points that pieces standing after a step have before them."""
    return tuple(
        Point(Rate(Fraction(step.good).limit_denominator(PARTS), Fraction(step.bad).limit_denominator(PARTS)), step.rework)
        for step in steps
        if step.number > after and step.good
    )  # fmt: skip


@lru_cache(maxsize=4096)
def sure_good(pieces: int, ahead: tuple[Point, ...], sure: float) -> int:
    """Give how many come off well for certain enough.

    Args:
        pieces: that stand there.
        ahead: counting points before them.
        sure: chance that there are so many, between 0 and 1.

    Returns:
        0 to all of them.
    """
    chances = starts.through(pieces, ahead)[pieces]
    at_least = np.cumsum(chances[::-1])[::-1]
    return int(np.flatnonzero(at_least >= sure - SAME)[-1])


@lru_cache(maxsize=4096)
def start_for(needed: int, ahead: tuple[Point, ...], sure: float) -> int:
    """Give how many to start for so many good ones; as many as the mean asks for where no number is sure enough."""
    found = starts.starts(needed, sure, ahead, most=max(200, 4 * needed))
    return found.count if found else starts.plain(needed, ahead).count


@lru_cache(maxsize=4096)
def about(good: int, rate: float, sure: float) -> int:
    """Give about how many pieces are enough for so many good ones: the normal form of `start_for`, for many at once.

    Args:
        good: pieces wanted, 0 or more.
        rate: chance of each to come off well, above 0 and at most 1.
        sure: the chance wanted, between 0 and 1.

    Returns:
        The smallest number whose mean less its normal margin reaches half a piece under what is wanted.

    Source: normal approximation of the binomial with continuity correction (from memory; any textbook of statistics).
    """
    margin, pieces = NormalDist().inv_cdf(sure), good
    while pieces * rate - margin * math.sqrt(pieces * rate * (1 - rate)) < good - 0.5:
        pieces += 1
    return pieces


def wanted(shop: Shop) -> list[Start]:
    """Give all that goes on or is started, in the order of the lines that want it first.

    Args:
        shop: as it stands.

    Returns:
        Batches that are there, spare ones cut to what is wanted, and runs for what is still short.
    """
    found: list[Start] = []
    for product in shop.products:
        found += _of_product(shop, product)
    return sorted(found, key=lambda one: one.rank)


def _of_product(shop: Shop, product: Product) -> list[Start]:
    owed = [(rank, line.pieces) for rank, line in enumerate(shop.lines) if line.item == product.item and line.pieces]
    queue = _Queue(owed, shop.stock.get(product.item, 0))
    mine = [batch for batch in shop.batches if batch.item == product.item]
    found = []
    for batch in sorted((one for one in mine if not one.spare), key=lambda one: (-one.step, one.ready, one.code)):
        good = sure_good(batch.pieces, points(product.steps, batch.step), shop.starts_sure)
        found.append(_going_on(product, batch, batch.pieces, good, queue.serve(good, len(shop.lines))))
    for batch in sorted((one for one in mine if one.spare), key=lambda one: (-one.step, one.code)):
        if queue.short:
            ahead = points(product.steps, batch.step)
            pieces = min(batch.pieces, start_for(queue.short, ahead, shop.starts_sure))
            good = sure_good(pieces, ahead, shop.starts_sure)
            found.append(_going_on(product, batch, pieces, good, queue.serve(good, len(shop.lines))))
    return [*found, *_new_runs(shop, product, queue)]


def _going_on(product: Product, batch: Batch, pieces: int, good: int, rank: int) -> Start:
    return Start(batch.code, product, batch.step, pieces, good, rank, batch.ready, batch.done_minutes, batch.by)


def _new_runs(shop: Shop, product: Product, queue: "_Queue") -> list[Start]:
    ahead = points(product.steps, 0)
    found: list[Start] = []
    while needed := queue.together(product.usual):
        pieces = start_for(needed, ahead, shop.starts_sure)
        pieces = min(product.most, -(-pieces // product.bar_gives) * product.bar_gives)
        good = min(queue.short, max(1, sure_good(pieces, ahead, shop.starts_sure)))
        code, rank = f"{product.item}+{len(found) + 1}", queue.serve(good, len(shop.lines))
        found.append(Start(code, product, 0, pieces, good, rank, planned=True))
    return found


class _Queue:
    """Lines of one item in the order they were promised, and how far they are served."""

    def __init__(self, owed: Sequence[tuple[int, int]], free: int) -> None:
        self.owed = list(owed)
        self.served = 0
        self.total = sum(pieces for _, pieces in owed)
        self.serve(min(free, self.total), 0)

    @property
    def short(self) -> int:
        return self.total - self.served

    def together(self, usual: int) -> int:
        """Give how many pieces the next lines want that are made together: the first short line, others up to `usual`."""
        upto, found = 0, 0
        for _, pieces in self.owed:
            upto += pieces
            missing = min(pieces, max(0, upto - self.served))
            if missing and found and found + missing > usual:
                break
            found += missing
        return found

    def serve(self, good: int, nobody: int) -> int:
        """Serve with so many pieces; return the rank of the first line that gets one, or `nobody`."""
        upto, rank = 0, nobody
        for place, pieces in self.owed:
            upto += pieces
            if upto > self.served:
                rank = place
                break
        self.served = min(self.total, self.served + good)
        return rank
