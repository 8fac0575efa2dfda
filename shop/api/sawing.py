"""Cuts: what the saw did to which bar, and booking one without a plan."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Bar, Cut, Item
from inventory.queries import lists
from inventory.services import reading as typed
from inventory.services.cutting import Blanks, SawJob
from inventory.services.ledger import Stamp
from shop.api import fields, paging, reading, shapes
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import sawing
from shop.shared.errors import Invalid, NotFound
from shop.shared.shop_row import the_shop
from shop.shared.units import parse_length

TAG = "Stock"
MOST_KINDS = 20
KIND = shapes.thing(blank=shapes.TEXT, count=shapes.WHOLE, length=shapes.LENGTH)
CUT = shapes.thing(
    id=shapes.WHOLE,
    bar=shapes.TEXT,
    entry=shapes.WHOLE,
    happened_at=shapes.MOMENT,
    undone=shapes.YES_NO,
    length_before=shapes.LENGTH,
    pieces=shapes.many(KIND),
    own_tooling=shapes.LENGTH,
    kerf=shapes.LENGTH,
    kerfs=shapes.WHOLE,
    kerfs_length=shapes.LENGTH,
    trim=shapes.LENGTH,
    scrap_end=shapes.LENGTH,
    left=shapes.LENGTH,
    difference_mm=shapes.TEXT,
    lots=shapes.many(shapes.thing(lot=shapes.TEXT, bar=shapes.maybe(shapes.TEXT))),
)
_LENGTH = {"mm": "112.7125", "inches": "4 7/16 in"}
_NONE = {"mm": "0", "inches": "0 in"}
CUT_EXAMPLE = {
    "id": 7,
    "bar": "7KQ4",
    "entry": 418,
    "happened_at": "2026-03-02T10:20:00Z",
    "undone": False,
    "length_before": {"mm": "6096", "inches": "20 ft"},
    "pieces": [{"blank": "K-1045-RD-2IN-4.4375IN", "count": 10, "length": _LENGTH}],
    "own_tooling": _NONE,
    "kerf": {"mm": "1.5875", "inches": "1/16 in"},
    "kerfs": 10,
    "kerfs_length": {"mm": "15.875", "inches": "5/8 in"},
    "trim": _NONE,
    "scrap_end": _NONE,
    "left": {"mm": "4953", "inches": "16 ft 3 in"},
    "difference_mm": "0",
    "lots": [{"lot": "L204", "bar": None}, {"lot": "L205", "bar": "7KR2"}],
}


class PieceBody(fields.Body):
    """Pieces of one kind."""

    blank = fields.Text(longest=30, help_text="Code of the blank.")
    count = fields.Whole(low=1, high=2000)


class CutBody(fields.Body):
    """What the saw did to a bar, every length as it would be typed; what is left is taped and never worked out."""

    pieces = fields.many(PieceBody, MOST_KINDS, required=False)
    own_tooling = fields.Text(longest=40, required=False, help_text="A length for own tooling: 14 in.")
    trim = fields.Text(longest=40, required=False, help_text="Cut off a bad end: 1/2 in.")
    kerf = fields.Text(longest=40, required=False, help_text="What one cut takes; without it the shop's own.")
    left = fields.Text(longest=200, required=False, help_text="Bars that are left, by the tape: 16 ft 3 in.")
    rest_is_scrap = fields.YesNo(required=False)
    note = fields.Text(longest=300, required=False)
    happened_at = fields.Moment(required=False, help_text="When it was sawn; without it, now.")


def shown(made: Cut) -> dict[str, Any]:
    """Return a cut as the API shows it."""
    lots = made.entry.lots_made.all()
    return {
        "id": made.pk,
        "bar": made.bar.number,
        "entry": made.entry_id,
        "happened_at": fields.moment(made.entry.happened_at),
        "undone": hasattr(made.entry, "reversed_by"),
        "length_before": fields.length(made.taken_nm),
        "pieces": [
            {"blank": kind.blank.code, "count": kind.count, "length": fields.length(kind.piece_nm)}
            for kind in made.kinds.all()
        ],
        "own_tooling": fields.length(made.own_nm),
        "kerf": fields.length(made.kerf_nm),
        "kerfs": made.kerfs,
        "kerfs_length": fields.length(made.kerfs_nm),
        "trim": fields.length(made.trim_nm),
        "scrap_end": fields.length(made.scrap_nm),
        "left": fields.length(made.remnant_nm),
        "difference_mm": fields.millimetres(made.difference_nm),
        "lots": [{"lot": lot.code, "bar": lot.bar.number if hasattr(lot, "bar") else None} for lot in lots],
    }


class Cuts(Endpoint):
    """The cuts."""

    operations: ClassVar = {
        "GET": Operation(
            name="listCuts",
            summary="List cuts",
            tag=TAG,
            words="Cuts in the order they were booked; the parts of each are the bar exactly.",
            query=(reading.Parameter("bar", "Only of the bar of this number.", longest=4), *paging.PARAMETERS),
            replies={
                200: Reply("One page of cuts.", shapes.page(CUT), {"rows": [CUT_EXAMPLE], "next": None}, ("Link",))
            },
        )
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        page = paging.page(lists.cuts(bar=call.query["bar"]), call.request, dict(call.query), by="id")
        return reply({"rows": [shown(made) for made in page.rows], "next": page.next}, headers=page.headers)


class CutBar(Endpoint):
    """Cutting one bar."""

    operations: ClassVar = {
        "POST": Operation(
            name="cutBar",
            summary="Cut a bar",
            tag=TAG,
            words=(
                "Books what the saw did to a whole bar: blanks, a length for own tooling, the bars that are left with"
                " their taped lengths, or that the rest is scrap. Lines that wait are served at once."
            ),
            body=CutBody,
            example={"pieces": [{"blank": "K-1045-RD-2IN-4.4375IN", "count": 10}], "left": "16 ft 3 in"},
            replies={201: Reply("The cut.", CUT, CUT_EXAMPLE, ("Location",))},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Cut it."""
        bar = lists.bars().filter(number=call.path["bar"]).first()
        if bar is None:
            raise NotFound(f"There is no bar {call.path['bar']}; read the list of bars.")
        happened = call.body.get("happened_at")
        if happened is not None and happened > call.at:
            raise Invalid.field("happened_at", "This moment has not come yet; leave it out for now.")
        stamp = Stamp(call.at, call.actor, happened, reason=call.body.get("note", ""))
        done = sawing.cut(bar, _job(bar, call), stamp=stamp)
        return reply_created(reply(shown(lists.cuts().get(pk=done.cut.pk))), f"/api/v1/cuts?bar={bar.number}")


def _job(bar: Bar, call: Call) -> SawJob:
    body = call.body
    lengths = {
        name: parse_length(body[name], field=name, allow_zero=name == "kerf").nm
        for name in ("own_tooling", "trim", "kerf")
        if body.get(name)
    }
    left = [part for parts in typed.sawn_list(body.get("left", ""), field="left") for part in parts]
    return SawJob(
        kerf_nm=lengths.get("kerf", the_shop().kerf_nm),
        blanks=[_blanks(at, one) for at, one in enumerate(body.get("pieces", ()))],
        own_nm=lengths.get("own_tooling", 0),
        trim_nm=lengths.get("trim", 0),
        left=left,
        scrap=body.get("rest_is_scrap", False),
    )


def _blanks(at: int, one: Mapping[str, Any]) -> Blanks:
    blank = Item.objects.filter(code=one["blank"], kind=Item.Kind.BLANK).first()
    if blank is None:
        raise Invalid.field(f"pieces.{at}.blank", "There is no such blank; name one of the list of items.")
    return Blanks(blank, one["count"])
