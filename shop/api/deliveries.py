"""Deliveries: what came from which supplier, as bars with their lengths and goods with their quantities."""

from typing import Any, ClassVar

from inventory.models import Delivery, DeliveryLine, PurchaseOrder
from inventory.queries import lists
from inventory.services import purchasing
from inventory.services.delivery_lines import MOST_LINES, WEIGHED_BY, Paper, PaperLine
from inventory.services.ledger import Stamp
from inventory.services.reading import MOST_TYPED
from shop.api import fields, paging, reading, shapes
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import delivering
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop

TAG = "Deliveries"
STATES = tuple(Delivery.State.values)
LINE = shapes.thing(
    line=shapes.WHOLE,
    item=shapes.TEXT,
    unit=shapes.UNIT,
    quantity=shapes.QUANTITY,
    typed=shapes.TEXT,
    purchase_order_line=shapes.maybe(shapes.WHOLE),
    heat_number=shapes.maybe(shapes.TEXT),
    lots=shapes.many(shapes.thing(lot=shapes.TEXT, bar=shapes.maybe(shapes.TEXT))),
    scale_mass=shapes.maybe(shapes.MASS),
    weighed_by=shapes.TEXT,
    computed_mass=shapes.maybe(shapes.MASS),
    cost=shapes.maybe(shapes.MONEY),
)
DELIVERY = shapes.thing(
    number=shapes.WHOLE,
    version=shapes.TEXT,
    state=shapes.words(*STATES),
    supplier=shapes.TEXT,
    purchase_order=shapes.maybe(shapes.WHOLE),
    supplier_paper=shapes.TEXT,
    note=shapes.TEXT,
    started_at=shapes.MOMENT,
    happened_at=shapes.maybe(shapes.MOMENT),
    lines=shapes.many(LINE),
)
_EXAMPLE = {
    "number": 31,
    "version": "2",
    "state": "booked",
    "supplier": "Example Steel",
    "purchase_order": 12,
    "supplier_paper": "ES-5581",
    "note": "",
    "started_at": "2026-03-02T14:05:00Z",
    "happened_at": "2026-03-02T14:05:00Z",
    "lines": [
        {
            "line": 1,
            "item": "BAR-1045-R2",
            "unit": "mm",
            "quantity": "12192",
            "typed": "2 @ 20 ft",
            "purchase_order_line": 1,
            "heat_number": "0A7731",
            "lots": [{"lot": "L118", "bar": "7KQ4"}, {"lot": "L119", "bar": "7KQ5"}],
            "scale_mass": {"g": "194000", "pounds": "427.7 lb"},
            "weighed_by": "own scale",
            "computed_mass": {"g": "193978", "pounds": "427.6 lb"},
            "cost": None,
        }
    ],
}


class DeliveryLineBody(fields.Body):
    """One line, every value as it would be typed at the door."""

    order_line = fields.Whole(low=1, high=9999, required=False, help_text="Line of the purchase order.")
    item = fields.Text(longest=30, required=False, help_text="Item that came; for steel, grade, shape and size do too.")
    quantity = fields.Text(longest=40, required=False, help_text="For goods: 36, 3 dozen, 5 lb.")
    grade = fields.Text(longest=20, required=False)
    shape = fields.Word(choices=["round", "square", "hexagon", "octagon", "flat"], required=False)
    size = fields.Text(longest=40, required=False, help_text="2 in, 50 mm.")
    width = fields.Text(longest=40, required=False, help_text="For flat bars.")
    heat_number = fields.Text(longest=40, required=False, help_text="Mill heat number from the tag, or unknown.")
    mill = fields.Text(longest=80, required=False)
    bars = fields.Text(longest=MOST_TYPED, required=False, help_text="For steel: 6 @ 20 ft 1/2 in, 1 @ 5.74 m.")
    scale = fields.Text(longest=40, required=False, help_text="Weight of the whole line: 427.7 lb.")
    weighed_by = fields.Word(choices=list(WEIGHED_BY), required=False)
    cost = fields.Money(required=False, help_text="Of the whole line, landed.")
    place = fields.Text(longest=20, required=False, help_text="Code of a place, where it is not the usual one.")
    measured = fields.Word(choices=["yes", "no"], required=False, help_text="no: lengths of the paper, to be taped.")
    damage = fields.Text(longest=300, required=False, help_text="What was seen at the lorry.")
    certificate = fields.Word(choices=["to come", "none"], required=False)


class DeliveryBody(fields.Body):
    """A delivery as it came."""

    supplier = fields.Text(longest=120)
    purchase_order = fields.Whole(low=1, high=10**9 - 1, required=False)
    although_closed = fields.YesNo(
        required=False, help_text="Book it also where the purchase order is closed; else that is refused."
    )
    supplier_paper = fields.Text(longest=60, required=False, help_text="Number on the supplier's slip.")
    note = fields.Text(longest=300, required=False)
    freight = fields.Money(required=False, help_text="Freight and cuts, shared over the steel by mass.")
    happened_at = fields.Moment(required=False, help_text="When it came; without it, now.")
    lines = fields.many(DeliveryLineBody, MOST_LINES)


def shown(made: Delivery, call: Call, currency: str) -> dict[str, Any]:
    """Return a delivery as the API shows it; costs only to those who may see them."""
    costs = call.may("costs:read")
    return {
        "number": made.number,
        "version": str(made.version),
        "state": made.state,
        "supplier": made.supplier.name,
        "purchase_order": made.order.number if made.order else None,
        "supplier_paper": made.supplier_paper,
        "note": made.note,
        "started_at": fields.moment(made.started_at),
        "happened_at": fields.moment(made.happened_at),
        "lines": [_line(line, currency if costs else None) for line in made.lines.all()],
    }


def _line(line: DeliveryLine, currency: str | None) -> dict[str, Any]:
    lots = [{"lot": lot.code, "bar": lot.bar.number if hasattr(lot, "bar") else None} for lot in line.lots.all()]
    return {
        "line": line.number,
        "item": line.item.code,
        "unit": fields.unit_name(line.item.unit),
        "quantity": fields.quantity(line.qty, line.item.unit),
        "typed": line.typed,
        "purchase_order_line": line.order_line.number if line.order_line else None,
        "heat_number": line.melt.heat_number if line.melt else None,
        "lots": lots,
        "scale_mass": fields.mass(line.scale_mass_mg),
        "weighed_by": line.weighed_by,
        "computed_mass": fields.mass(line.computed_mass_mg),
        "cost": fields.money(line.cost_minor, currency) if currency else None,
    }


def _find(number: int, call: Call) -> Answer:
    found = lists.deliveries().filter(number=number).first()
    if found is None:
        raise NotFound(f"There is no delivery {number}; read the list of deliveries.")
    return reply(shown(found, call, the_shop().currency))


class Deliveries(Endpoint):
    """The deliveries."""

    operations: ClassVar = {
        "GET": Operation(
            name="listDeliveries",
            summary="List deliveries",
            tag=TAG,
            words="Deliveries by number. Costs are null without the scope `costs:read`.",
            query=(
                reading.Choice("state", "Only in this state.", choices=STATES),
                reading.Parameter("supplier", "Only from the supplier of this name.", longest=120),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply(
                    "One page of deliveries.", shapes.page(DELIVERY), {"rows": [_EXAMPLE], "next": None}, ("Link",)
                )
            },
        ),
        "POST": Operation(
            name="bookDelivery",
            summary="Book a delivery",
            tag=TAG,
            words=(
                "Books what came, with or without a purchase order: steel as bars each with its length and mill heat"
                " number, other goods by quantity. Lines that wait for what came are served at once."
            ),
            body=DeliveryBody,
            example={
                "supplier": "Example Steel",
                "supplier_paper": "ES-5581",
                "lines": [
                    {"item": "BAR-1045-R2", "bars": "2 @ 20 ft", "heat_number": "0A7731", "mill": "Example Mill"}
                ],
            },
            replies={201: Reply("The delivery.", DELIVERY, _EXAMPLE, ("Location",))},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.deliveries(state=call.query["state"], supplier=call.query["supplier"])
        page = paging.page(found, call.request, dict(call.query), by="number")
        currency = the_shop().currency
        rows = [shown(made, call, currency) for made in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Book it."""
        body = call.body
        order = _purchase_order(body.get("purchase_order"))
        supplier = order.supplier if order else purchasing.supplier_named(body["supplier"], at=call.at, by=call.actor)
        if supplier.name.lower() != body["supplier"].strip().lower():
            raise Invalid.field("supplier", f"This purchase order is {supplier.name}'s; name that supplier.")
        happened = body.get("happened_at")
        if happened is not None and happened > call.at:
            raise Invalid.field("happened_at", "This moment has not come yet; leave it out for now.")
        lines = [PaperLine(**{name: str(value) for name, value in line.items()}) for line in body["lines"]]
        paper = Paper(lines, body.get("supplier_paper", ""), body.get("note", ""), str(body.get("freight", "")))
        received = delivering.receive(
            supplier,
            paper,
            stamp=Stamp(call.at, call.actor, happened),
            order=order,
            although_closed=body.get("although_closed", False),
        )
        number = received.delivery.number
        return reply_created(_find(number, call), f"/api/v1/deliveries/{number}")


def _purchase_order(number: int | None) -> PurchaseOrder | None:
    if number is None:
        return None
    found = PurchaseOrder.objects.select_related("supplier").filter(number=number).first()
    if found is None:
        raise Invalid.field("purchase_order", f"There is no purchase order {number}; leave it out.")
    return found


class OneDelivery(Endpoint):
    """One delivery."""

    operations: ClassVar = {
        "GET": Operation(
            name="readDelivery",
            summary="Read one delivery",
            tag=TAG,
            words="A delivery with the lots and bars it brought.",
            replies={200: Reply("The delivery.", DELIVERY, _EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return _find(call.path["number"], call)
