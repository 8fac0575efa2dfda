"""The second look at a delivery: lengths, sizes, weight; what the checks answer; the answer to each line."""

from typing import Any, ClassVar

from inventory.models import Claim, Delivery, DeliveryLine
from inventory.queries import deliveries, findings
from inventory.services import catalogue, checking_in
from inventory.services.delivery_lines import WEIGHED_BY
from inventory.services.ledger import Stamp
from inventory.services.reading import MOST_TYPED
from shop.api import fields, shapes
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import checking_in as flow
from shop.flows.checking_in import LineLook
from shop.shared.errors import Invalid, NotFound

TAG = "Deliveries"
ANSWERS = tuple(checking_in.ANSWERS)
FINDING = shapes.thing(about=shapes.words(*Claim.About.values), good=shapes.maybe(shapes.YES_NO), words=shapes.TEXT)
CHECKED = shapes.thing(
    number=shapes.WHOLE,
    lines=shapes.many(
        shapes.thing(
            line=shapes.WHOLE,
            damage=shapes.TEXT,
            answer=shapes.TEXT,
            answer_note=shapes.TEXT,
            findings=shapes.many(FINDING),
        )
    ),
    claims=shapes.many(
        shapes.thing(
            id=shapes.WHOLE,
            about=shapes.TEXT,
            words=shapes.TEXT,
            until=shapes.maybe(shapes.DAY),
            sent_on=shapes.maybe(shapes.DAY),
            settled=shapes.TEXT,
        )
    ),
)
EXAMPLE = {
    "number": 31,
    "lines": [
        {
            "line": 1,
            "damage": "",
            "answer": "",
            "answer_note": "",
            "findings": [{"about": "weight", "good": True, "words": "427.7 lb by own scale; good bars weigh …"}],
        }
    ],
    "claims": [],
}


class LookBody(fields.Body):
    """The second look at one line, every value as it would be typed; what is left out stays open."""

    line = fields.Whole(low=1, high=9999)
    lengths = fields.Text(
        longest=MOST_TYPED, required=False, help_text="6 @ 20 ft 1/2 in, 1 @ 5.74 m; + where sawn in two."
    )
    sizes = fields.Text(longest=MOST_TYPED, required=False, help_text="Two a bar: 6 @ 2.004/1.998, 2.01/2.00.")
    scale = fields.Text(longest=40, required=False, help_text="Weight of the whole line: 427.7 lb.")
    weighed_by = fields.Word(choices=list(WEIGHED_BY), required=False)
    other_bars = fields.Text(longest=200, required=False, help_text="Numbers of bars of another mill heat.")
    other_heat = fields.Text(longest=40, required=False, help_text="Their mill heat number.")
    place = fields.Text(longest=20, required=False, help_text="Slot of the rack; without it the rack.")


class AnswerBody(fields.Body):
    """The answer to a line."""

    line = fields.Whole(low=1, high=9999)
    answer = fields.Word(choices=list(ANSWERS))
    note = fields.Text(longest=300, required=False, help_text="Needed for all but accepted.")


def shown(found: Delivery, call: Call) -> dict[str, Any]:
    """Return what the checks answer; the price only to those who may see costs."""
    lines = []
    for one in deliveries.lines_of(found):
        answers = [
            {"about": said.about, "good": said.good, "words": said.words}
            for said in findings.of_line(one.line, one.bars)
            if said.about != Claim.About.PRICE or call.may("costs:read")
        ]
        line = one.line
        lines.append(
            {
                "line": line.number,
                "damage": line.damage,
                "answer": line.answer,
                "answer_note": line.answer_note,
                "findings": answers,
            }
        )
    claims = [
        {
            "id": one.pk,
            "about": one.about,
            "words": one.words,
            "until": fields.day(one.until),
            "sent_on": fields.day(one.sent_on),
            "settled": one.settled,
        }
        for one in found.claims.order_by("id")
        if one.about != Claim.About.PRICE or call.may("costs:read")
    ]
    return {"number": found.number, "lines": lines, "claims": claims}


def _find(call: Call) -> Delivery:
    found = deliveries.by_number(call.path["number"])
    if found is None or found.state != Delivery.State.BOOKED:
        raise NotFound(f"There is no booked delivery {call.path['number']}; read the list of deliveries.")
    return found


def _line(found: Delivery, number: int) -> DeliveryLine:
    line = found.lines.select_related("item__section", "item__grade", "delivery").filter(number=number).first()
    if line is None or not line.bars:
        raise Invalid.field("line", f"Line {number} is no line of steel of this delivery.")
    return line


class Checked(Endpoint):
    """What the checks say of a delivery."""

    operations: ClassVar = {
        "GET": Operation(
            name="readChecks",
            summary="Read what the checks found",
            tag=TAG,
            words="Weight, sizes, certificate and order of each line of steel, the answers given and the claims.",
            replies={200: Reply("The checks.", CHECKED, EXAMPLE)},
        ),
        "POST": Operation(
            name="lookAgain",
            summary="Write down the second look",
            tag=TAG,
            words="Lengths put bars on the rack; sizes, weight and another mill heat are kept with them.",
            body=LookBody,
            example={"line": 1, "lengths": "2 @ 20 ft 1/2 in", "sizes": "2 @ 2.004/1.998"},
            replies={200: Reply("The checks.", CHECKED, EXAMPLE)},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(shown(_find(call), call))

    def post(self, call: Call) -> Answer:
        """Write it down."""
        found, body = _find(call), dict(call.body)
        line, code = _line(found, body.pop("line")), body.pop("place", "")
        place = catalogue.place(code.upper()) if code else None
        try:
            flow.look([LineLook(line, **body)], unit=None, place=place, stamp=Stamp(call.at, call.actor))
        except Invalid as refusal:
            refusal.fields = {name.removeprefix("looks.0."): said for name, said in refusal.fields.items()}
            raise
        return reply(shown(found, call))


class AnswerLine(Endpoint):
    """The answer to a line."""

    operations: ClassVar = {
        "POST": Operation(
            name="answerLine",
            summary="Answer a line",
            tag=TAG,
            words="Refused steel is booked back to the supplier; what is not to be used is taken out of use at once.",
            body=AnswerBody,
            example={"line": 1, "answer": "accepted"},
            replies={200: Reply("The checks.", CHECKED, EXAMPLE)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Keep it."""
        found = _find(call)
        line = _line(found, call.body["line"])
        flow.answer(line, call.body["answer"], call.body.get("note", ""), stamp=Stamp(call.at, call.actor))
        return reply(shown(found, call))
