"""Economic order quantities. Money, units and time in any units that fit: K per order, h per unit and time, D per time."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """Units of an order and the cost by time; `short` is the share of time without stock."""

    units: float
    cost: float
    short: float = 0.0


def cost(order: float, holding: float, demand: float, units: float) -> float:
    """Return what ordering and keeping cost by time with orders of so many units, above 0.

    Source: K D / Q + h Q / 2 (any textbook).
    """
    return order * demand / units + holding * units / 2


def economic(order: float, holding: float, demand: float) -> Quantity:
    """Return the economic order quantity; all three above 0.

    Source: Harris 1913, the square root formula (any textbook).
    """
    units = math.sqrt(2 * order * demand / holding)
    return Quantity(units, cost(order, holding, demand, units))


def with_backorders(order: float, holding: float, penalty: float, demand: float) -> Quantity:
    """Return the quantity where a missing unit costs `penalty` by time and waits.

    Source: Snyder and Shen, Fundamentals of Supply Chain Theory, EOQ with planned backorders (checked on its instances).
    """
    units = math.sqrt(2 * order * demand * (holding + penalty) / (holding * penalty))
    short = holding / (holding + penalty)
    return Quantity(units, math.sqrt(2 * order * demand * holding * penalty / (holding + penalty)), short)


def made(set_up: float, holding: float, demand: float, rate: float) -> Quantity:
    """Return the quantity of a run that is made at a rate above the demand and used meanwhile.

    Source: economic production quantity (any textbook).
    """
    left = holding * (1 - demand / rate)
    return economic(set_up, left, demand)


def with_breaks(order: float, share: float, demand: float, breaks: Sequence[tuple[float, float]]) -> Quantity:
    """Return the quantity under all-units price breaks, purchase in the cost.

    Args:
        order: cost of an order.
        share: what keeping costs by time, as a share of the price.
        demand: units by time.
        breaks: from-quantity and price of each, the first from 0.

    Source: enumeration of the economic quantity of each price and of each break (any textbook).
    """
    found: Quantity | None = None
    for at, (start, price) in enumerate(breaks):
        end = breaks[at + 1][0] if at + 1 < len(breaks) else math.inf
        units = max(economic(order, share * price, demand).units, start)
        if units >= end:
            continue
        whole = price * demand + cost(order, share * price, demand, units)
        if found is None or whole < found.cost:
            found = Quantity(units, whole)
    assert found is not None
    return found


def with_random_loss(order: float, holding: float, demand: float, *, mean: float, sd: float) -> Quantity:
    """Return the quantity of which a random number of units more or less comes good, whatever is ordered.

    Args:
        order: cost of an order.
        holding: by unit and time.
        demand: units by time.
        mean: of what comes more than ordered, units; negative where some is lost.
        sd: its standard deviation, units.

    Source: Snyder and Shen, EOQ with additive yield (checked on example 9.4).
    """
    units = math.sqrt(2 * order * demand / holding + sd**2)
    return Quantity(units - mean, holding * units)


def with_random_share(order: float, holding: float, demand: float, *, mean: float, sd: float) -> Quantity:
    """Return the quantity of which a random share comes good.

    Args:
        order: cost of an order.
        holding: by unit and time.
        demand: units by time.
        mean: of the share, above 0.
        sd: its standard deviation.

    Source: Snyder and Shen, EOQ with multiplicative yield (checked on example 9.5).
    """
    square = mean**2 + sd**2
    units = math.sqrt(2 * order * demand / (holding * square))
    return Quantity(units, (order * demand / units + holding * units * square / 2) / mean)
