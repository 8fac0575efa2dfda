"""Who is out and which machine is down: read, noted, ended by a program."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Away, Machine, MachineDown
from inventory.queries import absences
from inventory.services import presence
from inventory.services.presence import Spell
from shop.access.models import Person
from shop.api import fields, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid

TAG = "Shop"
_DAYS = {"first": shapes.DAY, "last": shapes.maybe(shapes.DAY), "planned": shapes.YES_NO, "why": shapes.TEXT}
OUT = shapes.thing(id=shapes.WHOLE, person=shapes.TEXT, name=shapes.TEXT, **_DAYS)
DOWN = shapes.thing(id=shapes.WHOLE, machine=shapes.TEXT, name=shapes.TEXT, **_DAYS)
_OUT_EXAMPLE = {
    "id": 7, "person": "ines", "name": "Ines", "first": "2026-12-01", "last": "2026-12-03", "planned": False, "why": "",
}  # fmt: skip
_DOWN_EXAMPLE = {
    "id": 2, "machine": "HAMMER", "name": "power hammer", "first": "2026-12-01", "last": None, "planned": False,
    "why": "a belt has torn",
}  # fmt: skip


class _SpellBody(fields.Body):
    """The days of a spell, both included."""

    first = fields.Day(required=False, help_text="Without it, today.")
    last = fields.Day(required=False, allow_null=True, help_text="Null or without it: nobody knows yet.")
    planned = fields.YesNo(required=False, help_text="Foreseen: a leave, a service; it has a last day.")
    why = fields.Text(longest=80, required=False)


class AbsenceBody(_SpellBody):
    """Somebody who is out."""

    person = fields.Text(longest=40, help_text="By log-in.")


class MachineDownBody(_SpellBody):
    """A machine that is down."""

    machine = fields.Text(longest=20, help_text="By code.")


class Absences(Endpoint):
    """Who is out."""

    operations: ClassVar = {
        "GET": Operation(
            name="listAbsences",
            summary="List who is out",
            tag=TAG,
            words="Spells that reach to today or lie ahead, the first to begin first.",
            replies={200: Reply("The spells.", shapes.thing(rows=shapes.many(OUT)), {"rows": [_OUT_EXAMPLE]})},
        ),
        "POST": Operation(
            name="noteAbsence",
            summary="Note that somebody is out",
            tag=TAG,
            words="Spells of one kind that overlap become one; what is said last about the end holds.",
            body=AbsenceBody,
            example={"person": "ines", "last": "2026-12-03"},
            replies={201: Reply("The whole spell.", OUT, _OUT_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [out_shown(one) for one in absences.away(_today(call))]})

    def post(self, call: Call) -> Answer:
        """Note one."""
        person = Person.objects.filter(login=call.body["person"].lower()).first()
        if person is None:
            raise Invalid.field("person", "Person: nobody of the shop has that log-in; write one that somebody has.")
        today = _today(call)
        made = presence.out(
            person, _spell(call.body, today), today=today, hours=shop_row.hours(call.at), at=call.at, by=call.actor
        )
        return reply(out_shown(made), status=201)


class Back(Endpoint):
    """Somebody who is back."""

    operations: ClassVar = {
        "POST": Operation(
            name="noteBack",
            summary="Note that somebody is back",
            tag=TAG,
            words="The spell ends yesterday; one that begins today or lies ahead is taken away. The answer is as it stood.",
            replies={200: Reply("The spell as it stood.", OUT, _OUT_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        return reply(out_shown(presence.back(call.path["id"], today=_today(call), at=call.at, by=call.actor)))


class MachinesDown(Endpoint):
    """Which machines are down."""

    operations: ClassVar = {
        "GET": Operation(
            name="listMachinesDown",
            summary="List which machines are down",
            tag=TAG,
            words="Spells that reach to today or lie ahead, the first to begin first.",
            replies={200: Reply("The spells.", shapes.thing(rows=shapes.many(DOWN)), {"rows": [_DOWN_EXAMPLE]})},
        ),
        "POST": Operation(
            name="noteMachineDown",
            summary="Note that a machine is down",
            tag=TAG,
            words="Power off, isolated and tagged before hands go in; local codes on locking out go before this.",
            body=MachineDownBody,
            example={"machine": "HAMMER", "why": "a belt has torn"},
            replies={201: Reply("The whole spell.", DOWN, _DOWN_EXAMPLE)},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [down_shown(one) for one in absences.down(_today(call))]})

    def post(self, call: Call) -> Answer:
        """Note one."""
        machine = Machine.objects.filter(code=call.body["machine"].upper()).first()
        if machine is None:
            raise Invalid.field("machine", "Machine: no machine of the book has that code; read the list of machines.")
        today = _today(call)
        made = presence.down(
            machine, _spell(call.body, today), today=today, hours=shop_row.hours(call.at), at=call.at, by=call.actor
        )
        return reply(down_shown(made), status=201)


class RunsAgain(Endpoint):
    """A machine that runs again."""

    operations: ClassVar = {
        "POST": Operation(
            name="noteRunsAgain",
            summary="Note that a machine runs again",
            tag=TAG,
            words="The spell ends yesterday; one that begins today or lies ahead is taken away. The answer is as it stood.",
            replies={200: Reply("The spell as it stood.", DOWN, _DOWN_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Note it."""
        return reply(down_shown(presence.runs_again(call.path["id"], today=_today(call), at=call.at, by=call.actor)))


def out_shown(one: Away) -> dict[str, Any]:
    """Return a spell of somebody."""
    return {"id": one.pk, "person": one.person.login, "name": one.person.name, **_days(one), "planned": not one.ill}


def down_shown(one: MachineDown) -> dict[str, Any]:
    """Return a spell of a machine."""
    return {"id": one.pk, "machine": one.machine.code, "name": one.machine.name, **_days(one), "planned": not one.broke}


def _days(one: Away | MachineDown) -> dict[str, Any]:
    return {"first": fields.day(one.first), "last": fields.day(one.last), "why": one.why}


def _spell(body: Mapping[str, Any], today: dt.date) -> Spell:
    return Spell(body.get("first", today), body.get("last"), body.get("planned", False), body.get("why", ""))


def _today(call: Call) -> dt.date:
    return clock.local_date(call.at, shop_row.the_shop().zone)
