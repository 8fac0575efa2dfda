"""A manager of a shadow shop who works by the calculator's plan and gives the calculator's dates."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from orders.calc.dates import dispatch, filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.futures import Futures
from orders.calc.dates.materials import takes
from orders.calc.dates.plain import on_shelf, plain_day
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Product
from orders.calc.dates.state import Shop
from tests.calibration.showing import line_of, shop_of
from tests.shadow import Facts, NewRun, Purchase, Seen, Sheet, Task, purchases
from tests.shadow.sight import Owed

SPARE = 0.1  # more handles than heads, for some of them are bad
OVER = 180  # minutes of work beyond the day that stand on the lists, for work that goes faster


@dataclass(frozen=True, slots=True)
class Given:
    """A date that was given: for which line, when, how sure it was wanted, the day, and the curve it was read from.

    `naive` is the day that the shelf and mean minutes alone would have said; `to_order` a line the shelf could not fill.
    """

    order: int
    number: int
    asked: int
    sure: float
    day: int
    curve: Curve
    naive: int | None
    to_order: bool

    @property
    def stated(self) -> float:
        """How sure the day was said to be."""
        return self.curve.sure(self.day - self.asked)


@dataclass(slots=True)
class ByPlan:
    """Plans every morning, and gives a date where one is wanted: lines by order and number, with the chance."""

    facts: Facts
    wanted: dict[tuple[int, int], float]
    seed: int
    futures: int = 1_000
    given: list[Given] = field(default_factory=list)

    def morning(self, seen: Seen) -> Sheet:
        """Return what is to be done."""
        shop = shop_of(self.facts, seen)
        plan = dispatch.propose(shop)
        asked = [one for one in seen.owed if one.asked == seen.day and (one.order, one.number) in self.wanted]
        if asked:
            self._give(seen, shop, plan, asked)
        return sheet(self.facts, seen, shop, plan)

    def _give(self, seen: Seen, shop: Shop, plan: Plan, asked: Sequence[Owed]) -> None:
        drawn = Futures(shop, self.seed, self.futures)
        filled = filling.fill(shop, plan, drawn, scenarios.play(shop, plan, drawn))
        for one in asked:
            sure = self.wanted[one.order, one.number]
            curve = Curve.of(filled.sent[filled.orders.index(line_of(one).order)], shop.horizon_days)
            day = curve.day(sure)
            if day is None:
                continue
            line = line_of(one)
            others = replace(shop, lines=tuple(other for other in shop.lines if other.order != line.order))
            plain, shelf = plain_day(others, [line]), on_shelf(others, line.item, line.pieces)
            naive = None if plain is None else seen.day + plain
            self.given.append(
                Given(one.order, one.number, seen.day, sure, seen.day + day, curve, naive, not shelf)
            )  # fmt: skip


def sheet(facts: Facts, seen: Seen, shop: Shop, plan: Plan) -> Sheet:
    """Write the plan's next day down."""
    until, writer = (shop.hours.closes - shop.hours.opens) * shop.hours.production + OVER, _Writer(facts, seen)
    for group in plan.groups:
        if group[0].begins <= until:
            writer.write(plan, group)
    return Sheet(
        tuple(writer.opened),
        {name: tuple(tasks) for name, tasks in writer.lists.items()},
        tuple(writer.loads),
        {name: tuple(tasks) for name, tasks in writer.machines.items()},
        _purchases(facts, seen, plan),
    )


def _purchases(facts: Facts, seen: Seen, plan: Plan) -> tuple[Purchase, ...]:
    """Order what the plain manager would, and what the plan takes beyond what is there and coming."""
    usual = {one.item: one for one in purchases(facts, seen)}
    needed = {item: sum(much for _, much in rows) for item, rows in takes(plan).items()}
    for supply in facts.supplies:
        there = seen.stock.get(supply.item, 0) + sum(one.qty for one in seen.coming if one.item == supply.item)
        short = needed.get(supply.item, 0) * (1 + SPARE * supply.sorted_) - there
        packs = math.ceil(short / supply.pack) * supply.pack
        if packs > (usual[supply.item].qty if supply.item in usual else 0):
            day = facts.calendar.open_from(seen.day + supply.lead)
            usual[supply.item] = Purchase(supply.item, packs, day)
    return tuple(usual.values())


class _Writer:
    def __init__(self, facts: Facts, seen: Seen) -> None:
        self.day, self.free = seen.day, dict(seen.stock)
        self.codes: dict[str, str] = {}
        self.opened: list[NewRun] = []
        self.lists: dict[str, list[Task]] = {one.name: [] for one in facts.people}
        self.machines: dict[str, list[Task]] = defaultdict(list)
        self.loads: list[tuple[Task, ...]] = []

    def write(self, plan: Plan, group: Sequence[Operation]) -> None:
        """Put an operation on the lists, or a load in the oven's order; nothing of runs whose blanks are not there."""
        tasks = []
        for one in group:
            start = plan.runs[one.run]
            code = self._opened(start.code, start.product, start.pieces) if start.planned else start.code
            if code:
                tasks.append(Task(code, one.step.number - 1))
        if tasks and group[0].step.oven:
            self.loads.append(tuple(tasks))
        elif tasks and group[0].people:
            for name in group[0].people:
                self.lists[name].append(tasks[0])
            for name in group[0].machines:
                self.machines[name].append(tasks[0])

    def _opened(self, code: str, product: Product, pieces: int) -> str:
        if code not in self.codes:
            there = self.free.get(product.made_from, 0) >= pieces
            self.codes[code] = f"{product.item}-{self.day}-{len(self.opened)}" if there else ""
            if there:
                self.free[product.made_from] -= pieces
                self.opened.append(NewRun(self.codes[code], product.item, pieces))
        return self.codes[code]
