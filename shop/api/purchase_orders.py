"""Purchase orders: listed, read, written, and changed while the supplier does not have them."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from inventory.models import CutPlan, Item, PurchaseOrder
from inventory.queries import deliveries as queries
from inventory.queries import lists
from inventory.services import purchase_changes, purchasing
from inventory.services.purchasing import ToBuy
from shop.api import asked, etags, fields, paging, reading, shapes
from shop.api.purchase_orders_shown import EXAMPLE, ORDER, TAG, find, several, shown
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared import clock
from shop.shared.errors import Invalid
from shop.shared.shop_row import the_shop

MOST_LINES = purchasing.MOST_LINES


class ToBuyBody(fields.Body):
    """One line, as it would be typed."""

    item = fields.Text(longest=30, help_text="By code; a bar for steel.")
    quantity = fields.Text(longest=60, help_text="For steel 7 @ 20 ft; for goods 36, 3 dozen, 5 lb.")
    price = fields.Money(required=False, help_text="Of the whole line; without it, as the supplier's is noted.")


class PurchaseOrderBody(fields.Body):
    """What is ordered, from whom, for when."""

    supplier = fields.Text(longest=120, help_text="By name; a new name is added.")
    lines = fields.many(ToBuyBody, MOST_LINES)
    ordered_on = fields.Day(required=False, help_text="Without it, today.")
    wanted_on = fields.Day(required=False)
    note = fields.Text(longest=300, required=False, help_text="Goes to the supplier.")
    cut_plan = fields.Whole(low=1, high=10**9 - 1, required=False, help_text="The plan that wants the bars.")


class ChangePurchaseOrderBody(fields.Body):
    """What changes; what is left out stays."""

    lines = fields.many(ToBuyBody, MOST_LINES, required=False)
    wanted_on = fields.Day(required=False, allow_null=True, help_text="Null takes the day back.")
    note = fields.Text(longest=300, required=False, allow_blank=True)


class PurchaseOrders(Endpoint):
    """The purchase orders."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPurchaseOrders",
            summary="List purchase orders",
            tag=TAG,
            words="Purchase orders by number. Prices are null without the scope `costs:read`.",
            query=(
                reading.Choice("state", "Only those still open, or closed.", choices=("open", "closed")),
                reading.Parameter("supplier", "Only to the supplier of this name.", longest=120),
                *paging.PARAMETERS,
            ),
            replies={200: Reply("One page of them.", shapes.page(ORDER), {"rows": [EXAMPLE], "next": None}, ("Link",))},
        ),
        "POST": Operation(
            name="writePurchaseOrder",
            summary="Write a purchase order",
            tag=TAG,
            words="From then on the Door expects it. Nothing goes to the supplier before it is sent.",
            body=PurchaseOrderBody,
            example={
                "supplier": "Example Steel",
                "wanted_on": "2026-03-16",
                "lines": [{"item": "BAR-1045-R2", "quantity": "5 @ 20 ft", "price": "490.00"}],
            },
            replies={201: Reply("The order.", ORDER, EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.purchase_orders(state=call.query["state"], supplier=call.query["supplier"])
        page = paging.page(found, call.request, dict(call.query), by="number")
        return reply({"rows": several(page.rows, call), "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Write it."""
        body, shop = call.body, the_shop()
        supplier = purchasing.supplier_named(body["supplier"], at=call.at, by=call.actor)
        order = purchasing.open_order(
            supplier,
            to_buy(body["lines"], shop.currency),
            ordered_on=body.get("ordered_on", clock.local_date(call.at, shop.zone)),
            wanted_on=body.get("wanted_on"),
            note=body.get("note", ""),
            cut_plan=_plan(body.get("cut_plan")),
            at=call.at,
            by=call.actor,
        )
        location = f"/api/v1/purchase-orders/{order.number}"
        return reply(shown(find(order.number), call), status=201, location=location)


def to_buy(lines: Sequence[Mapping[str, Any]], currency: str) -> list[ToBuy]:
    """Return the lines of a body, read."""
    codes = {line["item"] for line in lines}
    known = {item.code: item for item in Item.objects.filter(code__in=codes, active=True)}
    found = []
    for at, line in enumerate(lines):
        item = known.get(line["item"])
        if item is None:
            raise Invalid.field(f"lines.{at}.item", "There is no such item in use; name one of the list of items.")
        if item.kind == Item.Kind.TOOL:
            raise Invalid.field(f"lines.{at}.item", f"{item.code} is a tool, which is made here; name what is bought.")
        price = asked.minor(line["price"], currency, f"lines.{at}.price") if "price" in line else None
        found.append(ToBuy(item, line["quantity"], price))
    return found


def _plan(number: int | None) -> CutPlan | None:
    if number is None:
        return None
    found = CutPlan.objects.select_related("item").filter(number=number).first()
    if found is None:
        raise Invalid.field("cut_plan", f"There is no cut plan {number}; leave it out.")
    return found


class OnePurchaseOrder(Endpoint):
    """One purchase order."""

    operations: ClassVar = {
        "GET": Operation(
            name="readPurchaseOrder",
            summary="Read one purchase order",
            tag=TAG,
            words="An order with its lines, what came of them, and how far its letters are. `goods` adds up the priced lines;"
            " `unpriced` says how many have no price.",
            replies={200: Reply("The order.", ORDER, EXAMPLE)},
        ),
        "PATCH": Operation(
            name="changePurchaseOrder",
            summary="Change a purchase order",
            tag=TAG,
            words="While it is neither sent nor confirmed, and no delivery was begun for it. Lines are written anew.",
            body=ChangePurchaseOrderBody,
            example={"note": "ring before you come"},
            replies={200: Reply("The order.", ORDER, EXAMPLE)},
            refusals=(409,),
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(find(call.path["number"]), call))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        order, body, currency = find(call.path["number"]), call.body, the_shop().currency
        now = shown(order, call)
        etags.check_read(call.tags, reply(now), now["version"])
        if not body:
            raise Invalid("Name at least one thing to change.")
        purchase_changes.change(
            order,
            to_buy(body["lines"], currency) if "lines" in body else _as_written(order),
            wanted_on=body.get("wanted_on", order.wanted_on),
            note=body.get("note", order.note),
            version=order.version,
            at=call.at,
            by=call.actor,
        )
        return reply(shown(find(order.number), call))


def _as_written(order: PurchaseOrder) -> list[ToBuy]:
    """Return the lines as they stand, to be written anew."""
    found = queries.order(order.number)
    return (
        [ToBuy(line.item, line.typed or str(line.qty), line.price_minor) for line in found.lines.all()] if found else []
    )
