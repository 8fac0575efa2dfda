"""An order moved in the queue by a program: first who loses by it, then the move that was looked at."""

from typing import Any, ClassVar, Final

from orders.models import Order
from orders.queries import book, ship_day
from shop.api import fields, orders_shown, reading, shapes
from shop.api.order_days import CHANCE
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows.ship_days import moving, turns
from shop.shared.errors import Invalid

TAG = "Orders"
MOST_ORDERS: Final = 10**9
BEFORE: Final = "Number of the order it goes before; without it, it goes behind all."

_ROW = shapes.thing(
    order=shapes.WHOLE, line=shapes.maybe(shapes.WHOLE), day=shapes.DAY, wanted=CHANCE, before=CHANCE, after=CHANCE,
    loses=shapes.YES_NO,
)  # fmt: skip
_EFFECT = shapes.thing(seen=shapes.TEXT, rows=shapes.many(_ROW))
_SEEN = "0f2b7c1e5a9d4463b8e07f15c2a6d9380f2b7c1e5a9d4463b8e07f15c2a6d938"
_EXAMPLE = {
    "seen": _SEEN,
    "rows": [{
        "order": 1041, "line": None, "day": "2026-03-20", "wanted": 0.9, "before": 0.93, "after": 0.84, "loses": True,
    }],
}  # fmt: skip


class MoveBody(fields.Body):
    """Where it goes, what was looked at, and why."""

    before = fields.Whole(low=1, high=MOST_ORDERS, required=False, help_text=BEFORE)
    seen = fields.Text(longest=64, help_text="`seen` of the effect that was looked at.")
    reason = fields.Text(longest=300, help_text="Kept in the order's history.")


class Place(Endpoint):
    """The place of an order in the queue."""

    operations: ClassVar = {
        "GET": Operation(
            name="readMoveInQueue",
            summary="Read who loses by moving an order in the queue",
            tag=TAG,
            words=(
                "Every promised order with its chance before and after, played through the same 1,000 futures. `loses`: it"
                " falls below what was wanted, or by more than five points. Nothing is moved. Worked out for one program at a"
                " time; where another is being answered, it is refused with `Retry-After`."
            ),
            query=[reading.Whole("before", BEFORE, low=1, high=MOST_ORDERS)],
            replies={200: Reply("The promised orders.", _EFFECT, _EXAMPLE)},
            refusals=(422,),
        ),
        "POST": Operation(
            name="moveInQueue",
            summary="Move an order in the queue",
            tag=TAG,
            words=(
                "What is set aside stays; from then on pieces that come free go by the new order, and so do the days. Where"
                " the shop has changed since `seen` was read, nothing is moved: read the effect again."
            ),
            body=MoveBody,
            example={"before": 1041, "seen": _SEEN, "reason": "wanted for a fair"},
            replies={200: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE)},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return the effect."""
        order = orders_shown.find(call.path["number"])
        before = _before(call.query.get("before"))
        with turns.taken(turns.PROGRAMS):
            found = moving.effect(order, before, at=call.at)
        return reply({"seen": found.key, "rows": [_row(one) for one in found.rows]})

    def post(self, call: Call) -> Answer:
        """Move it."""
        order, body = orders_shown.find(call.path["number"]), call.body
        before = _before(body.get("before"))
        moving.move(order, before, seen=body["seen"], at=call.at, by=call.actor, reason=body["reason"])
        return reply(orders_shown.one(order.number, call))


def _before(number: int | None) -> Order | None:
    if number is None:
        return None
    found = book.find_order(number)
    if found is None:
        raise Invalid.field("before", f"Before: there is no order {number}; name one that is in the queue.")
    return found


def _row(one: dict[str, Any]) -> dict[str, Any]:
    return {
        "order": one["order"],
        "line": one["line"],
        "day": one["day"],
        "wanted": one["wanted"],
        "before": one["before"],
        "after": one["after"],
        "loses": ship_day.loses(one),
    }
