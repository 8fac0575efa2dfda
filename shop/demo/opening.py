"""The demo's first day: people, firms, items and what stood in the shop, booked through the services."""

import datetime as dt
import random
from dataclasses import dataclass, field

from inventory.models import Item, Pattern, Supplier
from inventory.services import arriving, catalogue, purchasing, steel_items
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.ledger import Kind, Stamp
from orders.models import Customer
from orders.services import customers, reserving
from shop.access.actor import Actor
from shop.demo import firms, goods
from shop.shared.units import parse_length, parse_mass


@dataclass(slots=True)
class Stage:
    """Everything the made-up weeks act on."""

    dice: random.Random
    by: Actor
    bars: dict[str, Item] = field(default_factory=dict)
    heads: dict[str, Item] = field(default_factory=dict)
    tools: dict[str, Item] = field(default_factory=dict)
    handles: dict[str, Item] = field(default_factory=dict)
    consumables: dict[str, Item] = field(default_factory=dict)
    suppliers: dict[str, Supplier] = field(default_factory=dict)
    dealers: list[tuple[Customer, firms.Buyer]] = field(default_factory=list)
    one_off: list[Customer] = field(default_factory=list)


def set_up(stage: Stage, *, at: dt.datetime) -> None:
    """Write down firms and items."""
    for firm in firms.SUPPLIERS:
        stage.suppliers[firm.name] = purchasing.add_supplier(
            name=firm.name, email=firm.email, phone="", claim_days=firm.claim_days, at=at, by=stage.by
        )
    for buyer in firms.DEALERS:
        made = customers.add(
            name=buyer.name, kind="dealer", email=buyer.email, phone="", address=buyer.address, at=at, by=stage.by
        )
        stage.dealers.append((made, buyer))
    for name, email, address in firms.ONE_OFF:
        stage.one_off.append(
            customers.add(name=name, kind="one-off", email=email, phone="", address=address, at=at, by=stage.by)
        )
    _steel(stage, at)
    _handles(stage, at)
    _consumables(stage, at)
    for kind in goods.PATTERNS:
        _pattern(stage, kind, at)


def _steel(stage: Stage, at: dt.datetime) -> None:
    for code, density in goods.GRADES:
        catalogue.grade(code, density_ug_per_cm3=density)
    for bar in goods.BARS:
        item = steel_items.bar_item(
            steel_items.grade(bar.grade), steel_items.section(bar.shape, bar.size), at=at, by=stage.by
        )
        usual = parse_length(bar.usual).nm
        stage.bars[bar.key] = catalogue.change_item(
            item,
            at=at,
            by=stage.by,
            buy_unit=f"bar of {bar.usual}",
            issue_per_buy=usual,
            reorder_point=usual * bar.keep,
            reorder_quantity=usual * (bar.keep + 1),
            lead_days=8,
            supplier=stage.suppliers["Quillmere Steel"],
        )


def _handles(stage: Stage, at: dt.datetime) -> None:
    for code, name, eye, point, dozens, _ in goods.HANDLES:
        stage.handles[code] = catalogue.add_item(
            at=at,
            by=stage.by,
            code=code,
            name=name,
            kind="handle",
            eye_size=eye,
            buy_unit="dozen",
            issue_per_buy=12,
            reorder_point=point,
            reorder_quantity=12 * dozens,
            lead_days=14,
            supplier=stage.suppliers["Wold-and-Ashby Handles"],
        )


def _consumables(stage: Stage, at: dt.datetime) -> None:
    for kind in goods.CONSUMABLES:
        stage.consumables[kind.code] = catalogue.add_item(
            at=at,
            by=stage.by,
            code=kind.code,
            name=kind.name,
            kind="consumable",
            unit=kind.unit,
            buy_unit=kind.buy,
            issue_per_buy=kind.per_buy,
            reorder_point=kind.point,
            reorder_quantity=kind.per_buy * kind.buys,
            lead_days=5,
            supplier=stage.suppliers[kind.supplier],
            safety_sheet=goods.SHEETS.get(kind.code, ""),
        )


def _pattern(stage: Stage, kind: goods.PatternKind, at: dt.datetime) -> None:
    pattern = Pattern.objects.create(code=kind.code, name=kind.name)
    bar = stage.bars[kind.bar]
    by = stage.by
    catalogue.add_item(
        at=at,
        by=by,
        code=f"BL-{kind.code}",
        name=f"blank, {kind.name}",
        kind="blank",
        grade=bar.grade,
        section=bar.section,
        blank_length_nm=parse_length(kind.blank).nm,
        pattern=pattern,
    )
    stage.heads[kind.code] = head = catalogue.add_item(
        at=at, by=by, code=f"HD-{kind.code}", name=f"head, {kind.name}", kind="head", pattern=pattern, eye_size=kind.eye
    )
    stage.tools[kind.code] = tool = catalogue.add_item(
        at=at,
        by=by,
        code=kind.code,
        name=kind.name,
        kind="tool",
        pattern=pattern,
        shipped_mass_mg=parse_mass(kind.shipped).mg,
        retail_minor=kind.retail,
        dealer_minor=kind.dealer,
        reorder_point=6,
        reorder_quantity=12,
        lead_days=12,
        caution=kind.caution,
    )
    parts = {head: 1}
    if kind.handle:
        parts |= {stage.handles[kind.handle]: 1, stage.consumables["WW"]: 1, stage.consumables["SW"]: 1}
    catalogue.set_recipe(tool, parts, at=at, by=by)


def move_in(stage: Stage, *, stamp: Stamp) -> None:
    """Book what stood in the shop on the first day: bars, blanks, heads at their step, handles, tools, consumables."""
    arrivals = [*_bars(stage), *_pieces(stage)]
    locks = reserving.lock_and_tidy({arrival.item.pk for arrival in arrivals}, at=stamp.at)
    arriving.arrive(Kind.MOVE_IN, arrivals, source=catalogue.place("MOVE-IN"), locks=locks, stamp=stamp)
    reserving.serve_waiting(locks)


def melt_number(dice: random.Random) -> str:
    """Return an invented mill heat number; some keep their leading zeros."""
    return dice.choice((f"00{dice.randint(10000, 99999)}", f"{dice.randint(10, 99)}-{dice.randint(1000, 9999)}"))


def _bars(stage: Stage) -> list[Arrival]:
    arrivals, rack = [], catalogue.place("RACK")
    for kind in goods.BARS:
        item = stage.bars[kind.key]
        if item.grade is None or item.section is None:
            raise RuntimeError("A bar item has its steel.")
        known = catalogue.melt(grade=item.grade, heat_number=melt_number(stage.dice), mill="Invented Mill")
        unknown = catalogue.melt(grade=item.grade, heat_number="unknown")
        for number in range(kind.keep + 2):
            typed = about(stage.dice, kind.usual) if number else _short(stage.dice, kind.usual)
            facts = BarFacts(section=item.section, typed=typed)
            melt = known if number else unknown
            arrivals.append(Arrival(item=item, qty=parse_length(typed).nm, place=rack, melt=melt, bar=facts))
    return arrivals


def about(dice: random.Random, usual: str) -> str:
    """Return a length that a tape would give for a bar of the usual length."""
    figure, unit = usual.split()
    if unit == "ft":
        return f"{int(figure) - dice.choice((0, 0, 1))} ft {dice.randint(0, 11)} {dice.choice(('1/2', '1/4', '3/4', '1/8'))} in"
    return f"{int(figure) * 1000 + dice.randint(-60, 140)} mm"


def _short(dice: random.Random, usual: str) -> str:
    return (
        f"{dice.randint(3, 6)} ft {dice.randint(0, 11)} 1/2 in"
        if usual.endswith("ft")
        else f"{dice.randint(900, 2100)} mm"
    )


def _pieces(stage: Stage) -> list[Arrival]:
    dice, arrivals = stage.dice, []
    floor, shelf, bin_ = catalogue.place("FLOOR"), catalogue.place("SHELF"), catalogue.place("BIN")
    for kind in goods.PATTERNS:
        bar = stage.bars[kind.bar]
        if bar.grade is None:
            raise RuntimeError("A bar item has its steel.")
        melts = [catalogue.melt(grade=bar.grade, heat_number=melt_number(dice), mill="Invented Mill") for _ in range(3)]
        blank = Item.objects.get(code=f"BL-{kind.code}")
        arrivals.append(Arrival(item=blank, qty=dice.randint(12, 40), place=bin_, melt=melts[0]))
        for step, melt in zip((1, 2, 5), melts, strict=True):  # after the forging heats, and ground
            qty = kind.share // 2 + dice.randint(2, 6)
            arrivals.append(Arrival(item=stage.heads[kind.code], qty=qty, place=floor, step=step, melt=melt))
        arrivals.append(Arrival(item=stage.heads[kind.code], qty=kind.share, place=shelf, melt=melts[2]))
        arrivals.append(Arrival(item=stage.tools[kind.code], qty=kind.share // 2 + 4, place=shelf, melt=melts[2]))
    for code, item in stage.handles.items():
        arrivals.append(Arrival(item=item, qty={"HA14": 40, "HA16": 110, "HA18": 22}[code], place=bin_))
    arrivals += [Arrival(item=stage.consumables[k.code], qty=k.opening, place=shelf) for k in goods.CONSUMABLES]
    return arrivals
