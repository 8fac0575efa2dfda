"""Releases: pieces kept for a sale from a moment on, and the orders taken out of them."""

from typing import Any, ClassVar

from orders.models import Release
from orders.queries import releases as queries
from orders.queries.releases import Standing
from orders.services import releases
from orders.services.ordering import Terms
from shop.api import asked, fields, orders, orders_shown, paging, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import releasing
from shop.shared.errors import NotFound, Refusal
from shop.shared.shop_row import the_shop

TAG = "Releases"
RELEASE = shapes.thing(
    id=shapes.WHOLE,
    name=shapes.TEXT,
    state=shapes.words(*queries.STATES),
    item=shapes.TEXT,
    unit=shapes.UNIT,
    left=shapes.QUANTITY,
    to_come=shapes.QUANTITY,
    taken=shapes.QUANTITY,
    orders=shapes.WHOLE,
    opens_at=shapes.MOMENT,
    closes_at=shapes.maybe(shapes.MOMENT),
    ended_at=shapes.maybe(shapes.MOMENT),
)
_EXAMPLE = {
    "id": 3,
    "name": "Friday",
    "state": "to come",
    "item": "HAM-2LB",
    "unit": "piece",
    "left": "12",
    "to_come": "8",
    "taken": "0",
    "orders": 0,
    "opens_at": "2026-03-06T17:00:00Z",
    "closes_at": None,
    "ended_at": None,
}
_ONE = {200: Reply("The release.", RELEASE, _EXAMPLE)}


class ReleaseBody(fields.Body):
    """What is kept, and from when on it is sold."""

    name = fields.Text(longest=releases.LONGEST_NAME)
    item = fields.Text(longest=asked.ITEM_CODE)
    quantity = fields.Quantity()
    opens_at = fields.Moment(help_text="Sold from this moment on.")
    closes_at = fields.Moment(required=False, help_text="Sold until this moment; without it, until it is ended.")


class ReleaseOrderBody(orders.TermsBody):
    """One order out of a release."""

    customer = asked.BuyerBody()
    quantity = fields.Quantity()
    price = fields.Money(required=False, help_text="Agreed for one; without it the customer's price.")
    below_minimum = fields.YesNo(required=False, help_text=asked.BELOW_MINIMUM)


def shown(row: Standing) -> dict[str, Any]:
    """Return a release as it stands."""
    made, unit = row.release, row.item.unit
    return {
        "id": made.pk,
        "name": made.name,
        "state": row.state,
        "item": row.item.code,
        "unit": fields.unit_name(unit),
        "left": fields.quantity(row.left, unit),
        "to_come": fields.quantity(row.waits, unit),
        "taken": fields.quantity(row.taken, unit),
        "orders": row.orders,
        "opens_at": fields.moment(made.opens_at),
        "closes_at": fields.moment(made.closes_at),
        "ended_at": fields.moment(made.ended_at),
    }


class Releases(Endpoint):
    """All releases."""

    operations: ClassVar = {
        "GET": Operation(
            name="listReleases",
            summary="List releases",
            tag=TAG,
            words="Releases, the newest first: `left` is set aside for it and may be sold, `to_come` waits in the queue.",
            query=paging.PARAMETERS,
            replies={
                200: Reply("One page of releases.", shapes.page(RELEASE), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
            snapshot=True,
        ),
        "POST": Operation(
            name="beginRelease",
            summary="Keep pieces for a release",
            tag=TAG,
            words=(
                "Sets so many of an item aside for a sale from a moment on, in an order of the shop's own that no list "
                "of orders shows; what is not there waits in the queue like any line."
            ),
            body=ReleaseBody,
            example={"name": "Friday", "item": "HAM-2LB", "quantity": "20", "opens_at": "2030-03-06T17:00:00Z"},
            replies={201: Reply("The release.", RELEASE, _EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        page = paging.page(queries.listed(), call.request, dict(call.query), by="pk", descending=True)
        rows = [shown(row) for row in queries.standing(page.rows, at=call.at)]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Begin one."""
        body, item = call.body, asked.item(call.body["item"])
        made = releases.begin(
            body["name"],
            item,
            fields.to_raw(body["quantity"], item.unit, "quantity"),
            opens_at=body["opens_at"],
            closes_at=body.get("closes_at"),
            at=call.at,
            by=call.actor,
        )
        return reply(_stands(made, call), status=201, location=f"/api/v1/releases/{made.pk}")


class OneRelease(Endpoint):
    """One release."""

    operations: ClassVar = {
        "GET": Operation(
            name="readRelease",
            summary="Read one release",
            tag=TAG,
            words="A release as it stands now.",
            replies=_ONE,
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(_stands(_find(call), call))


class ReleaseOrders(Endpoint):
    """Orders out of a release."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeReleaseOrder",
            summary="Take an order out of a release",
            tag=TAG,
            words=(
                "Moves pieces of the release to a new order, which has the source `release` and the release's id. "
                "Refused before it opens, from the moment it closes, and for more than is left; never oversold."
            ),
            body=ReleaseOrderBody,
            example={
                "customer": {"name": "Example Customer", "address": "1 Example Lane"},
                "quantity": "1",
                "reference": "web 1043",
            },
            replies={201: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it."""
        release, body, currency = _find(call), call.body, the_shop().currency
        row = queries.standing([release], at=call.at)[0]
        agreed = Terms(**orders.terms(body, currency), below_minimum=body.get("below_minimum", False))
        price = asked.minor(body["price"], currency, "price") if "price" in body else None
        qty, buyer = fields.to_raw(body["quantity"], row.item.unit, "quantity"), asked.buyer(body["customer"])
        with asked.in_units_of({}, only=row.item):
            order = releasing.take(release, buyer, qty, agreed, at=call.at, by=call.actor, price_minor=price)
        made = orders_shown.one(order.number, call)
        return reply(made, status=201, location=f"/api/v1/orders/{order.number}")

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Write down what could not be given."""
        asked.note_shortage(call, refusal)


class EndRelease(Endpoint):
    """Ending a release."""

    operations: ClassVar = {
        "POST": Operation(
            name="endRelease",
            summary="End a release",
            tag=TAG,
            words="What is left of it goes to the lines that wait, in the order of the queue; the rest is free.",
            replies={200: Reply("The release.", RELEASE, _EXAMPLE | {"state": "ended", "left": "0"})},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """End it."""
        return reply(_stands(releases.end(_find(call), at=call.at, by=call.actor), call))


def _stands(release: Release, call: Call) -> dict[str, Any]:
    return shown(queries.standing([release], at=call.at)[0])


def _find(call: Call) -> Release:
    found = queries.find(call.path["id"])
    if found is None:
        raise NotFound(f"There is no release {call.path['id']}; read the list of releases.")
    return found
