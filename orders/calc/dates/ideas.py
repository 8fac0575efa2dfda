"""What would bring an order forward: a few changes of the shop, each asked again on the same random numbers."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.calc.dates import filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Drawn, Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Product, Step
from orders.calc.dates.state import DAY, Line, Person, Shop

FUTURES: Final = 1_000  # enough to tell days apart
BEST: Final = 3
MORE: Final = "one more pair of hands"
HOUR: Final = 60
POINT: Final = 0.01  # an order that loses more than this is named
ENOUGH: Final = 100_000  # pieces; more than any order takes


@dataclass(frozen=True, slots=True)
class Idea:
    """A change, the day it would give, how many days that is earlier, and the promised orders that lose a point by it.

    There is no gain in days where the order is never that sure as things are.
    """

    what: str
    day: int
    gain: int | None
    losers: tuple[str, ...] = ()


def ideas(
    shop: Shop, lines: Sequence[Line], *, sure: float, seed: int, futures: int = FUTURES, keep: bool = True
) -> tuple[Idea, ...]:
    """Find what would bring an order forward.

    Args:
        shop: as it stands, without the order.
        lines: of the order.
        sure: the chance wanted.
        seed: that was asked with.
        futures: how many.
        keep: as `asking.ask`.

    Returns:
        The best three that gain a day or more, the best first.
    """
    asked = replace(shop, lines=(*shop.lines, *lines))
    order, before, drawn = lines[0].order, propose(shop) if keep else None, Drawn()
    base, was = _asked(asked, order, before, sure, Futures(asked, seed, futures, drawn=drawn))
    found = []
    for what, changed in changes(asked, {line.item for line in lines}):
        day, now = _asked(changed, order, before, sure, Futures(changed, seed, futures, drawn=drawn))
        if day < base:
            losers = tuple(name for name, chance in was.items() if chance - now[name] > POINT)
            found.append(Idea(what, day, base - day if base < shop.horizon_days else None, losers))
    return tuple(sorted(found, key=lambda one: one.day)[:BEST])


def _asked(shop: Shop, order: str, before: Plan | None, sure: float, drawn: Futures) -> tuple[int, dict[str, float]]:
    """Give the day by a new plan, or the better of it and the plan as it stood with the order behind it, as `asking` does.

    With it the chances of the orders that are promised; a day at the horizon is none.
    """
    days = []
    plans = [propose(shop)] if before is None else [propose(shop, keep=before), propose(shop)]
    for plan in plans:
        filled = filling.fill(shop, plan, drawn, scenarios.play(shop, plan, drawn))
        day = Curve.of(filled.sent[filled.orders.index(order)], shop.horizon_days).day(sure)
        days.append((shop.horizon_days if day is None else day, filled))
    day, filled = min(days, key=lambda one: one[0])
    promised = {line.order: line.day for line in shop.lines if line.day is not None}
    sent = dict(zip(filled.orders, filled.sent, strict=True))
    return day, {name: float((sent[name] <= given).mean()) for name, given in promised.items()}


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
    yield MORE, replace(shop, people=(*shop.people, Person(MORE)), products=_changed(shop, _also_by_one_more))
    if any(step.oven and not step.oven.unattended for one in products for step in one.steps):
        yield "the oven left alone over night", replace(shop, products=_changed(shop, _unattended))
    first = [line for line in shop.lines if line.item in items]
    if len(first) < len(shop.lines) or len(first) > 1:
        asked = shop.lines[-1].order
        mine = tuple(line for line in shop.lines if line.order == asked)
        others = tuple(line for line in shop.lines if line.order != asked)
        yield "first in the queue", replace(shop, lines=(*mine, *others))


def _changed(shop: Shop, change: Callable[[Step], Step]) -> tuple[Product, ...]:
    return tuple(replace(one, steps=tuple(map(change, one.steps))) for one in shop.products)


def _unattended(step: Step) -> Step:
    return replace(step, oven=replace(step.oven, unattended=True)) if step.oven else step


def _also_by_one_more(step: Step) -> Step:
    """Let one more do a step that only some can do; where nobody is named everybody can."""
    return replace(step, hands=(*step.hands, MORE)) if step.hands else step
