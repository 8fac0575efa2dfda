"""Ship days of orders that are in the queue: asked for, given and given anew, confirmed, and those at risk."""

from collections.abc import Collection
from typing import Any, ClassVar

from orders.models import Customer, Question
from orders.queries import at_risk
from orders.queries.at_risk import Slipping
from shop.api import fields, order_days, orders_shown, reading, shapes
from shop.api.order_days import CHANCE
from shop.api.ship_days import MOST_QUESTIONS, STALE, SURE, WAITS, day_of
from shop.api.ship_days_asked import Asking, Giving, noted
from shop.api.ship_days_shown import EXAMPLE, QUESTION, TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows.ship_days import asking, giving
from shop.shared import clock
from shop.shared.errors import Invalid
from shop.shared.models import Shop
from shop.shared.shop_row import the_shop

LINE = shapes.thing(
    line=shapes.WHOLE, item=shapes.maybe(shapes.TEXT), words=shapes.TEXT, unit=shapes.UNIT, owed=shapes.QUANTITY
)
RISK = shapes.thing(
    order=shapes.WHOLE,
    customer=shapes.thing(id=shapes.WHOLE, kind=shapes.words(*Customer.Kind.values), name=shapes.maybe(shapes.TEXT)),
    line=shapes.maybe(shapes.WHOLE),
    day=shapes.DAY,
    wanted=CHANCE,
    rating=order_days.RATING,
    lines=shapes.many(LINE),
)
AT_RISK = shapes.thing(
    below=shapes.words("slips", "wanted"),
    slips_below=shapes.WHOLE,
    rated_at=shapes.maybe(shapes.MOMENT),
    not_rated=shapes.TEXT,
    rows=shapes.many(RISK),
)
_RISK = {
    "order": 1042,
    "customer": {"id": 8, "kind": "one-off", "name": "Example Customer"},
    "line": None,
    "day": "2026-03-20",
    "wanted": 0.9,
    "rating": {
        **order_days.RATING_EXAMPLE,
        "chance": 0.58,
        "sure_day": "2026-03-25",
        "holds": "power hammer",
        "slips_since": "2026-03-03T14:05:00Z",
    },
    "lines": [{"line": 1, "item": "HAM-2LB", "words": "", "unit": "piece", "owed": "2"}],
}
_AT_RISK = {
    "below": "slips",
    "slips_below": 70,
    "rated_at": "2026-03-03T14:05:00Z",
    "not_rated": "",
    "rows": [_RISK],
}


class AskDayOfOrderBody(fields.Body):
    """How sure it is to be."""

    sure = fields.Whole(low=50, high=99, required=False, help_text=SURE)


class GiveDayBody(fields.Body):
    """Which answer is given, and why."""

    question = fields.Whole(low=1, high=MOST_QUESTIONS, help_text="Id of an answered question about this order.")
    day = fields.Day(required=False, help_text="Without it the day of the answer.")
    knowingly = fields.YesNo(required=False, help_text="Give the day though it slips from the start.")
    reason = fields.Text(longest=300, required=False, allow_blank=True, help_text="Kept with the day.")


class AskForOrder(Asking):
    """Asking for an order in the queue."""

    operations: ClassVar = {
        "POST": Operation(
            name="askShipDayOfOrder",
            summary="Ask for the ship day of an order",
            tag=TAG,
            words="Asks when what is still owed of an order can be sent, at its place in the queue. " + WAITS,
            body=AskDayOfOrderBody,
            example={"sure": 95},
            replies={201: Reply("The question with its answer.", QUESTION, EXAMPLE | {"order": 1042}, ("Location",))},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        order = orders_shown.find(call.path["number"])
        return noted(asking.note_for(order, sure_percent=call.body.get("sure"), at=call.at, by=call.actor))


class GiveDay(Giving):
    """Giving an order its day."""

    operations: ClassVar = {
        "POST": Operation(
            name="giveShipDay",
            summary="Give an order its ship day",
            tag=TAG,
            words="Gives an order the day that was asked for it; a day given before is superseded and kept. " + STALE,
            body=GiveDayBody,
            example={"question": 17, "reason": "the oven was down"},
            replies={200: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE)},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Give it."""
        order, question = orders_shown.find(call.path["number"]), self.stale(call)
        if question.order_id != order.pk:
            raise Invalid.field(
                "question", f"Question {question.pk} is not about order {order.number}; ask for this order."
            )
        giving.give_for(question, day_of(call.body), at=call.at, by=call.actor)
        return reply(orders_shown.one(order.number, call))

    def stale(self, call: Call) -> Question:
        """Return the question of the body."""
        found = Question.objects.filter(pk=call.body["question"]).select_related("order__customer").first()
        if found is None:
            raise Invalid.field("question", f"Question {call.body['question']} is not there any more; ask again.")
        return found


class Confirm(Endpoint):
    """Confirming what was said on the phone."""

    operations: ClassVar = {
        "POST": Operation(
            name="confirmOrder",
            summary="Confirm an order that was said on the phone",
            tag=TAG,
            words="Makes an order like any other of what would be let go after its day.",
            replies={200: Reply("The order.", orders_shown.ORDER, orders_shown.EXAMPLE)},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Confirm it."""
        order = giving.confirm(orders_shown.find(call.path["number"]), at=call.at, by=call.actor)
        return reply(orders_shown.one(order.number, call))


class AtRisk(Endpoint):
    """Days that are not sure enough."""

    operations: ClassVar = {
        "GET": Operation(
            name="listDaysAtRisk",
            summary="List the days given that are not sure enough",
            tag=TAG,
            words=(
                "Days still to come, the soonest first, of which as the shop stood at `rated_at` too few are kept: below"
                " `slips_below` in a hundred, or below what was wanted of each. With the chance now and by the rating"
                " before, since when it slips, the day that would be sure and what holds it up. Days are rated anew within"
                " a minute after the book has moved. Names are null without the scope `addresses:read`;"
                " who holds it up is `a pair of hands` without `shop:read`."
            ),
            query=(
                reading.Choice("below", "Below which chance.", default="slips", choices=("slips", "wanted")),
            ),
            replies={200: Reply("The days.", AT_RISK, _AT_RISK)},
            snapshot=True,
        )
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return them."""
        shop, below = the_shop(), call.query["below"]
        today, last = clock.local_date(call.at, shop.zone), at_risk.last_rating()
        found = at_risk.slipping(today=today) if below == "slips" else at_risk.below_wanted(today=today, shop=shop)
        named, people = call.may("addresses:read"), order_days.hidden(call)
        return reply(
            {
                "below": below,
                "slips_below": shop.slips_below,
                "rated_at": fields.moment(last.at),
                "not_rated": last.failed,
                "rows": [_risk(one, shop, people, named=named) for one in found],
            }
        )


def _risk(one: Slipping, shop: Shop, people: Collection[str], *, named: bool) -> dict[str, Any]:
    customer, promise = one.order.customer, one.rated.promise
    return {
        "order": one.order.number,
        "customer": {"id": customer.pk, "kind": customer.kind, "name": customer.name if named else None},
        "line": promise.line.number if promise.line else None,
        "day": fields.day(one.day),
        "wanted": order_days.chance(at_risk.wanted_ppm(one.rated, shop)),
        "rating": order_days.rating(one.rated, people),
        "lines": [_line(line) for line in one.lines],
    }


def _line(line: Any) -> dict[str, Any]:
    unit = line.item.unit if line.item else "piece"
    return {
        "line": line.number,
        "item": line.item.code if line.item else None,
        "words": line.words,
        "unit": fields.unit_name(unit),
        "owed": fields.quantity(line.ordered - line.shipped - line.cancelled, unit),
    }
