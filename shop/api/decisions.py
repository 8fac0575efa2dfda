"""What becomes of a lot that is not to be used: it is used again, or it is scrap. On the pages the owner decides."""

from typing import ClassVar

from inventory.models import Lot
from inventory.services.ledger import Stamp
from shop.api import shapes
from shop.api.doubt import TAG, WhyBody
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import doubting, stocktaking
from shop.shared.errors import NotFound

AGAIN = shapes.thing(entries=shapes.many(shapes.WHOLE), served=shapes.many(shapes.WHOLE))
_AGAIN = {"entries": [431], "served": [1042]}
SCRAPPED = shapes.thing(entries=shapes.many(shapes.WHOLE))
_SCRAPPED = {"entries": [432]}


def _lot(call: Call) -> Lot:
    lot = Lot.objects.select_related("item", "melt").filter(code=call.path["code"]).first()
    if lot is None:
        raise NotFound(f"There is no lot {call.path['code']}; read the list of lots.")
    return lot


def _stamp(call: Call) -> Stamp:
    return Stamp(call.at, call.actor, reason=call.body["reason"])


class UseLotAgain(Endpoint):
    """Putting a lot back that was not to be used."""

    operations: ClassVar = {
        "POST": Operation(
            name="useLotAgain",
            summary="Use a lot again",
            tag=TAG,
            words=(
                "All of a lot that is not to be used goes back to where such things stand, a bar without a taped length"
                " to the door; lines that wait are served from it."
            ),
            body=WhyBody,
            example={"reason": "the certificate was found"},
            replies={200: Reply("What was booked, and which orders were served.", AGAIN, _AGAIN)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Put it back."""
        done = stocktaking.back_in_use(_lot(call), stamp=_stamp(call))
        orders = sorted({line.order.number for line in done.served})
        return reply({"entries": [done.entry.pk] if done.entry else [], "served": orders})


class ScrapLot(Endpoint):
    """Scrapping a lot that is not to be used."""

    operations: ClassVar = {
        "POST": Operation(
            name="scrapLot",
            summary="Scrap a lot that is not to be used",
            tag=TAG,
            words="All of a lot that is not to be used is booked as scrap; what may still be used is not touched.",
            body=WhyBody,
            example={"reason": "the supplier does not want it back"},
            replies={200: Reply("What was booked.", SCRAPPED, _SCRAPPED)},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Book it."""
        return reply({"entries": [entry.pk for entry in doubting.scrap(_lot(call), stamp=_stamp(call))]})
