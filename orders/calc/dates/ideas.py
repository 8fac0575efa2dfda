"""What would bring an order forward: a few changes of the shop, each asked again on the same random numbers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.calc.dates import filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Drawn, Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.state import DAY, Line, Person, Shop

FUTURES: Final = 1_000  # enough to tell days apart
BEST: Final = 3
HOUR: Final = 60
ENOUGH: Final = 100_000  # pieces; more than any order takes


@dataclass(frozen=True, slots=True)
class Idea:
    """A change, the day it would give, and how many days that is earlier."""

    what: str
    day: int
    gain: int


def ideas(shop: Shop, lines: Sequence[Line], *, sure: float, seed: int, futures: int = FUTURES) -> tuple[Idea, ...]:
    """Find what would bring an order forward.

    Args:
        shop: as it stands, without the order.
        lines: of the order.
        sure: the chance wanted.
        seed: that was asked with.
        futures: how many.

    Returns:
        The best three that gain a day or more, the best first; from no day at all to one counts to the horizon.
    """
    asked = replace(shop, lines=(*shop.lines, *lines))
    order, before, drawn = lines[0].order, propose(shop), Drawn()
    base = _day(asked, order, before, sure, Futures(asked, seed, futures, drawn=drawn))
    found = []
    for what, changed in changes(asked, {line.item for line in lines}):
        day = _day(changed, order, before, sure, Futures(changed, seed, futures, drawn=drawn))
        if day < base:
            found.append(Idea(what, day, base - day))
    return tuple(sorted(found, key=lambda one: -one.gain)[:BEST])


def _day(shop: Shop, order: str, before: Plan, sure: float, drawn: Futures) -> int:
    """Give the day by the better of the plan as it stood, with the order behind it, and a new one, as `asking` does."""
    days = [shop.horizon_days]
    for plan in (propose(shop, keep=before), propose(shop)):
        filled = filling.fill(shop, plan, drawn, scenarios.play(shop, plan, drawn))
        day = Curve.of(filled.sent[filled.orders.index(order)], shop.horizon_days).day(sure)
        days += [day] if day is not None else []
    return min(days)


def changes(shop: Shop, items: set[str]) -> Iterator[tuple[str, Shop]]:
    """Give the changes that are worth asking: at most eight.

    Args:
        shop: with the order in question.
        items: it asks for.
    """
    products = [one for one in shop.products if one.item in items]
    needed = dict.fromkeys(one.made_from for one in products if one.made_from)
    needed |= dict.fromkeys(item for one in products for step in one.steps for item, _ in step.uses)
    for item in list(needed)[:3]:
        yield f"{item} there today", replace(shop, stock={**shop.stock, item: ENOUGH})
    hours = shop.hours
    if hours.closes + HOUR <= DAY:
        yield "an hour longer each day", replace(shop, hours=replace(hours, closes=hours.closes + HOUR))
    if 5 not in hours.weekdays:
        yield "open on Saturdays", replace(shop, hours=replace(hours, weekdays=(*hours.weekdays, 5)))
    yield "one more pair of hands", replace(shop, people=(*shop.people, Person("one more")))
    if any(step.oven and not step.oven.unattended for one in products for step in one.steps):
        yield "the oven left alone over night", _unattended(shop)
    first = [line for line in shop.lines if line.item in items]
    if len(first) < len(shop.lines) or len(first) > 1:
        asked = shop.lines[-1].order
        mine = tuple(line for line in shop.lines if line.order == asked)
        others = tuple(line for line in shop.lines if line.order != asked)
        yield "first in the queue", replace(shop, lines=(*mine, *others))


def _unattended(shop: Shop) -> Shop:
    products = []
    for product in shop.products:
        steps = [
            replace(step, oven=replace(step.oven, unattended=True)) if step.oven else step for step in product.steps
        ]
        products.append(replace(product, steps=tuple(steps)))
    return replace(shop, products=tuple(products))
