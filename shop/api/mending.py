"""Pieces that customers bring to be mended; they are never stock."""

from typing import Any, ClassVar

from inventory.models import Item
from orders.models import BroughtIn
from orders.services import mending
from orders.services.mending import Brought
from shop.api import fields, paging, shapes
from shop.api.runs import item, stamp
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import bringing_in
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop
from shop.shared.units import money_exponent, parse_money

TAG = "Pieces brought in"
PIECE = shapes.thing(
    number=shapes.WHOLE,
    customer=shapes.TEXT,
    what=shapes.TEXT,
    wanted=shapes.TEXT,
    handle=shapes.maybe(shapes.TEXT),
    wedge=shapes.maybe(shapes.TEXT),
    price=shapes.maybe(shapes.MONEY),
    ready_by=shapes.maybe(shapes.DAY),
    came_at=shapes.MOMENT,
    minutes=shapes.maybe(shapes.WHOLE),
    done_at=shapes.maybe(shapes.MOMENT),
    given_back_at=shapes.maybe(shapes.MOMENT),
    entry=shapes.maybe(shapes.WHOLE),
)
_EXAMPLE: dict[str, Any] = {
    "number": 4, "customer": "An Invented Farrier", "what": "a rounding hammer", "wanted": "a new handle",
    "handle": "HA16", "wedge": "WW", "price": {"amount": "28.00", "currency": "USD"}, "ready_by": "2026-03-09",
    "came_at": "2026-03-02T14:00:00Z", "minutes": None, "done_at": None, "given_back_at": None, "entry": None,
}  # fmt: skip


class BringBody(fields.Body):
    """A piece and what is to be done to it."""

    customer = fields.Text(longest=120)
    what = fields.Text(longest=120)
    wanted = fields.Text(longest=300)
    handle = fields.Text(longest=30, required=False)
    wedge = fields.Text(longest=30, required=False)
    price = fields.Money(required=False)
    ready_by = fields.Day(required=False)


class MendedBody(fields.Body):
    """What was used on it."""

    handles = fields.Whole(low=0, high=1_000, required=False)
    wedges = fields.Whole(low=0, high=1_000, required=False)
    minutes = fields.Whole(low=1, high=100_000, required=False)
    happened_at = fields.Moment(required=False)


def shown(one: BroughtIn) -> dict[str, Any]:
    """Return a piece."""
    return {
        "number": one.number,
        "customer": one.customer.name,
        "what": one.what,
        "wanted": one.wanted,
        "handle": one.handle.code if one.handle else None,
        "wedge": one.wedge.code if one.wedge else None,
        "price": fields.money(one.price_minor, the_shop().currency),
        "ready_by": fields.day(one.ready_by),
        "came_at": fields.moment(one.came_at),
        "minutes": one.minutes,
        "done_at": fields.moment(one.done_at),
        "given_back_at": fields.moment(one.given_back_at),
        "entry": one.entry_id,
    }


def find(number: int) -> BroughtIn:
    """Return the piece of a number in an address."""
    found = BroughtIn.objects.filter(number=number).select_related("customer", "handle", "wedge").first()
    if found is None:
        raise NotFound(f"There is no piece {number}; read the list of pieces brought in.")
    return found


_ONE = {200: Reply("The piece.", PIECE, _EXAMPLE)}


class Pieces(Endpoint):
    """The pieces."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPiecesBroughtIn",
            summary="List pieces brought in",
            tag=TAG,
            query=paging.PARAMETERS,
            replies={
                200: Reply("One page of pieces.", shapes.page(PIECE), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
        ),
        "POST": Operation(
            name="bringPieceIn",
            summary="Take a customer's piece in",
            tag=TAG,
            words="The customer is added where the name is new. The piece is never counted as stock.",
            body=BringBody,
            example={"customer": "An Invented Farrier", "what": "a rounding hammer", "wanted": "a new handle"},
            replies={201: Reply("The piece.", PIECE, _EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = BroughtIn.objects.select_related("customer", "handle", "wedge").order_by("number")
        page = paging.page(found, call.request, dict(call.query), by="number")
        return reply({"rows": [shown(one) for one in page.rows], "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Take it in."""
        body = call.body
        price = (
            parse_money(body["price"], money_exponent(the_shop().currency), field="price") if "price" in body else None
        )
        brought = Brought(
            body["what"], body["wanted"], _part(body.get("handle"), "handle"), _part(body.get("wedge"), "wedge"),
            body.get("ready_by"), price.minor if price else None,
        )  # fmt: skip
        owner = mending.owner(body["customer"], at=call.at, by=call.actor)
        made = mending.bring_in(owner, brought, at=call.at, by=call.actor)
        return reply_created(reply(shown(find(made.number))), f"/api/v1/pieces-brought-in/{made.number}")


def _part(code: str | None, field: str) -> Item | None:
    return item(code, field) if code else None


class OnePiece(Endpoint):
    """One piece."""

    operations: ClassVar = {
        "GET": Operation(name="readPiece", summary="Read a piece brought in", tag=TAG, replies=_ONE)
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(find(call.path["number"])))


class PieceDone(Endpoint):
    """A piece that is mended."""

    operations: ClassVar = {
        "POST": Operation(
            name="pieceDone",
            summary="Book a piece as mended",
            tag=TAG,
            words="Handles and wedges that went into it are booked as used.",
            body=MendedBody,
            example={"minutes": 40},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Book it."""
        body = call.body
        bringing_in.done(
            find(call.path["number"]), handles=body.get("handles", 0), wedges=body.get("wedges", 0),
            minutes=body.get("minutes"), stamp=stamp(call),
        )  # fmt: skip
        return reply(shown(find(call.path["number"])))


class PieceGivenBack(Endpoint):
    """A piece that goes back to its owner."""

    operations: ClassVar = {
        "POST": Operation(
            name="givePieceBack", summary="Give a piece back", tag=TAG, replies=_ONE, refusals=(409,), once=True
        )
    }

    def post(self, call: Call) -> Answer:
        """Give it back."""
        mending.give_back(find(call.path["number"]), at=call.at, by=call.actor)
        return reply(shown(find(call.path["number"])))
