"""Projected stock day by day with its band, what is expected to come, and the last safe day."""

import datetime as dt
from dataclasses import dataclass, replace

import numpy as np

from inventory.calc.reorder.deciding import FEW, HORIZON_DAYS, Asked, Coming, arrived, arriving, lasting
from inventory.calc.reorder.lead_demand import Scenarios


@dataclass(frozen=True, slots=True)
class Day:
    """Stock in the evening: median and the band of eight in ten, units, below 0 what is owed; and the chance it is short.

    comes: chance by order, in their order, that it comes on this very day.
    """

    day: dt.date
    low: int
    median: int
    high: int
    short: float
    comes: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RunDown:
    """An item's days; the last day half of the scenarios serve all, the last one with the wanted chance; None: beyond."""

    days: tuple[Day, ...]
    lasts_until: dt.date | None
    last_safe_day: dt.date | None


def run_down(
    asked: Asked, *, today: dt.date, days: int, proposed: Coming | None = None, scenarios: int = FEW
) -> RunDown:
    """Project an item's stock.

    Args:
        asked: how it stands this evening.
        today: the shop's day.
        days: how many, 1 to HORIZON_DAYS.
        proposed: an order to be placed tonight as well; its days are its lead time.
        scenarios: 1 or more; the same as in `decide`, so the days agree with its own.

    Returns:
        Today and so many days; today is what is there less what is owed. What comes on a day is there that evening and
        serves from the next day on. `short` is the chance that all has been served until then no longer holds.

    Raises:
        ValueError: days out of range.

    Source: percentiles of the scenarios of `decide`.
    """
    if not 1 <= days <= HORIZON_DAYS:
        raise ValueError(f"a run-down has 1 to {HORIZON_DAYS} days")
    whole = replace(asked, coming=(*asked.coming, proposed)) if proposed else asked
    drawn = Scenarios(asked.demand, asked.seed, scenarios)
    at = np.broadcast_to(np.arange(days + 1)[:, None], (days + 1, scenarios)).astype(np.int64)
    arrivals = arriving(whole.coming, drawn)
    stock = whole.free - whole.waited + arrived(whole.coming, arrivals, at + 1) - drawn.demand.due(at)
    if not drawn.silent:
        stock = stock - drawn.forecast(at.astype(np.float64))
    band = np.sort(stock, axis=1)
    low, median, high = (band[:, int(share * (scenarios - 1))] for share in (0.1, 0.5, 0.9))
    served = np.sort(lasting(whole, drawn))
    chances = [dict(zip(one.rest.days, one.rest.chances, strict=True)) for one in whole.coming]
    rows = tuple(
        Day(
            today + dt.timedelta(days=day),
            int(low[day]),
            int(median[day]),
            int(high[day]),
            float(np.searchsorted(served, day, side="left")) / scenarios,
            tuple(one.get(day, 0.0) for one in chances),
        )
        for day in range(days + 1)
    )
    return RunDown(rows, _day(int(served[scenarios // 2]), today), _day(int(served[_place(asked, scenarios)]), today))


def _place(asked: Asked, scenarios: int) -> int:
    return int((1 - asked.service) * scenarios + 1e-9)


def _day(days: int, today: dt.date) -> dt.date | None:
    return None if days > HORIZON_DAYS else today + dt.timedelta(days=days)
