"""The night's results: what each morning's message was made from."""

from typing import Any, ClassVar

from shop.api import fields, paging, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound
from shop.shared.models import NightResult

TAG = "Night"
_LINE = "Figure, unit, sentence, link and facts; quantities among the facts are the book's: nm, mg, ul or pieces."
_SCOPES = "Lines are null without `addresses:read`, those of what to order without `costs:read` too."
PART = shapes.thing(
    key=shapes.TEXT,
    name=shapes.TEXT,
    said=shapes.TEXT,
    count=shapes.WHOLE,
    lines=shapes.maybe(shapes.many({"type": "object", "description": _LINE})),
)
NIGHT = shapes.thing(
    local_date=shapes.DAY,
    zone=shapes.TEXT,
    computed_at=shapes.MOMENT,
    late=shapes.YES_NO,
    news=shapes.YES_NO,
    headline=shapes.TEXT,
    lead=shapes.TEXT,
    parts=shapes.many(PART),
)
_EXAMPLE = {
    "local_date": "2026-03-02",
    "zone": "America/Chicago",
    "computed_at": "2026-03-02T12:00:03Z",
    "late": False,
    "news": True,
    "headline": "order 1045 round 2 in",
    "lead": "One thing to order.",
    "parts": [{"key": "order", "name": "Order", "said": "order 1045 round 2 in", "count": 1, "lines": None}],
}


def shown(result: NightResult, call: Call) -> dict[str, Any]:
    """Return a night's result; its lines name customers and what to order tells money, so both need their scopes."""
    named, costs = call.may("addresses:read"), call.may("costs:read")
    body = result.body
    return {
        "local_date": result.local_date.isoformat(),
        "zone": body["shop"]["zone"],
        "computed_at": fields.moment(result.computed_at),
        "late": result.late,
        "news": body["news"],
        "headline": body["headline"],
        "lead": body["lead"],
        "parts": [
            {
                "key": part["key"],
                "name": part["name"],
                "said": part["said"],
                "count": len(part["lines"]),
                "lines": part["lines"] if named and (costs or part["key"] != "order") else None,
            }
            for part in body["parts"]
        ],
    }


class Nights(Endpoint):
    """The nights."""

    operations: ClassVar = {
        "GET": Operation(
            name="listNights",
            summary="List the nights' results",
            tag=TAG,
            words=f"What the night's check found, the latest day first. {_SCOPES}",
            query=paging.PARAMETERS,
            replies={
                200: Reply("One page of nights.", shapes.page(NIGHT), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = NightResult.objects.all()
        page = paging.page(found, call.request, dict(call.query), by="pk", descending=True)
        rows = [shown(result, call) for result in page.rows]
        return reply({"rows": rows, "next": page.next}, headers=page.headers)


class OneNight(Endpoint):
    """One night."""

    operations: ClassVar = {
        "GET": Operation(
            name="readNight",
            summary="Read the night's result of a day",
            tag=TAG,
            words=f"What the night's check found on a local day of the shop. {_SCOPES}",
            replies={200: Reply("The result.", NIGHT, _EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        result = NightResult.objects.filter(local_date=call.path["day"]).first()
        if result is None:
            raise NotFound(f"There is no result of {call.path['day']}; read the list of nights.")
        return reply(shown(result, call))
