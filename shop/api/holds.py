"""Holds: stock put by for minutes or for a caller; a program sees only those it made itself."""

import datetime as dt
from typing import Any, ClassVar

from orders.models import PROGRAM_SOURCE, Hold
from orders.queries import lists
from orders.services import holding
from orders.services.ordering import Terms
from shop.api import asked, etags, fields, orders_shown, paging, reading, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.flows import ordering as flow
from shop.shared import clock
from shop.shared.errors import Invalid, NotFound, Refusal
from shop.shared.shop_row import the_shop

TAG = "Holds"
STATES = ("open", "lapsed", "let go", "became an order")
HOLD = shapes.thing(
    id=shapes.WHOLE,
    version=shapes.TEXT,
    kind=shapes.words(*Hold.Kind.values),
    state=shapes.words(*STATES),
    item=shapes.TEXT,
    quantity=shapes.QUANTITY,
    unit=shapes.UNIT,
    name=shapes.TEXT,
    made_at=shapes.MOMENT,
    until=shapes.MOMENT,
    order=shapes.maybe(shapes.WHOLE),
)
_EXAMPLE = {
    "id": 17,
    "version": "1",
    "kind": "minutes",
    "state": "open",
    "item": "HAM-2LB",
    "quantity": "2",
    "unit": "piece",
    "name": "",
    "made_at": "2026-03-02T14:05:00Z",
    "until": "2026-03-02T14:20:00Z",
    "order": None,
}


class HoldBody(fields.Body):
    """What to put by, and for how long."""

    item = fields.Text(longest=asked.ITEM_CODE)
    quantity = fields.Quantity()
    minutes = fields.Whole(low=1, high=holding.LONGEST_MINUTES, required=False)
    name = fields.Text(longest=120, required=False, allow_blank=True)
    until = fields.Day(required=False, help_text="For a caller: kept until the end of this day in the shop's zone.")


class ReserveBody(fields.Body):
    """Who buys what is held."""

    customer = asked.BuyerBody()
    reference = fields.Text(longest=80, required=False, allow_blank=True)
    ship_to = fields.Text(longest=600, lines=True, required=False, allow_blank=True)
    price = fields.Money(required=False, help_text="Agreed for one; without it the customer's price.")
    below_minimum = fields.YesNo(required=False, help_text=asked.BELOW_MINIMUM)


def shown(hold: Hold, *, at: dt.datetime) -> dict[str, Any]:
    """Return a hold as the API shows it."""
    return {
        "id": hold.pk,
        "version": str(hold.version),
        "kind": hold.kind,
        "state": _state(hold, at),
        "item": hold.item.code,
        "quantity": fields.quantity(hold.qty, hold.item.unit),
        "unit": fields.unit_name(hold.item.unit),
        "name": hold.name,
        "made_at": fields.moment(hold.made_at),
        "until": fields.moment(hold.until),
        "order": hold.became.order.number if hold.became else None,
    }


def _state(hold: Hold, at: dt.datetime) -> str:
    if hold.became_id:
        return "became an order"
    if hold.ended_at is None:
        return "open" if hold.until > at else "lapsed"
    return "let go" if hold.ended_at < hold.until else "lapsed"


def _own(call: Call) -> Hold:
    found = lists.holds(made_by=call.by, at=call.at, every=True).filter(pk=call.path["id"]).first()
    if found is None:
        raise NotFound(f"There is no hold {call.path['id']} of this key; read the list of holds.")
    return found


class Holds(Endpoint):
    """What this key put by."""

    operations: ClassVar = {
        "GET": Operation(
            name="listHolds",
            summary="List the holds of this key",
            tag=TAG,
            words="Holds that this key made, the oldest first; those that still count, or all.",
            query=(
                reading.Choice("state", "Those that still count, or all.", default="open", choices=("open", "all")),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of holds.", shapes.page(HOLD), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
        ),
        "POST": Operation(
            name="makeHold",
            summary="Put stock by",
            tag=TAG,
            words=(
                "Puts stock by for minutes (the shop's usual time where none is given), or until the end of a day for a"
                " caller with a name. From the second it ends it counts for nobody."
            ),
            body=HoldBody,
            example={"item": "HAM-2LB", "quantity": "2", "minutes": 15},
            replies={201: Reply("The hold.", HOLD, _EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = lists.holds(made_by=call.by, at=call.at, every=call.query["state"] == "all")
        page = paging.page(found, call.request, dict(call.query), by="pk")
        rows = [shown(hold, at=call.at) for hold in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Put it by."""
        body = call.body
        item = asked.item(body["item"])
        qty = fields.to_raw(body["quantity"], item.unit, "quantity")
        shop = the_shop()
        with asked.in_units_of({}, item):
            if "until" in body:
                hold = holding.say_on_the_phone(
                    item, qty, name=body.get("name", ""), until=_end_of(body, shop.zone), at=call.at, made_by=call.by
                )
            else:
                minutes = body.get("minutes", shop.hold_minutes)
                name = body.get("name", "")
                hold = holding.put_by(item, qty, minutes=minutes, at=call.at, made_by=call.by, name=name)
        return reply(shown(hold, at=call.at), status=201, location=f"/api/v1/holds/{hold.pk}")

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Write down what could not be given."""
        asked.note_shortage(call, refusal)


def _end_of(body: Any, zone: str) -> dt.datetime:
    if "minutes" in body:
        raise Invalid.field("minutes", "A hold lasts for minutes or until a day: give one of the two.")
    next_day: dt.date = body["until"] + dt.timedelta(days=1)
    return clock.at_local(next_day, 0, zone)


class OneHold(Endpoint):
    """One hold."""

    operations: ClassVar = {
        "GET": Operation(
            name="readHold",
            summary="Read one hold",
            tag=TAG,
            words="A hold of this key and what became of it.",
            replies={200: Reply("The hold.", HOLD, _EXAMPLE)},
        ),
        "DELETE": Operation(
            name="endHold",
            summary="Let a hold go",
            tag=TAG,
            words="Lets the stock go before the hold ends; lines that wait are served first.",
            replies={204: Reply("It is let go.")},
            refusals=(409,),
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(_own(call), at=call.at))

    def delete(self, call: Call) -> Answer:
        """Let it go."""
        hold = _own(call)
        etags.check_read(call.tags, reply(shown(hold, at=call.at)), str(hold.version))
        holding.let_go(hold, at=call.at, by=call.actor)
        return nothing()


class ReserveHold(Endpoint):
    """A hold that becomes an order."""

    operations: ClassVar = {
        "POST": Operation(
            name="orderFromHold",
            summary="Take an order out of a hold",
            tag=TAG,
            words="The order's line takes over what the hold has put by; nobody else can get it in between.",
            body=ReserveBody,
            example={"customer": {"name": "Example Customer", "address": "1 Example Lane"}, "reference": "web 1042"},
            replies={201: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take the order."""
        hold, body = _own(call), call.body
        currency = the_shop().currency
        price = asked.minor(body["price"], currency, "price") if "price" in body else None
        small = body.get("below_minimum", False)
        terms = Terms(reference=body.get("reference", ""), ship_to=body.get("ship_to", ""), below_minimum=small)
        order = flow.order_from_hold(
            hold,
            asked.buyer(body["customer"]),
            terms,
            at=call.at,
            by=call.actor,
            source=PROGRAM_SOURCE,
            price_minor=price,
        )
        made = orders_shown.one(order.number, call)
        return reply(made, status=201, location=f"/api/v1/orders/{order.number}")
