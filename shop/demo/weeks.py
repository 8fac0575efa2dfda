"""The demo's made-up weeks: what happens in the shop on one open day, by calls of the same flows the pages use."""

import datetime as dt

from django.db.models import F, Sum

from inventory.models import Holding, Item, ItemStock
from inventory.services import allocating, catalogue
from inventory.services.ledger import Stamp
from orders.models import Customer, Order, OrderLine, Promise, Shipment
from orders.services import holding, returning, shipping
from orders.services.shipping import Parcel
from shop.demo import forge, goods
from shop.demo.day import Day
from shop.demo.opening import Stage
from shop.flows import making_up, stocktaking, taking_out

CARRIERS = ("Fen Carriers", "Post parcel")


def live(stage: Stage, day: Day) -> None:
    """Let one open day happen."""
    forge.work(stage, day)
    if day.date.weekday() in ((0, 2) if day.sparse else (1, 3)):
        _make_up(stage, day)
    if day.last:
        _on_the_telephone(stage, day)
    else:
        _send(stage, day)
    if day.date.weekday() == 4:
        _use(stage, day)
        _odds(stage, day)


def _stamp(stage: Stage, at: dt.datetime, reason: str = "") -> Stamp:
    return Stamp(at=at, by=stage.by, reason=reason)


def _make_up(stage: Stage, day: Day) -> None:
    """Make up what never gets a handle."""
    for tool in (stage.tools[kind.code] for kind in goods.PATTERNS if kind.handle is None):
        row = ItemStock.objects.get(pk=tool.pk)
        can = can_make(tool)
        if row.sellable - row.allocated < 4 and can:
            making_up.make_up(tool, min(can, stage.dice.randint(2, 5)), stamp=_stamp(stage, day.moment(14, 20)))


def can_make(tool: Item) -> int:
    """Return how many of a tool its free parts would make."""
    return allocating.can_take(tool.pk, allocating.recipe_of(tool.pk))[1]


def _send(stage: Stage, day: Day) -> None:
    """Send what is wholly set aside, and dealers' orders in part when their day has come."""
    for order in Order.objects.filter(closed_at=None).select_related("customer").order_by("number"):
        lines = list(order.lines.order_by("number"))
        ready = {line.number: line.reserved for line in lines if line.reserved}
        whole = all(line.waiting == 0 for line in lines)
        given = order.promises.order_by("-id").first()
        dealer = order.customer.kind == Customer.Kind.DEALER
        due = given is None or day.date >= given.day - dt.timedelta(days=2)
        if ready and (whole or (dealer and due)) and stage.dice.random() >= 0.35:
            _parcel(stage, day, order, ready)


def send_what_is_due(stage: Stage, day: Day) -> None:
    """Send what was promised for the day by a day that was worked out, and is whole; one in thirty is forgotten."""
    due = Promise.objects.filter(
        source="calculated", superseded_by=None, day__lte=day.date, order__closed_at=None, order__said_until=None
    )
    for order in Order.objects.filter(pk__in=due.values("order")).order_by("number"):
        lines = list(order.lines.order_by("number"))
        ready = {line.number: line.reserved for line in lines if line.reserved}
        if ready and all(line.waiting == 0 for line in lines) and stage.dice.random() >= 1 / 30:
            _parcel(stage, day, order, ready)


def _parcel(stage: Stage, day: Day, order: Order, ready: dict[int, int]) -> None:
    parcel = Parcel(
        parcels=1 + sum(ready.values()) // 8,
        carrier=stage.dice.choice(CARRIERS),
        tracking=f"FC{stage.dice.randint(10**7, 10**8 - 1)}",
    )
    shipping.send(order, ready, parcel, stamp=_stamp(stage, day.moment(16, stage.dice.randint(0, 40))))


def _use(stage: Stage, day: Day) -> None:
    """Book what the week used of belts, gas, oil and boxes."""
    for kind in goods.CONSUMABLES:
        item = stage.consumables[kind.code]
        if kind.code in ("WW", "SW"):
            continue
        row = ItemStock.objects.get(pk=item.pk)
        qty = min(row.sellable - row.allocated, max(1, round(kind.weekly * stage.dice.uniform(0.7, 1.3))))
        if qty:
            stocktaking.use(item, qty, stamp=_stamp(stage, day.moment(17, 5), "used this week"))


def _odds(stage: Stage, day: Day) -> None:
    """Book the week's odd thing: a take-out, a return, a phone hold, a count."""
    what, at = (day.number // 5) % 4, day.moment(13, 30)
    tool = stage.tools["CP2"]
    free = allocating.free_of(tool.pk)
    if what == 0 and free:
        taking_out.take_out(tool, 1, why="photo", for_whom="catalogue picture", stamp=_stamp(stage, at))
    elif what == 1:
        shipment = Shipment.objects.filter(lines__line__item__isnull=False).order_by("-id").first()
        if shipment:
            number = shipment.lines.order_by("id")[0].line.number
            came = returning.come_back(shipment, number, 1, why="handle loose", stamp=_stamp(stage, at))
            returning.decide(came, "first" if stage.dice.random() < 0.5 else "second", 1, stamp=_stamp(stage, at))
    elif what == 2:
        _on_the_telephone(stage, day)
    else:
        belt = stage.consumables["BELT36"]
        there = Holding.objects.filter(item=belt, place__code="SHELF").aggregate(n=Sum("on_hand"))["n"] or 0
        stocktaking.count(belt, catalogue.place("SHELF"), max(0, int(there) - 1), stamp=_stamp(stage, at, "counted"))


def _on_the_telephone(stage: Stage, day: Day) -> None:
    """Say one hammer on the telephone, until tomorrow evening."""
    tool, at = stage.tools["CP2"], day.moment(13, 40)
    if can_make(tool) + allocating.free_of(tool.pk):
        name, until = stage.dice.choice(("Mr Tarrant", "Ms Ousby")), day.moment(17, 0) + dt.timedelta(days=1)
        holding.say_on_the_phone(tool, 1, name=name, until=until, at=at, made_by=stage.by.label)


def still_owed() -> int:
    """Return how many pieces are still owed over all orders."""
    owed = OrderLine.objects.aggregate(n=Sum(F("ordered") - F("shipped") - F("cancelled")))["n"]
    return int(owed or 0)
