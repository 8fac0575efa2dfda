"""Small shops for the ship-date calculator, and a whole pass of it in one call."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from orders.calc.dates import filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.dispatch import propose
from orders.calc.dates.filling import Filled
from orders.calc.dates.futures import Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Product, Step
from orders.calc.dates.state import DAY, Hours, Line, Person, Shop

MONDAY = dt.date(2026, 3, 2)
ALWAYS = Hours(
    MONDAY, weekdays=tuple(range(7)), opens=0, closes=DAY, production=1, carrier_weekdays=tuple(range(7)),
    carrier_cutoff=DAY,
)  # fmt: skip
SURELY = 10**9  # pieces counted; a rate learned from so many is as good as known


def known(rate: float) -> dict[str, float]:
    """Give the counts of a rate that is as good as known, for a step."""
    return {"good": rate * SURELY, "bad": (1 - rate) * SURELY}


def product(item: str, *steps: Step, **more: Any) -> Product:
    """Make a product of a pattern of its own."""
    return Product(item, more.pop("pattern", f"pattern of {item}"), steps, **more)


def always_open(*products: Product, **more: Any) -> Shop:
    """Make a shop that works round the clock, with one person a product and one order a product of one piece."""
    given: dict[str, Any] = {
        "people": tuple(Person(f"P{number}") for number, _ in enumerate(products)),
        "lines": tuple(Line(f"order of {one.item}", one.item, 1) for one in products),
        "now": 0, "lorry": 0, "pack_minutes": 0, "starts_sure": 0.5, "horizon_days": 60, "unrest": 0.0,
    }  # fmt: skip
    return Shop(more.pop("hours", ALWAYS), products=products, **(given | more))


def by_hand_of(one: Product, person: str) -> Product:
    """Let one person alone do all steps of a product."""
    return replace(one, steps=tuple(replace(step, hands=(person,)) for step in one.steps))


def passed(shop: Shop, seed: int = 1, count: int = 4_000, plan: Plan | None = None) -> Filled:
    """Plan, play and fill."""
    plan, futures = plan or propose(shop), Futures(shop, seed, count)
    return filling.fill(shop, plan, futures, scenarios.play(shop, plan, futures))


def curve(shop: Shop, order: str, **more: Any) -> Curve:
    """Give the curve of an order."""
    filled = passed(shop, **more)
    return Curve.of(filled.sent[filled.orders.index(order)], shop.horizon_days)


def with_steps(plan: Plan, change: Callable[[Step], Step]) -> Plan:
    """Change the steps of a plan, its sequence kept."""
    changed = {id(run.product): replace(run.product, steps=tuple(map(change, run.product.steps))) for run in plan.runs}
    runs = tuple(replace(run, product=changed[id(run.product)]) for run in plan.runs)
    groups = tuple(tuple(replace(one, step=change(one.step)) for one in group) for group in plan.groups)
    return Plan(runs, groups)


def lower_quantile(values: npt.NDArray[np.int64], sure: float) -> int:
    """Give the smallest value that so large a share of all does not exceed."""
    return int(np.sort(values)[int(np.ceil(sure * len(values) - 1e-9)) - 1])
