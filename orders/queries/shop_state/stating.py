"""Puts the shop together for the date calculator, and the digest of what an answer rests on."""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from inventory.models import Item, Machine, Run
from inventory.queries import presence, tooling
from orders.calc.dates.pinning import Put, as_pins
from orders.calc.dates.route import Product
from orders.calc.dates.sizing import item_of
from orders.calc.dates.state import ForShelf, Pin
from orders.calc.dates.state import Shop as State
from orders.models import WeekPin
from orders.queries.shop_state import buying, calendar, for_shelf, queue, standing
from orders.queries.shop_state.products import Products
from orders.queries.shop_state.queue import Named, Owed
from orders.queries.shop_state.reached import Reached, reach
from orders.queries.shop_state.standing import Batches, Whose
from shop.shared import clock, shop_row
from shop.shared.models import Shop

__all__ = ["Named", "Stated", "state"]


@dataclass(frozen=True, slots=True)
class Stated:
    """The shop as the calculator takes it, and what its names stand for in the book.

    `names` of orders, `runs` of batches; `items` by code of all that is made or asked for, `plain` names by the codes of
    people, machines and goods.
    """

    shop: State
    names: Mapping[str, Named]
    runs: Mapping[str, Whose]
    items: Mapping[str, Item]
    plain: Mapping[str, str]
    first_day: dt.date

    def key(self, items: Iterable[str] | None = None) -> str:
        """Give the digest of what an answer rests on: hours, people, machines, queue, shelf, sheet; goods and runs of
        these items and of what they are made of, or of all. The minute of the day is left out.

        Source: SHA-256, FIPS 180-4, by Python's hashlib.
        """
        shop = self.shop
        wanted = {one.item for one in shop.products} if items is None else set(items)
        products = [one for one in shop.products if one.item in wanted]
        goods = wanted | {item for one in products for step in one.steps for item, _ in step.uses}
        goods |= {one.made_from for one in products}
        rests = (
            shop.hours, shop.people, [(one.code, one.down, one.breaks) for one in shop.machines], shop.lines, shop.pins,
            sorted(shop.tooling_in.items()), products, [one for one in shop.batches if one.item in wanted],
            sorted((item, qty) for item, qty in shop.stock.items() if items is None or item in goods),
            [one for one in shop.coming if items is None or one.item in goods],
            *([shop.for_shelf] if shop.for_shelf else []),
        )  # fmt: skip
        return hashlib.sha256(repr(_ordered(rests)).encode()).hexdigest()

    def without(self, order: int) -> "Stated":
        """Give the shop without an order."""
        gone = {name for name, one in self.names.items() if one.order_id == order}
        lines = tuple(line for line in self.shop.lines if line.order not in gone)
        names = {name: one for name, one in self.names.items() if name not in gone}
        return replace(self, shop=replace(self.shop, lines=lines), names=names)


def _ordered(value: object) -> object:
    """Give a value whose text is the same in every process: sets have no order of their own."""
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, (list, tuple)):
        return [_ordered(one) for one in value]
    fields = getattr(type(value), "__dataclass_fields__", None)
    return [type(value).__name__, *(_ordered(getattr(value, name)) for name in fields)] if fields else value


def state(*, at: dt.datetime, items: Iterable[Item] = (), also: int | None = None) -> Stated:
    """Tell the calculator the shop as it stands.

    Args:
        at: now.
        items: that are asked for besides what lines want.
        also: an order that is asked about, told although nothing of it is to be made.
    """
    shop = shop_row.the_shop()
    first = clock.local_date(at, shop.zone)
    lines = queue.open_lines()
    owed = queue.owed(lines, shop, first, also)
    wishes = for_shelf.open_wishes()
    wanted = [*items, *(line.item for line in lines if line.item), *(wish.item for wish in wishes)]
    asked = {one.pk for one in wanted if one.unit == Item.Unit.PIECE}
    patterns = {one.pattern_id for one in lines if one.pattern_id} | _open_patterns()
    reached = reach(asked, patterns)
    made = _made(Products(shop, reached), reached, owed)
    shelf = tuple(ForShelf(one.item.code, min(one.pieces, for_shelf.MOST)) for one in wishes if one.item.code in made)
    return _put_together(shop, first, reached, made, owed, shelf, at)


def _put_together(
    shop: Shop, first: dt.date, reached: Reached, made: Mapping[str, Product], owed: Owed,
    shelf: tuple[ForShelf, ...], at: dt.datetime,
) -> Stated:  # fmt: skip
    hours = calendar.hours(shop, first)
    free = standing.free(reached.items, at=at)
    target = _targets(reached, made, owed, free)
    heads = {pk for pk, item in target.items() if item != reached.items[pk].code}
    stock = {reached.items[pk].code: qty for pk, qty in free.items() if pk not in heads}
    stock |= standing.steel(reached, shop.kerf_nm)
    used = [item for product in made.values() for step in product.steps for item, _ in step.uses]
    used += [product.made_from for product in made.values() if product.made_from]
    stock = {**dict.fromkeys([*(line.item for line in owed.lines), *used], 0), **stock}
    batches = Batches(shop, first, reached, made)
    batches.runs(target)
    batches.shelf({pk: free[pk] for pk in heads}, target)
    goods = [one for one in reached.items.values() if one.code not in made]
    bars = _bars(reached)
    sawn = {one.code: reached.longest(one.code) + shop.kerf_nm for one in bars}
    bought = buying.bought([*goods, *bars], sawn, zone=shop.zone, first=first)
    said = State(
        hours=hours,
        people=calendar.people(shop, hours),
        machines=calendar.machines(shop, hours, at=at),
        products=tuple(made.values()),
        stock=stock,
        batches=tuple(batches.found),
        coming=bought.coming,
        suppliers=bought.suppliers,
        buys_from=bought.buys_from,
        lines=owed.lines,
        for_shelf=shelf,
        pins=_pins(first, batches.whose, made),
        tooling_in=_tooling_in(made),
        now=calendar.minute_of(at, shop, first),
        horizon_days=calendar.AHEAD,
    )
    items = {one.code: one for one in reached.items.values()}
    return Stated(said, owed.names, batches.whose, items, _plain(reached), first)


def _plain(reached: Reached) -> dict[str, str]:
    """Give the plain names of everything the calculator names by a code."""
    found = {one.login: one.name for one in presence.workers()}
    found |= dict(Machine.objects.values_list("code", "name"))
    return found | {one.code: one.name for one in [*reached.items.values(), *reached.bars.values()]}


def _open_patterns() -> set[int]:
    """Return the patterns of runs of which something is in the works."""
    in_works = Run.objects.filter(
        lots__holdings__on_hand__gt=0, lots__holdings__place__kind__in=("floor", "oven", "cure")
    )
    return set(in_works.order_by().values_list("pattern_id", flat=True).distinct())


def _made(products: Products, reached: Reached, owed: Owed) -> dict[str, Product]:
    found = {}
    for item in sorted(reached.items.values(), key=lambda one: one.code):
        product = products.of_item(item)
        if product is not None:
            found[item.code] = product
    for name, line in owed.words.items():
        product = products.of_words(name, line.pattern) if line.pattern else None
        if product is not None:
            found[name] = product
    return found


def _targets(reached: Reached, made: Mapping[str, Product], owed: Owed, free: Mapping[int, int]) -> dict[int, str]:
    """Say, head by head, as what its pieces go on: the tool of it that is short of most, or the head itself."""
    wanted: dict[str, int] = defaultdict(int)
    for line in owed.lines:
        wanted[line.item] += line.pieces
    for pk, qty in free.items():
        wanted[reached.items[pk].code] -= qty if reached.items[pk].kind == Item.Kind.TOOL else 0
    found = {}
    for pk, item in reached.items.items():
        if item.kind == Item.Kind.HEAD and item.code in made:
            tools = [one.code for one in reached.tools_of(item) if one.code in made]
            choices = [*sorted(tools), item.code]
            found[pk] = max(choices, key=lambda code: (max(0, wanted.get(code, 0)), -choices.index(code)))
    return found


def _bars(reached: Reached) -> list[Item]:
    return sorted(set(reached.bars.values()), key=lambda one: one.code)


def _pins(first: dt.date, whose: Mapping[str, Whose], made: Mapping[str, Product]) -> tuple[Pin, ...]:
    """Give what a hand put on the week sheet, as far as there is such a run with such a step, or could be one."""
    rows = WeekPin.objects.order_by("place", "pk").values_list("run_code", "step", "day")
    pins = as_pins((Put(*row) for row in rows), first, {name: one.run for name, one in whose.items()})
    return tuple(pin for pin in pins if pin.step in _steps(pin.run, whose, made))


def _steps(run: str, whose: Mapping[str, Whose], made: Mapping[str, Product]) -> set[int]:
    item = whose[run].item if run in whose else item_of(run)
    return {step.number for step in made[item].steps} if item in made else set()


def _tooling_in(made: Mapping[str, Product]) -> dict[str, str]:
    """Give the tooling that is in the machines of each step that needs it, the fire it is worked at among them."""
    there = {one.tooling.code for one in tooling.sets() if one.is_in}
    steps = [step for product in made.values() for step in product.steps if step.tooling in there]
    return {machine: step.tooling for step in steps for machine in step.machines}
