"""The demo's stores: suppliers' terms and prices, what keeps how long and where, gas bottles, a count begun, all invented."""

import datetime as dt
from typing import Any

from inventory.models import Item
from inventory.queries import count_sheets as looking
from inventory.services import bottles, catalogue, count_sheets, supplier_terms
from inventory.services.ledger import Stamp
from inventory.services.supplier_terms import Step
from shop.demo import goods
from shop.demo.opening import Stage
from shop.flows import count_sheets as counting

TERMS = {
    "Quillmere Steel": (25_000, 1_800, (Step(4_500), Step(0, from_minor=60_000))),
    "Wold-and-Ashby Handles": (15_000, None, (Step(1_200),)),
    "Tallow Lane Supply": (0, None, (Step(900), Step(0, from_minor=15_000))),
    "Fenside Gas": (0, 500, ()),
}
STORED = {"GAS": Item.StoredAs.LP_GAS, "LOIL": Item.StoredAs.FLAMMABLE}
KEEPS = {"GLUE": 365, "LOIL": 730, "QOIL": 1_095}
ROOM = {"BOXS": 400, "BOXL": 150}
BREAKS = {"BELT36": (4, 6_600), "BOXS": (8, 2_300), "HA16": (12, 5_600)}
DEPOSIT_MINOR = 4_500


def note(stage: Stage, *, today: dt.date, at: dt.datetime) -> None:
    """Note terms, prices, storage and bottles as they stand at the end of the made-up days."""
    for name, (least, cost, freight) in TERMS.items():
        supplier_terms.set_terms(
            stage.suppliers[name], min_order_minor=least, order_cost_minor=cost, lead_days=None, freight=freight, at=at,
            by=stage.by,
        )  # fmt: skip
    for item in Item.objects.filter(active=True, supplier__isnull=False).select_related("supplier").order_by("code"):
        _price(stage, item, today, at)
    for code in {*STORED, *KEEPS, *ROOM}:
        facts: dict[str, Any] = {
            "stored_as": STORED.get(code, ""),
            "shelf_life_days": KEEPS.get(code),
            "most_kept": ROOM.get(code),
        }
        catalogue.change_item(Item.objects.get(code=code), at=at, by=stage.by, **facts)
    for item in Item.objects.filter(kind__in=(Item.Kind.HANDLE, Item.Kind.BAR, Item.Kind.TOOL), active=True):
        # from here on their points are reckoned; consumables keep the shop's own
        catalogue.change_item(item, at=at, by=stage.by, reorder_point=None, reorder_quantity=None)
    _bottles(stage, today, at)


def _price(stage: Stage, item: Item, today: dt.date, at: dt.datetime) -> None:
    facts: dict[str, Any] = {"noted_on": today, "at": at, "by": stage.by}
    supplier = item.supplier
    assert supplier is not None
    if item.kind == Item.Kind.BAR:
        usual = next(bar.usual for bar in goods.BARS if stage.bars[bar.key].pk == item.pk)
        lengths = ((6_096_000_000, 9_800), (3_657_600_000, 6_200)) if "ft" in usual else ((6_000_000_000, 9_800),)
        for nm, minor in lengths:
            supplier_terms.note_price(supplier, item, minor, length_nm=nm, **facts)
        return
    kinds = {one.code: one.price for one in goods.CONSUMABLES} | {row[0]: row[5] for row in goods.HANDLES}
    if item.code in kinds:
        supplier_terms.note_price(supplier, item, kinds[item.code], **facts)
    if item.code in BREAKS:
        start, minor = BREAKS[item.code]
        supplier_terms.note_price(supplier, item, minor, from_qty=start, **facts)


def _bottles(stage: Stage, today: dt.date, at: dt.datetime) -> None:
    """Write down the bottles that hold the gas the book knows, the last one begun, and two empty ones."""
    gas = Item.objects.select_related("stock").get(code="GAS")
    quarters = round(4 * gas.stock.sellable / gas.issue_per_buy)
    numbers = iter(f"F{n}" for n in range(21, 60))
    for full in [4] * (quarters // 4) + ([quarters % 4] if quarters % 4 else []) + [0, 0]:
        bottles.came(
            gas, [next(numbers)], stamp=Stamp(at=at, by=stage.by), came_on=today - dt.timedelta(days=9), quarters=full,
            supplier=stage.suppliers["Fenside Gas"], deposit_minor=DEPOSIT_MINOR,
        )  # fmt: skip


def begin_a_count(stage: Stage, *, at: dt.datetime) -> None:
    """Open a sheet for a few things and count the first of them."""
    stamp = Stamp(at=at, by=stage.by)
    things = looking.of_items(["BELT36", "FLAP", "TAG", "GLUE"])
    if not things:
        return
    sheet = count_sheets.open_sheet("what is due today", things, stamp=stamp)
    line = looking.lines(sheet)[0]
    now, _ = looking.there(line.item, line.place, None, at=at)
    counting.count_line(line, now, typed=str(now), stamp=stamp)
