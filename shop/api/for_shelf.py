"""What is made for the shelf: proposed by the shop, put into the week, changed and dropped by a program."""

from typing import Any, ClassVar

from inventory.models import Item
from orders.models import ForShelf
from orders.queries import for_the_shelf
from orders.queries import week as proposing
from orders.queries.for_the_shelf import InWeek, Proposal
from orders.queries.shop_state.for_shelf import MOST, open_wishes
from orders.services import for_shelf
from shop.api import asked, etags, fields, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, nothing, reply
from shop.api.week import TAG
from shop.flows import shelf_words
from shop.shared import shop_row
from shop.shared.errors import NotFound

_WISH = shapes.thing(item=shapes.TEXT, pieces=shapes.WHOLE, asked_at=shapes.TEXT, why=shapes.TEXT)
_IN_WEEK = shapes.thing(item=shapes.TEXT, pieces=shapes.WHOLE, asked_at=shapes.TEXT, why=shapes.TEXT, runs=shapes.WHOLE)
_PROPOSED = shapes.thing(
    item=shapes.TEXT, pieces=shapes.WHOLE, likely_good=shapes.WHOLE, wanted_good=shapes.WHOLE, heads=shapes.WHOLE,
    joins=shapes.TEXT, tooling_in=shapes.TEXT, why=shapes.many(shapes.TEXT),
)  # fmt: skip
_WISH_EXAMPLE = {
    "item": "HAM-2LB", "pieces": 24, "asked_at": "2026-12-01T08:12:00+00:00",
    "why": "24 of bar AB12, nothing over; temper: the oven is full",
}  # fmt: skip
_BOTH_EXAMPLE = {
    "in_week": [{**_WISH_EXAMPLE, "runs": 1}],
    "proposed": [{
        "item": "HAM-3LB", "pieces": 24, "likely_good": 22, "wanted_good": 18, "heads": 0, "joins": "HAM-3LB+1",
        "tooling_in": "", "why": ["24 of bar AB14, nothing over", "made with the run of HAM-3LB for orders, so its tooling is in"],
    }],
}  # fmt: skip
_ONE = {200: Reply("What is in the week.", _WISH, _WISH_EXAMPLE)}


class PutForShelfBody(fields.Body):
    """What to make."""

    item = fields.Text(longest=asked.ITEM_CODE, help_text="A head or a tool that is made here in runs, by code.")
    pieces = fields.Whole(low=1, high=MOST, help_text="To be started; more than a run takes are several runs.")
    why = fields.Text(longest=for_shelf.LONGEST_WHY, required=False, allow_blank=True)


class ChangeForShelfBody(fields.Body):
    """Another number."""

    pieces = fields.Whole(low=1, high=MOST)


class ShelfWishes(Endpoint):
    """All of them."""

    operations: ClassVar = {
        "GET": Operation(
            name="listForShelf",
            summary="List what is made for the shelf, and what should be",
            tag=TAG,
            words=(
                "In the week: behind all that is owed, until a run is started for it. Proposed: tools that run low, how many to "
                "start so that at least `wanted_good` come good, and what speaks for the number; `heads` lie finished on the "
                "shelf besides, and 0 pieces says that these are enough once hafted."
            ),
            replies={
                200: Reply(
                    "Both lists.",
                    shapes.thing(in_week=shapes.many(_IN_WEEK), proposed=shapes.many(_PROPOSED)),
                    _BOTH_EXAMPLE,
                )
            },
        ),
        "POST": Operation(
            name="putForShelf",
            summary="Put pieces for the shelf into the week",
            tag=TAG,
            words="They are planned behind all that is owed and delay no order's place in the queue.",
            body=PutForShelfBody,
            example={"item": "HAM-2LB", "pieces": 24},
            replies={201: Reply("What is in the week.", _WISH, _WISH_EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        found, read = proposing.proposed(at=call.at), for_the_shelf.stood(at=call.at)
        currency = shop_row.the_shop().currency
        return reply(
            {
                "in_week": [_in_week(one) for one in for_the_shelf.in_week(found, read)],
                "proposed": [_proposed(one, currency) for one in for_the_shelf.proposals(found, read)],
            }
        )

    def post(self, call: Call) -> Answer:
        """Put one in."""
        body = call.body
        item = asked.item(body["item"])
        wish = for_shelf.ask(item, body["pieces"], why=body.get("why", ""), at=call.at, by=call.actor)
        return reply(_shown(wish), status=201, location=f"/api/v1/week/for-shelf/{item.code}")


class ShelfWish(Endpoint):
    """One item's."""

    operations: ClassVar = {
        "GET": Operation(
            name="readForShelf",
            summary="Read what is made of an item for the shelf",
            tag=TAG,
            words="With the tag that changing or dropping it asks for.",
            replies=_ONE,
            snapshot=True,
        ),
        "PATCH": Operation(
            name="changeForShelf",
            summary="Make more or fewer for the shelf",
            tag=TAG,
            body=ChangeForShelfBody,
            example={"pieces": 30},
            replies=_ONE,
            match=True,
        ),
        "DELETE": Operation(
            name="dropForShelf",
            summary="Drop what is made for the shelf",
            tag=TAG,
            words="It is out of the week, and its pins with it; what was started goes on.",
            replies={204: Reply("It is out.")},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        wish = next((one for one in open_wishes() if one.item.code == call.path["code"]), None)
        if wish is None:
            raise NotFound(f"Nothing of {call.path['code'][:30]} is in the week for the shelf.")
        return reply(_shown(wish))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        item = _held(call)
        return reply(_shown(for_shelf.change(item, call.body["pieces"], at=call.at, by=call.actor)))

    def delete(self, call: Call) -> Answer:
        """Drop it."""
        for_shelf.drop(_held(call), at=call.at, by=call.actor)
        return nothing()


def _held(call: Call) -> Item:
    """Return the item, what is in the week of it locked and as it was read."""
    item = Item.objects.filter(code=call.path["code"]).first()
    if item is None:
        raise NotFound(f"Nothing of {call.path['code'][:30]} is in the week for the shelf.")
    wish = for_shelf.hold_still(item)
    etags.check(call.tags, reply(_shown(wish)).headers["ETag"].strip('"'))
    return item


def _shown(wish: ForShelf) -> dict[str, Any]:
    return {"item": wish.item.code, "pieces": wish.pieces, "asked_at": wish.asked_at.isoformat(), "why": wish.why}


def _in_week(one: InWeek) -> dict[str, Any]:
    return {**_shown(one.wish), "runs": one.runs}


def _proposed(one: Proposal, currency: str) -> dict[str, Any]:
    return {
        "item": one.item.code,
        "pieces": one.pieces,
        "likely_good": round(one.chosen.good) if one.chosen else 0,
        "wanted_good": one.wanted.least,
        "heads": one.wanted.heads,
        "joins": one.joins,
        "tooling_in": one.tooling,
        "why": shelf_words.reasons(one, currency),
    }
