"""Patterns: what a head should be, the route it goes, and how many to start for so many good ones."""

import json
from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Pattern, Step
from inventory.queries import along, learned
from inventory.services import routes
from inventory.services.routes import CauseFacts, StepFacts
from shop.api import etags, fields, reading, shapes
from shop.api.patterns_shown import PATTERN, PATTERN_EXAMPLE, pattern_shown
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, NotFound
from shop.shared.units import parse_mass, parse_tenths

TAG = "Patterns"
SURE = shapes.thing(
    wanted=shapes.WHOLE,
    sure_of_100=shapes.WHOLE,
    start=shapes.maybe(shapes.WHOLE),
    chance={"type": "number"},
    plain=shapes.WHOLE,
    plain_chance={"type": "number"},
    table=shapes.many(shapes.thing(start=shapes.WHOLE, chance={"type": "number"})),
)
_SURE_EXAMPLE = {
    "wanted": 24, "sure_of_100": 90, "start": 29, "chance": 0.9284, "plain": 27, "plain_chance": 0.6921,
    "table": [{"start": 28, "chance": 0.8511}, {"start": 29, "chance": 0.9284}],
}  # fmt: skip


class CauseBody(fields.Body):
    """A cause of rejects at a step."""

    name = fields.Text(longest=40)
    second = fields.YesNo(required=False, help_text="May be sold as a second; a crack or a split never is.")
    rework_to = fields.Whole(low=1, high=999, required=False, help_text="Number of the step it goes back to.")
    handle_only = fields.YesNo(required=False, help_text="Only the handle is lost.")


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


class RouteBody(fields.Body):
    """A route, whole: the next version. Runs keep the one they were started on."""

    steps = fields.many(StepBody, routes.MOST_STEPS)


class PatternBody(fields.Body):
    """What a head of a pattern should be; what is left out stays."""

    head_weight = fields.Text(longest=40, required=False, help_text="With its unit: 2 lb, 907 g.")
    light_below = fields.Text(longest=40, required=False)
    heavy_above = fields.Text(longest=40, required=False)
    loss_ppm = fields.Whole(low=0, high=900_000, required=False)
    hardness_from = fields.Text(longest=10, required=False, help_text="HRC of the published window: 45.")
    hardness_to = fields.Text(longest=10, required=False)
    hardness_source = fields.Text(longest=80, required=False, help_text="Document and edition.")
    aim = fields.Text(longest=120, required=False)
    crack_check = fields.YesNo(required=False)


class AfreshBody(fields.Body):
    """A counting point that learns from now on only."""

    point = fields.Text(longest=60)


def find(code: str) -> Pattern:
    """Return the pattern of a code in an address."""
    found = Pattern.objects.filter(code=code).first()
    if found is None:
        raise NotFound(f"There is no pattern {code[:20]}; read the list of patterns.")
    return found


def _answer(pattern: Pattern) -> Answer:
    """Return a pattern under the tag of what can be changed of it; what is learned is no part of that."""
    shown = pattern_shown(pattern)
    return reply(shown, etag=_tag(shown))


def _tag(shown: Mapping[str, Any]) -> str:
    return etags.of_bytes(json.dumps({**shown, "learned": None}, sort_keys=True))


def _held(call: Call) -> Pattern:
    """Return the pattern, held still, where it is as the caller read it."""
    found = routes.hold_still(find(call.path["code"]))
    etags.check(call.tags, _tag(pattern_shown(found)).strip('"'))
    return found


_ONE = {200: Reply("The pattern.", PATTERN, PATTERN_EXAMPLE)}


class Patterns(Endpoint):
    """The patterns."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPatterns",
            summary="List patterns",
            tag=TAG,
            words="Every pattern with its newest route and how many of a hundred come good at each counting point.",
            replies={200: Reply("The patterns.", shapes.thing(rows=shapes.many(PATTERN)), {"rows": [PATTERN_EXAMPLE]})},
        )
    }

    def get(self, _call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [pattern_shown(one) for one in Pattern.objects.order_by("code")]})


class OnePattern(Endpoint):
    """One pattern."""

    operations: ClassVar = {
        "GET": Operation(name="readPattern", summary="Read a pattern", tag=TAG, replies=_ONE),
        "PATCH": Operation(
            name="changePattern",
            summary="Change what is known of a pattern",
            tag=TAG,
            words="The published window of hardness blocks heads outside it; the aim is a note.",
            body=PatternBody,
            example={"aim": "53 HRC"},
            replies=_ONE,
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return _answer(find(call.path["code"]))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        found = _held(call)
        made = routes.change_pattern(found, at=call.at, by=call.actor, **_facts(call.body))
        return _answer(made)


_MASSES = {"head_weight": "head_mass_mg", "light_below": "light_below_mg", "heavy_above": "heavy_above_mg"}
_HARD = {"hardness_from": "hard_low", "hardness_to": "hard_high"}
_PLAIN = {"loss_ppm": "loss_ppm", "hardness_source": "hard_source", "aim": "aim", "crack_check": "crack_check"}


def _facts(body: Mapping[str, Any]) -> dict[str, Any]:
    facts: dict[str, Any] = {to: body[name] for name, to in _PLAIN.items() if name in body}
    facts |= {to: parse_mass(body[name], field=name).mg for name, to in _MASSES.items() if name in body}
    facts |= {to: parse_tenths(body[name], name, most=700) for name, to in _HARD.items() if name in body}
    return facts


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
            replies=_ONE,
            match=True,
        )
    }

    def put(self, call: Call) -> Answer:
        """Write it."""
        found = _held(call)
        routes.set_route(found, [_step(one) for one in call.body["steps"]], at=call.at, by=call.actor)
        return _answer(found)


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
    return StepFacts(
        one["number"], one["name"], columns, machines, one.get("tooling", ""), causes, hands=routes.hands(hands)
    )


class Starts(Endpoint):
    """How many to start."""

    operations: ClassVar = {
        "GET": Operation(
            name="howManyToStart",
            summary="Work out how many to start",
            tag=TAG,
            words="For so many good ones with so much confidence, from the shop's own counts; beside it the plain division.",
            query=(
                reading.Whole("wanted", "Good ones wanted.", low=1, high=400, required=True),
                reading.Whole("sure", "How sure, in a hundred: 90.", low=1, high=99),
            ),
            replies={200: Reply("The number.", SURE, _SURE_EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Work it out."""
        found = find(call.path["code"])
        route = found.routes.order_by("-version").first()
        if route is None:
            raise Invalid.field("code", f"Pattern {found.code} has no route yet; write one first.")
        wanted, sure = call.query["wanted"], call.query["sure"] or 90
        points = learned.ahead(learned.rates(found, along.walk(route)), 0)
        answer = learned.how_many(wanted, sure, points)
        return reply(
            {
                "wanted": wanted,
                "sure_of_100": sure,
                "start": answer.sure.count if answer.sure else None,
                "chance": round(answer.sure.chance, 6) if answer.sure else 0.0,
                "plain": answer.plain.count,
                "plain_chance": round(answer.plain.chance, 6),
                "table": [{"start": number, "chance": round(chance, 6)} for number, chance in answer.table],
            }
        )


class CountAfresh(Endpoint):
    """A counting point that learns anew."""

    operations: ClassVar = {
        "POST": Operation(
            name="countAfresh",
            summary="Count a point afresh from now",
            tag=TAG,
            words="Counts before this moment no longer teach anything: new tooling, a new fire, other steel.",
            body=AfreshBody,
            example={"point": "first forging heat"},
            replies=_ONE,
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Let it learn anew."""
        found = find(call.path["code"])
        routes.count_afresh(found, call.body["point"], at=call.at, by=call.actor)
        return _answer(found)
