"""How long it takes to type an order or a delivery: the touches and keys that a browser really needs, each with its time.

The times are those of the keystroke-level model, as remembered and not looked up: a key of an average typist, pointing
at something and touching it, and the thought before each step. Waiting for the service is not counted.
"""

import datetime as dt
import re
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Bar, Delivery
from inventory.services import purchasing, steel_items
from inventory.services.purchasing import ToBuy
from orders.models import Order, Question
from shop.shared.clock import local_date, now
from tests import forge, makers
from tests.makers import AT, actor
from tests.pages.hands import Hand
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

MOST_SECONDS_OF_AN_ORDER = 45


@pytest.fixture
def shop(live_server: Any) -> None:
    make_shop()


@pytest.mark.usefixtures("shop")
def test_an_order_of_two_lines_with_a_day_takes_less_than_forty_five_seconds(at_a_tablet, record_property) -> None:
    for code, name in (("CP2", "Cross peen 2 lb"), ("RH25", "Rounding hammer 2 1/2 lb")):
        makers.put_in(makers.make_tool(code=code, name=name).item, 20)
    makers.make_customer("Bramblewick Farrier Supply", kind="dealer", address="4 Weir Row\nSaltby")
    day = local_date(now(), "UTC") + dt.timedelta(days=30)
    hand = at_a_tablet(client_of("desk"), "counter")
    hand.touch(hand.on("Take an order"))
    hand.write("customer", "Bramblewick Farrier Supply")  # nothing is finished for the hand: the worst case
    hand.write("day_given", f"{day:%m%d%Y}")
    hand.write("item_0", "CP2")
    hand.write("qty_0", "12")
    hand.write("item_1", "RH25")
    hand.write("qty_1", "6")
    hand.touch(hand.on("Take the order"))
    hand.page.wait_for_url("**/order/*")
    order = Order.objects.get()
    assert {line.item.code: line.reserved for line in order.lines.all()} == {"CP2": 12, "RH25": 6}
    assert order.promises.get().day == day
    record_property("order", hand.told())
    print(hand.told())
    assert hand.seconds <= MOST_SECONDS_OF_AN_ORDER, hand.told()


@pytest.mark.usefixtures("shop")
def test_a_day_asked_for_at_the_counter_and_given_takes_less_than_forty_five_seconds(
    at_a_tablet, record_property
) -> None:
    made = forge.make_forge(blanks=40)
    makers.make_customer("Bramblewick Farrier Supply", kind="dealer", address="4 Weir Row\nSaltby")
    by = local_date(now(), "UTC") + dt.timedelta(days=30)
    hand = at_a_tablet(client_of("desk"), "counter")
    hand.write("qty", "30")
    hand.write("item", made.tool.item.code)
    hand.write("by_day", f"{by:%m%d%Y}")
    hand.choose("kind", "dealer")
    hand.touch(hand.on("When?"))
    hand.page.wait_for_url("**/counter/asked/*")
    question = Question.objects.get()
    assert question.by_day == by
    hand.write("customer", "Bramblewick Farrier Supply")  # nothing is finished for the hand: the worst case
    hand.write("reference", "PO 4471")
    hand.touch(hand.on("Give "))
    hand.page.wait_for_url("**/order/*")
    order = Order.objects.get()
    assert (order.lines.get().ordered, order.reference) == (30, "PO 4471")
    promise = order.promises.get()
    assert (f"{promise.day}", promise.source) == (question.answer["day"], "calculated")
    record_property("a day given", hand.told())
    print(hand.told())
    assert hand.seconds <= MOST_SECONDS_OF_AN_ORDER, hand.told()


def met_seven_bars(hand: Hand) -> None:
    """Write what the driver's paper and the tag say, and book."""
    hand.write("l0_bars", "7 @ 20 ft")
    hand.write("l0_heat_number", "0051077")
    hand.touch(hand.on("Book the delivery"))
    hand.page.wait_for_url(re.compile(r"/door/[0-9]+$"), timeout=10_000)


def booked(hand: Hand) -> None:
    assert Delivery.objects.get().state == "booked", hand.page.inner_text("main")
    assert {bar.lot.melt.heat_number for bar in Bar.objects.select_related("lot__melt")} == {"0051077"}
    assert Bar.objects.count() == 7


@pytest.mark.usefixtures("shop")
def test_seven_bars_that_were_ordered_take_at_most_five_touches_at_the_door(at_a_tablet, record_property) -> None:
    with transaction.atomic():
        steel = steel_items.bar_item(makers.make_grade("4140"), makers.make_section(), at=AT, by=actor())
        firm = purchasing.add_supplier("Invented Steel", at=AT, by=actor())
        purchasing.open_order(firm, [ToBuy(steel, "7 @ 20 ft")], ordered_on=AT.date(), at=AT, by=actor())
    hand = at_a_tablet(client_of("hand"), "door")
    hand.touch(hand.on("Meet the lorry"))
    met_seven_bars(hand)
    booked(hand)
    record_property("ordered bars", hand.told())
    print(hand.told())
    assert hand.touches <= 5, hand.told()
    assert hand.seconds <= 20, hand.told()


@pytest.mark.usefixtures("shop")
def test_seven_bars_that_nobody_ordered_take_at_most_ten_touches_at_the_door(at_a_tablet, record_property) -> None:
    makers.make_grade("4140")
    hand = at_a_tablet(client_of("hand"), "door")
    hand.touch(hand.on("Receive without an order"))
    hand.write("supplier", "Invented Steel")
    hand.write("l0_grade", "4140")
    hand.choose("l0_shape", "round")
    hand.write("l0_size", "2 in")
    met_seven_bars(hand)
    booked(hand)
    record_property("bars without an order", hand.told())
    print(hand.told())
    assert hand.touches <= 10, hand.told()
    assert hand.seconds <= 40, hand.told()
