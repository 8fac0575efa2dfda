"""Shipments: what was sent for which order, out of which lots."""

from typing import ClassVar

from inventory.services.ledger import Stamp
from orders.queries import lists
from orders.services import shipping
from orders.services.shipping import Parcel
from shop.api import fields, orders_shown, paging, reading, shapes
from shop.api.orders import MOST_LINES, SetAsideLine
from shop.api.orders_shown import SHIPMENT, SHIPMENT_EXAMPLE
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, NotFound
from shop.shared.units import parse_mass

TAG = "Shipments"


class ShipmentBody(fields.Body):
    """What goes, and how."""

    lines = fields.many(SetAsideLine, MOST_LINES, required=False)
    parcels = fields.Whole(low=1, high=200, required=False)
    carrier = fields.Text(longest=60, required=False, allow_blank=True)
    tracking = fields.Text(longest=80, required=False, allow_blank=True)
    scale_mass = fields.Text(longest=40, required=False, help_text="As read from the scale, with its unit: 5.8 lb.")
    sent_at = fields.Moment(required=False, help_text="When it left; without it, now.")
    before_window = fields.YesNo(required=False, help_text="Send it although its window has not begun.")


def _find(number: int, call: Call) -> Answer:
    found = lists.shipments().filter(number=number).first()
    if found is None:
        raise NotFound(f"There is no shipment {number}; read the list of shipments.")
    return reply(orders_shown.shipment(found, call))


class Shipments(Endpoint):
    """The list of shipments."""

    operations: ClassVar = {
        "GET": Operation(
            name="listShipments",
            summary="List shipments",
            tag=TAG,
            words="Shipments by number; one that was undone says when.",
            query=(
                reading.Whole("order", "Only of the order of this number.", low=1, high=10**9 - 1),
                reading.Instant("since", "Only those sent since.", example="2026-03-01T00:00:00Z"),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply(
                    "One page of shipments.",
                    shapes.page(SHIPMENT),
                    {"rows": [SHIPMENT_EXAMPLE], "next": None},
                    ("Link",),
                )
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.shipments(order=call.query["order"], since=call.query["since"])
        page = paging.page(found, call.request, dict(call.query), by="number")
        rows = [orders_shown.shipment(made, call) for made in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)


class OneShipment(Endpoint):
    """One shipment."""

    operations: ClassVar = {
        "GET": Operation(
            name="readShipment",
            summary="Read one shipment",
            tag=TAG,
            words="A shipment with the lots and mill heats that went in it.",
            replies={200: Reply("The shipment.", SHIPMENT, SHIPMENT_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return _find(call.path["number"], call)


class Send(Endpoint):
    """Sending for an order."""

    operations: ClassVar = {
        "POST": Operation(
            name="sendOrder",
            summary="Send what is set aside",
            tag=TAG,
            words=(
                "Books a shipment out of what is set aside: so many of each line named, or everything that is set aside."
                " Tools that are set aside as parts are made up on the way. Before the customer's window it is refused"
                " unless `before_window` is true; a customer who takes no parts is sent the whole order or nothing."
            ),
            body=ShipmentBody,
            example={"carrier": "Example Carrier", "tracking": "EX123456", "parcels": 1},
            replies={201: Reply("The shipment.", SHIPMENT, SHIPMENT_EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Send it."""
        order, body = orders_shown.find(call.path["number"]), call.body
        lines = {line.number: line for line in order.lines.select_related("item")}
        sending = {number: line.reserved for number, line in lines.items() if line.reserved}
        if "lines" in body:
            units = {number: line.item.unit if line.item else "piece" for number, line in lines.items()}
            sending = {}
            for place, line in enumerate(body["lines"]):
                if line["line"] in sending:
                    raise Invalid.field(f"lines.{place}.line", f"Line {line['line']} is named twice; name it once.")
                unit = units.get(line["line"], "piece")
                sending[line["line"]] = fields.to_raw(line["quantity"], unit, f"lines.{place}.quantity")
        scale = parse_mass(body["scale_mass"], field="scale_mass") if "scale_mass" in body else None
        parcel = Parcel(
            parcels=body.get("parcels", 1),
            carrier=body.get("carrier", ""),
            tracking=body.get("tracking", ""),
            scale_mass_mg=scale.mg if scale else None,
            scale_typed=scale.typed if scale else "",
            before_window=body.get("before_window", False),
        )
        if body.get("sent_at", call.at) > call.at:
            raise Invalid.field("sent_at", "This moment has not come yet; leave it out for now.")
        made = shipping.send(order, sending, parcel, stamp=Stamp(call.at, call.actor, body.get("sent_at")))
        answer = _find(made.number, call)
        return reply_created(answer, f"/api/v1/shipments/{made.number}")


def reply_created(answer: Answer, location: str) -> Answer:
    """Return an answer as the one for something new."""
    return Answer(201, answer.body, {**answer.headers, "Location": location})
