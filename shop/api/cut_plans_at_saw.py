"""Cut plans at the saw: taken, sawn as drawn or otherwise, left alone, dropped."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.queries import lists
from inventory.services import reading as typed
from inventory.services.cut_asking import MOST_LINES, MOST_WANTED
from inventory.services.ledger import Stamp
from shop.api import fields, shapes
from shop.api.cut_plans import TAG, shown
from shop.api.cut_plans_shown import PLAN, PLAN_EXAMPLE
from shop.api.sawing import CUT, CUT_EXAMPLE
from shop.api.sawing import shown as cut_shown
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import cut_plans
from shop.flows.cut_plans import AtTheSaw
from shop.shared.errors import Invalid


class TakeBody(fields.Body):
    """Which answer is taken."""

    answer = fields.Whole(low=1, high=9, help_text="1 for the first.")


class GoodBody(fields.Body):
    """How many of a line came off well."""

    line = fields.Whole(low=1, high=MOST_LINES)
    count = fields.Whole(low=0, high=MOST_WANTED)


class SawnBarBody(fields.Body):
    """What was done to one bar; nothing but its number is as drawn."""

    bar = fields.Text(longest=4)
    good = fields.many(GoodBody, MOST_LINES, required=False)
    left = fields.Text(longest=40, required=False, help_text="By the tape.")
    rest_is_scrap = fields.YesNo(required=False)


class SawnBody(fields.Body):
    """What the saw did."""

    bars = fields.many(SawnBarBody, 200)
    note = fields.Text(longest=300, required=False)
    happened_at = fields.Moment(required=False, help_text="When it was sawn; without it, now.")


class TakeCutPlan(Endpoint):
    """Taking a cut plan."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeCutPlan",
            summary="Take a cut plan",
            tag=TAG,
            words=(
                "Looks at every bar of the answer again and sets them aside for the saw: all of them, or none and a"
                " sentence that says which bar has changed. Bars to buy are left out."
            ),
            body=TakeBody,
            example={"answer": 1},
            replies={200: Reply("The plan, taken.", PLAN, {**PLAN_EXAMPLE, "state": "taken", "taken": 1})},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it."""
        number = call.path["number"]
        cut_plans.take(number, call.body["answer"] - 1, version=None, at=call.at, by=call.actor)
        return shown(number)


class SawCutPlan(Endpoint):
    """Sawing bars of a cut plan."""

    operations: ClassVar = {
        "POST": Operation(
            name="sawCutPlan",
            summary="Book bars of a cut plan as sawn",
            tag=TAG,
            words=(
                "A bar named alone was sawn as drawn. Otherwise say how many blanks of each line came off well, and what"
                " is left by the tape or that it is scrap; what was spoiled goes to scrap."
            ),
            body=SawnBody,
            example={"bars": [{"bar": "7KQ4"}]},
            replies={200: Reply("The cuts.", shapes.thing(cuts=shapes.many(CUT)), {"cuts": [CUT_EXAMPLE]})},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Book them."""
        body = call.body
        happened = body.get("happened_at")
        if happened is not None and happened > call.at:
            raise Invalid.field("happened_at", "This moment has not come yet; leave it out for now.")
        stamp = Stamp(call.at, call.actor, happened, reason=body.get("note", ""))
        done = [_at_the_saw(at, one) for at, one in enumerate(body["bars"])]
        made = cut_plans.sawn(call.path["number"], done, version=None, stamp=stamp)
        cuts = lists.cuts().in_bulk([one.cut.pk for one in made])
        return reply({"cuts": [cut_shown(cuts[one.cut.pk]) for one in made]})


def _at_the_saw(at: int, one: Mapping[str, Any]) -> AtTheSaw:
    good = {row["line"]: row["count"] for row in one["good"]} if "good" in one else None
    left = typed.bar_list(one["left"], field=f"bars.{at}.left")[0] if one.get("left") else None
    return AtTheSaw(one["bar"], good, left, one.get("rest_is_scrap", False))


class LeaveBar(Endpoint):
    """Leaving one bar of a cut plan alone."""

    operations: ClassVar = {
        "POST": Operation(
            name="leaveBarAlone",
            summary="Leave a bar of a cut plan alone",
            tag=TAG,
            words="The bar is free again; the plan will not saw it.",
            replies={200: Reply("The plan.", PLAN, PLAN_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Let it go."""
        number = call.path["number"]
        cut_plans.leave_alone(number, call.path["bar"], version=None, at=call.at)
        return shown(number)


class DropCutPlan(Endpoint):
    """Dropping a cut plan."""

    operations: ClassVar = {
        "POST": Operation(
            name="dropCutPlan",
            summary="Drop a cut plan",
            tag=TAG,
            words="Bars that are not sawn yet are free again; what was sawn stays sawn.",
            replies={200: Reply("The plan.", PLAN, {**PLAN_EXAMPLE, "state": "dropped"})},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Drop it."""
        number = call.path["number"]
        cut_plans.drop(number, version=None, at=call.at, by=call.actor)
        return shown(number)
