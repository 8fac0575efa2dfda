"""What came of a plan in all futures, order by order: its curve, the chance of each promised day, what it waited for."""

from dataclasses import dataclass

import numpy as np

from orders.calc.dates import filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.filling import Filled
from orders.calc.dates.futures import Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.scenarios import Played
from orders.calc.dates.state import Shop


@dataclass(frozen=True, slots=True)
class Rated:
    """A promised order: its day, and the chance to keep it before and after a question or a change."""

    order: str
    day: int
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Hold:
    """What an order waits for: in how many of a hundred futures, and how many days of work at the mean."""

    what: str
    share: float
    days: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """A plan and all that came of it."""

    plan: Plan
    played: Played
    filled: Filled

    def curve(self, order: str, days: int) -> Curve:
        """Give the curve of an order."""
        return Curve.of(self.filled.sent[self.filled.orders.index(order)], days)


def outcome_of(shop: Shop, plan: Plan, drawn: Futures, *orders: str) -> Outcome:
    """Play a plan and give out what is finished.

    Args:
        shop: as it stands.
        plan: that is played.
        drawn: the futures.
        orders: of which it is noted what they wait for.

    Returns:
        The outcome.
    """
    traced = frozenset(run for order in orders for run in serving(shop, plan, order))
    played = scenarios.play(shop, plan, drawn, trace=traced)
    return Outcome(plan, played, filling.fill(shop, plan, drawn, played))


def chances(shop: Shop, outcome: Outcome) -> dict[str, tuple[int, float]]:
    """Give the promised orders with their day and the chance of it; an order has the latest day of its lines."""
    days: dict[str, int] = {}
    for line in shop.lines:
        if line.day is not None:
            days[line.order] = max(days.get(line.order, line.day), line.day)
    return {order: (day, outcome.curve(order, shop.horizon_days).sure(day)) for order, day in days.items()}


def holds(shop: Shop, outcome: Outcome, drawn: Futures, order: str) -> tuple[Hold, ...]:
    """Say what the runs that serve an order wait for, the longest first.

    Args:
        shop: as it stands.
        outcome: of a pass in which it was noted for this order.
        drawn: the futures of that pass.
        order: in question.
    """
    mine, found = serving(shop, outcome.plan, order), []
    waited = {(run, what): wait for (run, what), wait in outcome.played.waited.items() if run in mine}
    for cause in sorted({cause for _, cause in waited}):
        total = np.sum([wait for (_, what), wait in waited.items() if what == cause], axis=0)
        share = float(np.mean(total > 1))
        found.append(Hold(cause, share, float(np.mean(total)) / drawn.time.day_work / len(mine)))
    return tuple(sorted((one for one in found if one.share), key=lambda one: -one.days))


def serving(shop: Shop, plan: Plan, order: str) -> frozenset[int]:
    """Give the runs whose good pieces reach an order, at the good pieces that are counted on."""
    found = set()
    for item in {line.item for line in shop.lines if line.order == order}:
        lines = [line for line in shop.lines if line.item == item]
        first = next(place for place, line in enumerate(lines) if line.order == order)
        last = max(place for place, line in enumerate(lines) if line.order == order)
        before = sum(line.pieces for line in lines[:first])
        upto, there = sum(line.pieces for line in lines[: last + 1]), shop.stock.get(item, 0)
        for number, start in enumerate(plan.runs):
            if start.product.item == item and not start.shelf:
                if there < upto and there + start.good > before:
                    found.add(number)
                there += start.good
    return frozenset(found)
