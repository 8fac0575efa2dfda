"""Saws with their blades, and how the shop plans its cuts."""

from typing import Any, ClassVar

from inventory.models import Blade, CutRules
from inventory.queries import cut_question
from inventory.services import saws
from shop.api import etags, fields, shapes
from shop.api.cut_plans_shown import RULES, RULES_EXAMPLE, SAW, SAW_EXAMPLE, rules_shown, saw_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound
from shop.shared.units import parse_length

TAG = "Cut plans"
_SAW = {"name": "band saw, 34 mm blade", "kerf": "1/16 in", "vice_holds": "3 in", "measured_on": "2026-03-01"}
_RULES: dict[str, Any] = {
    "shortest_remnant": "12 in",
    "mill_end": "1/2 in",
    "new_remnant_counts": "100 mm",
    "bar_sawn_counts": "30 mm",
    "full_bar_counts": "200 mm",
    "one_mill_heat": True,
}


class SawBody(fields.Body):
    """A saw with the blade that is on it."""

    name = fields.Text(longest=60)
    kerf = fields.Text(longest=40, help_text="What one cut takes, measured: 1/16 in.")
    vice_holds = fields.Text(longest=40, required=False, help_text="What must stay behind the last cut: 3 in.")
    measured_on = fields.Day()


class RulesBody(fields.Body):
    """How the shop plans its cuts; what a loss counts is said as a length of scrap."""

    shortest_remnant = fields.Text(longest=40, help_text="A shorter rest is scrap.")
    mill_end = fields.Text(longest=40, required=False, help_text="Cut off a full bar first; without it, nothing.")
    new_remnant_counts = fields.Text(longest=40)
    bar_sawn_counts = fields.Text(longest=40)
    full_bar_counts = fields.Text(longest=40)
    one_mill_heat = fields.YesNo(help_text="Whether each kind of blank comes from one mill heat.")


def _length(body: Any, name: str) -> int:
    return parse_length(body[name], field=name, allow_zero=True).nm if body.get(name) else 0


def _write(call: Call, blade: Blade) -> Blade:
    body = call.body
    blade.name, blade.measured_on = body["name"], body["measured_on"]
    blade.kerf_nm, blade.tail_hold_nm = _length(body, "kerf"), _length(body, "vice_holds")
    return saws.save_blade(blade, at=call.at, by=call.actor)


def _find(call: Call) -> Blade:
    found = Blade.objects.filter(pk=call.path["id"]).first()
    if found is None:
        raise NotFound(f"There is no saw {call.path['id']}; read the list of saws.")
    return found


class Saws(Endpoint):
    """The saws."""

    operations: ClassVar = {
        "GET": Operation(
            name="listSaws",
            summary="List saws",
            tag=TAG,
            words="Every saw with its blade, what one cut takes and when that was measured.",
            replies={200: Reply("The saws.", shapes.thing(rows=shapes.many(SAW)), {"rows": [SAW_EXAMPLE]})},
        ),
        "POST": Operation(
            name="writeSaw",
            summary="Write a saw down",
            tag=TAG,
            words="A saw with its blade; cut plans can then be asked for by it.",
            body=SawBody,
            example=_SAW,
            replies={201: Reply("The saw.", SAW, SAW_EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [saw_shown(blade) for blade in Blade.objects.order_by("name")]})

    def post(self, call: Call) -> Answer:
        """Write it down."""
        made = _write(call, Blade())
        return reply_created(reply(saw_shown(made)), f"/api/v1/saws/{made.pk}")


class OneSaw(Endpoint):
    """One saw."""

    operations: ClassVar = {
        "GET": Operation(
            name="readSaw",
            summary="Read a saw",
            tag=TAG,
            words="A saw with its blade, with the tag that changing it asks for.",
            replies={200: Reply("The saw.", SAW, SAW_EXAMPLE)},
            snapshot=True,
        ),
        "PUT": Operation(
            name="measureSaw",
            summary="Write a saw down anew",
            tag=TAG,
            words="The whole of it as sent, as after a new blade; plans asked for before keep the kerf they had.",
            body=SawBody,
            example=_SAW,
            replies={200: Reply("The saw.", SAW, SAW_EXAMPLE)},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(saw_shown(_find(call)))

    def put(self, call: Call) -> Answer:
        """Write it anew."""
        blade = saws.hold_still(_find(call))
        etags.check(call.tags, reply(saw_shown(blade)).headers["ETag"].strip('"'))
        return reply(saw_shown(_write(call, blade)))


class Rules(Endpoint):
    """How the shop plans its cuts."""

    operations: ClassVar = {
        "GET": Operation(
            name="readCutRules",
            summary="Read how the shop cuts",
            tag=TAG,
            words="The shortest remnant kept, the mill end cut off, and what losses count in a cut plan.",
            replies={200: Reply("The rules.", RULES, RULES_EXAMPLE)},
            snapshot=True,
        ),
        "PUT": Operation(
            name="changeCutRules",
            summary="Change how the shop cuts",
            tag=TAG,
            words="Plans asked for from now on follow them; those asked for before keep theirs.",
            body=RulesBody,
            example=_RULES,
            replies={200: Reply("The rules.", RULES, RULES_EXAMPLE)},
            match=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply(rules_shown(cut_question.rules()))

    def put(self, call: Call) -> Answer:
        """Change them."""
        now, body = saws.rules_held(), call.body
        etags.check_read(call.tags, reply(rules_shown(now)), str(now.version))
        rules = CutRules(
            min_remnant_nm=_length(body, "shortest_remnant"),
            trim_nm=_length(body, "mill_end"),
            remnant_price_nm=_length(body, "new_remnant_counts"),
            handled_price_nm=_length(body, "bar_sawn_counts"),
            full_price_nm=_length(body, "full_bar_counts"),
            one_heat=body["one_mill_heat"],
        )
        saws.save_rules(rules, at=call.at, by=call.actor)
        return reply(rules_shown(cut_question.rules()))
