"""Pieces of an item as they come in each future: finished, delivered, bought; and when so many have come."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from orders.calc.dates.futures import Futures
from orders.calc.dates.state import Shop

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
ENDLESS = 10**9  # pieces; more than anybody orders


@dataclass(slots=True, eq=False)
class Supply:
    """Pieces of an item as they come, row by row in the order they come, column by future; `free` are there now."""

    free: int
    minute: Whole
    upto: Whole
    now: int

    @classmethod
    def of(cls, free: int, rows: list[tuple[Whole, Whole | int]], now: int) -> "Supply":
        """Put what comes in order.

        Args:
            free: pieces that are there.
            rows: minutes by the clock and pieces, by future; the last is endless.
            now: minute of now.
        """
        table = np.stack([minute for minute, _ in rows])
        pieces = np.stack([np.broadcast_to(pieces, table.shape[1:]) for _, pieces in rows])
        order = np.argsort(table, axis=0, kind="stable")
        upto = np.cumsum(np.take_along_axis(pieces, order, 0), axis=0)
        return cls(free, np.take_along_axis(table, order, 0), upto, now)

    def when(self, pieces: Whole | Floats | float) -> Whole:
        """Give when so many have come in all, the same number or one for each future."""
        wanted = np.asarray(pieces - self.free)
        row = (self.upto < wanted).sum(axis=0)
        found: Whole = np.take_along_axis(self.minute, np.minimum(row, len(self.minute) - 1)[None, :], 0)[0]
        return np.where(wanted > 0, found, self.now) if np.any(wanted <= 0) else found


def bought(shop: Shop, futures: Futures, item: str) -> Supply:
    """Give what there is of an item that is not made here, what is coming, and what could be bought today."""
    never = np.full(futures.count, futures.time.never)
    rows: list[tuple[Whole, Whole | int]] = [
        (minute, one.pieces) for one, minute in zip(shop.coming, futures.arrivals, strict=True) if one.item == item
    ]
    rows += [(futures.bought.get(item, never), ENDLESS), (never, ENDLESS)]
    return Supply.of(shop.stock.get(item, 0), rows, shop.now)
