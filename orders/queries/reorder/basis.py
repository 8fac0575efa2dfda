"""What reordering an item rests on: its weeks, its forecast, its lead time and how seldom it may run dry."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from inventory.calc import lead_times, value_classes
from inventory.calc.forecast.choosing import Forecast, forecasts
from inventory.calc.lead_times import LeadTime, Record
from inventory.models import Item, RunCount, Step
from inventory.queries import lead_record, prices
from orders.models import Learned
from orders.queries.reorder.demand import Demand, demand
from orders.queries.reorder.structure import Structure
from shop.shared import clock
from shop.shared.models import Shop

MADE_HERE: Final = (Item.Kind.BLANK, Item.Kind.HEAD, Item.Kind.TOOL)
LOOKED_AT: Final = (Item.Kind.BAR, Item.Kind.HANDLE, Item.Kind.CONSUMABLE, Item.Kind.TOOL)
MAKING_DAYS: Final = (
    21  # from starting a run to the shelf, and back from a ship day to its parts, where no run has told. No source
)
LEAST_WEEKS: Final = 3  # with demand, below which only a point of the shop's own holds. No source
_MOST_RUNS: Final = 40
_HORIZON: Final = (1, 26)  # weeks


@dataclass(frozen=True, slots=True)
class Basis:
    """One item: weeks of demand since it was known, forecast by week from the day it was learned, lead time, service.

    `service` is the wanted share of reorders in which it does not run dry; `yearly` the value it turns over in a year,
    minor units, 0 where no price is known.
    """

    item: Item
    learned_on: dt.date
    history: tuple[int, ...]
    per_week: tuple[float, ...]
    method: str
    error: float | None
    naive_error: float | None
    lead: LeadTime
    counted: str
    service: float
    yearly: float
    point: int | None = None
    up_to: int | None = None

    @property
    def per_day(self) -> float:
        """Return the mean of a day over the coming 13 weeks."""
        return sum(self.per_week[:13]) / 91

    @property
    def horizon(self) -> int:
        """Return the weeks ahead that the forecast is judged over: those of the lead time and a look."""
        return _horizon(self.lead)

    @property
    def make(self) -> bool:
        """Return whether the shop makes it itself."""
        return made_here(self.item)

    @property
    def silent(self) -> bool:
        """Return whether too little was asked for to reckon with: in fewer than three weeks, or never."""
        return sum(1 for one in self.history if one) < LEAST_WEEKS


def _horizon(lead: LeadTime) -> int:
    return min(_HORIZON[1], max(_HORIZON[0], -(-round(lead.mean + 1) // 7)))


def made_here(item: Item) -> bool:
    """Return whether the shop makes an item itself: what it forges, and handles of its own wood room."""
    if item.supplier_id is not None:
        return False
    return item.kind in MADE_HERE or (item.kind == Item.Kind.HANDLE and item.pattern_id is not None)


def looked_at(item: Item) -> bool:
    """Return whether an item is reordered at all: what is bought, tools, and what somebody wrote a point for."""
    return item.kind in LOOKED_AT or item.reorder_point is not None


def worked_out(built: Structure, shop: Shop, *, today: dt.date) -> dict[int, Basis]:
    """Work out the basis of every item that is reordered, from the book as it stands."""
    items = {pk: one for pk, one in built.items.items() if looked_at(one)}
    told = demand(built, today=today, zone=shop.zone)
    leads = lead_days(items.values(), zone=shop.zone, today=today)
    chosen = _chosen(items, told, leads)
    costs = prices.unit_costs(built.items)
    value = {pk: 365 * chosen[pk].per_day * _worth(one, costs) for pk, one in items.items()}
    counted = counted_as(items, value)
    return {
        pk: Basis(
            one, today, told.of(pk), chosen[pk].per_week, chosen[pk].method, chosen[pk].error, chosen[pk].naive_error,
            leads[pk], counted[pk], service_of(one, counted[pk], shop), value[pk],
        )
        for pk, one in items.items()
    }  # fmt: skip


def _chosen(items: Mapping[int, Item], told: Demand, leads: Mapping[int, LeadTime]) -> dict[int, Forecast]:
    rows = [told.rows[pk] for pk in items]
    weeks = [_horizon(leads[pk]) for pk in items]
    found = forecasts(
        told.weekly[rows], since=told.since[rows], horizon=np.array(weeks, dtype=np.int64),
        season_start=(told.begins.isocalendar().week - 1) % 52,
    )  # fmt: skip
    return dict(zip(items, found, strict=True))


def _worth(item: Item, costs: Mapping[int, float]) -> float:
    """Return what a unit is worth for classing: what it costs, of what is made here what it sells for."""
    return costs.get(item.pk, 0.0) or float(item.dealer_minor or item.retail_minor or 0)


def counted_as(items: Mapping[int, Item], yearly: Mapping[int, float]) -> dict[int, str]:
    """Return how often each item is counted: as somebody said, else by what it turns over; sometimes without a price."""
    by_code = value_classes.classes({items[pk].code: value for pk, value in yearly.items() if value > 0})
    return {pk: one.counted or by_code.get(one.code, Item.Counted.SOMETIMES.value) for pk, one in items.items()}


def service_of(item: Item, counted: str, shop: Shop) -> float:
    """Return the wanted share of reorders in which an item does not run dry."""
    by_class = {
        Item.Counted.OFTEN.value: shop.dry_often,
        Item.Counted.SOMETIMES.value: shop.dry_sometimes,
        Item.Counted.SELDOM.value: shop.dry_seldom,
    }
    return (item.service_percent or by_class[counted]) / 100


def lead_days(items: Iterable[Item], *, zone: str, today: dt.date) -> dict[int, LeadTime]:
    """Return the days from ordering an item, or starting a run of it, until it is there."""
    items = list(items)
    bought = {one.supplier_id for one in items if one.supplier_id}
    record = lead_record.lines(bought, zone=zone)
    runs = _runs({one.pattern_id for one in items if one.pattern_id}, zone)
    found = {}
    for one in items:
        if made_here(one):
            written = MAKING_DAYS if one.lead_days is None else one.lead_days
            found[one.pk] = lead_times.learn(runs.get(one.pattern_id or 0, []), [], written=written, today=today)
        else:
            found[one.pk] = lead_record.of_item(one, record.get(one.supplier_id or 0, ()), today=today)
    return found


def _runs(patterns: Iterable[int], zone: str) -> Mapping[int, Sequence[Record]]:
    """Return how long runs took from their start until the last of them was packed, or behind its last point."""
    last = RunCount.objects.filter(run__pattern__in=set(patterns), step__work=Step.Work.PACK, entry__reversed_by=None)
    ended: dict[int, tuple[int, dt.date, dt.date]] = {}
    rows = last.order_by("-entry__happened_at").values_list(
        "run_id", "run__pattern_id", "run__started_at", "entry__happened_at"
    )
    for run, pattern, started, at in rows.iterator(chunk_size=2_000):
        if run not in ended:
            ended[run] = (pattern, clock.local_date(started, zone), clock.local_date(at, zone))
    found: dict[int, list[Record]] = defaultdict(list)
    for pattern, first, end in ended.values():
        if len(found[pattern]) < _MOST_RUNS and end >= first:
            found[pattern].append(Record(first, None, ((end, 1.0),)))
    return found


def kept(built: Structure, shop: Shop) -> dict[int, Basis]:
    """Return the bases as the night learned them; items it did not know are missing."""
    found = {}
    for row in Learned.objects.all().iterator(chunk_size=2_000):
        item = built.items.get(row.item_id)
        if item is None or not looked_at(item):
            continue
        told: dict[str, Any] = row.basis
        counted = item.counted or told["counted"]
        found[item.pk] = Basis(
            item, row.learned_on, tuple(told["history"]), tuple(told["per_week"]), row.method, row.error, row.naive_error,
            LeadTime(tuple(told["days"]), tuple(told["chances"]), row.lead_days, told["records"]),
            counted, service_of(item, counted, shop), told["yearly"], row.point, row.up_to,
        )  # fmt: skip
    return found


def as_json(basis: Basis) -> dict[str, Any]:
    """Return what of a basis is kept beside its columns."""
    return {
        "history": list(basis.history),
        "per_week": list(basis.per_week),
        "days": list(basis.lead.days),
        "chances": list(basis.lead.chances),
        "records": basis.lead.records,
        "counted": basis.counted,
        "yearly": round(basis.yearly, 2),
    }
