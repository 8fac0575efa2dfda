"""Runs: started, read, topped up, parted and joined."""

from typing import Any, ClassVar

from inventory.models import Item, Melt, Run
from inventory.queries import runs as reads
from inventory.services import starting
from inventory.services.ledger import Stamp
from inventory.services.starting import Start
from shop.api import fields, paging, reading, shapes
from shop.api.runs_shown import ONE_RUN, ONE_RUN_EXAMPLE, RUN, RUN_EXAMPLE, one_run_shown, run_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import floor
from shop.shared.errors import Invalid, NotFound

TAG = "Runs"


class StartBody(fields.Body):
    """A run to be started from sawn blanks of one mill heat."""

    head = fields.Text(longest=30, help_text="Code of the head that is made.")
    blank = fields.Text(longest=30, help_text="Code of the blank it is made of.")
    mill_heat = fields.Whole(low=1, high=10**15, help_text="Id of the melt.")
    pieces = fields.Whole(low=1, high=starting.MOST)
    wanted = fields.Whole(low=1, high=starting.MOST, required=False, help_text="Good ones wanted of it.")
    sure_of_100 = fields.Whole(low=1, high=99, required=False)
    note = fields.Text(longest=200, required=False)
    happened_at = fields.Moment(required=False)


class MoreBody(fields.Body):
    """More pieces for a run."""

    blank = fields.Text(longest=30)
    pieces = fields.Whole(low=1, high=starting.MOST)
    happened_at = fields.Moment(required=False)


class PartBody(fields.Body):
    """Pieces that go on under a code of their own."""

    step = fields.Whole(low=0, high=999, help_text="After which step they stand; 0: sawn.")
    pieces = fields.Whole(low=1, high=starting.MOST)


class JoinBody(fields.Body):
    """The run it goes on as."""

    into = fields.Text(longest=4)


def find(code: str) -> Run:
    """Return the run of a code in an address."""
    found = reads.find(code[:4])
    if found is None:
        raise NotFound(f"There is no run {code[:10]}; read the list of runs.")
    return found


def named(code: str, field: str) -> Run:
    """Return the run that a body names."""
    found = reads.find(code)
    if found is None:
        raise Invalid.field(field, "There is no such run; name the code of one of the list of runs.")
    return found


def stamp(call: Call) -> Stamp:
    """Return the stamp of what is booked by a request."""
    happened = call.body.get("happened_at")
    if happened is not None and happened > call.at:
        raise Invalid.field("happened_at", "This moment has not come yet; leave it out for now.")
    return Stamp(call.at, call.actor, happened, reason=call.body.get("note", ""))


def item(code: str, field: str) -> Item:
    """Return the item a body names."""
    found = Item.objects.filter(code=code).select_related("pattern").first()
    if found is None:
        raise Invalid.field(field, "There is no such item; name one of the list of items.")
    return found


_ONE = {200: Reply("The run.", ONE_RUN, ONE_RUN_EXAMPLE)}


class Runs(Endpoint):
    """The runs."""

    operations: ClassVar = {
        "GET": Operation(
            name="listRuns",
            summary="List runs",
            tag=TAG,
            words="Runs, the first started first; with open=yes only those that have pieces in the works.",
            query=(
                reading.Choice("open", "Only those with pieces in the works.", choices=("yes", "no")),
                reading.Parameter("pattern", "Only of this pattern.", longest=20),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of runs.", shapes.page(RUN), {"rows": [RUN_EXAMPLE], "next": None}, ("Link",))
            },
        ),
        "POST": Operation(
            name="startRun",
            summary="Start a run",
            tag=TAG,
            words="Takes free blanks of one mill heat and puts them on the floor as heads under one code.",
            body=StartBody,
            example={"head": "HD-CP2", "blank": "BL-CP2", "mill_heat": 1, "pieces": 4, "wanted": 3},
            replies={201: Reply("The run.", ONE_RUN, ONE_RUN_EXAMPLE, ("Location",))},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = Run.objects.select_related("pattern", "item", "melt", "route", "joined_into").order_by("pk")
        if call.query["pattern"]:
            found = found.filter(pattern__code=call.query["pattern"])
        rows = {row.run.pk: row for row in reads.open_rows()}
        if call.query["open"] == "yes":
            found = found.filter(pk__in=rows)
        elif call.query["open"] == "no":
            found = found.exclude(pk__in=rows)
        page = paging.page(found, call.request, dict(call.query), by="id")
        started = reads.started_of([run.pk for run in page.rows])
        shown = [run_shown(run, rows.get(run.pk), started.get(run.pk, 0)) for run in page.rows]
        return reply({"rows": shown, "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Start it."""
        body = call.body
        melt = Melt.objects.filter(pk=body["mill_heat"]).first()
        if melt is None:
            raise Invalid.field("mill_heat", "There is no such mill heat; name the id of one of the list.")
        wanted = Start(
            item(body["head"], "head"), item(body["blank"], "blank"), melt, body["pieces"], body.get("wanted"),
            body.get("sure_of_100", 90), note=body.get("note", ""),
        )  # fmt: skip
        run = floor.start(wanted, stamp=stamp(call))
        return reply_created(reply(one_run_shown(find(run.code))), f"/api/v1/runs/{run.code}")


class OneRun(Endpoint):
    """One run."""

    operations: ClassVar = {
        "GET": Operation(name="readRun", summary="Read a run with its counts and lots", tag=TAG, replies=_ONE)
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(one_run_shown(find(call.path["code"])))


def _operation(name: str, summary: str, words: str, body: type[fields.Body], example: dict[str, Any]) -> Operation:
    return Operation(
        name=name, summary=summary, tag=TAG, words=words, body=body, example=example, replies=_ONE, refusals=(409,),
        once=True,
    )  # fmt: skip


class TopUp(Endpoint):
    """More pieces for a run."""

    operations: ClassVar = {
        "POST": _operation(
            "topUpRun", "Start more of a run", "Blanks of the run's own mill heat, under the run's code.", MoreBody,
            {"blank": "BL-CP2", "pieces": 1},
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Start them."""
        run = find(call.path["code"])
        floor.top_up(run, item(call.body["blank"], "blank"), call.body["pieces"], stamp=stamp(call))
        return reply(one_run_shown(run))


class PartRun(Endpoint):
    """A run parted in two."""

    operations: ClassVar = {
        "POST": _operation(
            "partRun", "Part a run", "So many of the pieces go on under a code of their own; the answer is the new run.",
            PartBody, {"step": 0, "pieces": 1},
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Part it."""
        made = floor.split(find(call.path["code"]), call.body["step"], call.body["pieces"], stamp=stamp(call))
        return reply(one_run_shown(find(made.code)))


class JoinRun(Endpoint):
    """A run that goes on as another."""

    operations: ClassVar = {
        "POST": _operation(
            "joinRun", "Join a run to another", "Both of one mill heat, head and route, the code not struck yet.",
            JoinBody, {"into": "K7"},
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Join them."""
        into = named(call.body["into"], "into")
        floor.join(find(call.path["code"]), into, stamp=stamp(call))
        return reply(one_run_shown(find(into.code)))
