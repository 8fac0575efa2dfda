"""What has to be started: how many pieces are short, out of what, in runs of which size."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from inventory.calc import starts
from inventory.calc.good_rates import Rate
from inventory.calc.starts import SAME, Point
from orders.calc.dates.minutes import rate_of
from orders.calc.dates.route import Product, Step
from orders.calc.dates.state import Batch, Shop

SHELF = "+shelf"  # between the item and the number of a run that is made for the shelf
PARTS = 10_000  # rates are kept to a ten-thousandth of a piece, so that equal rates are found again


@dataclass(frozen=True, slots=True)
class Start:
    """Pieces that go on together: a batch that is there, or a run that is to be started; first wanted by a line.

    `since` is the minute by the clock from which they are wanted, for an order that is yet to be placed; 0 is now.
    `shelf` says that nobody has ordered them.
    """

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
    since: int = 0
    shelf: bool = False


def item_of(code: str) -> str:
    """Give the item of a run that is still to be started, from its name; none where it names no such run."""
    item, _, number = code.rpartition("+")
    number = number.removeprefix(SHELF[1:])
    return item if number.isascii() and number.isdigit() and number[0] != "0" else ""


def points(steps: Sequence[Step], after: int) -> tuple[Point, ...]:
    """Give the counting points that pieces standing after a step have before them.

    Of the rejects that are worked over only as many pass as of the others: the futures count so.
    """
    return tuple(
        Point(
            Rate(Fraction(step.good).limit_denominator(PARTS), Fraction(step.bad).limit_denominator(PARTS)),
            step.rework * rate_of(step),
        )
        for step in steps
        if step.number > after and step.good
    )


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
    chances = _at_least(_rows(pieces), ahead)[pieces, : pieces + 1]
    return int(np.flatnonzero(chances >= sure - SAME)[-1])


@lru_cache(maxsize=4096)
def start_for(needed: int, ahead: tuple[Point, ...], sure: float) -> int:
    """Give how many to start for so many good ones; as many as the mean asks for where no number is sure enough."""
    most, rows = max(200, 4 * needed), _rows(2 * needed + 20)
    while True:
        enough = np.flatnonzero(_at_least(rows, ahead)[: most + 1, needed] >= sure - SAME)
        if len(enough):
            return int(enough[0])
        if rows >= most:
            return math.ceil(needed / math.prod(point.mean for point in ahead) - SAME)
        rows *= 2


def _rows(pieces: int) -> int:
    return max(64, 1 << (pieces - 1).bit_length())


@lru_cache(maxsize=64)
def _at_least(most: int, ahead: tuple[Point, ...]) -> npt.NDArray[np.float64]:
    """Give the chance of each number of good ones or more, row by pieces started: one table for all questions of a route."""
    chances = starts.through(most, ahead)
    return np.minimum(1.0, np.cumsum(chances[:, ::-1], axis=1)[:, ::-1])


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


def wanted(shop: Shop, kept: Sequence[Start] = ()) -> list[Start]:
    """Give all that goes on or is started, in the order of the lines that want it first.

    Args:
        shop: as it stands.
        kept: runs of a plan that is kept; they keep their sizes, and what is short beside them is started besides.

    Returns:
        Batches that are there, spare ones cut to what is wanted, runs for what is still short, and behind all of them
        what is made for the shelf.
    """
    found: list[Start] = []
    for product in shop.products:
        found += _of_product(shop, product, [one for one in kept if one.product.item == product.item and not one.shelf])
        found += _for_shelf(shop, product)
    return sorted(found, key=lambda one: one.rank)


def _of_product(shop: Shop, product: Product, kept: Sequence[Start]) -> list[Start]:
    mine = [(rank, line) for rank, line in enumerate(shop.lines) if line.item == product.item and line.pieces]
    owed = [(rank, line.pieces, line.alone) for rank, line in mine]
    queue = _Queue(owed, shop.stock.get(product.item, 0), len(shop.lines))
    batches = sorted(
        (batch for batch in shop.batches if batch.item == product.item),
        key=lambda one: (-one.step, one.ready, one.code),
    )
    found = [_going_on(shop, product, batch, batch.pieces, queue) for batch in batches if not batch.spare]
    before = {one.code: one.pieces for one in kept if not one.planned}
    spare = [batch for batch in batches if batch.spare]
    for batch in [batch for batch in spare if batch.code in before]:
        found += [_going_on(shop, product, batch, min(batch.pieces, before[batch.code]), queue)] if queue.short else []
    planned: list[Start] = []
    for one in [one for one in kept if one.planned]:
        planned += [_planned(shop, product, one.code, one.pieces, queue)] if queue.short else []
    for batch in [_rest(batch, before) for batch in spare if before.get(batch.code, 0) < batch.pieces]:
        if queue.short:
            needed = min(queue.short, batch.pieces)
            pieces = start_for(needed, points(product.steps, batch.step), shop.starts_sure)
            found.append(_going_on(shop, product, batch, min(batch.pieces, pieces), queue))
    while queue.short:
        code, pieces = f"{product.item}+{len(planned) + 1}", _run_size(shop, product, queue)
        planned.append(_planned(shop, product, code, pieces, queue))
    return [*found, *planned]


def _for_shelf(shop: Shop, product: Product) -> list[Start]:
    """Give the runs that are made for the shelf, in equal parts where they are more than a run takes."""
    pieces = next((one.pieces for one in shop.for_shelf if one.item == product.item), 0)
    runs, rank, ahead = -(-pieces // product.most), len(shop.lines) + 1, points(product.steps, 0)
    sizes = [pieces // runs + (number < pieces % runs) for number in range(runs)]
    return [
        Start(f"{product.item}{SHELF}{number}", product, 0, size, sure_good(size, ahead, shop.starts_sure), rank,
              planned=True, shelf=True)
        for number, size in enumerate(sizes, 1)
    ]  # fmt: skip


def _rest(batch: Batch, before: Mapping[str, int]) -> Batch:
    """Give what is left of spare pieces beside those that a kept plan takes: pieces nobody has begun to work on."""
    if batch.code not in before:
        return batch
    return replace(batch, code=f"{batch.code}+", pieces=batch.pieces - before[batch.code], done_minutes=0.0, by=())


def _going_on(shop: Shop, product: Product, batch: Batch, pieces: int, queue: "_Queue") -> Start:
    good = sure_good(pieces, points(product.steps, batch.step), shop.starts_sure)
    rank = queue.serve(good)
    return Start(batch.code, product, batch.step, pieces, good, rank, batch.ready, batch.done_minutes, batch.by)


def _planned(shop: Shop, product: Product, code: str, pieces: int, queue: "_Queue") -> Start:
    good = min(queue.short, max(1, sure_good(pieces, points(product.steps, 0), shop.starts_sure)))
    return Start(code, product, 0, pieces, good, queue.serve(good), planned=True)


def _run_size(shop: Shop, product: Product, queue: "_Queue") -> int:
    """Give the size of a run for the next lines: rounded up to whole bars, but no more than a run takes."""
    needed = queue.together(product.usual)
    if needed >= product.most:
        return product.most
    pieces = start_for(needed, points(product.steps, 0), shop.starts_sure)
    return min(product.most, -(-pieces // product.bar_gives) * product.bar_gives)


class _Queue:
    """Lines of one item in the order they were promised, and how far they are served; `nobody` ranks behind them all."""

    def __init__(self, owed: Sequence[tuple[int, int, bool]], free: int, nobody: int) -> None:
        self.owed, self.nobody = list(owed), nobody
        self.served = 0
        self.total = sum(pieces for _, pieces, _ in owed)
        self.serve(min(free, self.total))

    @property
    def short(self) -> int:
        return self.total - self.served

    def together(self, usual: int) -> int:
        """Give how many pieces the next lines want that are made together: the first short line, others up to `usual`."""
        upto, found = 0, 0
        for _, pieces, alone in self.owed:
            upto += pieces
            missing = min(pieces, max(0, upto - self.served))
            if missing and found and (alone or found + missing > usual):
                break
            found += missing
            if missing and alone:
                break
        return found

    def serve(self, good: int) -> int:
        """Serve with so many pieces; return the rank of the first line that gets one, or that of nobody."""
        upto, rank = 0, self.nobody
        for place, pieces, _ in self.owed:
            upto += pieces
            if upto > self.served:
                rank = place
                break
        self.served = min(self.total, self.served + good)
        return rank
