"""Steel, handles and what else a step takes: from stock, from deliveries that are under way, or yet to be bought."""

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import streams
from orders.calc.dates.sizing import Start
from orders.calc.dates.state import DAY, Coming, Shop, Step, Supplier
from orders.calc.dates.worktime import WorkTime

Whole = npt.NDArray[np.int64]
UNKNOWN: Final = Supplier("", (0,), 0)
STOCK: Final = -1


@dataclass(slots=True)
class _Pile:
    """What there is of an item in the order it comes: pieces, nominal minute, number of the delivery (-1: stock)."""

    supply: list[tuple[float, int, int]]
    taken: float = 0.0
    buys: bool = False
    lead: int = 0


@dataclass(slots=True)
class Needs:
    """Hands out what steps take, in the order of the plan."""

    time: WorkTime
    piles: dict[str, _Pile] = field(default_factory=dict)
    lorry: int = 0

    @classmethod
    def of(cls, shop: Shop, time: WorkTime) -> "Needs":
        """Look at the stock and at what is coming."""
        suppliers = {one.code: one for one in shop.suppliers}
        items = {product.made_from for product in shop.products if product.made_from}
        items |= {item for product in shop.products for step in product.steps for item, _ in step.uses}
        coming: dict[str, list[tuple[float, int, int]]] = defaultdict(list)
        for number, one in enumerate(shop.coming):
            late = late_days(one, suppliers.get(one.supplier, UNKNOWN))
            coming[one.item].append((one.pieces, (one.day + late[len(late) // 2]) * DAY + shop.lorry, number))
        piles = {}
        for item in items:
            bought = suppliers.get(shop.buys_from.get(item, ""))
            lead = (bought.lead_days + sorted(bought.late_days)[len(bought.late_days) // 2]) if bought else 0
            stock = (float(shop.stock.get(item, 0)), 0, STOCK)
            supply = [stock, *sorted(coming[item], key=lambda one: one[1:])]
            piles[item] = _Pile(supply, 0.0, bought is not None, lead)
        return cls(time, piles, shop.lorry)

    def nominal(self, start: Start, step: Step, pieces: float) -> float:
        """Give the minute of work from which all that a step takes is there, at what is usual; endless where never."""
        when = [self._when(item, much) for item, much in _taken(start, step, pieces)]
        return max(when, default=0.0)

    def take(self, start: Start, step: Step, pieces: float) -> tuple[tuple[int, ...], tuple[str, ...]]:
        """Take it; return the deliveries it comes from, and the items that have to be bought."""
        comes, buys = set(), []
        for item, much in _taken(start, step, pieces):
            pile = self.piles[item]
            upto, pile.taken = 0.0, pile.taken + much
            for there, _, number in pile.supply:
                if upto < pile.taken and number != STOCK and upto + there > pile.taken - much:
                    comes.add(number)
                upto += there
            if upto < pile.taken:
                buys.append(item)
        return tuple(sorted(comes)), tuple(buys)

    def _when(self, item: str, much: float) -> float:
        pile, upto = self.piles[item], 0.0
        for there, minute, _ in pile.supply:
            upto += there
            if upto >= pile.taken + much:
                return float(self.time.worked[min(minute, self.time.never)])
        if pile.buys:
            return float(self.time.worked[min(pile.lead * DAY + self.lorry, self.time.never)])
        return math.inf


def _taken(start: Start, step: Step, pieces: float) -> list[tuple[str, float]]:
    first = start.planned and step is start.product.steps[0] and start.product.made_from
    found = [(start.product.made_from, float(start.pieces))] if first else []
    return found + [(item, float(math.ceil(pieces * each))) for item, each in step.uses]


def late_days(coming: Coming, supplier: Supplier) -> list[int]:
    """Give the days by which a delivery may be late, given that it has not come yet, in order.

    Args:
        coming: the delivery; its promised day may lie before today, which is day 0.
        supplier: with the record.

    Returns:
        Those lates of the record that are still possible; where none is, a day from now up to as many as the record
        spreads over, one as likely as the other.
    """
    possible = sorted(late for late in supplier.late_days if coming.day + late >= 0)
    if possible:
        return possible
    spread = max(5, max(supplier.late_days) - min(supplier.late_days))
    return [day - coming.day for day in range(1, spread + 1)]


def arrivals(shop: Shop, seed: int, count: int) -> tuple[list[Whole], dict[str, Whole]]:
    """Draw when deliveries come, and when what is ordered today would.

    Args:
        shop: as it stands.
        seed: of the question.
        count: futures.

    Returns:
        Minutes by the clock, a row for each delivery under way and one for each item that can be bought.
    """
    suppliers = {one.code: one for one in shop.suppliers}
    met: dict[tuple[str, str, int], int] = defaultdict(int)
    rows = []
    for one in shop.coming:
        late = np.array(late_days(one, suppliers.get(one.supplier, UNKNOWN)))
        key = (one.supplier, one.item, one.day)
        uniform = streams.stream(seed, "late", *key, met[key]).random(count)
        met[key] += 1
        rows.append((one.day + late[(uniform * len(late)).astype(np.int64)]) * DAY + shop.lorry)
    bought = {}
    for item, code in sorted(shop.buys_from.items()):
        if code in suppliers:
            late = np.array(sorted(suppliers[code].late_days))
            uniform = streams.stream(seed, "bought", code, item).random(count)
            late = late[(uniform * len(late)).astype(np.int64)]
            bought[item] = np.maximum(0, suppliers[code].lead_days + late) * DAY + shop.lorry
    return rows, bought
