"""Bars and lots: which steel and which pieces there are, from which melt, and where they stand."""

from typing import Any, ClassVar

from inventory.models import Bar, Holding, Lot
from inventory.queries import lists
from shop.api import fields, paging, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

TAG = "Stock"
MELT = shapes.thing(heat_number=shapes.TEXT, mill=shapes.TEXT, known=shapes.YES_NO)
STANDS = shapes.thing(place=shapes.TEXT, step=shapes.WHOLE, quantity=shapes.QUANTITY, set_aside=shapes.QUANTITY)
BAR = shapes.thing(
    number=shapes.TEXT,
    item=shapes.TEXT,
    lot=shapes.TEXT,
    grade=shapes.TEXT,
    section=shapes.thing(shape=shapes.TEXT, size=shapes.LENGTH, width=shapes.maybe(shapes.LENGTH)),
    melt=MELT,
    length_when_new=shapes.LENGTH,
    measured=shapes.YES_NO,
    length_left=shapes.LENGTH,
    mass_when_new=shapes.maybe(shapes.MASS),
    weighed_by=shapes.TEXT,
    place=shapes.maybe(shapes.TEXT),
    set_aside=shapes.YES_NO,
    cut_from=shapes.maybe(shapes.TEXT),
)
LOT = shapes.thing(
    code=shapes.TEXT,
    item=shapes.TEXT,
    unit=shapes.UNIT,
    quality=shapes.words("first", "second"),
    melt=shapes.maybe(MELT),
    bar=shapes.maybe(shapes.TEXT),
    delivery=shapes.maybe(shapes.WHOLE),
    born_at=shapes.MOMENT,
    left=shapes.QUANTITY,
    stands=shapes.many(STANDS),
    came_from=shapes.many(shapes.thing(lot=shapes.TEXT, item=shapes.TEXT, quantity=shapes.QUANTITY, unit=shapes.UNIT)),
    cost=shapes.maybe(shapes.MONEY),
)
_MELT = {"heat_number": "0A7731", "mill": "Example Mill", "known": True}
_BAR_EXAMPLE = {
    "number": "7KQ4",
    "item": "BAR-1045-R2",
    "lot": "L118",
    "grade": "1045",
    "section": {"shape": "round", "size": {"mm": "50.8", "inches": "2 in", "typed": "2 in"}, "width": None},
    "melt": _MELT,
    "length_when_new": {"mm": "3746.5", "inches": "12 ft 3 1/2 in", "typed": "12' 3 1/2\""},
    "measured": True,
    "length_left": {"mm": "2222.5", "inches": "7 ft 3 1/2 in"},
    "mass_when_new": {"g": "59608", "pounds": "131.4 lb"},
    "weighed_by": "own scale",
    "place": "Rack",
    "set_aside": False,
    "cut_from": None,
}
_LOT_EXAMPLE = {
    "code": "L204",
    "item": "HEAD-CP2",
    "unit": "piece",
    "quality": "first",
    "melt": _MELT,
    "bar": None,
    "delivery": None,
    "born_at": "2026-02-20T16:00:00Z",
    "left": "14",
    "stands": [{"place": "Shelf", "step": 0, "quantity": "14", "set_aside": "2"}],
    "came_from": [{"lot": "L118", "item": "BAR-1045-R2", "quantity": "1524", "unit": "mm"}],
    "cost": None,
}
_USED = reading.Choice("left", "Only those of which something is left, or all.", default="yes", choices=("yes", "all"))
_ITEM = reading.Parameter("item", "Only of the item of this code.", longest=30)
_HEAT = reading.Parameter("heat_number", "Only from this mill heat.", longest=40)


def melt(lot: Lot) -> dict[str, Any] | None:
    """Return the melt of a lot."""
    made = lot.melt
    return None if made is None else {"heat_number": made.heat_number, "mill": made.mill, "known": made.known}


def _inside(lot: Lot) -> list[Holding]:
    return [holding for holding in lot.holdings.all() if holding.place.inside]


def bar_shown(bar: Bar) -> dict[str, Any]:
    """Return a bar as the API shows it."""
    held = _inside(bar.lot)
    section = bar.section
    return {
        "number": bar.number,
        "item": bar.lot.item.code,
        "lot": bar.lot.code,
        "grade": bar.lot.melt.grade.code if bar.lot.melt else "",
        "section": {
            "shape": section.shape,
            "size": fields.length(section.size_nm, section.typed),
            "width": fields.length(section.width_nm) if section.width_nm else None,
        },
        "melt": melt(bar.lot),
        "length_when_new": fields.length(bar.length_nm, bar.typed),
        "measured": bar.measured,
        "length_left": fields.length(sum(holding.on_hand for holding in held)),
        "mass_when_new": fields.mass(bar.mass_mg),
        "weighed_by": bar.weighed_by,
        "place": held[0].place.name if held else None,
        "set_aside": any(holding.allocated for holding in held),
        "cut_from": bar.parent.number if bar.parent else None,
    }


def lot_shown(lot: Lot, currency: str, *, costs: bool) -> dict[str, Any]:
    """Return a lot as the API shows it; its cost only to those who may see costs."""
    unit = lot.item.unit
    held = _inside(lot)
    bar = getattr(lot, "bar", None)
    return {
        "code": lot.code,
        "item": lot.item.code,
        "unit": fields.unit_name(unit),
        "quality": lot.quality,
        "melt": melt(lot),
        "bar": bar.number if bar else None,
        "delivery": lot.delivery_line.delivery.number if lot.delivery_line else None,
        "born_at": fields.moment(lot.born_at),
        "left": fields.quantity(sum(holding.on_hand for holding in held), unit),
        "stands": [
            {
                "place": holding.place.name,
                "step": holding.step,
                "quantity": fields.quantity(holding.on_hand, unit),
                "set_aside": fields.quantity(holding.allocated, unit),
            }
            for holding in held
        ],
        "came_from": [
            {
                "lot": kin.parent.code,
                "item": kin.parent.item.code,
                "quantity": fields.quantity(kin.quantity, kin.parent.item.unit),
                "unit": fields.unit_name(kin.parent.item.unit),
            }
            for kin in lot.parents.all()
        ],
        "cost": fields.money(lot.cost_minor, currency) if costs else None,
    }


class Bars(Endpoint):
    """The list of bars."""

    operations: ClassVar = {
        "GET": Operation(
            name="listBars",
            summary="List bars",
            tag=TAG,
            words="Numbered bars in the order they came, each with the length that is left of it.",
            query=(
                _ITEM,
                reading.Parameter("grade", "Only of this grade.", longest=20),
                _HEAT,
                _USED,
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of bars.", shapes.page(BAR), {"rows": [_BAR_EXAMPLE], "next": None}, ("Link",))
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        query = call.query
        found = lists.bars(
            item=query["item"],
            grade=query["grade"],
            heat_number=query["heat_number"],
            used_up=query["left"] == "all",
        )
        page = paging.page(found, call.request, dict(query), by="pk")
        return reply({"rows": [bar_shown(bar) for bar in page.rows], "next": page.next}, headers=page.headers)


class OneBar(Endpoint):
    """One bar."""

    operations: ClassVar = {
        "GET": Operation(
            name="readBar",
            summary="Read one bar",
            tag=TAG,
            words="A bar by the number stamped on it.",
            replies={200: Reply("The bar.", BAR, _BAR_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        bar = lists.bars(used_up=True).filter(number=call.path["bar"]).first()
        if bar is None:
            raise NotFound(f"There is no bar {call.path['bar']}; read the list of bars.")
        return reply(bar_shown(bar))


class Lots(Endpoint):
    """The list of lots."""

    operations: ClassVar = {
        "GET": Operation(
            name="listLots",
            summary="List lots",
            tag=TAG,
            words="Lots in the order they came into being. The cost is null without the scope `costs:read`.",
            query=(_ITEM, _HEAT, _USED, *paging.PARAMETERS),
            replies={
                200: Reply("One page of lots.", shapes.page(LOT), {"rows": [_LOT_EXAMPLE], "next": None}, ("Link",))
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        query = call.query
        found = lists.lots(item=query["item"], heat_number=query["heat_number"], used_up=query["left"] == "all")
        page = paging.page(found, call.request, dict(query), by="pk")
        currency, costs = the_shop().currency, call.may("costs:read")
        rows = [lot_shown(lot, currency, costs=costs) for lot in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)


class OneLot(Endpoint):
    """One lot."""

    operations: ClassVar = {
        "GET": Operation(
            name="readLot",
            summary="Read one lot",
            tag=TAG,
            words="A lot: where its pieces stand and which lots it came out of.",
            replies={200: Reply("The lot.", LOT, _LOT_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        lot = lists.lots(used_up=True).filter(code=call.path["code"]).first()
        if lot is None:
            raise NotFound(f"There is no lot {call.path['code']}; read the list of lots.")
        return reply(lot_shown(lot, the_shop().currency, costs=call.may("costs:read")))
