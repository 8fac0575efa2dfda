"""Lots for known demand, period by period."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lots:
    """Units ordered in each period and what it costs in all."""

    units: tuple[int, ...]
    cost: float


def cheapest(
    demand: Sequence[int],
    order: float | Sequence[float],
    holding: float | Sequence[float],
    price: float | Sequence[float] = 0.0,
    *,
    there: int = 0,
) -> Lots:
    """Return the lots of least cost.

    Args:
        demand: units by period, 0 or more; all of it is met.
        order: cost of an order, for every period or one a period.
        holding: of a unit kept over the end of a period, the same way.
        price: of a unit, the same way.
        there: units at the start; they serve the first demand.

    Returns:
        The first of the cheapest plans that order in as late a period as may be.

    Source: Wagner and Whitin, Management Science 5 (1958) 89-96: an order is placed only when nothing is left.
    """
    periods = len(demand)
    orders, keeps, prices = (_each(one, periods) for one in (order, holding, price))
    net, left = [], there
    kept_at_first = 0.0
    for period, wanted in enumerate(demand):
        used = min(left, wanted)
        left -= used
        net.append(wanted - used)
        kept_at_first += keeps[period] * left
    kept = [0.0, *itertools.accumulate(keeps)]
    best: list[float] = [math.inf] * (periods + 1)
    best[periods] = 0.0
    until = [periods] * periods
    for start in range(periods - 1, -1, -1):
        units, keeping = 0, 0.0
        for end in range(start, periods):
            units += net[end]
            keeping += net[end] * (kept[end] - kept[start])
            spent = (orders[start] if units else 0.0) + prices[start] * units + keeping + best[end + 1]
            if spent < best[start] - 1e-9:
                best[start], until[start] = spent, end + 1
    lots, start = [0] * periods, 0
    while start < periods:
        lots[start] = sum(net[start : until[start]])
        start = until[start]
    return Lots(tuple(lots), best[0] + kept_at_first)


def _each(value: float | Sequence[float], periods: int) -> list[float]:
    return [float(one) for one in value] if isinstance(value, Sequence) else [float(value)] * periods
