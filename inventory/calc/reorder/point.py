"""The reorder point: the fewest units at which ordering keeps the wanted service, whatever is found at the evening look."""

import math
from dataclasses import dataclass

import numpy as np

from inventory.calc.lead_times import LeadTime
from inventory.calc.reorder.lead_demand import Scenarios
from inventory.calc.reorder.streams import Floats, Ints


@dataclass(frozen=True, slots=True)
class Point:
    """Order at this position or under it.

    units: 0 or more; chance: that nothing is missing so, at least the wanted one, for units are whole; mean: units needed on
    average until it comes; known: units due, with the wanted chance; undershoot: mean units it is found under the point.
    """

    units: int
    mean: float
    known: int
    undershoot: float
    chance: float

    @property
    def safety(self) -> float:
        """Units beyond what is needed on average."""
        return self.units - self.mean


def days_of(lead: LeadTime, even: Floats) -> Ints:
    """Return a lead time for each even number in (0, 1), rising with it."""
    place = np.searchsorted(np.cumsum(lead.chances), even - 1e-12)
    found: Ints = np.array(lead.days, np.int64)[np.minimum(place, len(lead.days) - 1)]
    return found


def wanted(totals: Ints, service: float) -> int:
    """Return the smallest total that this share of scenarios does not go beyond."""
    place = max(0, math.ceil(service * len(totals) - 1e-9) - 1)
    return int(np.partition(totals, place)[place])


def point(scenarios: Scenarios, lead: LeadTime, *, service: float, review: int = 1) -> Point:
    """Reckon the reorder point.

    Args:
        scenarios: the item's demand.
        lead: days from the evening it is ordered to the evening of the day it comes; demand of that day comes before it.
        service: wanted share of reorders in which nothing is missing before the goods come, above 0 and below 1.
        review: days from one look to the next, 1 or more.

    Returns:
        The smallest point such that the demand of the lead time, and how far under the point it is found, stay within it in
        that share of scenarios. What is known is counted until the next look and its lead time, for it need not be waited
        for. Never less for more service, a longer lead time or more demand.

    Raises:
        ValueError: a value out of range.

    Source: cycle service of an (s, Q) policy under periodic review: P(undershoot + lead-time demand <= s); Silver, Pyke and
    Peterson, Inventory Management and Production Planning (from memory).
    """
    if not 0 < service < 1 or review < 1:
        raise ValueError("service lies between 0 and 1, a look is a day or more apart")
    days = days_of(lead, scenarios.even())
    due = scenarios.demand.due(days + review)
    if scenarios.silent:
        most = wanted(due, service)
        return Point(max(0, most - 1), float(due.mean()), most, 0.0, float(np.mean(due <= most)))
    drawn, under = scenarios.forecast(days.astype(np.float64)), scenarios.undershoot(review)
    whole = drawn + due + under
    units = wanted(whole, service)
    known = wanted(due, service)
    return Point(units, float((drawn + due).mean()), known, float(under.mean()), float(np.mean(whole <= units)))
