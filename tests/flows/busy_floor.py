"""The floor of the busy days: a run through all its steps, one that waits at each place, and what was noted beside it."""

import datetime as dt

from django.db import transaction

from inventory.models import FloorNote, Lot, OvenLoad, Run, ToolingSet
from inventory.services import hardness, tooling_sets
from inventory.services.count_facts import Reject, Weighed
from inventory.services.ovens import Fire, Into
from orders.models import OrderLine
from orders.services import mending
from orders.services.mending import Brought
from orders.services.ordering import Wanted
from shop.flows import bringing_in, floor
from tests import forge, makers
from tests.forge import FIRST, GROUND, HOUR, SECOND, Forge


def build(at: dt.datetime) -> Forge:
    """Book it all."""
    made = forge.make_forge(blanks=120, handles=60, wedges=120)
    run = forge.whole_life(made, 20, at=at)
    later = at + 3 * 24 * HOUR
    _rejects(made, later)
    _ovens(made, later)
    _beside(made, run, later)
    _brought_in(made, later)
    return made


def _rejects(made: Forge, at: dt.datetime) -> None:
    run = made.start(12, at=at)
    off_centre = forge.cause(run, "eye off centre")
    rejects = [Reject(1, off_centre, "second"), Reject(1, off_centre), Reject(1)]
    forge.count(run, FIRST, 9, *rejects, at=at, minutes=60, people=2)
    with transaction.atomic():
        floor.split(run, FIRST, 3, stamp=makers.stamp(at=at))
        floor.top_up(run, made.blank, 2, stamp=makers.stamp(at=at))
    forge.count(run, GROUND, 6, at=at, catch_up=True)
    other = made.start(3, at=at)
    with transaction.atomic():
        floor.join(other, run, stamp=makers.stamp(at=at))
        lot = makers.put_in(made.head, 4, place="FLOOR", step=GROUND, melt=made.melt, at=at)
        floor.open_run(Lot.objects.get(pk=lot.pk), stamp=makers.stamp(at=at))


def _ovens(made: Forge, at: dt.datetime) -> None:
    run = made.start(16, at=at)
    forge.count(run, FIRST, 16, at=at)
    forge.count(run, SECOND, 16, at=at)
    forge.count(run, GROUND, 16, at=at)
    forge.harden(run, 14, at=at)
    forge.temper(run, 4, at=at, hours=1)  # short of its soak
    forge.temper(run, 8, at=at + HOUR)
    weights = [Weighed(900_000, "900 g", "1"), Weighed(910_000, "910 g")]
    soft = Reject(1, forge.cause(run, "soft face"), "rework")
    with transaction.atomic():
        first = OvenLoad.objects.filter(reached=True, work="temper").order_by("-pk")[0]
        lot = first.lots.get().lot
        wrong = hardness.read(lot, hardness.Reading("file pair", 400, 500), stamp=makers.stamp(at=at), load=first)
        hardness.withdraw(wrong, stamp=makers.stamp(at=at))
        hardness.read(lot, hardness.Reading("rebound", 520, 520), stamp=makers.stamp(at=at), load=first)
    forge.count(
        run, forge.CHECKED, 6, soft, at=at + 6 * HOUR, crack_checked=True, weights=weights, light=1, in_class=4, heavy=1
    )
    with transaction.atomic():
        fire = Fire(2_040, "400 °F", 120)
        floor.temper_in([Into(run, 3)], fire, stamp=makers.stamp(at=at + 6 * HOUR))
    forge.haft(made, run, 2, at=at + 7 * HOUR)
    with transaction.atomic():
        handles = Lot.objects.filter(item=made.tool.handle).order_by("pk")[0]
        floor.sort_handles(handles, 10, 2, stamp=makers.stamp(at=at), moisture_permille=80)


def _beside(made: Forge, run: Run, at: dt.datetime) -> None:
    with transaction.atomic():
        tooling = ToolingSet.objects.get(code="T4")
        tooling_sets.change_tooling(tooling, "in", at=at, by=makers.actor())
        FloorNote.objects.create(what=FloorNote.What.HANDS, at=at, run=run)
        FloorNote.objects.create(what=FloorNote.What.BOTTLE, at=at, item=made.tool.wedge)
        order = makers.make_order([Wanted(qty=1, words="a latch hammer as drawn", price_minor=9_000)], at=at)
    line = OrderLine.objects.get(order=order)
    with transaction.atomic():
        floor.start(
            forge.Start(made.head, made.blank, made.melt, 2, 1, kind=Run.Kind.MADE_TO_ORDER),
            stamp=makers.stamp(at=at),
            for_line=line,
        )


def _brought_in(made: Forge, at: dt.datetime) -> None:
    customer = makers.make_customer()
    with transaction.atomic():
        brought = Brought("a hammer of his father's", "a new handle", handle=made.tool.handle, wedge=made.tool.wedge)
        first = mending.bring_in(customer, brought, at=at, by=makers.actor())
        mending.bring_in(customer, Brought("tongs", "jaws straightened"), at=at, by=makers.actor())
    with transaction.atomic():
        bringing_in.done(first, handles=1, wedges=2, minutes=40, stamp=makers.stamp(at=at))
        mending.give_back(first, at=at, by=makers.actor())
