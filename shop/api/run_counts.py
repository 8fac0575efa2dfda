"""Counts of runs: at a point of the head, at the vice, at the packing bench."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from inventory.models import CountReject, Run, Step
from inventory.services import hafting, run_counting
from inventory.services.count_facts import Reject, Seen
from inventory.services.hafting import Hafted
from inventory.services.hardness import Reading
from shop.api import fields, shapes
from shop.api.runs import TAG, find, item, stamp
from shop.api.runs_shown import COUNT, COUNT_EXAMPLE, count_shown, walk_of
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import floor
from shop.shared.errors import Invalid, NotFound
from shop.shared.units import parse_tenths
from shop.shared.units.pieces import MOST_PIECES

DONE = shapes.thing(count=COUNT, before=shapes.many(COUNT), served=shapes.many(shapes.WHOLE))
_DONE_EXAMPLE = {"count": COUNT_EXAMPLE, "before": [], "served": [1043]}


class RejectBody(fields.Body):
    """So many pieces that are not good."""

    cause = fields.Text(longest=40, required=False, help_text="A cause of this step; without it, not known yet.")
    pieces = fields.Whole(low=1, high=MOST_PIECES)
    fate = fields.Word(choices=CountReject.Fate.values, required=False, help_text="Without it, scrap.")


class HardnessBody(fields.Body):
    """A reading, or a pair of files it lies between."""

    method = fields.Word(choices=("rockwell", "rebound", "file pair"))
    hrc = fields.Text(longest=10, help_text="53; of a file pair the softer file.")
    hrc_to = fields.Text(longest=10, required=False, help_text="Of a file pair the harder file.")


class CountBody(fields.Body):
    """What was counted at a point."""

    step = fields.Whole(low=1, high=999, help_text="Number of the counting point.")
    good = fields.Whole(low=0, high=MOST_PIECES)
    rejects = fields.many(RejectBody, 30, required=False)
    catch_up = fields.YesNo(required=False, help_text="Book the points before it as good too.")
    after = fields.Whole(low=0, high=999, required=False, help_text="Those that stand after this step.")
    crack_checked = fields.YesNo(required=False)
    hardness = HardnessBody(required=False)
    minutes = fields.Whole(low=1, high=100_000, required=False)
    people = fields.Whole(low=1, high=100, required=False)
    light = fields.Whole(low=0, high=MOST_PIECES, required=False)
    in_class = fields.Whole(low=0, high=MOST_PIECES, required=False)
    heavy = fields.Whole(low=0, high=MOST_PIECES, required=False)
    note = fields.Text(longest=200, required=False)
    happened_at = fields.Moment(required=False)


class HaftBody(fields.Body):
    """Heads that got handles."""

    tool = fields.Text(longest=30, help_text="Code of the tool.")
    good = fields.Whole(low=0, high=MOST_PIECES)
    rejects = fields.many(RejectBody, 30, required=False)
    handles_lost = fields.Whole(low=0, high=MOST_PIECES, required=False)
    glued = fields.YesNo(required=False)
    note = fields.Text(longest=200, required=False)
    happened_at = fields.Moment(required=False)


class NamedBody(fields.Body):
    """Why pieces were no good, said after they were counted."""

    cause = fields.Text(longest=40, help_text="A cause of the step they were counted at.")


class PackBody(fields.Body):
    """Tools that are packed."""

    good = fields.Whole(low=0, high=MOST_PIECES)
    rejects = fields.many(RejectBody, 30, required=False)
    early_because = fields.Text(longest=200, required=False, help_text="Why they go although they are not dry.")
    happened_at = fields.Moment(required=False)


def rejects_of(step: Step, rows: Sequence[Mapping[str, Any]]) -> tuple[Reject, ...]:
    """Return the rejects of a body, each cause looked up among the step's own."""
    found = []
    for at, row in enumerate(rows):
        cause = None
        if row.get("cause"):
            cause = step.causes.filter(name=row["cause"]).first()
            if cause is None:
                names = ", ".join(step.causes.order_by("pk").values_list("name", flat=True))
                raise Invalid.field(f"rejects.{at}.cause", f"{step.name} has no such cause; it has {names or 'none'}.")
        found.append(Reject(row["pieces"], cause, row.get("fate", CountReject.Fate.SCRAP)))
    return tuple(found)


def reading_of(row: Mapping[str, Any] | None) -> Reading | None:
    """Return the reading of a body."""
    if row is None:
        return None
    low = parse_tenths(row["hrc"], "hardness.hrc", most=700)
    high = parse_tenths(row["hrc_to"], "hardness.hrc_to", most=700) if row.get("hrc_to") else low
    if high != low and row["method"] != "file pair":
        raise Invalid.field("hardness.hrc_to", "Only a file pair has two figures; leave hrc_to out.")
    return Reading(row["method"], low, high)


def _step(run: Run, number: int) -> Step:
    step = walk_of(run).numbered(number)
    if step is None:
        raise Invalid.field("step", f"Run {run.code} has no step {number}; read its pattern's route.")
    return step


def _served(lines: Sequence[Any]) -> list[int]:
    return sorted({line.order.number for line in lines})


class Counts(Endpoint):
    """Counts of a run."""

    operations: ClassVar = {
        "POST": Operation(
            name="countRun",
            summary="Count pieces of a run",
            tag=TAG,
            words=(
                "Good, scrap, seconds and rework are all that was taken up. Points that were passed by refuse the count"
                " with the code skipped; with catch_up they are booked as good with it. No count gets past a hardening"
                " or a temper; heads reach the shelf only with the crack check and a reading inside the published window."
            ),
            body=CountBody,
            example={"step": 1, "good": 1},
            replies={200: Reply("The count, and the orders served.", DONE, _DONE_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Count them."""
        body, run = call.body, find(call.path["code"])
        step = _step(run, body["step"])
        seen = Seen(
            body["good"],
            rejects_of(step, body.get("rejects", ())),
            crack_checked=body.get("crack_checked", False),
            reading=reading_of(body.get("hardness")),
            minutes=body.get("minutes"),
            people=body.get("people"),
            light=body.get("light", 0),
            in_class=body.get("in_class", 0),
            heavy=body.get("heavy", 0),
        )
        made, served = floor.count(
            run, step, seen, stamp=stamp(call), catch_up=body.get("catch_up", False), after=body.get("after")
        )
        before = [count_shown(one) for one in made.before]
        return reply({"count": count_shown(made.count), "before": before, "served": _served(served)})


class HaftRun(Endpoint):
    """Heads that get handles."""

    operations: ClassVar = {
        "POST": Operation(
            name="haftRun",
            summary="Book heads of a run as hafted",
            tag=TAG,
            words="Heads, handles and wedges become tools that cure; a split handle is lost alone.",
            body=HaftBody,
            example={"tool": "CP2", "good": 1},
            replies={200: Reply("The count, and the orders served.", DONE, _DONE_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Haft them."""
        body, run = call.body, find(call.path["code"])
        step = hafting.step_of(run, Step.Work.HAFT)
        seen = Seen(body["good"], rejects_of(step, body.get("rejects", ())))
        hafted = Hafted(item(body["tool"], "tool"), seen, body.get("handles_lost", 0), body.get("glued", False))
        done = floor.haft(run, hafted, stamp=stamp(call))
        return reply({"count": count_shown(done.count), "before": [], "served": _served(done.served)})


class PackRun(Endpoint):
    """Tools that are packed."""

    operations: ClassVar = {
        "POST": Operation(
            name="packRun",
            summary="Book tools of a run as packed",
            tag=TAG,
            words="Dry tools go to the shelf and serve the orders that wait; a cure is released early only with a reason.",
            body=PackBody,
            example={"good": 1},
            replies={200: Reply("The count, and the orders served.", DONE, _DONE_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Pack them."""
        body, run = call.body, find(call.path["code"])
        step = hafting.step_of(run, Step.Work.PACK)
        why = body.get("early_because", "")
        stamped = stamp(call)
        if why:
            stamped = type(stamped)(stamped.at, stamped.by, stamped.happened_at, reason=why)
        done = floor.pack(
            run, Seen(body["good"], rejects_of(step, body.get("rejects", ()))), stamp=stamped, early=bool(why)
        )
        return reply({"count": count_shown(done.count), "before": [], "served": _served(done.served)})


class RejectCause(Endpoint):
    """Why pieces were no good, where that was not known when they were counted."""

    operations: ClassVar = {
        "POST": Operation(
            name="nameCause",
            summary="Name the cause of rejects that was not known",
            tag=TAG,
            words=(
                "Rejects counted without a cause have a null one in their run's counts; it is said once, from the causes of"
                " the step. What became of the pieces stays, and nothing moves."
            ),
            body=NamedBody,
            example={"cause": "cheek split"},
            replies={200: Reply("The count the rejects are of.", COUNT, COUNT_EXAMPLE)},
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Name it."""
        reject = CountReject.objects.filter(pk=call.path["id"]).first()
        if reject is None:
            raise NotFound(f"There are no rejects {call.path['id']}; read the counts of the run.")
        named = run_counting.name_cause(reject, call.body["cause"], at=call.at, by=call.actor)
        return reply(count_shown(named.count))
