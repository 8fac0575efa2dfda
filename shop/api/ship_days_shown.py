"""How questions about ship days look in the API: what was asked, the answer with its curve, what would bring it forward."""

from collections.abc import Collection, Mapping
from typing import Any, Final

from orders.models import Customer, Question
from shop.access.unnamed import HANDS
from shop.api import fields, shapes
from shop.api.order_days import CHANCE, MILLION, hidden
from shop.api.view import Call

TAG: Final = "Ship days"
NUMBER: shapes.Shape = {"type": "number"}
POINT = shapes.thing(day=shapes.DAY, chance=CHANCE)
LOSER = shapes.thing(
    order=shapes.WHOLE,
    line=shapes.maybe(shapes.WHOLE),
    customer=shapes.maybe(shapes.TEXT),
    day=shapes.maybe(shapes.DAY),
    wanted=CHANCE,
    chance_before=CHANCE,
    chance_after=CHANCE,
)
STUCK = shapes.thing(
    run=shapes.maybe(shapes.TEXT),
    what=shapes.TEXT,
    step=shapes.maybe(shapes.WHOLE),
    step_name=shapes.maybe(shapes.TEXT),
    why=shapes.TEXT,
)
BY = shapes.thing(
    day=shapes.DAY,
    chance=CHANCE,
    quantity=shapes.maybe(shapes.QUANTITY),
    parts=shapes.many(shapes.thing(quantity=shapes.QUANTITY, day=shapes.maybe(shapes.DAY), chance=CHANCE)),
)
ANSWER = shapes.thing(
    day=shapes.maybe(shapes.DAY),
    half_day=shapes.maybe(shapes.DAY),
    never=CHANCE,
    rule_of_thumb=shapes.maybe(shapes.DAY),
    curve=shapes.many(POINT),
    by=shapes.maybe(BY),
    holds=shapes.many(shapes.thing(what=shapes.TEXT, share=CHANCE, days=NUMBER)),
    losers=shapes.many(LOSER),
    stuck=shapes.many(STUCK),
)
QUESTION = shapes.thing(
    id=shapes.WHOLE,
    state=shapes.words(*Question.State.values),
    asked_at=shapes.MOMENT,
    order=shapes.maybe(shapes.WHOLE),
    kind=shapes.words(*Customer.Kind.values),
    sure=shapes.WHOLE,
    by=shapes.maybe(shapes.DAY),
    lines=shapes.many(shapes.thing(item=shapes.TEXT, quantity=shapes.QUANTITY)),
    answer=shapes.maybe(ANSWER),
    why_failed=shapes.TEXT,
    not_taken_at=shapes.maybe(shapes.MOMENT),
)
IDEAS = shapes.thing(
    question=shapes.WHOLE,
    state=shapes.words(*Question.State.values),
    rows=shapes.many(
        shapes.thing(
            what=shapes.TEXT,
            day=shapes.maybe(shapes.DAY),
            days_earlier=shapes.maybe(shapes.WHOLE),
            losers=shapes.many(shapes.WHOLE),
        )
    ),
)
EXAMPLE = {
    "id": 17,
    "state": "answered",
    "asked_at": "2026-03-02T14:05:00Z",
    "order": None,
    "kind": "one-off",
    "sure": 90,
    "by": "2026-03-16",
    "lines": [{"item": "HAM-2LB", "quantity": "12"}],
    "answer": {
        "day": "2026-03-20",
        "half_day": "2026-03-17",
        "never": 0,
        "rule_of_thumb": "2026-03-18",
        "curve": [
            {"day": "2026-03-17", "chance": 0.61},
            {"day": "2026-03-19", "chance": 0.88},
            {"day": "2026-03-20", "chance": 0.942},
        ],
        "by": {
            "day": "2026-03-16",
            "chance": 0.31,
            "quantity": "4",
            "parts": [
                {"quantity": "4", "day": "2026-03-16", "chance": 0.97},
                {"quantity": "8", "day": "2026-03-20", "chance": 0.94},
            ],
        },
        "holds": [{"what": "power hammer", "share": 0.62, "days": 3.5}],
        "losers": [
            {
                "order": 1042,
                "line": None,
                "customer": None,
                "day": "2026-03-18",
                "wanted": 0.9,
                "chance_before": 0.95,
                "chance_after": 0.86,
            }
        ],
        "stuck": [],
    },
    "why_failed": "",
    "not_taken_at": None,
}
IDEAS_EXAMPLE = {
    "question": 17,
    "state": "answered",
    "rows": [{"what": "two hours more on Saturday", "day": "2026-03-18", "days_earlier": 2, "losers": []}],
}


def shown(question: Question, call: Call) -> dict[str, Any]:
    """Return a question with its answer as far as it has one; customers' names only to keys that may see them."""
    answered = question.state == Question.State.ANSWERED
    return {
        "id": question.pk,
        "state": question.state,
        "asked_at": fields.moment(question.asked_at),
        "order": question.order.number if question.order else None,
        "kind": question.customer_kind,
        "sure": round(question.wanted_ppm * 100 / MILLION),
        "by": fields.day(question.by_day),
        "lines": [{"item": row["item"], "quantity": str(row["pieces"])} for row in question.lines],
        "answer": _answer(question.answer, hidden(call), named=call.may("addresses:read")) if answered else None,
        "why_failed": question.why_failed,
        "not_taken_at": fields.moment(question.not_taken_at),
    }


def _answer(said: Mapping[str, Any], people: Collection[str], *, named: bool) -> dict[str, Any]:
    return {
        "day": said["day"],
        "half_day": said["half"],
        "never": said["never"],
        "rule_of_thumb": said.get("plain"),
        "curve": said["curve"],
        "by": _by(said["by"]) if said["by"] else None,
        "holds": [{**one, "what": HANDS if one["what"] in people else one["what"]} for one in said["holds"]],
        "losers": [_loser(one, named=named) for one in said["losers"]],
        "stuck": [_stuck(one) for one in said["stuck"]],
    }


def _by(said: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "day": said["day"],
        "chance": said["chance"],
        "quantity": None if said["pieces"] is None else str(said["pieces"]),
        "parts": [
            {"quantity": str(part["pieces"]), "day": part["day"], "chance": part["chance"]} for part in said["split"]
        ],
    }


def _stuck(one: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "run": one["run"], "what": one["item"], "step": one["step"], "step_name": one["name"], "why": one["why"],
    }  # fmt: skip


def _loser(one: Mapping[str, Any], *, named: bool) -> dict[str, Any]:
    return {
        "order": one["order"],
        "line": one["line"],
        "customer": one["customer"] if named else None,
        "day": one["day"],
        "wanted": one["wanted"],
        "chance_before": one["before"],
        "chance_after": one["after"],
    }


def ideas_shown(question: Question, ideas: list[dict[str, Any]]) -> dict[str, Any]:
    """Return what would bring a question's day forward, the best first."""
    rows = [
        {
            "what": one["what"],
            "day": one["day"],
            "days_earlier": one["gain"],
            "losers": [int(number) for number in one["losers"]],
        }
        for one in ideas
    ]
    return {"question": question.pk, "state": question.state, "rows": rows}
