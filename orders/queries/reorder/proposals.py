"""Today's purchase orders as they would best be written: the due goods of each supplier, with what joins them, and why."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc.buying.basket import allowance, bare_cost, propose
from inventory.calc.buying.terms import SHELF_LIFE, Basket, Carriage, Limits, Line, Price, Terms, Wanted, Why
from inventory.models import Freight, Item, Supplier, SupplierPrice
from inventory.queries import as_typed, bottles, prices
from orders.queries.reorder import steel_bought
from orders.queries.reorder.needs import Need, Stands, decided, stands
from orders.queries.reorder.steel_bought import Bars
from shop.shared import shop_row
from shop.shared.models import Shop

AHEAD = 120  # days that a need may lie ahead and still be looked at for joining. No source
KEPT_IN: Final[Mapping[str, str]] = {Item.StoredAs.LP_GAS: Item.Unit.MG, Item.StoredAs.FLAMMABLE: Item.Unit.UL}


@dataclass(frozen=True, slots=True)
class ProposedLine:
    """So many units of an item, as the Door reads it, with its value where a price is known, and the reasons."""

    need: Need
    units: int
    typed: str
    value: int | None
    cover_days: float | None
    why: tuple[Why, ...]
    bars: Bars | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to order from one supplier today; goods that nobody sells yet stand under no supplier.

    A line of no units is due and cannot be bought, for the reason it names.
    """

    supplier: Supplier | None
    lines: tuple[ProposedLine, ...]
    value: int
    freight: int
    notes: tuple[Why, ...]

    @property
    def bought(self) -> tuple[ProposedLine, ...]:
        """Return the lines of which something is bought."""
        return tuple(one for one in self.lines if one.units)

    @property
    def kept_back(self) -> tuple[ProposedLine, ...]:
        """Return the lines of what is due and cannot be bought."""
        return tuple(one for one in self.lines if not one.units)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of one supplier: the needs and the goods by code, and its terms."""

    supplier: Supplier | None
    rows: Mapping[str, Need]
    wanted: Mapping[str, Wanted]
    terms: Terms

    @property
    def goods(self) -> list[Wanted]:
        """Return the goods in their order."""
        return list(self.wanted.values())


def proposals(*, at: dt.datetime) -> list[Proposal]:
    """Return what to order today, supplier by supplier, what ends first, first; writes nothing.

    Room and money are shared: who is most urgent has them first, but what is due of all is paid before what is beyond.
    """
    shop, now = shop_row.the_shop(), stands(at=at)
    return of_needs(decided(now), now, shop)


def of_needs(found: Sequence[Need], now: Stands, shop: Shop) -> list[Proposal]:
    """Return the proposals that follow from needs."""
    by_supplier: dict[int, list[Need]] = defaultdict(list)
    for one in found:
        if not one.make:
            by_supplier[one.item.supplier_id or 0].append(one)
    due = {pk: rows for pk, rows in by_supplier.items() if any(one.due for one in rows)}
    ordered = sorted(due, key=lambda pk: min(one.urgency for one in due[pk] if one.due))
    noted = prices.noted(pk for pk in due if pk)
    costs = prices.unit_costs(now.built.items)
    steel = steel_bought.of(now.built, noted, kerf_nm=shop.kerf_nm)
    room, money = _room(shop, now), shop.spend_minor
    asked = []
    for pk in ordered:
        rows = {one.item.code: one for one in due[pk]}
        supplier = next(iter(rows.values())).item.supplier
        wanted = [
            _wanted(one, noted.get((pk, one.item.pk), ()), costs, steel.get(one.item.pk), now) for one in rows.values()
        ]
        asked.append(_Asked(supplier, rows, {one.key: one for one in wanted}, _terms(supplier, shop)))
    bare = [bare_cost(each.goods, each.terms, Limits(room)) for each in asked]
    made = []
    for n, each in enumerate(asked):
        may = None if money is None else allowance(money, bare[n], bare[n + 1 :])
        basket = propose(each.goods, each.terms, Limits(dict(room), may))
        made.append(_proposal(each, basket, steel))
        for line in basket.lines:
            item = each.rows[line.key].item
            if item.stored_as in room and _weighed(item):
                room[item.stored_as] -= line.units
        if money is not None:
            money = max(0, money - basket.value - basket.freight)
    return made


def _proposal(asked: _Asked, basket: Basket, steel: Mapping[int, Bars]) -> Proposal:
    lines = [_line(asked.rows[one.key], one, asked.wanted[one.key], steel) for one in basket.lines]
    lines.sort(key=lambda one: (not one.need.due, one.need.urgency))
    value, freight = sum(one.value or 0 for one in lines), basket.freight
    if value != basket.value:  # a guess was weighed with; what is written down is carried by what is known
        goods = ((asked.wanted[one.key], one.units) for one in basket.lines)
        freight = asked.terms.freight(value, sum(one.mass_mg * (units // one.pack) for one, units in goods))
    return Proposal(asked.supplier, tuple(lines), value, freight, basket.notes)


def _line(need: Need, one: Line, wanted: Wanted, steel: Mapping[int, Bars]) -> ProposedLine:
    item, why = need.item, [_reckoned(need, why) for why in one.why]
    bars, value = steel.get(item.pk), one.value or None
    if item.stored_as in KEPT_IN and not _weighed(item):
        why.append(Why("room not known", {"what": item.stored_as}))
    if one.units and wanted.prices and not wanted.priced(one.units):
        value = None
        why.append(Why("price from", {"units": wanted.prices[0].from_packs * wanted.pack}))
    return ProposedLine(need, one.units, typed(item, one.units, bars), value, one.cover_days, tuple(why), bars)


def _reckoned(need: Need, why: Why) -> Why:
    """Add to the reason of what is due what it is made of: up to the point, and the use until the next look."""
    if why.kind not in {"due", "usual"}:
        return why
    decision = need.decision
    gap = min(decision.least, max(0, decision.point - decision.position))
    return Why(why.kind, {**why.facts, "to_point": gap, "until_next_look": decision.least - gap})


def typed(item: Item, units: int, bars: Bars | None) -> str:
    """Write a quantity as the Door reads it: bars at their length, whole units bought, or as the item is kept."""
    if not units:
        return ""
    if bars is not None:
        return f"{units // bars.length_nm} @ {bars.typed}"
    return as_typed.goods(item, units)


def _wanted(
    one: Need, noted: Sequence[SupplierPrice], costs: Mapping[int, float], bars: Bars | None, now: Stands
) -> Wanted:
    item, decision = one.item, one.decision
    pack = bars.length_nm if bars else item.issue_per_buy
    told = [row for row in noted if row.length_nm == (bars.length_nm if bars else 0)]
    steps = tuple(Price(row.from_qty, row.price_minor, row.bundle) for row in told)
    if not steps and item.pk in costs:
        steps = (Price(1, costs[item.pk] * pack),)
    ahead = (decision.order_by - now.today).days if decision.order_by else AHEAD + 1
    stands_ = decision.position / decision.per_day if decision.per_day > 0 else 0.0
    bundle = told[0].bundle if told else 1
    most, why = _most(one, pack * bundle)
    return Wanted(
        item.code, decision.least if one.due else 0, decision.per_day, 0.0 if one.due else float(ahead), max(0.0, stands_),
        steps, pack, bundle, most, why,
        item.stored_as if _weighed(item) else "", bars.mass_mg if bars else 0, decision.last_safe_day,
        item.reorder_quantity, bars.lost if bars else 0.0,
    )  # fmt: skip


def _weighed(item: Item) -> bool:
    """Say whether an item is kept in the unit in which the limit of its storage is written."""
    return KEPT_IN.get(item.stored_as) == item.unit


def _most(one: Need, step: int) -> tuple[int | None, str]:
    """Return how many more are sensible: used within the shelf life, and room for them; `step` are bought at the least."""
    item, decision = one.item, one.decision
    limits: list[tuple[int, str]] = []
    if item.shelf_life_days and decision.per_day > 0:
        used = math.floor(item.shelf_life_days * decision.per_day) - max(0, decision.position)
        limits.append((used, SHELF_LIFE))
    if item.most_kept is not None:
        room = item.most_kept - one.position.free - one.position.on_order
        limits.append((room, "room"))
        if room < step:  # then not even the one pack fits that is bought of what keeps for less than a pack
            limits = limits[-1:]
    if not limits:
        return None, ""
    most, why = min(limits)
    return max(0, most), why


def _terms(supplier: Supplier | None, shop: Shop) -> Terms:
    if supplier is None:
        return Terms(order_cost=shop.order_cost_minor, holding=shop.holding_percent / 100)
    steps = Freight.objects.filter(supplier=supplier).order_by("from_minor", "from_mass_mg")
    cost = supplier.order_cost_minor
    return Terms(
        supplier.min_order_minor,
        tuple(Carriage(one.freight_minor, one.from_minor, one.from_mass_mg) for one in steps),
        shop.order_cost_minor if cost is None else cost,
        shop.holding_percent / 100,
    )


def _room(shop: Shop, now: Stands) -> dict[str, int]:
    """Return what room is left by class of storage; bottles that are written down count as full."""
    stored: dict[str, int] = defaultdict(int)
    for pk, item in now.built.items.items():
        if _weighed(item) and pk in now.places:
            stored[item.stored_as] += now.places[pk].free + now.places[pk].on_order
    inside = bottles.lp_gas_inside(bottles.gases())
    coming = sum(
        now.places[pk].on_order
        for pk, item in now.built.items.items()
        if item.stored_as == Item.StoredAs.LP_GAS and _weighed(item)
    )
    gas = max(stored[Item.StoredAs.LP_GAS], inside + coming) if inside else stored[Item.StoredAs.LP_GAS]
    return {
        Item.StoredAs.LP_GAS: max(0, shop.lp_gas_most_mg - gas),
        Item.StoredAs.FLAMMABLE: max(0, shop.flammable_most_ul - stored[Item.StoredAs.FLAMMABLE]),
    }
