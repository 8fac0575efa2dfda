"""Order lines: added, changed, set aside for, let go, cancelled."""

from collections.abc import Mapping
from typing import Any, ClassVar

from orders.models import OrderLine
from orders.services import one_offs, ordering, reserving
from shop.api import asked, etags, fields, orders, orders_shown
from shop.api.orders_shown import EXAMPLE, LINE, LINE_EXAMPLE, ORDER, TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, Refusal
from shop.shared.shop_row import the_shop


class AddLineBody(orders.OrderLineBody):
    """A line to add."""

    wait = fields.YesNo(required=False, help_text="Let what is missing wait (true), or refuse the line (false).")


class ChangeLineBody(fields.Body):
    """What changes."""

    quantity = fields.Quantity(required=False, help_text="How many are ordered in all.")
    price = fields.Money(required=False, help_text="Agreed for one.")
    options = fields.Text(longest=120, required=False, allow_blank=True, help_text="How the item is wanted.")
    one_off = fields.YesNo(required=False, help_text="It will not come again: the forecast leaves it out.")


class SomeBody(fields.Body):
    """How many."""

    quantity = fields.Quantity(required=False, help_text="Without it, as many as there are.")
    reason = fields.Text(longest=300, required=False, allow_blank=True)


def _read(call: Call) -> OrderLine:
    return orders_shown.find_line(call.path["number"], call.path["line"])


def _raw(line: OrderLine, text: str) -> int:
    return fields.to_raw(text, line.item.unit if line.item else "piece", "quantity")


def _shown(call: Call) -> dict[str, Any]:
    return orders_shown.line(_read(call), the_shop().currency)


class Lines(Endpoint):
    """The lines of an order."""

    operations: ClassVar = {
        "POST": Operation(
            name="addOrderLine",
            summary="Add a line to an order",
            tag=TAG,
            words="Adds a line to an open order and sets aside what there is.",
            body=AddLineBody,
            example={"item": "TNG-WJ", "quantity": "1"},
            replies={201: Reply("The order.", ORDER, EXAMPLE, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Add it."""
        order, body, currency = orders_shown.find(call.path["number"]), call.body, the_shop().currency
        known = asked.items({"item": body["item"]}) if "item" in body else {}
        wanted = orders.one_wanted(body, known, currency)
        with asked.in_units_of(known):
            line = ordering.add_line(order, wanted, at=call.at, by=call.actor, wait=body.get("wait", True))
        made = orders_shown.one(order.number, call)
        return reply(made, status=201, location=f"/api/v1/orders/{order.number}/lines/{line.number}")

    def refused(self, call: Call, refusal: Refusal) -> None:
        """Write down what could not be given."""
        asked.note_shortage(call, refusal)


class OneLine(Endpoint):
    """One order line."""

    operations: ClassVar = {
        "GET": Operation(
            name="readOrderLine",
            summary="Read one order line",
            tag=TAG,
            words="A line of an order: ordered = sent + cancelled + set aside + waiting.",
            replies={200: Reply("The line.", LINE, LINE_EXAMPLE)},
        ),
        "PATCH": Operation(
            name="changeOrderLine",
            summary="Change an order line",
            tag=TAG,
            words="Changes how many are ordered, the price agreed for one, how the item is wanted, or whether it counts as one-off.",
            body=ChangeLineBody,
            example={"quantity": "3"},
            replies={200: Reply("The line.", LINE, LINE_EXAMPLE)},
            refusals=(409,),
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(_shown(call))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        line, body = _read(call), call.body
        if line.item_id:
            reserving.lock_and_tidy({line.item_id}, at=call.at)
        ordering.locked(line.order)
        now = _shown(call)
        etags.check_read(call.tags, reply(now), now["version"])
        if not body:
            raise Invalid("Name at least one thing to change.")
        if "price" in body:
            price = asked.minor(body["price"], the_shop().currency, "price")
            ordering.change_price(line, price, at=call.at, by=call.actor)
        if "options" in body:
            ordering.change_options(line, body["options"], at=call.at, by=call.actor)
        if "one_off" in body:
            one_offs.set_one_off(line, body["one_off"], at=call.at, by=call.actor)
        if "quantity" in body:
            ordering.change_quantity(line, _raw(line, body["quantity"]), at=call.at, by=call.actor)
        return reply(_shown(call))


def _acting(name: str, summary: str, words: str) -> Mapping[str, Operation]:
    return {
        "POST": Operation(
            name=name,
            summary=summary,
            tag=TAG,
            words=words,
            body=SomeBody,
            example={"quantity": "1"},
            replies={200: Reply("The line.", LINE, LINE_EXAMPLE)},
            once=True,
        )
    }


class ReserveLine(Endpoint):
    """Setting aside for a line."""

    operations: ClassVar = _acting(
        "setAsideForLine",
        "Set aside for a line",
        "Sets aside so many for a line, or as many as there are; what it still lacks waits for what comes.",
    )

    def post(self, call: Call) -> Answer:
        """Set aside."""
        line, text = _read(call), call.body.get("quantity")
        known = {line.item.code: line.item} if line.item else {}
        with asked.in_units_of(known, line.item):
            ordering.reserve(line, _raw(line, text) if text else None, at=call.at, by=call.actor)
        return reply(_shown(call))


class ReleaseLine(Endpoint):
    """Letting go of what a line has set aside."""

    operations: ClassVar = _acting(
        "letGoOfLine",
        "Let go of what is set aside for a line",
        "Lets go of so many, or of all; the line takes nothing that comes until it is set aside for again.",
    )

    def post(self, call: Call) -> Answer:
        """Let go."""
        line, text = _read(call), call.body.get("quantity")
        qty = _raw(line, text) if text else line.reserved
        ordering.release(line, qty, at=call.at, by=call.actor, reason=call.body.get("reason", ""))
        return reply(_shown(call))


class CancelLine(Endpoint):
    """Cancelling a line."""

    operations: ClassVar = _acting(
        "cancelOrderLine",
        "Cancel a line",
        "Cancels so many of a line, or all that is not sent: first what waits, then what is set aside.",
    )

    def post(self, call: Call) -> Answer:
        """Cancel."""
        line, text = _read(call), call.body.get("quantity")
        qty = _raw(line, text) if text else line.waiting + line.reserved
        ordering.cancel(line, qty, at=call.at, by=call.actor, reason=call.body.get("reason", ""))
        return reply(_shown(call))
