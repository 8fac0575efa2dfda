"""Machines and tooling: what the shop has, what is in, and what was done to it."""

from typing import Any, ClassVar

from inventory.models import Machine, ToolingChange, ToolingSet
from inventory.queries import tooling
from inventory.services import tooling_sets
from inventory.services.tooling_sets import USUAL_MINUTES
from shop.api import fields, shapes
from shop.api.floor import TAG
from shop.api.runs import stamp
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound
from shop.shared.units.pieces import MOST_PIECES

SET = shapes.thing(
    code=shapes.TEXT,
    name=shapes.TEXT,
    machines=shapes.many(shapes.TEXT),
    is_in=shapes.YES_NO,
    out_of_use=shapes.YES_NO,
    pieces_since_dressed=shapes.WHOLE,
    dress_at=shapes.maybe(shapes.WHOLE),
)
_SET_EXAMPLE = {
    "code": "T2", "name": "eye punch and drift", "machines": ["HAMMER"], "is_in": True, "out_of_use": False,
    "pieces_since_dressed": 120, "dress_at": 400,
}  # fmt: skip
MACHINE = shapes.thing(code=shapes.TEXT, name=shapes.TEXT, kind=shapes.TEXT, holds=shapes.WHOLE, active=shapes.YES_NO)
_MACHINE_EXAMPLE = {"code": "HAMMER", "name": "power hammer", "kind": "hammer", "holds": 1, "active": True}


class MachineBody(fields.Body):
    """A machine that is not in the book yet."""

    code = fields.Text(longest=20, help_text="Begins with a letter: HAMMER, OVEN-2.")
    name = fields.Text(longest=60)
    kind = fields.Word(choices=tooling_sets.KINDS)
    holds = fields.Whole(low=1, high=1_000, required=False, help_text="Jobs it takes at once; without it, one.")


class SetBody(fields.Body):
    """A tooling set that is not in the book yet."""

    code = fields.Text(longest=20)
    name = fields.Text(longest=80)
    machines = fields.Text(longest=200, help_text="Codes, commas between.")
    change_minutes = fields.Whole(low=0, high=10_000, required=False)
    dress_at = fields.Whole(low=1, high=MOST_PIECES, required=False, help_text="Pieces after which it is dressed.")


class ChangeBody(fields.Body):
    """What was done to a tooling set."""

    what = fields.Word(choices=ToolingChange.What.values)
    note = fields.Text(longest=200, required=False)
    happened_at = fields.Moment(required=False)


class Machines(Endpoint):
    """The machines."""

    operations: ClassVar = {
        "GET": Operation(
            name="listMachines",
            summary="List machines",
            tag=TAG,
            words="Fires, hammers, presses, grinders, ovens and benches; routes name them by code.",
            replies={200: Reply("Them.", shapes.thing(rows=shapes.many(MACHINE)), {"rows": [_MACHINE_EXAMPLE]})},
        ),
        "POST": Operation(
            name="addMachine",
            summary="Add a machine",
            tag=TAG,
            body=MachineBody,
            example={"code": "HAMMER", "name": "power hammer", "kind": "hammer"},
            replies={201: Reply("The machine.", MACHINE, _MACHINE_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, _call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [_machine_shown(one) for one in Machine.objects.order_by("code")]})

    def post(self, call: Call) -> Answer:
        """Add one."""
        body = call.body
        made = tooling_sets.add_machine(
            body["code"], body["name"], body["kind"], at=call.at, by=call.actor, holds=body.get("holds", 1)
        )
        return reply(_machine_shown(made), status=201)


def _machine_shown(one: Machine) -> dict[str, Any]:
    return {"code": one.code, "name": one.name, "kind": one.kind, "holds": one.holds, "active": one.active}


class Tooling(Endpoint):
    """The tooling sets."""

    operations: ClassVar = {
        "GET": Operation(
            name="listTooling",
            summary="List tooling",
            tag=TAG,
            words="Every set: whether it is in, and how many pieces since it was dressed.",
            replies={200: Reply("The sets.", shapes.thing(rows=shapes.many(SET)), {"rows": [_SET_EXAMPLE]})},
        ),
        "POST": Operation(
            name="addTooling",
            summary="Add a tooling set",
            tag=TAG,
            words="Dies, punches, drifts and jigs that go in together, often over several machines at once.",
            body=SetBody,
            example={"code": "T2", "name": "eye punch and drift", "machines": "HAMMER, PRESS", "dress_at": 400},
            replies={201: Reply("The set.", SET, _SET_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, _call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [set_shown(one) for one in tooling.sets()]})

    def post(self, call: Call) -> Answer:
        """Add one."""
        body, machines = call.body, tooling_sets.named_machines(call.body["machines"])
        made = tooling_sets.add_tooling(
            body["code"], body["name"], machines, at=call.at, by=call.actor,
            change_minutes=body.get("change_minutes", USUAL_MINUTES), dress_at=body.get("dress_at"),
        )  # fmt: skip
        return reply(set_shown(_as_it_stands(made)), status=201)


def set_shown(one: tooling.Set) -> dict[str, Any]:
    """Return a tooling set as it stands."""
    return {
        "code": one.tooling.code,
        "name": one.tooling.name,
        "machines": [machine.code for machine in one.tooling.machines.all()],
        "is_in": one.is_in,
        "out_of_use": one.out_of_use,
        "pieces_since_dressed": one.since_dressed,
        "dress_at": one.tooling.dress_at,
    }


class ToolingChanges(Endpoint):
    """What is done to tooling."""

    operations: ClassVar = {
        "POST": Operation(
            name="changeTooling",
            summary="Note what was done to a tooling set",
            tag=TAG,
            words="Block the ram and switch the power off before hands go in.",
            body=ChangeBody,
            example={"what": "in"},
            replies={200: Reply("The set.", SET, _SET_EXAMPLE)},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        found = ToolingSet.objects.filter(code=call.path["code"]).first()
        if found is None:
            raise NotFound(f"There is no tooling {call.path['code'][:20]}; read the list of tooling.")
        when = stamp(call).when
        tooling_sets.change_tooling(found, call.body["what"], at=when, by=call.actor, note=call.body.get("note", ""))
        return reply(set_shown(_as_it_stands(found)))


def _as_it_stands(found: ToolingSet) -> tooling.Set:
    return next(one for one in tooling.sets() if one.tooling.pk == found.pk)
