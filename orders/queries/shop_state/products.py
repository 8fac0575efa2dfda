"""What is made and how: the steps of the newest routes with what the shop's own counts teach, as the calculator takes them."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from django.db.models import Avg

from inventory.calc.learned_use import PRIOR_RECORDS
from inventory.models import Item, Machine, OvenLoad, Pattern, Step
from inventory.queries import learned, presence
from inventory.queries.along import OVEN_WORK, Walk
from inventory.queries.learned import Learned, Minutes
from orders.calc.dates.chance import Law
from orders.calc.dates.route import Oven, Product
from orders.calc.dates.route import Step as Planned
from orders.queries.shop_state.reached import Reached
from shop.shared.models import Shop

HEAT_UP: Final = 30  # minutes, where no load has told. No source
MAKE_UP: Final = "make up"
MOST_PARTS: Final = 1_000  # of one kind in a tool that the calculator takes


class Products:
    """Writes the products of a shop down; what a pattern has learned is read once.

    Where nobody who can do a step works here any more, everybody may.
    """

    def __init__(self, shop: Shop, reached: Reached) -> None:
        self.shop, self.reached = shop, reached
        self.one_at_a_time = set(Machine.objects.filter(holds=1, active=True).values_list("code", flat=True))
        opens, closes = shop.opens_at, shop.closes_at
        self.open_minutes = (closes.hour - opens.hour) * 60 + closes.minute - opens.minute
        self.workers = {one.login for one in presence.workers()}
        self._steps: dict[int, tuple[Planned, ...]] = {}
        self._heat_up: dict[str, int] = {}

    def of_item(self, item: Item) -> Product | None:
        """Tell how a head or a tool is made; nothing where the book knows no route."""
        if item.kind == Item.Kind.TOOL:
            return self._tool(item)
        walk = self.reached.walk_of(item)
        if item.kind != Item.Kind.HEAD or walk is None or item.pattern is None:
            return None
        return self._product(item.code, item.pattern, self._head_steps(item.pattern, walk))

    def of_words(self, name: str, pattern: Pattern) -> Product | None:
        """Tell how a line made to order is made: as its nearest pattern."""
        walk = self.reached.walks.get(pattern.pk)
        return self._product(name, pattern, self._all_steps(pattern, walk)) if walk else None

    def _tool(self, item: Item) -> Product | None:
        head, walk = self.reached.head_of(item), self.reached.walk_of(item)
        others = [(part.code, float(min(per, MOST_PARTS))) for part, per in self.reached.other_parts(item)]
        if head is None or walk is None or head.pattern is None:
            if not self.reached.recipes.get(item.pk):
                return None
            return Product(item.code, item.code, (Planned(1, MAKE_UP, people=0, uses=tuple(sorted(others))),))
        haft = walk.of_work(Step.Work.HAFT)
        if haft is None:  # no handle, or one that is not fitted here: made up from its parts on the shelf
            steps = self._head_steps(head.pattern, walk)
            steps += (Planned(walk.steps[-1].number + 1, MAKE_UP, people=0, uses=tuple(sorted(others))),)
        else:
            steps = tuple(
                _with_parts(one, others) if one.number == haft.number else one
                for one in self._all_steps(head.pattern, walk)
            )
        return self._product(item.code, head.pattern, steps)

    def _product(self, code: str, pattern: Pattern, steps: tuple[Planned, ...]) -> Product:
        blank = self.reached.blanks.get(pattern.pk)
        steel = self.reached.steel_of(blank) if blank and blank.blank_length_nm else ""
        return Product(code, pattern.code, steps, steel, pattern.usual_run, pattern.most_run)

    def _head_steps(self, pattern: Pattern, walk: Walk) -> tuple[Planned, ...]:
        last = walk.last_of_head()
        return tuple(one for one in self._all_steps(pattern, walk) if last is None or one.number <= last.number)

    def _all_steps(self, pattern: Pattern, walk: Walk) -> tuple[Planned, ...]:
        if pattern.pk not in self._steps:
            rates = {one.step.pk: one for one in learned.rates(pattern, walk)}
            minutes = {one.step.pk: one for one in learned.minutes(pattern, walk)}
            self._steps[pattern.pk] = tuple(
                self._step(one, rates.get(one.pk), minutes.get(one.pk)) for one in walk.steps
            )
        return self._steps[pattern.pk]

    def _step(self, step: Step, rate: Learned | None, told: Minutes | None) -> Planned:
        minutes = told.by_the_clock if told else step.seconds_each / 60
        spread = (told.pace.spread_percent if told else step.spread_percent) / 100
        records = told.pace.records if told else 0
        held = [machine.code for machine in step.machines.all() if machine.active]
        machines = tuple(sorted(code for code in held if code in self.one_at_a_time))
        oven = self._oven(step, machines)
        soak = 0 if oven or step.work not in OVEN_WORK else step.soak_minutes
        hands = tuple(sorted(person.login for person in step.hands.all() if person.login in self.workers))
        return Planned(
            step.number,
            step.name,
            minutes,
            Law("lognormal", (min(spread, 1.0),)) if spread and minutes else None,
            min(spread, 1.0) / math.sqrt(PRIOR_RECORDS + records) if minutes else 0.0,
            float(step.set_up_minutes),
            step.tooling.code if step.tooling else "",
            float(step.tooling.change_minutes) if step.tooling else 0.0,
            step.people,
            hands,
            machines,
            float(rate.rate.good) if rate else 0.0,
            float(rate.rate.bad) if rate else 0.0,
            rate.point.rework if rate else 0.0,
            minutes if rate and rate.reworked else 0.0,
            step.cure_minutes + soak,
            oven=oven,
        )

    def _oven(self, step: Step, machines: Sequence[str]) -> Oven | None:
        if step.work not in OVEN_WORK or not step.oven_fits or not machines:
            return None
        kind = f"{step.work} {step.temperature_dc / 10:g}"
        minutes = self._heats_up(machines[0]) + step.soak_minutes
        alone = self.shop.oven_alone or minutes > self.open_minutes  # what takes longer than the day can only be left
        return Oven(1 / step.oven_fits, minutes - step.soak_minutes, step.soak_minutes, kind, alone)

    def _heats_up(self, code: str) -> int:
        if code not in self._heat_up:
            loads = OvenLoad.objects.filter(oven__code=code, heat_up_minutes__gt=0).order_by("-pk")[:20]
            mean = OvenLoad.objects.filter(pk__in=[one.pk for one in loads]).aggregate(mean=Avg("heat_up_minutes"))
            self._heat_up[code] = round(mean["mean"] or HEAT_UP)
        return self._heat_up[code]


def _with_parts(step: Planned, parts: Sequence[tuple[str, float]]) -> Planned:
    return replace(step, uses=tuple(sorted((*step.uses, *parts))))
