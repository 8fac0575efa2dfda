"""Levels that cost least: one period, base stock, order up to a level from a level, and a fixed quantity at a point."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from inventory.calc.handbook.quantities import economic, with_backorders
from inventory.calc.handbook.service_levels import NORMAL, loss, poisson


@dataclass(frozen=True, slots=True)
class Level:
    """Units to have, and the mean cost of a period."""

    units: float
    cost: float


def newsvendor(holding: float, penalty: float, mean: float, sd: float, periods: int = 1) -> Level:
    """Return the level for normal demand of one period, or of `periods` (lead time and one) for base stock.

    Source: critical ratio p / (p + h), cost (h + p) sd phi(z) (any textbook).
    """
    z = NORMAL.inv_cdf(penalty / (penalty + holding))
    whole = sd * math.sqrt(periods)
    return Level(mean * periods + z * whole, (holding + penalty) * whole * NORMAL.pdf(z))


def profit(price: float, unit_cost: float, salvage: float, mean: float, sd: float) -> Level:
    """Return the quantity of most profit for normal demand of one season; `cost` is the profit, negative."""
    over, under = unit_cost - salvage, price - unit_cost
    best = newsvendor(over, under, mean, sd)
    return Level(best.units, best.cost - under * mean)


def newsvendor_of(holding: float, penalty: float, chances: Mapping[int, float]) -> Level:
    """Return the level for any distribution of demand: the smallest with F >= p / (p + h).

    Float sums are compared with a tolerance of 1e-12, for tables often meet the ratio exactly.
    """
    ratio, so_far = penalty / (penalty + holding), 0.0
    units = max(chances)
    for level in sorted(chances):
        so_far += chances[level]
        if so_far >= ratio - 1e-12:
            units = level
            break
    spent = sum(c * (holding * max(0, units - d) + penalty * max(0, d - units)) for d, c in chances.items())
    return Level(units, spent)


def newsvendor_poisson(holding: float, penalty: float, mean: float) -> Level:
    """Return the level for Poisson demand."""
    return newsvendor_of(holding, penalty, dict(enumerate(poisson(mean, _most(mean)))))


def _most(mean: float) -> int:
    return math.ceil(mean + 12 * math.sqrt(mean) + 30)


@dataclass(frozen=True, slots=True)
class Pair:
    """Order at `low` or under it: up to `high` (s, S), or so many units `high` (r, Q); the cost of a period."""

    low: float
    high: float
    cost: float


def up_to(holding: float, penalty: float, order: float, mean: float) -> Pair:
    """Return the best (s, S) for Poisson demand of a period, looked at every period, nothing on the way.

    Source: Zheng and Federgruen, Operations Research 39 (1991) 654-665 (algorithm from memory; checked on its instances).
    """
    most = _most(mean)
    chance = poisson(mean, most)
    longest = 8 * most
    renewal = [1 / (1 - chance[0])]
    for units in range(1, longest):
        before = sum(chance[u] * renewal[units - u] for u in range(1, min(units, most) + 1))
        renewal.append(before / (1 - chance[0]))
    running = [0.0]
    for one in renewal:
        running.append(running[-1] + one)
    spent: dict[int, float] = {}

    def one_period(level: int) -> float:
        if level not in spent:
            spent[level] = sum(
                c * (holding * max(0, level - d) + penalty * max(0, d - level)) for d, c in enumerate(chance)
            )
        return spent[level]

    def by_period(low: int, high: int) -> float:
        kept = sum(renewal[j] * one_period(high - j) for j in range(high - low))
        return (order + kept) / running[high - low]

    best = round(newsvendor_of(holding, penalty, dict(enumerate(chance))).units)
    low = best - 1
    while by_period(low, best) > one_period(low):
        low -= 1
    high, cost = best, by_period(low, best)
    trial = best + 1
    while one_period(trial) <= cost:
        if by_period(low, trial) < cost:
            high, cost = trial, by_period(low, trial)
            while by_period(low, high) <= one_period(low + 1):
                low += 1
            cost = by_period(low, high)
        trial += 1
    return Pair(low, high, cost)


def power_approximation(holding: float, penalty: float, order: float, mean: float, sd: float) -> Pair:
    """Return (s, S) by the revised power approximation, nothing on the way; its cost is not worked out (NaN).

    The paper bounds both where a quantity is less than one and a half periods of demand; that bound is not applied here.

    Source: Ehrhardt and Mosier, Management Science 30 (1984) 618-622 (coefficients from memory, checked on an instance).
    """
    quantity = 1.30 * mean**0.494 * (order / holding) ** 0.506 * (1 + sd**2 / mean**2) ** 0.116
    z = math.sqrt(quantity * holding / (sd * penalty))
    low = 0.973 * mean + sd * (0.183 / z + 1.063 - 2.192 * z)
    return Pair(low, low + quantity, math.nan)


def fixed_poisson(holding: float, penalty: float, order: float, rate: float, lead: float) -> Pair:
    """Return the best (r, Q) for single units that come at random, `penalty` by unit and time.

    Source: Federgruen and Zheng: the cheapest positions are taken one by one while they lower the mean (from memory;
    checked on two instances).
    """
    mean = rate * lead
    chance = poisson(mean, _most(mean))

    def at(level: int) -> float:
        return sum(c * (holding * max(0, level - d) + penalty * max(0, d - level)) for d, c in enumerate(chance))

    low = high = round(newsvendor_of(holding, penalty, dict(enumerate(chance))).units)
    kept = at(low)
    cost = order * rate + kept
    while True:
        down, up = at(low - 1), at(high + 1)
        if min(down, up) >= cost:
            return Pair(low - 1, high - low + 1, cost)
        if down <= up:
            low, kept = low - 1, kept + down
        else:
            high, kept = high + 1, kept + up
        cost = (order * rate + kept) / (high - low + 1)


def fixed_cost(
    holding: float, penalty: float, order: float, rate: float, lead: float, sd: float, point: float, units: float
) -> float:
    """Return the cost by time of ordering `units` at a point, normal demand over the lead time, `sd` by square root of time.

    Source: (K D + the integral of the cost at each position) / Q (any textbook); the integral in closed form.
    """
    mean, spread = rate * lead, sd * math.sqrt(lead)

    def whole(y: float) -> float:
        z = (y - mean) / spread
        twice = ((z * z + 1) * (1 - NORMAL.cdf(z)) - z * NORMAL.pdf(z)) / 2
        return holding * (y - mean) ** 2 / 2 - (holding + penalty) * spread**2 * twice

    return (order * rate + whole(point + units) - whole(point)) / units


def fixed_normal(holding: float, penalty: float, order: float, rate: float, lead: float, sd: float) -> Pair:
    """Return the best (r, Q) under normal demand over the lead time, `penalty` by unit and time.

    Source: the cost is the same at the point and at the top, and equal to the mean (Zheng 1992, from memory).
    """

    def spent(units: float) -> float:
        return fixed_cost(holding, penalty, order, rate, lead, sd, _point_for(units), units)

    def _point_for(units: float) -> float:
        return point_for(holding, penalty, rate, lead, sd, units)

    low, high = economic(order, holding, rate).units / 4, economic(order, holding, rate).units * 8
    golden = (math.sqrt(5) - 1) / 2
    while high - low > 1e-7:
        left, right = high - golden * (high - low), low + golden * (high - low)
        low, high = (low, right) if spent(left) < spent(right) else (left, high)
    units = (low + high) / 2
    return Pair(_point_for(units), units, spent(units))


def point_for(holding: float, penalty: float, rate: float, lead: float, sd: float, units: float) -> float:
    """Return the point that goes best with a quantity: the cost at the point is that at the top."""
    mean, spread = rate * lead, sd * math.sqrt(lead)

    def at(y: float) -> float:
        return holding * (y - mean) + (holding + penalty) * spread * loss((y - mean) / spread)

    low, high = mean - 10 * spread - units, mean + 10 * spread
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if at(middle) > at(middle + units) else (low, middle)
    return (low + high) / 2


def fixed_with_backorders(holding: float, penalty: float, order: float, rate: float, lead: float, sd: float) -> Pair:
    """Return (r, Q) with the quantity of planned backorders and its best point."""
    units = with_backorders(order, holding, penalty, rate).units
    point = point_for(holding, penalty, rate, lead, sd, units)
    return Pair(point, units, fixed_cost(holding, penalty, order, rate, lead, sd, point, units))


def fixed_with_safety(holding: float, penalty: float, order: float, rate: float, lead: float, sd: float) -> Pair:
    """Return (r, Q) with the economic quantity and the point of one lead time's critical ratio."""
    units = economic(order, holding, rate).units
    point = newsvendor(holding, penalty, rate * lead, sd * math.sqrt(lead)).units
    return Pair(point, units, fixed_cost(holding, penalty, order, rate, lead, sd, point, units))


def fixed_by_turns(holding: float, penalty: float, order: float, rate: float, lead: float, sd: float) -> Pair:
    """Return (r, Q) where a missing unit costs `penalty` once: quantity and point in turns until they stand still.

    Its cost counts the mean stock as safety stock and half a quantity.

    Source: Hadley and Whitin, expected inventory level approximation (Snyder and Shen; checked on example 5.1).
    """
    mean, spread = rate * lead, sd * math.sqrt(lead)
    units = economic(order, holding, rate).units
    point, missing = mean, 0.0
    for _ in range(200):
        point = mean + spread * NORMAL.inv_cdf(1 - units * holding / (penalty * rate))
        missing = spread * loss((point - mean) / spread)
        fresh = math.sqrt(2 * rate * (order + penalty * missing) / holding)
        if abs(fresh - units) < 1e-12:
            break
        units = fresh
    kept = holding * (point - mean + units / 2)
    return Pair(point, units, kept + (order + penalty * missing) * rate / units)
