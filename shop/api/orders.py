"""Orders: taken, read, changed, set aside for, cancelled."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Item
from orders.models import PROGRAM_SOURCE, Promise
from orders.queries import lists
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.api import asked, etags, fields, orders_shown, paging, reading, shapes
from shop.api.orders_shown import EXAMPLE, ORDER, TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import ordering as flow
from shop.flows import setting_aside
from shop.shared.errors import Invalid, Refusal
from shop.shared.shop_row import the_shop

MOST_LINES = 500


class OrderLineBody(fields.Body):
    """One line: an item, or words for something made to order."""

    item = fields.Text(longest=asked.ITEM_CODE, required=False)
    words = fields.Text(
        longest=300,
        required=False,
        help_text="Made to order: what is to be made, in words only; a drawing or photo is sent with the order slip on "
        "the pages.",
    )
    options = fields.Text(longest=120, required=False, help_text="How the item is wanted: 16 in handle, name stamped.")
    quantity = fields.Quantity()
    whole = fields.YesNo(required=False, help_text="Goes in one piece or not at all.")
    price = fields.Money(required=False, help_text="Agreed for one; without it the customer's price.")


class TermsBody(fields.Body):
    """What is agreed about an order besides its lines."""

    reference = fields.Text(longest=80, required=False, allow_blank=True)
    ship_to = fields.Text(longest=600, lines=True, required=False, allow_blank=True)
    gift = fields.YesNo(required=False)
    gift_note = fields.Text(longest=300, required=False, allow_blank=True)
    start_when_deposit = fields.YesNo(required=False)
    send_when_paid = fields.YesNo(required=False)
    deposit = fields.Money(required=False)
    carriage = fields.Money(required=False)
    note = fields.Text(longest=300, required=False, allow_blank=True)
    not_before = fields.Day(required=False, allow_null=True, help_text="First day of the customer's window; null: any.")
    not_after = fields.Day(required=False, allow_null=True, help_text="Last day of the customer's window; null: any.")


class OrderBody(TermsBody):
    """An order as it is taken."""

    customer = asked.BuyerBody()
    lines = fields.many(OrderLineBody, MOST_LINES)
    day_given = fields.Day(required=False, help_text="The ship day given to the customer.")
    below_minimum = fields.YesNo(required=False, help_text=asked.BELOW_MINIMUM)
    wait = fields.YesNo(required=False, help_text="Let what is missing wait (true), or refuse the order whole (false).")


class SetAsideLine(fields.Body):
    """So much of one line."""

    line = fields.Whole(low=1, high=9999)
    quantity = fields.Quantity()


class SetAsideBody(fields.Body):
    """Which lines; without any, as many of every line as there are."""

    lines = fields.many(SetAsideLine, MOST_LINES, required=False)


class CancelBody(fields.Body):
    """Why."""

    reason = fields.Text(longest=300, required=False, allow_blank=True)


_TERMS = tuple(TermsBody().fields)


def wanted(lines: list[Mapping[str, Any]], currency: str) -> tuple[list[Wanted], dict[str, Item]]:
    """Return the lines of a body as the service takes them, and the items by code."""
    codes = {f"lines.{number}.item": line["item"] for number, line in enumerate(lines) if "item" in line}
    known = asked.items(codes) if codes else {}
    return [one_wanted(line, known, currency, f"lines.{number}.") for number, line in enumerate(lines)], known


def one_wanted(line: Mapping[str, Any], known: Mapping[str, Item], currency: str, at: str = "") -> Wanted:
    """Return one line of a body as the service takes it."""
    if ("item" in line) == ("words" in line):
        raise Invalid.field(f"{at}item", "A line needs an item, or words for something made to order: one of the two.")
    item = known[line["item"]] if "item" in line else None
    return Wanted(
        qty=fields.to_raw(line["quantity"], item.unit if item else "piece", f"{at}quantity"),
        item=item,
        words=line.get("words", ""),
        options=line.get("options", ""),
        whole=line.get("whole", False),
        price_minor=asked.minor(line["price"], currency, f"{at}price") if "price" in line else None,
    )


def terms(body: Mapping[str, Any], currency: str) -> dict[str, Any]:
    """Return what a body says about an order besides its lines, as the service names it."""
    found: dict[str, Any] = {name: body[name] for name in _TERMS if name in body}
    for name in ("deposit", "carriage"):
        if name in found:
            found[f"{name}_minor"] = asked.minor(found.pop(name), currency, name)
    return found


class Orders(Endpoint):
    """The order book."""

    operations: ClassVar = {
        "GET": Operation(
            name="listOrders",
            summary="List orders",
            tag=TAG,
            words="Orders by number. Names and addresses are null without the scope `addresses:read`.",
            query=(
                reading.Choice("state", "Open, closed or all.", default="open", choices=("open", "closed", "all")),
                reading.Whole("customer", "Only of this customer.", low=1, high=10**12),
                reading.Parameter("reference", "Only with exactly this reference.", longest=80),
                reading.Instant("since", "Only those taken since.", example="2026-03-01T00:00:00Z"),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of orders.", shapes.page(ORDER), {"rows": [EXAMPLE], "next": None}, ("Link",))
            },
            snapshot=True,
        ),
        "POST": Operation(
            name="takeOrder",
            summary="Take an order",
            tag=TAG,
            words=(
                "Takes an order and sets aside what there is, also from parts. What is missing waits and is set aside as"
                " it comes, in the order of the queue; with `wait: false` all of it must be there now or nothing is taken."
            ),
            body=OrderBody,
            example={
                "customer": {"name": "Example Customer", "address": "1 Example Lane"},
                "reference": "web 1042",
                "lines": [{"item": "HAM-2LB", "quantity": "2"}],
                "carriage": "9.50",
                "wait": False,
            },
            replies={201: Reply("The order.", ORDER, EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        query = call.query
        found = lists.orders(
            state=None if query["state"] == "all" else query["state"],
            customer=query["customer"],
            reference=query["reference"],
            since=query["since"],
        )
        page = paging.page(found, call.request, dict(query), by="number")
        return reply({"rows": orders_shown.several(page.rows, call), "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Take it."""
        body, currency = call.body, the_shop().currency
        lines, known = wanted(body["lines"], currency)
        day, small = body.get("day_given"), body.get("below_minimum", False)
        agreed = Terms(**terms(body, currency), day_given=day, day_source=Promise.Source.BY_HAND, below_minimum=small)
        buyer = asked.buyer(body["customer"])
        with asked.in_units_of(known):
            order = flow.take(
                buyer, lines, agreed, at=call.at, by=call.actor, source=PROGRAM_SOURCE, wait=body.get("wait", True)
            )
        made = orders_shown.one(order.number, call)
        return reply(made, status=201, location=f"/api/v1/orders/{order.number}")

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Write down what could not be given."""
        asked.note_shortage(call, refusal)


class OneOrder(Endpoint):
    """One order."""

    operations: ClassVar = {
        "GET": Operation(
            name="readOrder",
            summary="Read one order",
            tag=TAG,
            words=(
                "An order with its lines: ordered = sent + cancelled + set aside + waiting. `days` are all that were given"
                " for it; one that stands has its `rating`, which moves by itself as the shop does, and the ETag with it:"
                " a change may name `version` instead."
            ),
            replies={200: Reply("The order.", ORDER, EXAMPLE)},
            snapshot=True,
        ),
        "PATCH": Operation(
            name="changeOrder",
            summary="Change an order",
            tag=TAG,
            words="Changes what is agreed besides the lines: the address, for one, until the last piece is sent.",
            body=TermsBody,
            example={"ship_to": "2 Example Lane"},
            replies={200: Reply("The order.", ORDER, EXAMPLE)},
            refusals=(409,),
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(orders_shown.one(call.path["number"], call))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        order = ordering.locked(orders_shown.find(call.path["number"]), open_only=False)
        now = orders_shown.one(order.number, call)
        etags.check_read(call.tags, reply(now), now["version"])
        facts = terms(call.body, the_shop().currency)
        if not facts:
            raise Invalid("Name at least one thing to change.")
        ordering.change(order, version=order.version, at=call.at, by=call.actor, **facts)
        return reply(orders_shown.one(order.number, call))


class ReserveOrder(Endpoint):
    """Setting aside for an order."""

    operations: ClassVar = {
        "POST": Operation(
            name="setAsideForOrder",
            summary="Set aside for an order",
            tag=TAG,
            words=(
                "Sets aside so many of each line named, all of it or nothing; without lines, as many of every line as"
                " there are. What a line still lacks waits for what comes."
            ),
            body=SetAsideBody,
            example={"lines": [{"line": 1, "quantity": "2"}]},
            replies={200: Reply("The order.", ORDER, EXAMPLE)},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Set aside."""
        order = orders_shown.find(call.path["number"])
        lines = list(order.lines.select_related("item"))
        chosen = _chosen(call.body.get("lines"), {line.number: line.item for line in lines})
        known = {line.item.code: line.item for line in lines if line.item}
        with asked.in_units_of(known):
            setting_aside.reserve(order, chosen, at=call.at, by=call.actor)
        return reply(orders_shown.one(order.number, call))


def _chosen(lines: list[Mapping[str, Any]] | None, known: Mapping[int, Item | None]) -> dict[int, int] | None:
    if lines is None:
        return None
    chosen: dict[int, int] = {}
    for number, line in enumerate(lines):
        if line["line"] in chosen:
            raise Invalid.field(f"lines.{number}.line", f"Line {line['line']} is named twice; name it once.")
        item = known.get(line["line"])
        chosen[line["line"]] = fields.to_raw(
            line["quantity"], item.unit if item else "piece", f"lines.{number}.quantity"
        )
    return chosen


class CancelOrder(Endpoint):
    """Cancelling an order."""

    operations: ClassVar = {
        "POST": Operation(
            name="cancelOrder",
            summary="Cancel what is left of an order",
            tag=TAG,
            words="Cancels all that is not sent; what was set aside serves the lines that wait.",
            body=CancelBody,
            example={"reason": "the customer changed their mind"},
            replies={200: Reply("The order.", ORDER, EXAMPLE | {"state": "closed"})},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Cancel it."""
        order = orders_shown.find(call.path["number"])
        ordering.cancel_order(order, at=call.at, by=call.actor, reason=call.body.get("reason", ""))
        return reply(orders_shown.one(order.number, call))
