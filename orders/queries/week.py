"""The week as it is proposed around the pins: the calculator's plan, where its steps are done, and what stays pinned."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from django.db.models import F, Sum

from inventory.models import Holding, Item, Pattern, Place, Step
from orders.calc.dates import dispatch, pinning, sheet, shortage
from orders.calc.dates.pinning import Put, Swayed
from orders.calc.dates.plan import Plan
from orders.calc.dates.sheet import Book, Operated, SheetDay
from orders.calc.dates.shortage import Short
from orders.calc.dates_json.week import stuck
from orders.models import RatedPromise, WeekPin
from orders.queries import at_risk, shop_state
from orders.queries.shop_state import Named, Stated
from orders.queries.shop_state.queue import MILLION, sure_of
from orders.queries.shop_state.reached import walks_of
from shop.shared import shop_row

_WORK = Step.Work
PLACE_OF: Final[dict[str, str]] = {
    _WORK.SAW: sheet.SAW,
    _WORK.FORGE: sheet.FORGE,
    _WORK.COOL: sheet.FORGE,
    _WORK.GRIND: sheet.GRINDER,
    _WORK.FINISH: sheet.GRINDER,
    _WORK.HARDEN: sheet.OVEN,
    _WORK.TEMPER: sheet.OVEN,
}  # everything else is done on the bench


@dataclass(frozen=True, slots=True)
class Stuck:
    """A run that the plan cannot bring to its end, before which step and why; no run where an item is not made here."""

    run: str
    item: str
    name: str
    why: str


@dataclass(frozen=True)
class Proposed:
    """The shop as it stands, the plan proposed for it around the pins, and what the sheet takes from the book."""

    stated: Stated
    plan: Plan
    book: Book
    pins: tuple[Put, ...]

    @cached_property
    def operations(self) -> tuple[Operated, ...]:
        """The operations in the order of the plan."""
        return sheet.operated(self.stated.shop, self.plan, self.book)

    @cached_property
    def ahead(self) -> frozenset[tuple[str, int]]:
        """Every step that a run has before it: a pin of another is done, or its run is gone."""
        return sheet.ahead(self.plan, self.book)

    @property
    def alive(self) -> tuple[Put, ...]:
        """The pins of what is still ahead."""
        return tuple(pin for pin in self.pins if pin.key in self.ahead)

    def days(self, first: dt.date, days: int) -> tuple[SheetDay, ...]:
        """Lay it out by day and place."""
        return sheet.sheet(self.stated.shop, self.plan, self.book, first=first, days=days)

    def stuck(self) -> list[Stuck]:
        """Name the runs that get stuck."""
        items = {start.product.item for start in self.plan.runs}
        return [
            Stuck(self.book.runs.get(row["run"]) or row["run"] or "", row["item"], row["name"] or "", row["why"])
            for row in stuck(self.stated.shop, self.plan, items)
        ]

    def short(self) -> tuple[Short, ...]:
        """Name the goods that are short."""
        return tuple(
            replace(one, runs=tuple(dict.fromkeys(self.book.runs.get(run) or run for run in one.runs)))
            for one in shortage.short(self.stated.shop, self.plan)
        )

    def find(self, run: str, step: int) -> Operated | None:
        """Find an operation."""
        return next((one for one in self.operations if (one.run, one.step) == (run, step)), None)

    def together(self, run: str, step: int) -> tuple[tuple[str, int], ...]:
        """Return what is done together with a step, itself among it: more than one in an oven load."""
        found = self.find(run, step)
        rows = [one for one in self.operations if found is not None and one.group == found.group]
        return tuple((one.run, one.step) for one in rows) or ((run, step),)


@dataclass(frozen=True, slots=True)
class Effect:
    """What other pins do: the week after them, and the promised orders, those that are named first."""

    after: Proposed
    promises: tuple[tuple[Named, Swayed], ...]

    @property
    def named(self) -> list[tuple[Named, Swayed]]:
        """The promised orders below their wanted figure, or losing more than five points."""
        return [pair for pair in self.promises if pair[1].named]

    @property
    def others(self) -> list[tuple[Named, Swayed]]:
        """The rest."""
        return [pair for pair in self.promises if not pair[1].named]


@dataclass(frozen=True, slots=True)
class Kept:
    """How many promised orders are at their wanted figure, as they were rated last, and the one furthest below its own."""

    promised: int
    kept: int
    worst: RatedPromise | None
    at: dt.datetime


def proposed(*, at: dt.datetime) -> Proposed:
    """Propose the week around the pins as the shop stands; writes nothing."""
    stated = shop_state.state(at=at)
    return Proposed(stated, dispatch.propose(stated.shop), _book(stated), pins())


def pins() -> tuple[Put, ...]:
    """Return what is pinned, in the order of the sheet."""
    rows = WeekPin.objects.order_by("place", "pk").values_list("run_code", "step", "day")
    return tuple(Put(*row) for row in rows)


def effect(found: Proposed, pins: Sequence[Put]) -> Effect:
    """Say what other pins would do; takes as long as two ratings of a thousand futures."""
    stated = found.stated
    calc_pins = pinning.as_pins(pins, stated.first_day, found.book.runs)
    seed = int(stated.key()[:12], 16)
    done = pinning.effect(stated.shop, calc_pins, seed=seed)
    after = replace(stated, shop=replace(stated.shop, pins=calc_pins))
    promises = [(stated.names[one.order], one) for one in done.promises if one.order in stated.names]
    promises.sort(key=lambda pair: (pair[1].after - pair[1].before, pair[0].number))
    return Effect(Proposed(after, done.after, found.book, tuple(pins)), tuple(promises))


def kept() -> Kept | None:
    """Say how the standing promises were rated last; nothing before the first rating."""
    shop = shop_row.the_shop()
    rows = list(at_risk.standing().order_by("promise__order__number", "pk"))
    if not rows:
        return None

    def missing(row: RatedPromise) -> float:
        wanted = row.promise.wanted_chance_ppm
        return (wanted or MILLION * sure_of(row.promise.order.customer.kind, shop)) - row.chance_ppm

    worst = max(rows, key=missing)
    below = sum(missing(row) > 0 for row in rows)
    return Kept(len(rows), len(rows) - below, worst if below else None, max(row.at for row in rows))


def _book(stated: Stated) -> Book:
    """Read where steps are done, and which blanks are sawn and free."""
    products = stated.shop.products
    patterns = {one.pk: one.code for one in Pattern.objects.filter(code__in={one.pattern for one in products})}
    works = {
        (patterns[pattern], step.number): step.work
        for pattern, walk in walks_of(patterns).items()
        for step in walk.steps
    }
    places = {
        (product.item, step.number): PLACE_OF.get(works.get((product.pattern, step.number), _WORK.OTHER), sheet.BENCH)
        for product in products
        for step in product.steps
    }
    blanks = _blanks(patterns)
    by_item = {one.item: blanks[one.pattern].code for one in products if one.pattern in blanks}
    runs = {name: one.run for name, one in stated.runs.items()}
    return Book(places, runs, by_item, _sawn(blanks.values()))


def _blanks(patterns: dict[int, str]) -> dict[str, Item]:
    rows = Item.objects.filter(kind=Item.Kind.BLANK, pattern__in=patterns, active=True).order_by("-code")
    return {patterns[one.pattern_id]: one for one in rows if one.pattern_id}


def _sawn(blanks: Iterable[Item]) -> dict[str, int]:
    there = Holding.objects.filter(item__in=[one.pk for one in blanks], on_hand__gt=0, place__inside=True)
    there = there.exclude(place__kind__in=(Place.Kind.NOT_TO_BE_USED, Place.Kind.SECONDS, Place.Kind.OUT)).order_by()
    return {
        code: int(qty) for code, qty in there.values_list("item__code").annotate(qty=Sum(F("on_hand") - F("allocated")))
    }
