"""What customers were told of days that will not be kept; whom to tell, whose answer is awaited, whose money goes back."""

import datetime as dt
from collections.abc import Collection
from typing import Any, ClassVar

from orders.models import Notice, Order
from orders.queries import book
from orders.queries import notices as asked
from orders.services import notices
from orders.services.notices import Told
from shop.access.unnamed import unnamed
from shop.api import fields, order_days, orders_shown, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import notice_text
from shop.shared import clock
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

TAG = "Days given"
NOTICE = shapes.thing(
    id=shapes.WHOLE,
    order=shapes.WHOLE,
    day=shapes.maybe(shapes.DAY),
    told_at=shapes.MOMENT,
    how=shapes.TEXT,
    text=shapes.TEXT,
    new_day=shapes.maybe(shapes.DAY),
    answer=shapes.maybe(shapes.words("agreed", "cancelled")),
    answered_at=shapes.maybe(shapes.MOMENT),
    refunded_at=shapes.maybe(shapes.MOMENT),
)
LATE = shapes.thing(
    order=shapes.WHOLE,
    day=shapes.DAY,
    over=shapes.YES_NO,
    since=shapes.MOMENT,
    holds_it_up=shapes.TEXT,
    sure_day=shapes.maybe(shapes.DAY),
)
DRAFT = shapes.thing(new_day=shapes.maybe(shapes.DAY), subject=shapes.TEXT, text=shapes.TEXT)
_EXAMPLE: dict[str, Any] = {
    "id": 3, "order": 1042, "day": "2026-03-20", "told_at": "2026-03-17T14:00:00Z", "how": "by e-mail",
    "text": "This will not be sent by Friday 20 March 2026, as we said ...", "new_day": "2026-04-02", "answer": None,
    "answered_at": None, "refunded_at": None,
}  # fmt: skip
_LATE = {
    "order": 1042, "day": "2026-03-20", "over": False, "since": "2026-03-16T11:00:00Z", "holds_it_up": "handles",
    "sure_day": "2026-04-02",
}  # fmt: skip
_DRAFT = {"new_day": None, "subject": "Order 1042: no day yet, or your money back", "text": "Invented Forge ..."}
_ONE = {200: Reply("The notice.", NOTICE, _EXAMPLE)}
WORDS = (
    " Nothing is sent from here. An answer is what the customer said; the program never takes silence for consent. The law of"
    " the place sold to says who must be told how and by when (in the United States 16 CFR 435)."
)


class NoticeBody(fields.Body):
    """How a customer was told, in which words."""

    how = fields.Text(longest=notices.LONGEST_HOW)
    text = fields.Text(longest=notices.LONGEST_TEXT, lines=True)
    new_day = fields.Day(required=False)
    told_at = fields.Moment(required=False)


class NoticeAnswerBody(fields.Body):
    """What they answered."""

    answer = fields.Word(choices=("agreed", "cancelled"))
    answered_at = fields.Moment(required=False)


class NoticeRefundBody(fields.Body):
    """When the money went back."""

    refunded_at = fields.Moment(required=False)
    not_cancelled = fields.YesNo(required=False)


def shown(one: Notice) -> dict[str, Any]:
    """Return a notice."""
    return {
        "id": one.pk,
        "order": one.order.number,
        "day": fields.day(one.promise.day if one.promise else None),
        "told_at": fields.moment(one.told_at),
        "how": one.how,
        "text": one.text,
        "new_day": fields.day(one.new_day),
        "answer": one.answer or None,
        "answered_at": fields.moment(one.answered_at),
        "refunded_at": fields.moment(one.refunded_at),
    }


def _late(row: asked.ToTell, people: Collection[str]) -> dict[str, Any]:
    return {
        "order": row.order.number,
        "day": row.promise.day.isoformat(),
        "over": row.over,
        "since": fields.moment(row.since),
        "holds_it_up": unnamed(row.holds, people),
        "sure_day": fields.day(row.sure_day),
    }


def _find(call: Call) -> Notice:
    number, notice = call.path["number"], call.path["id"]
    found = asked.find(number, notice)
    if found is None:
        raise NotFound(f"There is no notice {notice} of an order {number}; read the notices of the order.")
    return found


def _today(at: dt.datetime) -> dt.date:
    return clock.local_date(at, the_shop().zone)


def _drafts(order: Order, late: asked.ToTell | None, today: dt.date) -> list[dict[str, Any]]:
    """Return both texts, the one with a day only where one is known that is still to come."""
    lines = [line for line in book.rows([order])[0].lines if line.ordered > line.shipped + line.cancelled]
    sure = late.sure_day if late is not None and late.sure_day is not None and late.sure_day > today else None
    name = the_shop().name
    return [
        {
            "new_day": fields.day(day),
            "subject": notice_text.subject(order, day),
            "text": notice_text.text(order, late, lines, shop_name=name, new_day=day),
        }
        for day in ((sure, None) if sure else (None,))
    ]


class Notices(Endpoint):
    """What is open."""

    operations: ClassVar = {
        "GET": Operation(
            name="listNoticesOpen",
            summary="Whom to tell, whose answer is awaited, whose money goes back",
            tag=TAG,
            words=(
                "Open orders whose day slips or is over and whose customers have not been told since; the last notice of"
                " each open order that has no answer; cancelled ones of which money has not gone back." + WORDS
            ),
            replies={
                200: Reply(
                    "The three lists.",
                    shapes.thing(to_tell=shapes.many(LATE), awaited=shapes.many(NOTICE), to_refund=shapes.many(NOTICE)),
                    {"to_tell": [_LATE], "awaited": [_EXAMPLE], "to_refund": []},
                )
            },
            snapshot=True,
        )
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        people = order_days.hidden(call)
        return reply(
            {
                "to_tell": [_late(row, people) for row in asked.to_tell(today=_today(call.at))],
                "awaited": [shown(one) for one in asked.awaited()],
                "to_refund": [shown(one) for one in asked.to_refund()],
            }
        )


class OrderNotices(Endpoint):
    """The notices of an order."""

    operations: ClassVar = {
        "GET": Operation(
            name="listNoticesOfOrder",
            summary="What the customer of an order was told",
            tag=TAG,
            words=(
                "Every notice, the first first; what slips of the order; and texts to begin with, made from its facts: one with"
                " the day that is sure enough, where there is one, and one that says no day is known." + WORDS
            ),
            replies={
                200: Reply(
                    "The notices and the texts.",
                    shapes.thing(rows=shapes.many(NOTICE), late=shapes.maybe(LATE), texts=shapes.many(DRAFT)),
                    {"rows": [_EXAMPLE], "late": _LATE, "texts": [_DRAFT]},
                )
            },
            snapshot=True,
        ),
        "POST": Operation(
            name="writeNotice",
            summary="Write down that a customer was told",
            tag=TAG,
            words="Without `new_day` the notice says that none is known." + WORDS,
            body=NoticeBody,
            example={"how": "by e-mail", "text": "This will not be sent by ...", "new_day": "2026-04-02"},
            replies={201: Reply("The notice.", NOTICE, _EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        order, today = orders_shown.find(call.path["number"]), _today(call.at)
        late = asked.late(order, today=today)
        return reply(
            {
                "rows": [shown(one) for one in asked.of_order(order)],
                "late": _late(late, order_days.hidden(call)) if late else None,
                "texts": _drafts(order, late, today) if order.closed_at is None else [],
            }
        )

    def post(self, call: Call) -> Answer:
        """Write it down."""
        order, body, today = orders_shown.find(call.path["number"]), call.body, _today(call.at)
        late = asked.late(order, today=today)
        told = Told(body["how"], body["text"], body.get("new_day"), body.get("told_at"))
        promise = late.promise if late else None
        made = notices.write(order, told, promise=promise, today=today, at=call.at, by=call.actor)
        return reply(shown(made), status=201, location=f"/api/v1/orders/{order.number}/notices")


class NoticeAnswer(Endpoint):
    """The answer to a notice."""

    operations: ClassVar = {
        "POST": Operation(
            name="answerNotice",
            summary="Note what a customer answered",
            tag=TAG,
            words="Once a notice; it cancels nothing by itself." + WORDS,
            body=NoticeAnswerBody,
            example={"answer": "agreed"},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        body = call.body
        made = notices.answer(
            _find(call), body["answer"], at=call.at, by=call.actor, answered_at=body.get("answered_at")
        )
        return reply(shown(made))


class NoticeRefund(Endpoint):
    """The refund of a notice."""

    operations: ClassVar = {
        "POST": Operation(
            name="refundNotice",
            summary="Note that money went back",
            tag=TAG,
            words=(
                "Once a notice. Where the customer has not cancelled, `not_cancelled` says that it went back all the same."
                " The amount is written among the order's money." + WORDS
            ),
            body=NoticeRefundBody,
            example={"refunded_at": "2026-03-19T09:00:00Z"},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        body = call.body
        made = notices.refund(
            _find(call), at=call.at, by=call.actor, refunded_at=body.get("refunded_at"),
            not_cancelled=body.get("not_cancelled", False),
        )  # fmt: skip
        return reply(shown(made))
