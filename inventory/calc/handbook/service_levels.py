"""Service of stock under simple laws of demand: how often it runs dry, and what share of demand is met at once."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

NORMAL = NormalDist()


def loss(z: float) -> float:
    """Return how many standard deviations of demand are missing on the average beyond a level z.

    Source: phi(z) - z (1 - Phi(z)) (any table of the normal loss function).
    """
    return NORMAL.pdf(z) - z * (1 - NORMAL.cdf(z))


def loss_inverse(value: float) -> float:
    """Return the level beyond which so much is missing, above 0; by halving to 1e-12.

    Raises:
        ValueError: a value not above 0.
    """
    if value <= 0:
        raise ValueError("a loss is above 0")
    low, high = -value - 10.0, 40.0
    while high - low > 1e-12:
        middle = (low + high) / 2
        low, high = (middle, high) if loss(middle) > value else (low, middle)
    return (low + high) / 2


def level_for_cycles(mean: float, sd: float, service: float) -> float:
    """Return the reorder level at which this share of cycles does not run dry; normal demand over the lead time."""
    return mean + sd * NORMAL.inv_cdf(service)


def level_for_fill(mean: float, sd: float, service: float, units: float) -> float:
    """Return the reorder level at which this share of demand is met at once with orders of so many units.

    Source: (1 - beta) Q = sd L(z) (Nahmias, Production and Operations Analysis, chapter 5, from memory).
    """
    return mean + sd * loss_inverse((1 - service) * units / sd)


def poisson(mean: float, most: int) -> list[float]:
    """Return the chances of 0 to `most` units, mean 0 or more."""
    found = [math.exp(-mean)]
    for units in range(1, most + 1):
        found.append(found[-1] * mean / units)
    return found


@dataclass(frozen=True, slots=True)
class Service:
    """Chance that a cycle does not run dry, share of demand met at once, mean units on hand, mean units owed."""

    cycles: float
    filled: float
    on_hand: float
    owed: float


def of_point(mean: float, point: int, units: int) -> Service:
    """Return the service of ordering `units` at a point, with Poisson demand of this mean over the lead time.

    Source: Hadley and Whitin: the position is even over point+1 .. point+units (any textbook).
    """
    most = math.ceil(mean + 12 * math.sqrt(mean) + point + units + 20)
    chance = poisson(mean, most)
    positions = range(point + 1, point + units + 1)
    on_hand = sum((y - d) * chance[d] for y in positions for d in range(y)) / units
    owed = sum((d - y) * chance[d] for y in positions for d in range(y, most + 1)) / units
    met = sum(sum(chance[:y]) for y in positions) / units
    return Service(sum(chance[: point + 1]), met, on_hand, owed)


def counted(demand: float, short: Sequence[float], cycles: int) -> tuple[float, float]:
    """Return both services as counted: shortages of the cycles that had one, of so many cycles and so much demand."""
    return 1 - len(short) / cycles, 1 - sum(short) / demand
