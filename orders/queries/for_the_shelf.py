"""What to make for the shelf: tools that run low, how many to start, and why; put in with one touch."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import F, Sum

from inventory.calc import sawing
from inventory.models import Holding, Item, Pattern, Place
from inventory.queries import cut_question, cuttable, prices, running_costs, tooling
from orders.calc.dates.route import Product
from orders.calc.dates.sizing import points
from orders.calc.for_shelf import Asked, Bar, Batches, Chosen, Steel, choose
from orders.models import ForShelf
from orders.queries.reorder import needs as reorder
from orders.queries.reorder import steel_bought
from orders.queries.reorder.needs import Need, Stands
from orders.queries.reorder.steel_bought import Bars
from orders.queries.shop_state.for_shelf import MOST, open_wishes
from orders.queries.shop_state.products import Products
from orders.queries.shop_state.reached import Reached, reach
from orders.queries.week import Proposed
from shop.shared import shop_row
from shop.shared.models import Shop

SURE: Final = 0.8  # that a run gives the least that is wanted, as the week sizes its runs. No source
WEEKS: Final = 8  # of use beyond the least that are still sensible. No source
SOON: Final = 7  # days within which a run of orders is one that this joins
HOUR_MINOR: Final = 3_000  # an hour of work, where the pattern does not say. No source
LOAD_MINUTES: Final = 20  # of work that an oven load takes, full or not. No source


@dataclass(frozen=True, slots=True)
class Wanted:
    """An item that is to be made: good ones at the least and at the most, and heads of it that lie there to be hafted."""

    need: Need
    least: int
    most: int
    heads: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to put into the week. `chosen` is nothing where the heads on the shelf are enough and only have to be hafted.

    `joins` is the run of orders it is made with, `tooling` the set that is in.
    """

    wanted: Wanted
    pattern: Pattern
    chosen: Chosen | None
    joins: str = ""
    tooling: str = ""

    @property
    def item(self) -> Item:
        """Return the item."""
        return self.wanted.need.item

    @property
    def pieces(self) -> int:
        """Return how many are started."""
        return self.chosen.pieces if self.chosen else 0


@dataclass(frozen=True, slots=True)
class InWeek:
    """What is in the week for the shelf, in how many runs."""

    wish: ForShelf
    runs: int


def in_week(found: Proposed, read: "Stood") -> list[InWeek]:
    """Return what was put into the week and is not begun; no run where an item cannot be made any more."""
    runs: dict[str, int] = defaultdict(int)
    for start in found.plan.runs:
        runs[start.product.item] += start.shelf
    return [InWeek(one, runs[one.item.code]) for one in open_wishes()] if read.stands.wishes else []


@dataclass(frozen=True, slots=True)
class Stood:
    """The shop as reordering sees it and every item with its decision, read once for all that a page says of them."""

    stands: Stands
    needs: Sequence[Need]


def stood(*, at: dt.datetime) -> Stood:
    """Read it."""
    now = reorder.stands(at=at)
    return Stood(now, reorder.decided(now))


def wanted_for_shelf(read: Stood) -> list[Wanted]:
    """Return what is to be made beyond all that is owed, what ends first, first; heads on the shelf count for their tools."""
    now = read.stands
    wished, found = now.wishes, []
    places = {pk: now.places[pk] for pk, one in now.built.items.items() if one.kind == Item.Kind.HEAD}
    heads = {pk: max(0, place.free - math.ceil(place.beyond)) for pk, place in places.items()}
    for need in reorder.made(read.needs):
        if not need.due or need.item.pk in wished:
            continue
        parts = [one.part for one in now.built.goes if one.whole == need.item.pk and one.part in heads]
        there = min(need.decision.least, heads[parts[0]]) if parts else 0
        if parts:
            heads[parts[0]] -= there
        least = need.decision.least - there
        found.append(Wanted(need, least, least + round(WEEKS * 7 * need.decision.per_day), there))
    return found


def proposals(found: Proposed, read: Stood) -> list[Proposal]:
    """Return what to make for the shelf, what ends first, first; writes nothing.

    Args:
        found: the week as it is proposed, for the runs of orders that are planned in it.
        read: where everything stands.
    """
    now, shop = read.stands, shop_row.the_shop()
    wanted = wanted_for_shelf(read)
    if not wanted:
        return []
    reached = reach([one.need.item.pk for one in wanted], [])
    making = _Making(found, now, shop, reached)
    return [one for row in wanted if (one := making.proposal(row)) is not None]


class _Making:
    """Gathers what the numbers rest on; what several items share is read once."""

    def __init__(self, found: Proposed, now: Stands, shop: Shop, reached: Reached) -> None:
        self.found, self.now, self.shop, self.reached = found, now, shop, reached
        self.products = Products(shop, reached)
        self.rules = cut_question.rules()
        self.costs = prices.unit_costs(now.built.items)
        bought = {one.supplier_id for one in reached.bars.values() if one.supplier_id}
        self.bought = steel_bought.of(now.built, prices.noted(bought), kerf_nm=shop.kerf_nm)
        self.soon = _soon(found)
        self.tooling_in = {one.tooling.code for one in tooling.sets() if one.is_in}

    def proposal(self, wanted: Wanted) -> Proposal | None:
        item = self.reached.items[wanted.need.item.pk]
        head = self.reached.head_of(item) if item.kind == Item.Kind.TOOL else item
        product = self.products.of_item(item)
        if product is None or head is None or head.pattern is None:
            return None  # made up from its parts, or by a route nobody has written
        if wanted.least < 1:
            return Proposal(wanted, head.pattern, None)
        joins = self.soon.get(product.pattern, "")
        there, change = self._tooling(product)
        asked = self._asked(wanted, product, head.pattern, 0.0 if joins else change)
        return Proposal(wanted, head.pattern, choose(asked), joins, there)

    def _asked(self, wanted: Wanted, product: Product, pattern: Pattern, change: float) -> Asked:
        minute = (pattern.labour_minor_per_hour or HOUR_MINOR) / 60
        blank = self.reached.blanks.get(pattern.pk)
        nm_minor = self._per_nm(pattern, blank)
        each_nm = (blank.blank_length_nm or 0) + self.shop.kerf_nm if blank else 0
        ovens = [(step.name, step.oven) for step in product.steps if step.oven]
        fires = [(step.name, step.fire) for step in product.steps if step.fire]
        work = sum(step.minutes * max(1, step.people) for step in product.steps)
        least = min(wanted.least, MOST)
        return Asked(
            least, max(least, min(wanted.most, MOST)), points(product.steps, 0), SURE, pattern.usual_run, pattern.most_run,
            self._steel(pattern, blank, nm_minor), self._bar(blank, nm_minor),
            each_nm * nm_minor + work * minute, sum(step.set_up for step in product.steps) * minute, change * minute,
            tuple(Batches(name, max(1, round(1 / oven.share)), LOAD_MINUTES * minute) for name, oven in ovens),
            tuple(Batches(name, fire.batch, fire.minutes * minute) for name, fire in fires),
            wanted.need.decision.per_day, self.shop.holding_percent / 100,
        )  # fmt: skip

    def _tooling(self, product: Product) -> tuple[str, float]:
        """Return the tooling of it that is in, and the minutes to put in what is not."""
        change = {step.tooling: step.change for step in product.steps if step.tooling}
        minutes = sum(each for one, each in change.items() if one not in self.tooling_in)
        return next((one for one in change if one in self.tooling_in), ""), minutes

    def _per_nm(self, pattern: Pattern, blank: Item | None) -> float:
        """Return what a nanometre of the steel costs; by the last run's blanks where no bar has a price."""
        bar = self.reached.bars.get((blank.grade_id, blank.section_id)) if blank else None
        if bar is not None and bar.pk in self.costs:
            return self.costs[bar.pk]
        length = blank.blank_length_nm if blank else None
        return running_costs.steel_each(pattern) / length if length else 0.0

    def _bar(self, blank: Item | None, nm_minor: float) -> Bar | None:
        """Return a bar as it would be bought."""
        bar = self.reached.bars.get((blank.grade_id, blank.section_id)) if blank else None
        length = self.bought.get(bar.pk) if bar else None
        if blank is None or length is None or not blank.blank_length_nm:
            return None
        return self._of_length(length_name(length), length.length_nm, blank.blank_length_nm, nm_minor)

    def _of_length(self, name: str, nm: int, blank_nm: int, nm_minor: float) -> Bar | None:
        """Return what a bar gives, what its end loses, and what a rest of it costs by the shop's rules for cut plans."""
        gives = sawing.how_many(nm, blank_nm, self.shop.kerf_nm)
        if not gives:
            return None
        end = max(0, nm - gives * (blank_nm + self.shop.kerf_nm))
        end = min(end, self.rules.remnant_price_nm) if end >= self.rules.min_remnant_nm else end
        return Bar(name, gives, end * nm_minor, self.rules.remnant_price_nm * nm_minor)

    def _steel(self, pattern: Pattern, blank: Item | None, nm_minor: float) -> tuple[Steel, ...]:
        """Return the free steel by mill heat, what the planned runs of orders take of it left out."""
        if blank is None or not blank.blank_length_nm:
            return ()
        sawn, bars = _sawn(blank), self._bars(blank, blank.blank_length_nm, nm_minor)
        taken = sum(
            start.pieces
            for start in self.found.plan.runs
            if start.planned and not start.shelf and start.product.pattern == pattern.code
        )
        return tuple(_left(sawn, bars, taken))

    def _bars(self, blank: Item, blank_nm: int, nm_minor: float) -> dict[str, list[Bar]]:
        rows = Holding.objects.filter(
            item__kind=Item.Kind.BAR, item__section=blank.section_id, item__grade=blank.grade_id, on_hand__gt=0,
            allocated=0, place__kind=Place.Kind.RACK, lot__bar__measured=True, lot__melt__isnull=False,
        ).order_by("on_hand", "lot_id")  # fmt: skip
        listed = list(rows.values_list("lot__bar__number", "on_hand", "lot__melt_id", "lot__melt__heat_number"))
        held, found = cuttable.melts_held({melt for *_, melt, _ in listed if melt}), defaultdict(list)
        for number, nm, melt, heat in listed:
            bar = self._of_length(number, nm, blank_nm, nm_minor) if melt not in held else None
            if bar is not None:
                found[f"{heat} {melt}"].append(bar)
        return dict(found)


def length_name(bars: Bars) -> str:
    """Return the name of a bar as it is bought."""
    return bars.typed


def _sawn(blank: Item) -> dict[str, int]:
    rows = Holding.objects.filter(item=blank, lot__melt__isnull=False, place__sellable=True, step=0, on_hand__gt=0)
    sums = rows.order_by().values_list("lot__melt__heat_number", "lot__melt_id")
    found = sums.annotate(free=Sum(F("on_hand") - F("allocated")))
    return {f"{heat} {melt}": int(free) for heat, melt, free in found if free > 0}


def _left(sawn: Mapping[str, int], bars: Mapping[str, Sequence[Bar]], taken: int) -> Iterable[Steel]:
    """Give what is left of each mill heat when so many blanks went into the runs of orders, sawn ones first."""
    for name in sorted({*sawn, *bars}, key=lambda one: (one not in sawn, one)):
        free = sawn.get(name, 0)
        first = min(free, taken)
        taken -= first
        left = []
        for bar in bars.get(name, ()):
            if taken > 0:
                taken -= bar.gives
            else:
                left.append(bar)
        if free - first or left:
            yield Steel(name, free - first, tuple(left))


def _soon(found: Proposed) -> dict[str, str]:
    """Return, by pattern, the first run of orders that is still to be started and begins within a week."""
    until = found.stated.first_day + dt.timedelta(days=SOON)
    patterns = {start.code: start.product.pattern for start in found.plan.runs if start.planned and not start.shelf}
    soon: dict[str, str] = {}
    for one in found.operations:
        if one.run in patterns and one.date < until:
            soon.setdefault(patterns[one.run], one.run)
    return soon
