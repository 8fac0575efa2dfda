"""The floor as a whole: along the shop, counted blind, noted; lots that become runs; handles sorted."""

from typing import ClassVar

from inventory.models import FloorNote, HandleSort, Item, Lot
from inventory.queries import runs as reads
from inventory.services import floor_notes
from inventory.services.floor_tally import Tally
from shop.api import fields, shapes
from shop.api.runs import find as find_run
from shop.api.runs import item, named, stamp
from shop.api.runs_shown import ONE_RUN, ONE_RUN_EXAMPLE, RUN, RUN_EXAMPLE, one_run_shown, run_shown
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import floor
from shop.shared import shop_row
from shop.shared.errors import Invalid, NotFound
from shop.shared.units.pieces import MOST_PIECES

TAG = "Floor"
COLUMN = shapes.thing(name=shapes.TEXT, pieces=shapes.WHOLE)
UNTEMPERED = shapes.thing(run=shapes.TEXT, pieces=shapes.WHOLE, temper_by=shapes.MOMENT)
FLOOR = shapes.thing(
    pieces=shapes.WHOLE, columns=shapes.many(COLUMN), runs=shapes.many(RUN), untempered=shapes.many(UNTEMPERED)
)
DIFFERENCE = shapes.thing(
    run=shapes.TEXT, step=shapes.WHOLE, before=shapes.WHOLE, found=shapes.WHOLE, entry=shapes.maybe(shapes.WHOLE)
)
SORT = shapes.thing(lot=shapes.TEXT, good=shapes.WHOLE, bad=shapes.WHOLE, entry=shapes.maybe(shapes.WHOLE))


class TallyLine(fields.Body):
    """What lies of a run after a step."""

    run = fields.Text(longest=4)
    step = fields.Whole(low=0, high=999)
    found = fields.Whole(low=0, high=MOST_PIECES)


class TallyBody(fields.Body):
    """The floor, counted."""

    lines = fields.many(TallyLine, 300)
    happened_at = fields.Moment(required=False)


class NoteBody(fields.Body):
    """What stopped the work, or a bottle that was changed."""

    what = fields.Word(choices=FloorNote.What.values)
    run = fields.Text(longest=4, required=False)
    item = fields.Text(longest=30, required=False, help_text="What is in the bottle.")
    note = fields.Text(longest=200, required=False)
    happened_at = fields.Moment(required=False)


class SortBody(fields.Body):
    """Handles sorted."""

    good = fields.Whole(low=0, high=MOST_PIECES)
    bad = fields.Whole(low=0, high=MOST_PIECES, required=False)
    moisture_permille = fields.Whole(low=0, high=1000, required=False)
    happened_at = fields.Moment(required=False)


class Floor(Endpoint):
    """Pieces along the shop."""

    operations: ClassVar = {
        "GET": Operation(
            name="readFloor",
            summary="Read the floor",
            tag=TAG,
            words="Pieces by column along the shop, every open run, and what stands hardened and not tempered.",
            replies={
                200: Reply(
                    "The floor.", FLOOR,
                    {"pieces": 28, "columns": [{"name": "sawn", "pieces": 28}], "runs": [RUN_EXAMPLE], "untempered": []},
                )
            },
        )
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return it."""
        rows = reads.open_rows()
        totals = [0] * len(reads.COLUMNS)
        for row in rows:
            for one in row.here:
                totals[one.column] += one.qty
        return reply(
            {
                "pieces": sum(totals),
                "columns": [{"name": name, "pieces": qty} for name, qty in zip(reads.COLUMNS, totals, strict=True)],
                "runs": [run_shown(row.run, row, row.started) for row in rows],
                "untempered": [
                    {"run": row.run.code, "pieces": one.qty, "temper_by": fields.moment(by)}
                    for row, one, by in reads.untempered(at=call.at, hours=shop_row.hours(call.at))
                ],
            }
        )


class Tallies(Endpoint):
    """The floor counted."""

    operations: ClassVar = {
        "POST": Operation(
            name="countFloor",
            summary="Count the floor by run and step",
            tag=TAG,
            words="What differs from the book is booked as unexplained.",
            body=TallyBody,
            example={"lines": [{"run": "K7", "step": 0, "found": 28}]},
            replies={
                200: Reply(
                    "What differed.", shapes.thing(rows=shapes.many(DIFFERENCE)),
                    {"rows": [{"run": "K7", "step": 0, "before": 28, "found": 28, "entry": None}]},
                )
            },
            refusals=(409,),
            once=True,
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Book it."""
        lines = [
            Tally(named(one["run"], f"lines.{at}.run"), one["step"], one["found"])
            for at, one in enumerate(call.body["lines"])
        ]
        made = floor.tally(lines, stamp=stamp(call))
        return reply(
            {
                "rows": [
                    {"run": d.tally.run.code, "step": d.tally.step, "before": d.before, "found": d.tally.found,
                     "entry": d.entry.pk if d.entry else None}
                    for d in made
                ]
            }
        )  # fmt: skip


class Notes(Endpoint):
    """Notes of the floor."""

    operations: ClassVar = {
        "POST": Operation(
            name="noteFloor",
            summary="Note what stopped the work, or a changed bottle",
            tag=TAG,
            body=NoteBody,
            example={"what": "stopped: gas"},
            replies={200: Reply("The note.", shapes.thing(id=shapes.WHOLE, what=shapes.TEXT), {"id": 1, "what": "stopped: gas"})},
            once=True,
        )
    }  # fmt: skip

    def post(self, call: Call) -> Answer:
        """Note it."""
        body = call.body
        run = named(body["run"], "run") if body.get("run") else None
        bottle = item(body["item"], "item") if body.get("item") else None
        made = floor_notes.note(body["what"], stamp=stamp(call), run=run, item=bottle, words=body.get("note", ""))
        return reply({"id": made.pk, "what": made.what})


def _lot(call: Call) -> Lot:
    found = Lot.objects.filter(code=call.path["code"]).select_related("item__pattern", "melt").first()
    if found is None:
        raise NotFound(f"There is no lot {call.path['code'][:20]}; read the list of lots.")
    return found


class OpenRun(Endpoint):
    """Heads from before the book that become a run."""

    operations: ClassVar = {
        "POST": Operation(
            name="openRun",
            summary="Give heads on the floor a run's code",
            tag=TAG,
            words="For heads that stood on the floor before the book; they go on from where they stand.",
            replies={200: Reply("The run.", ONE_RUN, ONE_RUN_EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Open it."""
        run = floor.open_run(_lot(call), stamp=stamp(call))
        return reply(one_run_shown(find_run(run.code)))


class SortHandles(Endpoint):
    """Handles sorted when they are picked up."""

    operations: ClassVar = {
        "POST": Operation(
            name="sortHandles",
            summary="Sort a lot of handles",
            tag=TAG,
            words="What is no good is scrap; where it was set aside, orders give way.",
            body=SortBody,
            example={"good": 1, "bad": 0},
            replies={200: Reply("The sorting.", SORT, {"lot": "L88", "good": 31, "bad": 5, "entry": 18204})},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Sort them."""
        lot = _lot(call)
        if lot.item.kind != Item.Kind.HANDLE:
            raise Invalid.field("lot", f"Lot {lot.code} is no handles; name a lot of handles.")
        made: HandleSort = floor.sort_handles(
            lot, call.body["good"], call.body.get("bad", 0), stamp=stamp(call),
            moisture_permille=call.body.get("moisture_permille"),
        )  # fmt: skip
        return reply({"lot": lot.code, "good": made.good, "bad": made.bad, "entry": made.entry_id})
