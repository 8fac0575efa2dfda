"""Gas bottles: read by quarters, put in, sent back by a program."""

from collections.abc import Mapping
from typing import Any, ClassVar

from inventory.models import Bottle, Item, Supplier
from inventory.queries import bottles as queries
from inventory.services import bottles as services
from shop.api import asked, fields, shapes
from shop.api.runs import stamp
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import bottles as flow
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid, NotFound

TAG = "Stock"
BOTTLE = shapes.thing(
    id=shapes.WHOLE, number=shapes.TEXT, item=shapes.TEXT, supplier=shapes.maybe(shapes.TEXT),
    state=shapes.words(*Bottle.State.values), quarters=shapes.WHOLE, in_use=shapes.YES_NO, deposit=shapes.MONEY,
    came_on=shapes.DAY,
)  # fmt: skip
_EXAMPLE = {
    "id": 3, "number": "14", "item": "GAS", "supplier": "Fenside Gas", "state": "part", "quarters": 2,
    "in_use": True, "deposit": {"amount": "45.00", "currency": "USD"}, "came_on": "2026-11-02",
}  # fmt: skip
_ONE = {200: Reply("The bottle as it stands now.", BOTTLE, _EXAMPLE)}


class BottleNumberBody(fields.Body):
    """One bottle."""

    number = fields.Text(longest=12, help_text="As painted or stamped on it.")


class BottlesCameBody(fields.Body):
    """Bottles that came or stand here."""

    item = fields.Text(longest=30, help_text="What is in them, by code.")
    bottles = fields.many(BottleNumberBody, services.MOST)
    quarters = fields.Whole(low=0, high=4, required=False, help_text="How full each is; 4, full, without it.")
    deposit = fields.Money(required=False, help_text="Paid for one.")
    supplier = fields.Text(longest=120, required=False, help_text="Whose they are, by name.")
    came_on = fields.Day(required=False, help_text="Without it, today.")


class ReadBottleBody(fields.Body):
    """How much is left."""

    quarters = fields.Whole(low=0, high=4)
    happened_at = fields.Moment(required=False, help_text="Without it, now.")


class BottleBody(fields.Body):
    """When it was done."""

    happened_at = fields.Moment(required=False, help_text="Without it, now.")


class Bottles(Endpoint):
    """The bottles that are here."""

    operations: ClassVar = {
        "GET": Operation(
            name="listBottles",
            summary="List gas bottles",
            tag=TAG,
            words="Bottles that have not gone back. For limits inside, each LP-gas bottle counts as full, the empty ones too.",
            replies={200: Reply("The bottles.", shapes.thing(rows=shapes.many(BOTTLE)), {"rows": [_EXAMPLE]})},
        ),
        "POST": Operation(
            name="noteBottles",
            summary="Write down bottles that came",
            tag=TAG,
            words="The vessels only: the gas in them is received with a delivery, or counted, as any goods.",
            body=BottlesCameBody,
            example={"item": "GAS", "bottles": [{"number": "14"}, {"number": "15"}], "supplier": "Fenside Gas"},
            replies={201: Reply("The bottles.", shapes.thing(rows=shapes.many(BOTTLE)), {"rows": [_EXAMPLE]})},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return them."""
        return reply({"rows": [shown(one) for gas in queries.gases() for one in gas.bottles]})

    def post(self, call: Call) -> Answer:
        """Write them down."""
        body = call.body
        item = Item.objects.filter(code__iexact=body["item"], active=True).first()
        if item is None:
            raise Invalid.field("item", "Item: there is none of that code; read the list of items.")
        supplier = None
        if body.get("supplier"):
            supplier = Supplier.objects.filter(name__iexact=body["supplier"]).first()
            if supplier is None:
                raise Invalid.field("supplier", "Supplier: there is none of that name; add it first.")
        try:
            made = services.came(
                item, [one["number"] for one in body["bottles"]], stamp=stamp(call), supplier=supplier,
                deposit_minor=_deposit(body), quarters=body.get("quarters", 4),
                came_on=body.get("came_on") or clock.local_date(call.at, shop_row.the_shop().zone),
            )  # fmt: skip
        except Invalid as refusal:  # the page names them in one field
            if "numbers" in refusal.fields:
                raise Invalid.field("bottles", refusal.sentence) from refusal
            raise
        return reply({"rows": [shown(one) for one in made]}, status=201)


class ReadBottle(Endpoint):
    """What is left in a bottle."""

    operations: ClassVar = {
        "POST": Operation(
            name="readBottle",
            summary="Read a gas bottle",
            tag=TAG,
            words="By quarters. What is less than before is booked as used; a reading above the last one undoes what was"
            " booked too much.",
            body=ReadBottleBody,
            example={"quarters": 2},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Read it."""
        found = _found(call)
        flow.read(found, call.body["quarters"], version=found.version, stamp=stamp(call))
        return reply(shown(found))


class PutInBottle(Endpoint):
    """A bottle that is put in."""

    operations: ClassVar = {
        "POST": Operation(
            name="putInBottle",
            summary="Put a gas bottle in",
            tag=TAG,
            words="The bottle that was in before is empty by that; what was left in it is booked as used.",
            body=BottleBody,
            example={},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Put it in."""
        found = _found(call)
        flow.change(found, version=found.version, stamp=stamp(call))
        return reply(shown(found))


class BottleBack(Endpoint):
    """A bottle that goes back."""

    operations: ClassVar = {
        "POST": Operation(
            name="returnBottle",
            summary="Send an empty bottle back",
            tag=TAG,
            body=BottleBody,
            example={},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Send it back."""
        found = _found(call)
        services.back(found, version=found.version, stamp=stamp(call))
        return reply(shown(found))


def shown(one: Bottle) -> dict[str, Any]:
    """Return a bottle as the API shows it."""
    return {
        "id": one.pk,
        "number": one.number,
        "item": one.item.code,
        "supplier": one.supplier.name if one.supplier else None,
        "state": one.state,
        "quarters": one.quarters,
        "in_use": one.in_use,
        "deposit": fields.money(one.deposit_minor, shop_row.the_shop().currency),
        "came_on": one.came_on.isoformat(),
    }


def _deposit(body: Mapping[str, Any]) -> int:
    return asked.minor(body["deposit"], shop_row.the_shop().currency, "deposit") if body.get("deposit") else 0


def _found(call: Call) -> Bottle:
    found = Bottle.objects.select_related("item", "supplier").filter(pk=call.path["id"]).first()
    if found is None:
        raise NotFound(f"There is no bottle {call.path['id']}; read the list of bottles.")
    return found
