"""A few busy weeks of an invented shop, booked through its services: at least one of everything the book can hold."""

import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from inventory.models import Bar, Blade, CutRules, Delivery, Entry, Item, PurchaseOrder, TakeOut
from inventory.services import certificates, checking_in, closing, cut_asking, purchasing, receiving, saws, steel_items
from inventory.services.certificates import TypedCertificate
from inventory.services.cut_asking import Question
from inventory.services.cutting import Blanks, SawJob
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from inventory.services.reading import BarLength
from orders.models import Order, Promise, Return, ReturnOutcome, Shipment
from orders.services import holding, ordering, releases, returning
from orders.services.ordering import Terms, Wanted
from shop.flows import (
    cut_answering,
    cut_plans,
    delivering,
    doubting,
    releasing,
    reversing,
    sawing,
    stocktaking,
    taking_out,
)
from shop.flows import ordering as counter
from shop.flows.cut_plans import AtTheSaw
from shop.flows.ship_days import asking, giving
from shop.flows.ship_days.asking import Asked
from shop.flows.ship_days.giving import Day
from shop.shared import audit
from shop.shared.models import Shop
from shop.shared.units import parse_length
from tests import makers
from tests.flows import busy_floor
from tests.people import make_shop

AT = makers.AT
BY = makers.actor()
LATER = AT + dt.timedelta(days=40)  # after March was closed
MARCH = dt.date(2026, 3, 1)


@dataclass
class Days:
    """What the days left behind that a test asks for by name."""

    tool: makers.Tool
    steel: Item
    bought: PurchaseOrder
    delivery: Delivery
    undone: Delivery
    bar: Bar
    made: makers.Made
    waiting: Order
    sent: Shipment
    sent_and_undone: Shipment
    returned: Return
    taken: TakeOut


def build() -> Days:
    """Book it all; called inside a transaction that is never committed."""
    tool = makers.make_tool()
    bought, delivery, undone = _buy(tool)
    steel = delivery.lines.get(number=1).item
    bar = _bars(delivery)
    for parts in ((6, 6, 12), (9, 9, 20)):
        makers.put_in_parts(tool, *parts)
    made = makers.make_up(tool, 4)
    taken = _take_out(tool)
    sent, sent_and_undone = _send(tool)
    returned = _come_back(sent)
    _close_march()
    waiting = _orders(tool)
    _day_given()
    _holds()
    _cut_plan()
    _release()
    busy_floor.build(LATER)
    audit.seal()
    return Days(
        tool, steel, bought, delivery, undone, bar, made, waiting, sent, sent_and_undone, returned, taken
    )  # fmt: skip


def _release() -> None:
    """Keep pieces for a sale, and sell one of them."""
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 3, at=LATER)
    with transaction.atomic():
        release = releases.begin("Friday", item, 3, opens_at=LATER, closes_at=None, at=LATER, by=BY)
    with transaction.atomic():
        releasing.take(release, counter.NewCustomer("An invented buyer", address="2 Invented Lane"), 1, at=LATER, by=BY)


def _buy(tool: makers.Tool) -> tuple[PurchaseOrder, Delivery, Delivery]:
    makers.make_grade("1045")
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=BY)
        steel = makers.make_item(Item.Kind.BAR)
        lines = [ToBuy(steel, "4 @ 6 m"), ToBuy(tool.handle, "3 dozen")]
        bought = purchasing.open_order(firm, lines, ordered_on=AT.date(), at=AT, by=BY)
        purchasing.open_order(firm, [ToBuy(tool.wedge, "100")], ordered_on=AT.date(), at=AT, by=BY)
    came = [
        PaperLine(
            order_line="1", bars="2 @ 6 m, 1 @ 5.9 m", heat_number="007341", scale="100 kg", weighed_by="own scale"
        ),
        PaperLine(order_line="2", quantity="2 dozen"),
    ]
    delivery = _receive(firm, came, bought).delivery
    unmeasured = PaperLine(item=steel.code, bars="1 @ 5 m", heat_number="007342", measured="no")
    _receive(firm, [unmeasured], None)
    undone = _receive(firm, [PaperLine(order_line="2", quantity="5")], bought).delivery
    with transaction.atomic():
        reversing.reverse(undone.entry_id or 0, stamp=makers.stamp(reason="the wrong handles"))
        receiving.start(firm, at=AT, by=BY, order=bought)
    undone.refresh_from_db()
    return bought, delivery, undone


def _receive(firm: object, lines: list[PaperLine], order: PurchaseOrder | None) -> delivering.Received:
    with transaction.atomic():
        return delivering.receive(firm, Paper(lines), order=order, stamp=makers.stamp())  # type: ignore[arg-type]


def _bars(delivery: Delivery) -> Bar:
    unmeasured = Bar.objects.get(measured=False)
    first, second, third = Bar.objects.filter(lot__delivery_line__delivery=delivery).order_by("pk")
    with transaction.atomic():
        delivering.measure(unmeasured, "5.02 m", stamp=makers.stamp())
        stocktaking.correct_length(second, "5.95 m", stamp=makers.stamp(reason="read wrongly"))
        doubting.out_of_use([third.lot], stamp=makers.stamp(reason="a seam"))
    _papers(delivery, second)
    return first


def _papers(delivery: Delivery, bar: Bar) -> None:
    """Read a certificate, claim for the seam, and saw a bar into blanks, a length for own tooling and a remnant."""
    if not Shop.objects.exists():
        make_shop()
    melt = bar.lot.melt
    assert melt is not None
    read = TypedCertificate(number="C-1", document="ASTM A29/A29M", edition="16", figures={"C": "0.45"}, read_by="HE")
    with transaction.atomic():
        certificates.file(melt, read, at=AT, by=BY, delivery=delivery)
        line = delivery.lines.get(number=1)
        checking_in.claim(delivery, "damage", "One bar has a seam.", at=AT, by=BY, line=line)
        checking_in.write_sizes(bar, "50.9/50.7 mm", unit=None, at=AT, by=BY)
        blank = steel_items.blank_item(makers.make_grade(), makers.make_section(), 100_000_000, at=AT, by=BY)
        rest = parse_length("4.8 m")
        wanted = SawJob(
            1_500_000, [Blanks(blank, 10)], own_nm=100_000_000, trim_nm=10_000_000, left=[BarLength(rest.nm, "4.8 m")]
        )
        sawing.cut(bar, wanted, stamp=makers.stamp(reason="a trial"))


def _take_out(tool: makers.Tool) -> TakeOut:
    with transaction.atomic():
        taking_out.take_out(tool.handle, 2, TakeOut.Why.GIFT, stamp=makers.stamp(), for_whom="Invented school")
        taken = taking_out.take_out(tool.handle, 3, TakeOut.Why.SHOW, stamp=makers.stamp())
        taking_out.take_back(taken, 1, stamp=makers.stamp())
        stocktaking.count(tool.wedge, makers.place("SHELF"), 25, stamp=makers.stamp())
        stocktaking.use(tool.wedge, 1, stamp=makers.stamp())
    return taken


def _send(tool: makers.Tool) -> tuple[Shipment, Shipment]:
    lines = [Wanted(qty=6, item=tool.item), Wanted(qty=1, words="a gate latch as drawn", price_minor=9_000)]
    sent = makers.send(makers.make_order(lines), {1: 6, 2: 1})  # four were made up, two are made up on the way
    again = makers.make_order({tool.item: 1})
    undone = makers.send(again)
    with transaction.atomic():
        reversing.reverse(undone.entry_id or 0, stamp=makers.stamp(reason="the carrier did not come"))
        ordering.cancel_order(Order.objects.get(pk=again.pk), at=AT, by=BY)
    undone.refresh_from_db()
    return sent, undone


def _come_back(sent: Shipment) -> Return:
    stamp = makers.stamp()
    with transaction.atomic():
        first = returning.come_back(sent, 1, 1, why="sent twice", stamp=stamp)
        reversing.reverse(first.entry_id, stamp=makers.stamp(reason="it was another's"))
        returned = returning.come_back(sent, 1, 4, why="loose heads", stamp=stamp)
        for outcome in (ReturnOutcome.Outcome.SECOND, ReturnOutcome.Outcome.REHAFT, ReturnOutcome.Outcome.REPLACED):
            returning.decide(returned, outcome, 1, stamp=stamp)
        wrong = returning.decide(returned, ReturnOutcome.Outcome.SCRAP, 1, stamp=stamp)
        reversing.reverse(wrong.entry_id or 0, stamp=makers.stamp(reason="not scrap at all"))
    returned.refresh_from_db()
    return returned


def _close_march() -> None:
    with transaction.atomic():
        assert closing.close_month(MARCH, at=LATER, zone="UTC")


def _orders(tool: makers.Tool) -> Order:
    with transaction.atomic():
        wanted = [Wanted(qty=50, item=tool.item), Wanted(qty=2, item=tool.handle)]
        day = Terms(day_given=LATER.date() + dt.timedelta(days=30))
        order = makers.make_order(wanted, terms=day, at=LATER)
        ordering.give_day(order, LATER.date(), source=Promise.Source.BY_HAND, at=LATER, by=BY)
        ordering.receive_money(order, 5_000, how="cash", at=LATER, by=BY)
        ordering.receive_money(order, -1_000, how="given back", at=LATER, by=BY)
        ordering.cancel(makers.line_of(order), 3, at=LATER, by=BY)
        ordering.change_quantity(makers.line_of(order, 2), 4, at=LATER, by=BY)
    makers.put_in(tool.head, 2, at=LATER)
    return order


def _day_given() -> None:
    """Ask for a day and give it, so that a promise stands on its basis."""
    item = makers.put_in(makers.make_item(Item.Kind.TOOL), 4, at=LATER).item
    asked = asking.ask(Asked(((item, 3),)), at=LATER, by=BY)
    with transaction.atomic():
        giving.give(asked, makers.make_customer(), [Wanted(3, item)], Terms(), Day(), at=LATER, by=BY)


def _holds() -> None:
    spare = makers.put_in(makers.make_item(Item.Kind.TOOL), 9, at=LATER).item
    makers.make_hold(spare, 2, at=LATER)
    makers.make_phone_hold(spare, 1, at=LATER)
    becomes = makers.make_hold(spare, 3, at=LATER)
    gone = makers.make_hold(spare, 1, at=LATER)
    with transaction.atomic():
        counter.order_from_hold(becomes, makers.make_customer(), Terms(), at=LATER, by=BY)
        holding.let_go(gone, at=LATER, by=BY)
    entry = makers.move(makers.put_in(makers.make_item(), 5, at=LATER), 5, source="BIN", target="SHELF", at=LATER)
    with transaction.atomic():
        reversing.reverse(entry.pk, stamp=makers.stamp(at=LATER, reason="it was not moved"))
    assert Entry.objects.filter(reverses=entry).exists()


def _cut_plan() -> None:
    """Plan blanks off three bars of another steel: one is left alone, one sawn, and one waits for the saw."""
    grade, section = makers.make_grade("1060"), makers.make_section(size_nm=25_400_000, typed="1 in")
    steel = makers.make_item(Item.Kind.BAR, grade=grade, section=section)
    melt = makers.make_melt(grade=grade)
    for nm in (1_030_000_000, 1_040_000_000, 1_050_000_000):
        makers.put_in(steel, nm, melt=melt, at=LATER)
    with transaction.atomic():
        blank = steel_items.blank_item(grade, section, 250_000_000, at=LATER, by=BY)
        saws.save_rules(CutRules(min_remnant_nm=300_000_000), at=LATER, by=BY)
        saw = Blade(name="band saw", kerf_nm=1_500_000, measured_on=LATER.date())
        blade = saws.save_blade(saw, at=LATER, by=BY)
        question = Question(steel, [cut_asking.Wanted(blank, 12)], 0, blade=blade, seconds=5)
        plan = cut_plans.ask(question, at=LATER, by=BY)
    cut_answering.work({"plan": plan.pk}, LATER)
    with transaction.atomic():
        first, second, _ = (one.bar.number for one in cut_plans.take(plan.number, 0, version=None, at=LATER, by=BY))
        cut_plans.leave_alone(plan.number, first, version=None, at=LATER)
        cut_plans.sawn(plan.number, [AtTheSaw(second)], version=None, stamp=makers.stamp(at=LATER))
