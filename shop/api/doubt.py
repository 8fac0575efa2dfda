"""Wrong or doubtful steel: a lot or a whole melt out of use at once, a painted end that is lost, a claim."""

from collections.abc import Sequence
from typing import Any, ClassVar

from inventory.models import Claim, Delivery, Lot
from inventory.queries import deliveries, lists, trace
from inventory.services import checking_in
from inventory.services.ledger import Stamp
from shop.api import fields, second_look, shapes
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import doubting, sawing
from shop.flows.doubting import Doubted
from shop.shared.errors import NotFound

TAG = "Steel"
SHUT = shapes.thing(entries=shapes.many(shapes.WHOLE), gave_way=shapes.many(shapes.WHOLE))
_SHUT = {"entries": [418], "gave_way": [1042]}
UNNAMED = shapes.thing(bar=shapes.TEXT, was=shapes.TEXT)
_UNNAMED = {"bar": "7KR3", "was": "7KQ4"}


class WhyBody(fields.Body):
    """Why."""

    reason = fields.Text(longest=300)


class ClaimBody(fields.Body):
    """What is claimed from the supplier."""

    about = fields.Word(choices=list(Claim.About.values))
    words = fields.Text(longest=1000, help_text="The supplier reads them.")


def _stamp(call: Call) -> Stamp:
    return Stamp(call.at, call.actor, reason=call.body.get("reason", ""))


def _shut(done: Doubted) -> Answer:
    orders: Sequence[int] = sorted({line.order.number for line in done.gave_way})
    told: dict[str, Any] = {"entries": [entry.pk for entry in done.entries], "gave_way": orders}
    return reply(told)


class ShutLot(Endpoint):
    """Taking a lot out of use."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeLotOutOfUse",
            summary="Take a lot out of use",
            tag=TAG,
            words="From now on nothing of it is cut, promised or sent; orders that counted on it give way.",
            body=WhyBody,
            example={"reason": "the spark test does not match"},
            replies={200: Reply("What was booked, and which orders gave way.", SHUT, _SHUT)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it out."""
        lot = Lot.objects.select_related("item", "melt").filter(code=call.path["code"]).first()
        if lot is None:
            raise NotFound(f"There is no lot {call.path['code']}; read the list of lots.")
        return _shut(doubting.out_of_use([lot], stamp=_stamp(call)))


class ShutMelt(Endpoint):
    """Taking a whole melt out of use."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeMeltOutOfUse",
            summary="Take a melt out of use",
            tag=TAG,
            words="Everything of it that is in the shop, and everything made of it; what was sent is in went-into.",
            body=WhyBody,
            example={"reason": "two heads cracked in the water"},
            replies={200: Reply("What was booked, and which orders gave way.", SHUT, _SHUT)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it out."""
        melt = trace.find_melt(call.path["id"])
        if melt is None:
            raise NotFound(f"There is no melt {call.path['id']}; read the list of melts.")
        return _shut(doubting.melt_out_of_use(melt, stamp=_stamp(call)))


class PaintLost(Endpoint):
    """A bar whose painted end is lost."""

    operations: ClassVar = {
        "POST": Operation(
            name="losePaint",
            summary="Book a painted end as lost",
            tag=TAG,
            words="The bar goes on under a new number as steel of unknown grade, for own tooling only.",
            body=WhyBody,
            example={"reason": "the end was ground off"},
            replies={201: Reply("Its new number.", UNNAMED, _UNNAMED, ("Location",))},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Book it."""
        bar = lists.bars().filter(number=call.path["bar"]).first()
        if bar is None:
            raise NotFound(f"There is no bar {call.path['bar']}; read the list of bars.")
        made = sawing.paint_lost(bar, stamp=_stamp(call))
        return reply_created(reply({"bar": made.number, "was": bar.number}), f"/api/v1/bars/{made.number}")


class Claims(Endpoint):
    """The claims of a delivery."""

    operations: ClassVar = {
        "POST": Operation(
            name="makeClaim",
            summary="Make a claim",
            tag="Deliveries",
            words="Keeps a claim with the delivery and the supplier's last day for it, where that is known.",
            body=ClaimBody,
            example={"about": "short", "words": "One bar of seven is missing."},
            replies={
                201: Reply("The checks with the claims.", second_look.CHECKED, second_look.EXAMPLE, ("Location",))
            },
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Keep it."""
        found = deliveries.by_number(call.path["number"])
        if found is None or found.state != Delivery.State.BOOKED:
            raise NotFound(f"There is no booked delivery {call.path['number']}; read the list of deliveries.")
        checking_in.claim(found, call.body["about"], call.body["words"], at=call.at, by=call.actor)
        return reply_created(reply(second_look.shown(found, call)), f"/api/v1/deliveries/{found.number}/checks")
