"""What is done with a purchase order: sent, confirmed, asked after, a line cancelled, closed."""

from typing import Any, ClassVar

from inventory.models import PurchaseOrder
from inventory.services import purchasing
from shop.api import etags, fields
from shop.api.purchase_orders_shown import EXAMPLE, ORDER, TAG, find, shown
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import purchase_sending
from shop.shared.errors import Invalid, NotFound

ADDRESS = 254
_ONE = {200: Reply("The order as it stands now.", ORDER, EXAMPLE)}


class PurchaseVersionBody(fields.Body):
    """What every one of these may name."""

    version = fields.Text(longest=12, required=False, help_text="As it was read; refused where it has changed since.")


class SendPurchaseOrderBody(PurchaseVersionBody):
    """How it goes to the supplier."""

    how = fields.Word(choices=PurchaseOrder.Sent.values)
    to = fields.Text(longest=ADDRESS, required=False, help_text="For an e-mail; without it, the supplier's address.")


class ConfirmPurchaseOrderBody(PurchaseVersionBody):
    """The day the supplier confirmed."""

    day = fields.Day()


class AskedWhereBody(PurchaseVersionBody):
    """That the supplier was asked where it is."""

    to = fields.Text(longest=ADDRESS, required=False, help_text="Ask there by e-mail; without it, somebody asked.")


class NoMoreBody(PurchaseVersionBody):
    """Why."""

    reason = fields.Text(longest=300, required=False, allow_blank=True)


def _found(call: Call) -> PurchaseOrder:
    order = find(call.path["number"])
    if "version" in call.body:
        etags.check((call.body["version"],), order.version)
    return order


def _operation(name: str, summary: str, words: str, body: type[fields.Body], example: Any) -> Operation:
    return Operation(
        name=name, summary=summary, tag=TAG, words=words, body=body, example=example, replies=_ONE, refusals=(409, 412),
        once=True,
    )  # fmt: skip


class SendOrder(Endpoint):
    """An order that goes to the supplier."""

    operations: ClassVar = {
        "POST": _operation(
            "sendPurchaseOrder",
            "Send a purchase order",
            "By e-mail the letter is written with it and goes as soon as the mail server takes it; printed or by phone is"
            " noted. Sent again, the letter says that it is no second order. Its lines are not changed any more. A letter"
            " tells prices, so an e-mail needs the scope `costs:read` too.",
            SendPurchaseOrderBody,
            {"how": "phone"},
        )
    }

    def post(self, call: Call) -> Answer:
        """Send it."""
        order, how = _found(call), call.body["how"]
        to = call.body.get("to", "")
        if to and how != PurchaseOrder.Sent.EMAIL:
            raise Invalid.field("to", "An address goes with an e-mail; leave it out.")
        if how == PurchaseOrder.Sent.EMAIL:
            call.need("costs:read")  # the letter tells prices, and goes where the caller says
            to = to or order.supplier.email
        purchase_sending.send(order, how, version=order.version, at=call.at, by=call.actor, to=to)
        return reply(shown(find(order.number), call))


class ConfirmOrder(Endpoint):
    """A day that the supplier confirmed."""

    operations: ClassVar = {
        "POST": _operation(
            "confirmPurchaseOrder",
            "Write down the confirmed day",
            "The day first confirmed is kept beside a later one.",
            ConfirmPurchaseOrderBody,
            {"day": "2026-03-16"},
        )
    }

    def post(self, call: Call) -> Answer:
        """Write it down."""
        order = _found(call)
        try:
            purchasing.confirm(order, call.body["day"], version=order.version, at=call.at, by=call.actor)
        except Invalid as refusal:
            raise Invalid.field("day", refusal.sentence) from refusal
        return reply(shown(find(order.number), call))


class AskedOrder(Endpoint):
    """A supplier that was asked where an order is."""

    operations: ClassVar = {
        "POST": _operation(
            "askWherePurchaseOrderIs",
            "Note that the supplier was asked",
            "Today; with an address the question goes there by e-mail.",
            AskedWhereBody,
            {},
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        order = _found(call)
        purchase_sending.ask_where(order, version=order.version, at=call.at, by=call.actor, to=call.body.get("to", ""))
        return reply(shown(find(order.number), call))


class CloseOrder(Endpoint):
    """An order of which nothing more will come."""

    operations: ClassVar = {
        "POST": _operation(
            "closePurchaseOrder",
            "Close a purchase order",
            "What has not come is no longer expected.",
            NoMoreBody,
            {"reason": "not made any more"},
        )
    }

    def post(self, call: Call) -> Answer:
        """Close it."""
        order = _found(call)
        purchasing.close(order, version=order.version, at=call.at, by=call.actor, reason=call.body.get("reason", ""))
        return reply(shown(find(order.number), call))


class CancelOrderLine(Endpoint):
    """A line of which nothing more will come."""

    operations: ClassVar = {
        "POST": _operation(
            "cancelPurchaseOrderLine",
            "Cancel a line of a purchase order",
            "It asks for no more than what came; one of which nothing came goes.",
            NoMoreBody,
            {"reason": "not made any more"},
        )
    }

    def post(self, call: Call) -> Answer:
        """Cancel it."""
        order, number = _found(call), call.path["line"]
        line = next((one for one in order.lines.all() if one.number == number), None)
        if line is None:
            raise NotFound(f"Purchase order {order.number} has no line {number}.")
        reason = call.body.get("reason", "")
        purchasing.cancel_line(line, version=order.version, at=call.at, by=call.actor, reason=reason)
        return reply(shown(find(order.number), call))
