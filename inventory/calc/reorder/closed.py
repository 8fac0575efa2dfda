"""Demand over a random lead time in closed form, where demand or days follow a simple law: for checks and for plain items."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist


@dataclass(frozen=True, slots=True)
class Spread:
    """Mean and standard deviation of the demand over a lead time, units."""

    mean: float
    sd: float

    def stock(self, service: float) -> float:
        """Return the units beyond the mean that hold with this chance, above 0 and below 1, under the normal law."""
        return NormalDist().inv_cdf(service) * self.sd

    def point(self, service: float) -> float:
        """Return the level that holds with this chance under the normal law, units."""
        return self.mean + self.stock(service)


def spread(day_mean: float, day_sd: float, lead_mean: float, lead_sd: float) -> Spread:
    """Return mean and spread of demand over a random lead time, days independent of each other and of the lead time.

    Args:
        day_mean: units a day, 0 or more.
        day_sd: standard deviation of a day's demand, units.
        lead_mean: days, 0 or more.
        lead_sd: standard deviation, days.

    Raises:
        ValueError: a value below 0.

    Source: Var = E[L] s^2 + d^2 Var(L); Chopra and Meindl, Supply Chain Management, safety inventory (from memory).
    """
    if min(day_mean, day_sd, lead_mean, lead_sd) < 0:
        raise ValueError("means and spreads are 0 or more")
    return Spread(day_mean * lead_mean, math.sqrt(lead_mean * day_sd**2 + (day_mean * lead_sd) ** 2))


def exact(day: Mapping[int, float], lead: Mapping[int, float]) -> tuple[float, ...]:
    """Return the chances of 0, 1, 2 ... units over a random lead time, by convolution.

    Args:
        day: chances of the units of one day, together 1.
        lead: chances of the days, together 1.

    Source: definition of the compound distribution.
    """
    most, longest = max(day), max(lead)
    total = [0.0] * (most * longest + 1)
    so_far = [1.0]
    for days in range(longest + 1):
        for units, chance in enumerate(so_far):
            total[units] += lead.get(days, 0.0) * chance
        further = [0.0] * (len(so_far) + most)
        for units, chance in enumerate(so_far):
            for more, each in day.items():
                further[units + more] += chance * each
        so_far = further
    return tuple(total)


def poisson(per_day: float, lead: Mapping[int, float]) -> tuple[float, ...]:
    """Return the chances of 0, 1, 2 ... units over a random lead time, single units coming at random.

    Args:
        per_day: units expected a day, 0 or more.
        lead: chances of the days, together 1.

    Returns:
        Chances up to where less than 1e-12 is left.

    Source: definition; a mixture of Poisson distributions.
    """
    if per_day < 0:
        raise ValueError("demand is 0 or more")
    largest = per_day * max(lead)
    found = [0.0] * (math.ceil(largest + 12 * math.sqrt(largest) + 30) + 1)
    for days, weight in lead.items():
        expected = per_day * days
        for units in range(len(found)) if expected else ():
            found[units] += weight * math.exp(units * math.log(expected) - expected - math.lgamma(units + 1))
        found[0] += 0.0 if expected else weight
    return tuple(found)


def least(chances: tuple[float, ...], service: float) -> int:
    """Return the fewest units that hold with this chance; the last with any chance where none reaches it."""
    so_far = 0.0
    for units, chance in enumerate(chances):
        so_far += chance
        if so_far >= service - 1e-12:
            return units
    return len(chances) - 1
