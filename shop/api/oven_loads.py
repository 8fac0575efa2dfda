"""Oven loads: hardened, put into the temper, taken out, and read."""

from typing import ClassVar

from inventory.models import Hardness, Machine, OvenLoad
from inventory.services import hardness, ovens
from inventory.services.ovens import Fire, Into
from shop.api import fields, paging, reading, shapes
from shop.api.run_counts import HardnessBody, reading_of
from shop.api.runs import named, stamp
from shop.api.runs_shown import LOAD, LOAD_EXAMPLE, load_shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.flows import floor
from shop.shared.errors import Invalid, NotFound
from shop.shared.units.pieces import MOST_PIECES

TAG = "Oven loads"


class IntoBody(fields.Body):
    """So many pieces of a run."""

    run = fields.Text(longest=4)
    pieces = fields.Whole(low=1, high=MOST_PIECES)
    trial = fields.Text(
        longest=120, required=False, help_text="What its trial piece showed; hardening needs it or a reading."
    )
    hardness = HardnessBody(required=False)


class LoadBody(fields.Body):
    """What goes in and how the oven is set."""

    work = fields.Word(choices=OvenLoad.Work.values)
    runs = fields.many(IntoBody, 40)
    temperature_celsius = fields.Whole(low=1, high=1_500)
    soak_minutes = fields.Whole(low=0, high=10_000, required=False)
    heat_up_minutes = fields.Whole(low=0, high=1_000, required=False)
    oven = fields.Text(longest=20, required=False, help_text="Code of the machine.")
    happened_at = fields.Moment(required=False)


class OutBody(fields.Body):
    """How a load came out."""

    reached = fields.YesNo(required=False, help_text="Whether it held its temperature; without it, yes.")
    at_temperature_at = fields.Moment(required=False, help_text="Without it, after the usual heat-up.")
    happened_at = fields.Moment(required=False)


class ReadBody(fields.Body):
    """A reading of a lot of the load."""

    lot = fields.Text(longest=20)
    hardness = HardnessBody()


def find(number: int) -> OvenLoad:
    """Return the load of a number in an address."""
    found = OvenLoad.objects.filter(number=number).select_related("oven").first()
    if found is None:
        raise NotFound(f"There is no oven load {number}; read the list of loads.")
    return found


_ONE = {200: Reply("The load.", LOAD, LOAD_EXAMPLE)}


class OvenLoads(Endpoint):
    """The loads."""

    operations: ClassVar = {
        "GET": Operation(
            name="listOvenLoads",
            summary="List oven loads",
            tag=TAG,
            query=(
                reading.Choice("open", "Only those in the oven.", choices=("yes", "no")),
                *paging.PARAMETERS,
            ),
            replies={
                200: Reply("One page of loads.", shapes.page(LOAD), {"rows": [LOAD_EXAMPLE], "next": None}, ("Link",))
            },
        ),
        "POST": Operation(
            name="loadOven",
            summary="Book a hardening, or put a temper in",
            tag=TAG,
            words=(
                "Hardening is booked as done, every run with its trial piece or a reading. A temper goes in and is taken"
                " out later; what goes together has one temperature and one soak."
            ),
            body=LoadBody,
            example={"work": "temper", "runs": [{"run": "K7", "pieces": 1}], "temperature_celsius": 204, "soak_minutes": 120},
            replies={201: Reply("The load.", LOAD, LOAD_EXAMPLE, ("Location",))},
            refusals=(409,),
            once=True,
        ),
    }  # fmt: skip

    def get(self, call: Call) -> Answer:
        """Return one page."""
        found = OvenLoad.objects.filter(entry__reversed_by=None).select_related("oven").order_by("number")
        if call.query["open"]:
            found = found.filter(out_at__isnull=call.query["open"] == "yes")
        page = paging.page(found, call.request, dict(call.query), by="number")
        return reply({"rows": [load_shown(one) for one in page.rows], "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Book it."""
        body = call.body
        loaded = [
            Into(
                named(one["run"], f"runs.{at}.run"),
                one["pieces"],
                one.get("trial", ""),
                reading_of(one.get("hardness")),
            )
            for at, one in enumerate(body["runs"])
        ]
        oven = Machine.objects.filter(code=body["oven"]).first() if body.get("oven") else None
        if body.get("oven") and oven is None:
            raise Invalid.field("oven", "There is no such machine; leave it out, or name one of the shop's.")
        celsius = body["temperature_celsius"]
        heat_up = body.get("heat_up_minutes", ovens.HEAT_UP_MINUTES)
        fire = Fire(10 * celsius, f"{celsius} °C", body.get("soak_minutes", 0), heat_up, oven)
        book = floor.harden if body["work"] == OvenLoad.Work.HARDEN else floor.temper_in
        load = book(loaded, fire, stamp=stamp(call))
        return reply_created(reply(load_shown(find(load.number))), f"/api/v1/oven-loads/{load.number}")


class OneLoad(Endpoint):
    """One load."""

    operations: ClassVar = {"GET": Operation(name="readOvenLoad", summary="Read an oven load", tag=TAG, replies=_ONE)}

    def get(self, call: Call) -> Answer:
        """Return it."""
        return reply(load_shown(find(call.path["number"])))


class LoadOut(Endpoint):
    """A load that comes out."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeLoadOut",
            summary="Take a tempering load out",
            tag=TAG,
            words="Short of temperature or soak, its pieces stand hardened again and have to be tempered anew.",
            body=OutBody,
            example={"reached": True},
            replies=_ONE,
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it out."""
        load = find(call.path["number"])
        floor.take_out(
            load, stamp=stamp(call), at_temperature_at=call.body.get("at_temperature_at"),
            reached=call.body.get("reached", True),
        )  # fmt: skip
        return reply(load_shown(find(load.number)))


class LoadReadings(Endpoint):
    """Readings of a load."""

    operations: ClassVar = {
        "POST": Operation(
            name="writeReading",
            summary="Write a hardness reading down",
            tag=TAG,
            words="One outside the published window keeps the load's heads from going further as they are.",
            body=ReadBody,
            example={"lot": "L1204", "hardness": {"method": "rockwell", "hrc": "53"}},
            replies=_ONE,
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Write it down."""
        load = find(call.path["number"])
        held = load.lots.filter(lot__code=call.body["lot"]).select_related("lot__run__pattern").first()
        if held is None:
            raise Invalid.field("lot", f"Load {load.number} holds no such lot; name one of its lots.")
        wanted = reading_of(call.body["hardness"])
        assert wanted is not None
        hardness.read(held.lot, wanted, stamp=stamp(call), load=load, window=load.work == OvenLoad.Work.TEMPER)
        return reply(load_shown(load))


class TakeReadingBack(Endpoint):
    """A reading that was written wrongly."""

    operations: ClassVar = {
        "POST": Operation(
            name="takeReadingBack",
            summary="Take a reading back",
            tag=TAG,
            words="It stays in the book and counts no more.",
            replies=_ONE,
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """Take it back."""
        load = find(call.path["number"])
        found = Hardness.objects.filter(load=load, pk=call.path["id"]).first()
        if found is None:
            raise NotFound(f"Load {load.number} has no reading {call.path['id']}; read the load.")
        hardness.withdraw(found, stamp=stamp(call))
        return reply(load_shown(load))
