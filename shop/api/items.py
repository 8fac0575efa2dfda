"""Items: what the shop keeps, and what of each there is."""

from typing import Any, ClassVar

from inventory.models import Item
from inventory.queries import lists, shelf
from shop.api import fields, paging, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

KINDS = tuple(Item.Kind.values)
TAG = "Stock"
SECTION = shapes.thing(shape=shapes.TEXT, size=shapes.LENGTH, width=shapes.maybe(shapes.LENGTH))
_PARTS: dict[str, Any] = {
    "code": shapes.TEXT,
    "name": shapes.TEXT,
    "kind": shapes.words(*KINDS),
    "unit": shapes.UNIT,
    "active": shapes.YES_NO,
    "grade": shapes.maybe(shapes.TEXT),
    "section": shapes.maybe(SECTION),
    "blank_length": shapes.maybe(shapes.LENGTH),
    "pattern": shapes.maybe(shapes.TEXT),
    "eye_size": shapes.TEXT,
    "shipped_mass": shapes.maybe(shapes.MASS),
    "retail_price": shapes.maybe(shapes.MONEY),
    "dealer_price": shapes.maybe(shapes.MONEY),
    "bought_as": shapes.maybe(shapes.thing(unit=shapes.TEXT, holds=shapes.QUANTITY)),
    "reorder_point": shapes.maybe(shapes.QUANTITY),
    "reorder_quantity": shapes.maybe(shapes.QUANTITY),
    "lead_days": shapes.maybe(shapes.WHOLE),
    "counted": shapes.words("", *Item.Counted.values),
    "not_dry_of_100": shapes.maybe(shapes.WHOLE),
    "keeps_days": shapes.maybe(shapes.WHOLE),
    "room_for": shapes.maybe(shapes.QUANTITY),
    "stored_as": shapes.words("", *Item.StoredAs.values),
    "caution": shapes.TEXT,
    "safety_sheet": shapes.TEXT,
    "stock": shapes.thing(
        there=shapes.QUANTITY,
        set_aside=shapes.QUANTITY,
        waiting=shapes.QUANTITY,
        version=shapes.WHOLE,
        changed_at=shapes.maybe(shapes.MOMENT),
    ),
}
ITEM = shapes.thing(**_PARTS)
STANDING = shapes.thing(
    place=shapes.TEXT, step=shapes.WHOLE, sellable=shapes.YES_NO, quantity=shapes.QUANTITY, set_aside=shapes.QUANTITY
)
ITEM_WHOLE = shapes.thing(
    **_PARTS,
    places=shapes.many(STANDING),
    made_of=shapes.many(shapes.thing(item=shapes.TEXT, quantity=shapes.QUANTITY, unit=shapes.UNIT)),
)
_EXAMPLE: dict[str, Any] = {
    "code": "HAM-2LB",
    "name": "Cross peen hammer 2 lb",
    "kind": "tool",
    "unit": "piece",
    "active": True,
    "grade": None,
    "section": None,
    "blank_length": None,
    "pattern": "cross peen 2 lb",
    "eye_size": "",
    "shipped_mass": {"g": "1315", "pounds": "2.899 lb"},
    "retail_price": {"amount": "125.00", "currency": "USD"},
    "dealer_price": {"amount": "85.00", "currency": "USD"},
    "bought_as": None,
    "reorder_point": "6",
    "reorder_quantity": "12",
    "lead_days": None,
    "counted": "",
    "not_dry_of_100": None,
    "keeps_days": None,
    "room_for": None,
    "stored_as": "",
    "caution": "",
    "safety_sheet": "",
    "stock": {
        "there": "9",
        "set_aside": "4",
        "waiting": "0",
        "version": 31,
        "changed_at": "2026-03-02T14:05:00Z",
    },
}
_WHOLE_EXAMPLE = _EXAMPLE | {
    "places": [{"place": "Shelf", "step": 0, "sellable": True, "quantity": "9", "set_aside": "4"}],
    "made_of": [{"item": "HEAD-CP2", "quantity": "1", "unit": "piece"}],
}


def section(item: Item) -> dict[str, Any] | None:
    """Return the section of a bar or blank."""
    made = item.section
    if made is None:
        return None
    width = fields.length(made.width_nm) if made.width_nm else None
    return {"shape": made.shape, "size": fields.length(made.size_nm, made.typed), "width": width}


def shown(item: Item, currency: str) -> dict[str, Any]:
    """Return an item as the API shows it."""

    def many(raw: int | None) -> str | None:
        return None if raw is None else fields.quantity(raw, item.unit)

    stock = item.stock
    return {
        "code": item.code,
        "name": item.name,
        "kind": item.kind,
        "unit": fields.unit_name(item.unit),
        "active": item.active,
        "grade": item.grade.code if item.grade else None,
        "section": section(item),
        "blank_length": fields.length(item.blank_length_nm) if item.blank_length_nm else None,
        "pattern": item.pattern.name if item.pattern else None,
        "eye_size": item.eye_size,
        "shipped_mass": fields.mass(item.shipped_mass_mg),
        "retail_price": fields.money(item.retail_minor, currency),
        "dealer_price": fields.money(item.dealer_minor, currency),
        "bought_as": {"unit": item.buy_unit, "holds": many(item.issue_per_buy)} if item.buy_unit else None,
        "reorder_point": many(item.reorder_point),
        "reorder_quantity": many(item.reorder_quantity),
        "lead_days": item.lead_days,
        "counted": item.counted,
        "not_dry_of_100": item.service_percent,
        "keeps_days": item.shelf_life_days,
        "room_for": many(item.most_kept),
        "stored_as": item.stored_as,
        "caution": item.caution,
        "safety_sheet": item.safety_sheet,
        "stock": {
            "there": many(stock.sellable),
            "set_aside": many(stock.allocated),
            "waiting": many(stock.waiting),
            "version": stock.version,
            "changed_at": fields.moment(stock.changed_at),
        },
    }


def find(code: str) -> Item:
    """Return the item of a code, or refuse it."""
    item = lists.items(every=True).filter(code=code).first()
    if item is None:
        raise NotFound(f"There is no item {code}; read the list of items.")
    return item


class Items(Endpoint):
    """The list of items."""

    operations: ClassVar = {
        "GET": Operation(
            name="listItems",
            summary="List items",
            tag=TAG,
            words="Items by code, with what there is of each: there = may be sold or used, set aside = promised.",
            query=(
                reading.Choice("kind", "Only items of this kind.", choices=KINDS),
                reading.Choice("kept", "Only those still kept, or all.", default="yes", choices=("yes", "all")),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of items.", shapes.page(ITEM), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.items(kind=call.query["kind"], every=call.query["kept"] == "all")
        page = paging.page(found, call.request, dict(call.query), by="code")
        currency = the_shop().currency
        rows = [shown(item, currency) for item in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)


class OneItem(Endpoint):
    """One item."""

    operations: ClassVar = {
        "GET": Operation(
            name="readItem",
            summary="Read one item",
            tag=TAG,
            words="An item, the places and steps its pieces stand at, and what goes into one where it is a tool.",
            replies={200: Reply("The item.", ITEM_WHOLE, _WHOLE_EXAMPLE)},
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        item = find(call.path["code"])
        places = [
            {
                "place": row.place,
                "step": row.step,
                "sellable": row.sellable,
                "quantity": fields.quantity(row.on_hand, item.unit),
                "set_aside": fields.quantity(row.allocated, item.unit),
            }
            for row in shelf.standing(item)
        ]
        made_of = [
            {
                "item": row.part.code,
                "quantity": fields.quantity(row.quantity, row.part.unit),
                "unit": fields.unit_name(row.part.unit),
            }
            for row in shelf.recipe(item)
        ]
        return reply(shown(item, the_shop().currency) | {"places": places, "made_of": made_of})
