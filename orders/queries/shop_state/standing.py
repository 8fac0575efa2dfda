"""What is there: free pieces on the shelf, steel in blanks, runs where they stand, heads that wait for a handle."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import F, Q, QuerySet, Sum

from inventory.calc import sawing
from inventory.models import AllocationPart, Holding, Item, LoadLot, Place
from inventory.queries import cuttable
from orders.calc.dates.route import Product
from orders.calc.dates.state import Batch
from orders.models import OrderLine, RunForLine
from orders.queries.shop_state import calendar
from orders.queries.shop_state.reached import Reached
from shop.shared.models import Shop

MOST = 1_000  # pieces of a batch that the calculator takes at once


@dataclass(frozen=True, slots=True)
class Whose:
    """What a batch is in the book: its run's code, nothing for heads on the shelf; and how many of it wait."""

    run: str
    item: str


def free(item_ids: Iterable[int], *, at: dt.datetime) -> dict[int, int]:
    """Return what is there of items and set aside for nobody; parts that a line for a tool holds count, for the line
    is counted with what it still needs.
    """
    ids = set(item_ids)
    there = Holding.objects.filter(item__in=ids, place__sellable=True, on_hand__gt=0).order_by()
    found = {item: int(qty) for item, qty in there.values_list("item_id").annotate(qty=Sum("on_hand"))}
    gone = defaultdict(int, dict.fromkeys(ids, 0))
    for item, qty in _spoken_for(ids, at).values_list("item_id").annotate(qty=Sum("qty")):
        gone[item] = int(qty)
    return {item: max(0, found.get(item, 0) - gone[item]) for item in ids}


def _spoken_for(ids: set[int], at: dt.datetime) -> QuerySet[AllocationPart]:
    parts = AllocationPart.objects.filter(open=True, allocation__closed_at=None, item__in=ids).order_by()
    parts = parts.filter(Q(allocation__expires_at=None) | Q(allocation__expires_at__gt=at))
    sets = OrderLine.objects.filter(reserved__gt=0, allocation__isnull=False).exclude(item=None)
    return parts.exclude(
        pk__in=parts.filter(allocation__order_line__in=sets)
        .exclude(allocation__order_line__item=F("item"))
        .values("pk")
    )


def finished_for(lines: Iterable[OrderLine]) -> dict[int, int]:
    """Return how many finished pieces each line has set aside: of its own item, not its parts."""
    parts = AllocationPart.objects.filter(open=True, allocation__order_line__in=[one.pk for one in lines]).order_by()
    own = parts.filter(allocation__order_line__item=F("item"))
    return {line: int(qty) for line, qty in own.values_list("allocation__order_line").annotate(qty=Sum("qty"))}


def steel(reached: Reached, kerf_nm: int) -> dict[str, int]:
    """Return how many blanks there are of each steel: those that are sawn, and what bars on the rack and at the Door give.

    Of a steel that is sawn to several lengths the bars are counted by the longest.
    """
    found: dict[str, int] = defaultdict(int)
    blanks = [one for one in reached.blanks.values() if one.blank_length_nm]
    names = {(one.grade_id, one.section_id): reached.steel_of(one) for one in blanks}
    bars = Holding.objects.filter(
        item__kind=Item.Kind.BAR, item__section__in={one.section_id for one in blanks}, on_hand__gt=0, allocated=0,
        place__kind__in=(Place.Kind.RACK, Place.Kind.DOOR),
    ).values_list("on_hand", "item__grade_id", "item__section_id", "lot__melt_id")  # fmt: skip
    rows = list(bars)
    held = cuttable.melts_held({melt for *_, melt in rows if melt})
    for nm, grade, section, melt in rows:
        name = names.get((grade, section))
        if name and melt not in held:
            found[name] += sawing.how_many(nm, reached.longest(name), kerf_nm)
    there = Holding.objects.filter(item__in=[one.pk for one in blanks], on_hand__gt=0, place__inside=True).exclude(
        place__kind__in=(Place.Kind.NOT_TO_BE_USED, Place.Kind.SECONDS, Place.Kind.OUT)
    ).order_by()  # fmt: skip
    sawn = {i: int(qty) for i, qty in there.values_list("item_id").annotate(qty=Sum(F("on_hand") - F("allocated")))}
    for blank in blanks:
        found[reached.steel_of(blank)] += sawn.get(blank.pk, 0)
    return dict(found)


class Batches:
    """Collects what stands on the floor, in the oven and curing, and heads on the shelf that are to become tools."""

    def __init__(self, shop: Shop, first: dt.date, reached: Reached, made: Mapping[str, Product]) -> None:
        self.shop, self.first, self.reached, self.made = shop, first, reached, made
        self.found: list[Batch] = []
        self.whose: dict[str, Whose] = {}

    def runs(self, target: Mapping[int, str]) -> None:
        """Add the open runs; `target` says, head by head, as what its pieces go on."""
        for_lines = {run: f"{order}.{line}" for run, order, line in RunForLine.objects.values_list(
            "run_id", "line__order__number", "line__number")}  # fmt: skip
        held = Holding.objects.filter(
            lot__run__isnull=False, on_hand__gt=0,
            place__kind__in=(Place.Kind.FLOOR, Place.Kind.OVEN, Place.Kind.CURE),
        ).select_related("lot__run", "item", "place").order_by("lot__run__started_at", "lot__run_id", "step", "pk")  # fmt: skip
        rows = list(held)
        loads = self._loads([one.lot_id for one in rows if one.place.kind == Place.Kind.OVEN])
        groups: dict[tuple[str, str, int, int], int] = defaultdict(int)
        for one in rows:
            run = one.lot.run
            if run is None:
                continue
            item = for_lines.get(run.pk) or (
                one.item.code if one.item_id != run.item_id else target.get(run.item_id, "")
            )
            product = self.made.get(item)
            if product is None:
                continue
            step, ready = one.step, 0
            if one.place.kind == Place.Kind.OVEN and one.lot_id in loads:
                step, ready = loads[one.lot_id]
            elif one.place.kind == Place.Kind.CURE:
                step = _before_packing(product)
                ready = calendar.minute_of(one.lot.usable_from, self.shop, self.first) if one.lot.usable_from else 0
            groups[run.code, item, step, ready] += one.on_hand
        for (code, item, step, ready), pieces in groups.items():
            self._add(code, code, item, step, pieces, ready)

    def shelf(self, heads: Mapping[int, int], target: Mapping[int, str]) -> None:
        """Add finished heads that go on only as far as tools are wanted."""
        for head, pieces in heads.items():
            item, product = self.reached.items[head], self.made.get(target.get(head, ""))
            walk = self.reached.walk_of(item)
            last = walk.last_of_head() if walk else None
            if product is None or not pieces or product.item == item.code or last is None:
                continue
            self._add(item.code, "", product.item, last.number, pieces, 0, spare=True)

    def _add(self, code: str, run: str, item: str, step: int, pieces: int, ready: int, *, spare: bool = False) -> None:
        """Add pieces that stand together, in parts that the calculator takes at once, each with a name of its own.

        A run goes on by the newest route: it stands behind the last step of it that it has behind it by number.
        """
        at = max((one.number for one in self.made[item].steps if one.number <= step), default=0)
        while pieces > 0:
            name = code if code not in self.whose else f"{code} after step {step}"
            while name in self.whose:
                name += " later"
            self.found.append(Batch(name, item, at, min(pieces, MOST), ready, spare))
            self.whose[name] = Whose(run, item)
            pieces -= MOST

    def _loads(self, lots: Iterable[int]) -> dict[int, tuple[int, int]]:
        open_lots = LoadLot.objects.filter(lot__in=list(lots), open=True, load__entry__reversed_by=None)
        return {
            one.lot_id: (one.step.number, calendar.minute_of(calendar.load_ends(one.load), self.shop, self.first))
            for one in open_lots.select_related("load", "step")
        }


def _before_packing(product: Product) -> int:
    """Return where tools stand that cure: after the last step before the one in which they are packed."""
    return product.steps[-2].number if len(product.steps) > 1 else 0


__all__ = ["Batches", "Whose", "finished_for", "free", "steel"]
