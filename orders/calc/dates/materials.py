"""Steel, handles and what else a step takes: from stock, from deliveries that are under way, or yet to be bought."""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import streams
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start
from orders.calc.dates.state import DAY, Coming, Shop, Supplier
from orders.calc.dates.worktime import WorkTime

Whole = npt.NDArray[np.int64]
UNKNOWN: Final = Supplier("", (0,), 0)
STOCK: Final = -1


@dataclass(slots=True)
class _Pile:
    """What there is of an item in the order it comes: pieces, nominal minute, number of the delivery (-1: stock).

    `bought` is the minute at which it would come if it were ordered now; `sold` are the lines that want it as it is:
    place in the queue and pieces.
    """

    supply: list[tuple[float, int, int]]
    bought: int | None
    taken: float = 0.0
    sold: tuple[tuple[int, int], ...] = ()

    def before(self, rank: int) -> float:
        """Give what was taken, and what lines before a rank will take."""
        return self.taken + sum(pieces for place, pieces in self.sold if place < rank)


@dataclass(frozen=True, slots=True)
class Need:
    """What a step of a run takes: the minute of work from which it is there at what is usual, endless where never.

    `last` names the item that comes last, `comes` the deliveries it is taken from, `buys` what has to be bought.
    """

    when: float = 0.0
    last: str = ""
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
                takes_now = taken(start, step, pieces)
                if takes_now:
                    found[place, step.number] = _reserved(piles, time, start, takes_now)
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
        bought = max(0, seller.lead_days + usual) * DAY + shop.lorry if seller else None
        stock = (float(shop.stock.get(item, 0)), 0, STOCK)
        sold = tuple((place, line.pieces) for place, line in enumerate(shop.lines) if line.item == item)
        piles[item] = _Pile([stock, *sorted(coming[item], key=lambda one: one[1:])], bought, 0.0, sold)
    return piles


def _reserved(piles: Mapping[str, _Pile], time: WorkTime, start: Start, wanted: Sequence[tuple[str, float]]) -> Need:
    when, last, comes, buys = 0.0, "", set(), []
    for item, much in wanted:
        pile, upto, there_at = piles[item], 0.0, 0.0
        begin = pile.before(start.rank)
        pile.taken += much
        for there, minute, number in pile.supply:
            if upto < begin + much and upto + there > begin and number != STOCK:
                comes.add(number)
                there_at = max(there_at, float(time.worked[min(max(0, minute), time.never)]))
            upto += there
        if upto < begin + much:
            buys.append(item)
            later = start.since // DAY * DAY
            at = math.inf if pile.bought is None else float(time.worked[min(pile.bought + later, time.never)])
            there_at = max(there_at, at)
        if there_at > when:
            when, last = there_at, item
    return Need(when, last, tuple(sorted(comes)), tuple(buys))


def taken(start: Start, step: Step, pieces: float) -> list[tuple[str, float]]:
    """Give what a step of a run takes: items, and how much of each."""
    steps = start.product.steps
    first = start.planned and step.number == steps[0].number and start.product.made_from
    found = [(start.product.made_from, float(start.pieces))] if first else []
    return found + [(item, float(math.ceil(pieces * each))) for item, each in step.uses]


def takes(plan: Plan) -> dict[str, list[tuple[int, float]]]:
    """Give what a plan takes of each item at the mean: rank of the run, and how much."""
    found: dict[str, list[tuple[int, float]]] = defaultdict(list)
    pieces = [float(start.pieces) for start in plan.runs]
    for one in plan.operations:
        start = plan.runs[one.run]
        for item, much in taken(start, one.step, pieces[one.run]):
            found[item].append((start.rank, much))
        pieces[one.run] *= one.step.rate
    return found


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
    met: dict[tuple[str, str], int] = defaultdict(int)
    rows = []
    for one in shop.coming:
        late = np.array(late_days(one, suppliers.get(one.supplier, UNKNOWN)))
        key = (one.supplier, one.item)  # not the day: a delivery that is promised anew is late by as much
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
