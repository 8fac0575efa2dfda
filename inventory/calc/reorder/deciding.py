"""One item's decision for tonight: how long stock lasts, by when and from which position to order, and how much at least."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from inventory.calc import lead_times
from inventory.calc.lead_times import LeadTime
from inventory.calc.reorder.lead_demand import SCENARIOS, Demand, Scenarios
from inventory.calc.reorder.point import Point, days_of, point
from inventory.calc.reorder.streams import Ints

HORIZON_DAYS: Final = 364  # No source: what lasts beyond a year is not given a day
FEW: Final = 512  # No source: scenarios for days; 98 in 100 is then met within 0.6 points
MONTH_DAYS: Final = 28  # No source: four weeks, over which the use of a day is told
_TELLING: Final = 0.9  # No source: within which days it comes nine times in ten


@dataclass(frozen=True, slots=True)
class Coming:
    """Units on order, 1 or more, and the days from today until they come."""

    qty: int
    rest: LeadTime

    def __post_init__(self) -> None:
        if self.qty < 1:
            raise ValueError("what is on order is a unit or more")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be decided on: an item as it stands this evening; units whole, in the item's own unit.

    free: there and not spoken for, 0 or more, a part also inside finished tools and on the floor.
    waited: owed to lines that wait, 0 or more; not part of the known demand.
    lead: None where nothing is known of it; the shop's default is taken then.
    service: wanted share of reorders in which nothing is missing, above 0 and below 1.
    seed: the item's own, so that tomorrow's answer differs by what happened and not by luck.
    review: days until the next look, 1 or more.
    own_point: the point the owner wrote down; the higher one holds.
    """

    free: int
    demand: Demand
    lead: LeadTime | None
    service: float
    seed: int
    coming: tuple[Coming, ...] = ()
    waited: int = 0
    review: int = 1
    own_point: int | None = None

    def __post_init__(self) -> None:
        if min(self.free, self.waited) < 0 or self.review < 1 or not 0 < self.service < 1:
            raise ValueError(
                "stock and what is owed are 0 or more, a look is a day or more apart, service within 0 and 1"
            )

    @property
    def position(self) -> int:
        """Free and coming, less what is owed; may be below 0."""
        return self.free + sum(one.qty for one in self.coming) - self.waited


class Cause(StrEnum):
    """What the decision rests on."""

    NOTHING_EXPECTED = "nothing expected"
    ENOUGH = "enough"
    AT_POINT = "at the point"
    AT_OWN_POINT = "at the point written down"
    KNOWN = "known demand"
    OWED = "owed"


@dataclass(frozen=True, slots=True)
class Why:
    """The facts behind a decision, for a sentence.

    known: units known to be wanted until the next look and its lead time, with the wanted chance.
    needed: units needed on average until an order of tonight comes; safety: units of the point beyond them.
    chance: that nothing is missing until an order of tonight comes, all that is on order counted as there.
    lead_usual, lead_long: days it takes on average, and at most nine times in ten; lead_records: deliveries behind it.
    weeks, taken: weeks of history, and those in which something was taken.
    """

    cause: Cause
    free: int
    coming: int
    waited: int
    known: int
    needed: float
    safety: float
    chance: float
    lead_usual: float
    lead_long: int
    lead_records: int
    weeks: int
    taken: int


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do about an item; a day None lies beyond HORIZON_DAYS.

    lasts_until: last day all is served in half of the scenarios, with what is on order and without any new order.
    last_safe_day: the same with the wanted chance. Both are today at the earliest.
    order_by: last evening on which an order still keeps the service, the expected one at the point at the latest; today
        where it is due or late.
    order_now: whether the position is at the point or under it. Without any demand expected only what is owed is ordered.
    point: reorder point, units; least: fewest units that lift the position above it until the next look, 0 if not now.
    """

    lasts_until: dt.date | None
    last_safe_day: dt.date | None
    order_by: dt.date | None
    order_now: bool
    point: int
    least: int
    per_day: float
    position: int
    why: Why

    @property
    def up_to(self) -> int:
        """The least position after ordering."""
        return self.position + self.least


def decide(asked: Asked, *, today: dt.date, scenarios: int = SCENARIOS) -> Decision:
    """Decide on an item.

    Args:
        asked: how it stands.
        today: the shop's day, whose demand is over.
        scenarios: for the point, 1 or more.

    Returns:
        The decision. No history and no forecast: only known demand counts, day by day, and without that nothing is ordered
        beyond what is owed. The point of demand that is all known is one unit under what is due until the next look and its
        lead time. A position that lasts beyond the horizon has no days.

    Source: (s, Q) policy under periodic review, see `point`; days: first passage of the same scenarios.
    """
    lead = asked.lead or lead_times.learn((), (), written=None, today=today)
    drawn = Scenarios(asked.demand, asked.seed, scenarios)
    found = point(drawn, lead, service=asked.service, review=asked.review)
    few = drawn.first(min(FEW, scenarios))
    idle = drawn.silent and not found.known
    level = max(found.units, asked.own_point or 0)
    cause = _cause(asked, found, idle=idle, silent=drawn.silent)
    now = cause not in {Cause.ENOUGH, Cause.NOTHING_EXPECTED}
    served = np.sort(lasting(asked, few))
    per_day = float(asked.demand.mean(np.array(float(MONTH_DAYS)))) / MONTH_DAYS
    ahead = int(np.ceil(float(asked.demand.mean(np.array(float(asked.review))))))
    least = (
        (-asked.position if idle and asked.own_point is None else level + max(1, ahead) - asked.position) if now else 0
    )
    days = days_of(lead, few.even())
    by = 0 if now else _order_by(asked, few, days, level)
    return Decision(
        lasts_until=_day(int(served[len(served) // 2]), today),
        last_safe_day=_day(int(served[int((1 - asked.service) * len(served) + 1e-9)]), today),
        order_by=_day(by, today),
        order_now=now,
        point=level,
        least=least,
        per_day=per_day,
        position=asked.position,
        why=Why(
            cause=cause,
            free=asked.free,
            coming=asked.position - asked.free + asked.waited,
            waited=asked.waited,
            known=found.known,
            needed=found.mean,
            safety=found.safety,
            chance=float(np.mean(_taken(few, days) <= asked.position)),
            lead_usual=lead.mean,
            lead_long=lead.within(_TELLING),
            lead_records=lead.records,
            weeks=len(asked.demand.history),
            taken=sum(1 for week in asked.demand.history if week),
        ),
    )


def lasting(asked: Asked, scenarios: Scenarios) -> Ints:
    """Return the last day from today on which all is served, by scenario; HORIZON_DAYS + 1 where it lasts longer.

    What comes on a day serves from the next day on. Being short once ends it, whatever comes afterwards.
    """
    begin = asked.free - asked.waited
    arrivals = arriving(asked.coming, scenarios)
    stops = np.sort(
        np.vstack((np.minimum(arrivals, HORIZON_DAYS), np.full((1, scenarios.count), HORIZON_DAYS))), axis=0
    )

    def short(days: Ints) -> Ints:
        there = begin + arrived(asked.coming, arrivals, days)
        return np.asarray(_taken(scenarios, days) > there, np.int64)

    failing = short(stops)
    ever = failing.any(axis=0)
    which = failing.argmax(axis=0)
    columns = np.arange(scenarios.count)
    bad = np.where(ever, stops[which, columns], HORIZON_DAYS + 2)
    good = np.where(which > 0, stops[np.maximum(which, 1) - 1, columns], 0)
    good = np.where(ever, np.minimum(good, bad - 1), HORIZON_DAYS + 1)
    return _halve(lambda days: short(days) == 0, good, bad)


def arriving(coming: tuple[Coming, ...], scenarios: Scenarios) -> Ints:
    """Return the day each order comes by scenario, shape (orders, scenarios)."""
    found = [days_of(one.rest, scenarios.even()[scenarios.shuffled(place)]) for place, one in enumerate(coming)]
    return np.array(found, np.int64).reshape(len(coming), scenarios.count)


def arrived(coming: tuple[Coming, ...], arrivals: Ints, days: Ints) -> Ints:
    """Return the units that serve on each day: of orders that came on a day before it; shape of `days`."""
    total = np.zeros_like(days)
    for one, row in zip(coming, arrivals, strict=True):
        total = total + one.qty * (row < days)
    return total


def _taken(scenarios: Scenarios, days: Ints) -> Ints:
    """Return what is taken until the end of each day, forecast and known."""
    due = scenarios.demand.due(days)
    return due if scenarios.silent else scenarios.forecast(days.astype(np.float64)) + due


def _halve(holds: Callable[[Ints], np.ndarray], good: Ints, bad: Ints) -> Ints:
    """Return the last day that holds, between one that does and one that does not, for all scenarios at once."""
    while (bad - good > 1).any():
        middle = (good + bad) // 2
        fine = holds(middle)
        good, bad = np.where(fine & (bad - good > 1), middle, good), np.where(fine | (bad - good <= 1), bad, middle)
    return good


def _order_by(asked: Asked, scenarios: Scenarios, days: Ints, level: int) -> int:
    """Return the days from today until the last evening on which an order keeps the service; the next look at the earliest.

    Never later than the evening on which the position is expected at the point, from which on it is asked for.
    """
    above = asked.position - level
    good, bad = asked.review, HORIZON_DAYS + 1
    while bad - good > 1:
        middle = (good + bad) // 2
        before = np.full(scenarios.count, middle - 1, np.int64)
        there = above <= 0 or float(np.median(_taken(scenarios, before))) < above
        if there and float(np.mean(_taken(scenarios, days + middle) <= asked.position)) >= asked.service - 1e-9:
            good = middle
        else:
            bad = middle
    return good if good < HORIZON_DAYS else HORIZON_DAYS + 1


def _cause(asked: Asked, found: Point, *, idle: bool, silent: bool) -> Cause:
    own = asked.own_point is not None and asked.position <= asked.own_point
    if own and (idle or asked.position > found.units):
        return Cause.AT_OWN_POINT
    if idle:
        later = Cause.ENOUGH if asked.demand.known else Cause.NOTHING_EXPECTED
        return Cause.OWED if asked.position < 0 else later
    if asked.position > found.units:
        return Cause.ENOUGH
    return Cause.KNOWN if silent or asked.position > found.units - found.known else Cause.AT_POINT


def _day(days: int, today: dt.date) -> dt.date | None:
    return None if days > HORIZON_DAYS else today + dt.timedelta(days=max(0, days))
