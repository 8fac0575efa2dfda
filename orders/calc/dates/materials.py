"""Steel, handles and what else a step takes: from stock, from deliveries that are under way, or yet to be bought."""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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
    bought: int | None
    taken: float = 0.0


@dataclass(frozen=True, slots=True)
class Need:
    """What a step of a run takes: the minute of work from which it is there, deliveries it comes from, items to buy."""

    when: float = 0.0
    comes: tuple[int, ...] = ()
    buys: tuple[str, ...] = ()


NOTHING: Final = Need()


def reserve(shop: Shop, time: WorkTime, starts: Sequence[Start]) -> dict[tuple[int, int], Need]:
    """Give what there is, and what is coming, to the runs in the order of the lines that want them first.

    So a run that can begin today does not take the steel of one that a line promised earlier waits for.

    Args:
        shop: as it stands.
        time: of the shop.
        starts: runs in the order of their rank.

    Returns:
        Needs by place of the run and number of the step; steps that take nothing are left out.
    """
    piles = _piles(shop)
    found = {}
    for place, start in enumerate(starts):
        pieces = float(start.pieces)
        for step in start.product.steps:
            if step.number > start.step:
                taken = _taken(start, step, pieces)
                if taken:
                    found[place, step.number] = _reserved(piles, time, taken)
                pieces *= step.rate
    return found


def _piles(shop: Shop) -> dict[str, _Pile]:
    suppliers = {one.code: one for one in shop.suppliers}
    items = {product.made_from for product in shop.products if product.made_from}
    items |= {item for product in shop.products for step in product.steps for item, _ in step.uses}
    coming: dict[str, list[tuple[float, int, int]]] = defaultdict(list)
    for number, one in enumerate(shop.coming):
        late = late_days(one, suppliers.get(one.supplier, UNKNOWN))
        coming[one.item].append((one.pieces, (one.day + late[len(late) // 2]) * DAY + shop.lorry, number))
    piles = {}
    for item in items:
        seller = suppliers.get(shop.buys_from.get(item, ""))
        usual = sorted(seller.late_days)[len(seller.late_days) // 2] if seller else 0
        bought = (seller.lead_days + usual) * DAY + shop.lorry if seller else None
        stock = (float(shop.stock.get(item, 0)), 0, STOCK)
        piles[item] = _Pile([stock, *sorted(coming[item], key=lambda one: one[1:])], bought)
    return piles


def _reserved(piles: Mapping[str, _Pile], time: WorkTime, taken: Sequence[tuple[str, float]]) -> Need:
    when, comes, buys = 0.0, set(), []
    for item, much in taken:
        pile, upto = piles[item], 0.0
        before, pile.taken = pile.taken, pile.taken + much
        for there, minute, number in pile.supply:
            if upto < pile.taken and upto + there > before and number != STOCK:
                comes.add(number)
                when = max(when, float(time.worked[min(max(0, minute), time.never)]))
            upto += there
        if upto < pile.taken:
            buys.append(item)
            when = math.inf if pile.bought is None else max(when, float(time.worked[min(pile.bought, time.never)]))
    return Need(when, tuple(sorted(comes)), tuple(buys))


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
