"""Invented items whose laws of demand and of lead time are known: what a reorder rule is judged on.

Imports nothing of ours. Each class draws its items' laws anew, and each item its days from its law.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
KINDS: Final = ("slow", "lumpy", "seasonal", "trending", "fast")
LEADS: Final = ("short", "long")
WEEK: Final = 7
YEAR: Final = 364


@dataclass(frozen=True)
class Truth:
    """Items of one class: daily demand by item and day, lead times by item and order, and what the shop believes.

    weeks: of the past year's use that an order is of; value: minor units a piece; written: lead days written down, off by what people are off;
    known: lead times of orders before the trial, of the item and of others of its supplier.
    """

    kind: str
    lead: str
    days: Ints
    leads: Ints
    weeks: Floats
    value: Ints
    written: Ints
    known: Ints
    others: Ints


def truth(kind: str, lead: str, items: int, weeks: int, seed: int) -> Truth:
    """Draw items of a class for so many weeks, warm-up included."""
    draw = np.random.default_rng([seed, KINDS.index(kind), LEADS.index(lead)])
    days = _days(kind, items, WEEK * weeks, draw)
    apart = draw.uniform(3, 7, items) if lead == "short" else draw.uniform(7, 14, items)
    typical, spread = _lead_law(lead, items, draw)

    def leads(count: int) -> Ints:
        power = (typical / spread) ** 2
        return np.maximum(
            1, np.rint(draw.gamma(power[:, None], (spread**2 / typical)[:, None], (items, count)))
        ).astype(int)

    return Truth(
        kind,
        lead,
        days,
        leads(400),
        apart,
        np.maximum(1, np.rint(draw.lognormal(5, 1, items))).astype(np.int64),
        np.maximum(1, np.rint(typical * draw.lognormal(0, 0.3, items))).astype(np.int64),
        _in_turn(leads(6), apart * WEEK),
        _in_turn(leads(6), apart * WEEK),
    )


def _in_turn(leads: Ints, apart: Floats) -> Ints:
    """Return lead times of orders so many days apart, none coming before the one ordered before it."""
    ordered = np.rint(apart[:, None] * np.arange(leads.shape[1])).astype(np.int64)
    return np.maximum.accumulate(ordered + leads, axis=1) - ordered


def _lead_law(lead: str, items: int, draw: np.random.Generator) -> tuple[Floats, Floats]:
    """Return mean and spread in days: a week and a day's spread; or a month to two with a third to a half of it."""
    if lead == "short":
        return draw.uniform(5, 12, items), np.full(items, 1.0)
    typical = draw.uniform(25, 60, items)
    return typical, typical * draw.uniform(0.3, 0.5, items)


def _days(kind: str, items: int, days: int, draw: np.random.Generator) -> Ints:
    """Draw demand by item and day."""
    at = np.arange(days)
    if kind == "slow":  # single pieces, one in ten weeks to nearly one a week
        return draw.poisson(draw.uniform(0.1, 0.8, (items, 1)) / WEEK, (items, days)).astype(np.int64)
    if kind == "lumpy":  # one in five weeks to one a week, of 1 to many at once
        many = draw.poisson(draw.uniform(0.2, 1.0, (items, 1)) / WEEK, (items, days))
        mean = draw.uniform(3, 20, (items, 1))
        sizes = draw.negative_binomial(1.5, 1.5 / (1.5 + mean - 1), (items, days)) + 1
        return np.where(many > 0, sizes * many, 0).astype(np.int64)
    if kind == "seasonal":  # twice as much and more at the height of the year as at its low
        level = draw.uniform(5, 40, (items, 1)) / WEEK
        swing, begins = draw.uniform(0.3, 0.7, (items, 1)), draw.uniform(0, YEAR, (items, 1))
        return draw.poisson(level * (1 + swing * np.sin(2 * np.pi * (at - begins) / YEAR))).astype(np.int64)
    if kind == "trending":  # a third less to two thirds more every year
        level = draw.uniform(5, 30, (items, 1)) / WEEK
        return draw.poisson(level * np.exp(draw.uniform(-0.4, 0.5, (items, 1)) * at / YEAR)).astype(np.int64)
    orders = draw.poisson(draw.uniform(15, 80, (items, 1)) / WEEK, (items, days))  # fast: many orders of 1 to 4
    return (orders + draw.binomial(3 * orders, draw.uniform(0, 0.5, (items, 1)))).astype(np.int64)
