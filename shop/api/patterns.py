"""Patterns: what a head should be, the route it goes, and how many to start for so many good ones."""

import json
from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Pattern
from inventory.queries import along, learned
from inventory.services import patterns, routes
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
    usual_run = fields.Whole(
        low=1, high=patterns.MOST_RUN, required=False, help_text="Orders are made together up to it."
    )
    most_run = fields.Whole(low=1, high=patterns.MOST_RUN, required=False, help_text="Pieces of a run at the most.")
    items = fields.Text(longest=400, required=False, help_text="More items made by it, by code, commas between.")


class NewPatternBody(fields.Body):
    """A pattern that is not in the book yet."""

    code = fields.Text(longest=20, help_text="Begins with a letter: CP, H-2.")
    name = fields.Text(longest=80)
    items = fields.Text(longest=400, required=False, help_text="Its blank, head and tools by code, commas between.")


class AfreshBody(fields.Body):
    """A counting point that learns from now on only."""

    point = fields.Text(longest=60)


def find(code: str) -> Pattern:
    """Return the pattern of a code in an address."""
    found = Pattern.objects.filter(code=code).first()
    if found is None:
        raise NotFound(f"There is no pattern {code[:20]}; read the list of patterns.")
    return found


def answer(pattern: Pattern) -> Answer:
    """Return a pattern under the tag of what can be changed of it; what is learned is no part of that."""
    shown = pattern_shown(pattern)
    return reply(shown, etag=_tag(shown))


def _tag(shown: Mapping[str, Any]) -> str:
    return etags.of_bytes(json.dumps({**shown, "learned": None}, sort_keys=True))


def held(call: Call) -> Pattern:
    """Return the pattern, held still, where it is as the caller read it."""
    found = patterns.hold_still(find(call.path["code"]))
    etags.check(call.tags, _tag(pattern_shown(found)).strip('"'))
    return found


ONE = {200: Reply("The pattern.", PATTERN, PATTERN_EXAMPLE)}


class Patterns(Endpoint):
    """The patterns."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPatterns",
            summary="List patterns",
            tag=TAG,
            words="Every pattern with its newest route and how many of a hundred come good at each counting point.",
            replies={200: Reply("The patterns.", shapes.thing(rows=shapes.many(PATTERN)), {"rows": [PATTERN_EXAMPLE]})},
        ),
        "POST": Operation(
            name="addPattern",
            summary="Add a pattern",
            tag=TAG,
            words="Names the items made by it; write its route next, and runs can be started.",
            body=NewPatternBody,
            example={"code": "CP", "name": "carpenter's axe", "items": "BL-CP, HD-CP, CP-2"},
            replies={201: Reply("The pattern.", PATTERN, PATTERN_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, _call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [pattern_shown(one) for one in Pattern.objects.order_by("code")]})

    def post(self, call: Call) -> Answer:
        """Add one."""
        items = patterns.named_items(call.body.get("items", ""))
        made = patterns.add_pattern(call.body["code"], call.body["name"], items, at=call.at, by=call.actor)
        return reply(pattern_shown(made), status=201)


class OnePattern(Endpoint):
    """One pattern."""

    operations: ClassVar = {
        "GET": Operation(name="readPattern", summary="Read a pattern", tag=TAG, replies=ONE),
        "PATCH": Operation(
            name="changePattern",
            summary="Change what is known of a pattern",
            tag=TAG,
            words="The published window of hardness blocks heads outside it; the aim is a note.",
            body=PatternBody,
            example={"aim": "53 HRC"},
            replies=ONE,
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return answer(find(call.path["code"]))

    def patch(self, call: Call) -> Answer:
        """Change it."""
        found = held(call)
        patterns.give_items(found, patterns.named_items(call.body.get("items", "")), at=call.at, by=call.actor)
        made = patterns.change_pattern(found, at=call.at, by=call.actor, **_facts(call.body))
        return answer(made)


_MASSES = {"head_weight": "head_mass_mg", "light_below": "light_below_mg", "heavy_above": "heavy_above_mg"}
_HARD = {"hardness_from": "hard_low", "hardness_to": "hard_high"}
_PLAIN = {
    "loss_ppm": "loss_ppm", "hardness_source": "hard_source", "aim": "aim", "crack_check": "crack_check",
    "usual_run": "usual_run", "most_run": "most_run",
}  # fmt: skip


def _facts(body: Mapping[str, Any]) -> dict[str, Any]:
    facts: dict[str, Any] = {to: body[name] for name, to in _PLAIN.items() if name in body}
    facts |= {to: parse_mass(body[name], field=name).mg for name, to in _MASSES.items() if name in body}
    facts |= {to: parse_tenths(body[name], name, most=700) for name, to in _HARD.items() if name in body}
    return facts


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
            replies=ONE,
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Let it learn anew."""
        found = find(call.path["code"])
        routes.count_afresh(found, call.body["point"], at=call.at, by=call.actor)
        return answer(found)
