"""The route of a pattern, written whole as its next version."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Step
from inventory.services import routes
from inventory.services.routes import CauseFacts, StepFacts
from shop.api import fields
from shop.api.patterns import ONE, TAG, answer, held
from shop.api.runs import item
from shop.api.view import Answer, Call, Endpoint, Operation


class CauseBody(fields.Body):
    """A cause of rejects at a step."""

    name = fields.Text(longest=40)
    second = fields.YesNo(required=False, help_text="May be sold as a second; a crack or a split never is.")
    rework_to = fields.Whole(low=1, high=999, required=False, help_text="Number of the step it goes back to.")
    handle_only = fields.YesNo(required=False, help_text="Only the handle is lost.")


class UseBody(fields.Body):
    """What a step uses up."""

    item = fields.Text(longest=30)
    per_hundred = fields.Quantity(help_text="For a hundred pieces, in the item's own unit.")


class StepBody(fields.Body):
    """One step of a route."""

    number = fields.Whole(low=1, high=999)
    name = fields.Text(longest=60)
    work = fields.Word(choices=Step.Work.values)
    stage = fields.Word(choices=Step.Stage.values, required=False)
    counting_point = fields.YesNo(required=False)
    optional = fields.YesNo(required=False)
    strike_code = fields.YesNo(required=False, help_text="The run's code is struck here.")
    set_up_minutes = fields.Whole(low=0, high=10_000, required=False)
    seconds_each = fields.Whole(low=0, high=1_000_000, required=False)
    spread_percent = fields.Whole(low=0, high=1_000, required=False)
    people = fields.Whole(low=1, high=100, required=False)
    machines = fields.Text(longest=200, required=False, help_text="Codes, commas between.")
    tooling = fields.Text(longest=20, required=False)
    hands = fields.Text(longest=400, required=False, help_text="Log-in names of who can do it; without it, everybody.")
    fire_batch = fields.Whole(low=0, high=1_000, required=False)
    oven_fits = fields.Whole(low=0, high=10_000, required=False)
    cure_minutes = fields.Whole(low=0, high=1_000_000, required=False)
    temperature_celsius = fields.Whole(low=1, high=1_500, required=False)
    soak_minutes = fields.Whole(low=0, high=10_000, required=False)
    temper_within_minutes = fields.Whole(low=0, high=10_000, required=False)
    good_ppm = fields.Whole(low=1, high=1_000_000, required=False, help_text="Believed before anything is counted.")
    causes = fields.many(CauseBody, 20, required=False)
    uses = fields.many(UseBody, 20, required=False)


class RouteBody(fields.Body):
    """A route, whole: the next version. Runs keep the one they were started on."""

    steps = fields.many(StepBody, routes.MOST_STEPS)


class PatternRoute(Endpoint):
    """A new route of a pattern."""

    operations: ClassVar = {
        "PUT": Operation(
            name="writeRoute",
            summary="Write a pattern's route",
            tag=TAG,
            words="Writes the next version, whole; runs that were begun keep the one they were started on.",
            body=RouteBody,
            example={"steps": [{"number": 1, "name": "first forging heat", "work": "forge", "counting_point": True}]},
            replies=ONE,
            match=True,
        )
    }

    def put(self, call: Call) -> Answer:
        """Write it."""
        found = held(call)
        routes.set_route(found, [_step(one) for one in call.body["steps"]], at=call.at, by=call.actor)
        return answer(found)


_COLUMNS = (
    "work", "stage", "counting_point", "optional", "strike_code", "set_up_minutes", "seconds_each", "spread_percent",
    "people", "fire_batch", "oven_fits", "cure_minutes", "soak_minutes", "good_ppm",
)  # fmt: skip


def _step(one: Mapping[str, Any]) -> StepFacts:
    columns: dict[str, object] = {name: one[name] for name in _COLUMNS if name in one}
    if "temperature_celsius" in one:
        columns["temperature_dc"] = 10 * one["temperature_celsius"]
    if "temper_within_minutes" in one:
        columns["within_minutes"] = one["temper_within_minutes"]
    machines = [code.strip() for code in one.get("machines", "").split(",") if code.strip()]
    causes = [
        CauseFacts(c["name"], c.get("second", False), c.get("rework_to"), c.get("handle_only", False))
        for c in one.get("causes", ())
    ]
    hands = [name.strip() for name in one.get("hands", "").split(",") if name.strip()]
    uses = {}
    for use in one.get("uses", ()):
        used = item(use["item"], "steps")
        uses[used.code] = fields.to_raw(use["per_hundred"], used.unit, "steps")
    return StepFacts(
        one["number"], one["name"], columns, machines, one.get("tooling", ""), causes, uses, routes.hands(hands)
    )
