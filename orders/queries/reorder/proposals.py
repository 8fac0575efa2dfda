"""Today's purchase orders as they would best be written: the due goods of each supplier, with what joins them, and why."""

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc.buying.basket import propose
from inventory.calc.buying.terms import Basket, Carriage, Limits, Price, Terms, Wanted, Why
from inventory.models import Freight, Item, Supplier, SupplierPrice
from inventory.queries import bottles, prices
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
    """What to order from one supplier today; goods that nobody sells yet stand under no supplier."""

    supplier: Supplier | None
    lines: tuple[ProposedLine, ...]
    value: int
    freight: int
    notes: tuple[Why, ...]


def proposals(*, at: dt.datetime) -> list[Proposal]:
    """Return what to order today, supplier by supplier, what ends first, first; writes nothing.

    Room and money are shared: who is most urgent has them first.
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
    made = []
    for pk in ordered:
        rows = {one.item.code: one for one in due[pk]}
        supplier = next(iter(rows.values())).item.supplier
        wanted = [
            _wanted(one, noted.get((pk, one.item.pk), ()), costs, steel.get(one.item.pk), now) for one in rows.values()
        ]
        basket = propose(wanted, _terms(supplier, shop), Limits(dict(room), money))
        made.append(_proposal(supplier, basket, rows, steel))
        for line in basket.lines:
            item = rows[line.key].item
            stored = item.stored_as
            if stored in room and _weighed(item):
                room[stored] -= line.units
        if money is not None:
            money = max(0, money - basket.value - basket.freight)
    return made


def _proposal(
    supplier: Supplier | None, basket: Basket, rows: Mapping[str, Need], steel: Mapping[int, Bars]
) -> Proposal:
    lines = []
    for one in basket.lines:
        item = rows[one.key].item
        bars = steel.get(item.pk)
        value = one.value or None
        unknown = item.stored_as in KEPT_IN and not _weighed(item)
        why = (*one.why, Why("room not known", {"what": item.stored_as})) if unknown else one.why
        lines.append(
            ProposedLine(rows[one.key], one.units, typed(item, one.units, bars), value, one.cover_days, why, bars)
        )
    lines.sort(key=lambda one: (not one.need.due, one.need.urgency))
    return Proposal(supplier, tuple(lines), basket.value, basket.freight, basket.notes)


def typed(item: Item, units: int, bars: Bars | None) -> str:
    """Write a quantity as the Door reads it: bars at their length, whole units bought, or as the item is kept."""
    if not units:
        return ""
    if bars is not None:
        return f"{units // bars.length_nm} @ {bars.typed}"
    packs, rest = divmod(units, item.issue_per_buy)
    if item.buy_unit and not rest:
        return f"{packs} {item.buy_unit}"
    return {Item.Unit.MG: f"{units} mg", Item.Unit.UL: f"{units} uL"}.get(Item.Unit(item.unit), str(units))


def _wanted(
    one: Need, noted: Sequence[SupplierPrice], costs: Mapping[int, float], bars: Bars | None, now: Stands
) -> Wanted:
    item, decision = one.item, one.decision
    pack = bars.length_nm if bars else item.issue_per_buy
    told = [row for row in noted if row.length_nm == (bars.length_nm if bars else 0)]
    steps = tuple(Price(row.from_qty, row.price_minor) for row in told)
    if not steps and item.pk in costs:
        steps = (Price(1, costs[item.pk] * pack),)
    ahead = (decision.order_by - now.today).days if decision.order_by else AHEAD + 1
    stands_ = decision.position / decision.per_day if decision.per_day > 0 else 0.0
    most, why = _most(one)
    return Wanted(
        item.code, decision.least if one.due else 0, decision.per_day, 0.0 if one.due else float(ahead), max(0.0, stands_),
        steps, pack, max((row.bundle for row in told), default=1), most, why,
        item.stored_as if _weighed(item) else "", bars.mass_mg if bars else 0, decision.last_safe_day,
        item.reorder_quantity, bars.lost if bars else 0.0,
    )  # fmt: skip


def _weighed(item: Item) -> bool:
    """Say whether an item is kept in the unit in which the limit of its storage is written."""
    return KEPT_IN.get(item.stored_as) == item.unit


def _most(one: Need) -> tuple[int | None, str]:
    """Return how many more are sensible: used within the shelf life, and room for them."""
    item, decision = one.item, one.decision
    limits: list[tuple[int, str]] = []
    if item.shelf_life_days and decision.per_day > 0:
        limits.append((math.floor(item.shelf_life_days * decision.per_day) - max(0, decision.position), "shelf life"))
    if item.most_kept is not None:
        limits.append((item.most_kept - one.position.free - one.position.on_order, "room"))
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
