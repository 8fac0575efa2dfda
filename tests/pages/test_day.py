"""The Day sheet: what goes out, slips, ends and was found in the night, each with one thing to do."""

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Item, Supplier
from inventory.services import purchasing
from inventory.services.purchasing import ToBuy
from orders.services.ordering import Terms
from shop.flows import night
from shop.shared import clock
from shop.shared.models import NightResult, Shop
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

NOW = dt.datetime(2026, 3, 4, 9, 30, tzinfo=dt.UTC)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in(made.item, 5)
    return made


def day(role: str = "desk") -> str:
    with clock.frozen(NOW):
        client: Client = client_of(role)
        return text(client.get("/")).replace("\u00a0", " ")


def given(tool: Tool, qty: int, days: int, name: str = "Tarn and Thrupp") -> None:
    terms = Terms(day_given=NOW.date() + dt.timedelta(days=days))
    makers.make_order({tool.item: qty}, customer=makers.make_customer(name), terms=terms)


def test_a_quiet_day_says_so(shop) -> None:
    assert "Nothing is due" in day()


def test_what_is_whole_and_given_for_today_is_packed(tool) -> None:
    given(tool, 2, 0)
    page = day()
    assert "Goes out" in page
    assert "to Tarn and Thrupp, order 1: 2 × Cross peen 2 lb. Day given: today. Pack 1" in page


def test_an_order_for_a_later_day_is_only_counted(tool) -> None:
    given(tool, 2, 3)
    assert "1 more order given for a later day" in day()


def test_an_order_that_is_short_near_its_day_slips(tool) -> None:
    given(tool, 7, 4)
    given(tool, 1, 30, "Far off")
    page = day()
    assert "Slips" in page
    assert "2 still owed Order 1, Tarn and Thrupp: 7 × Cross peen 2 lb, given Sun 8 Mar." in page
    assert "Far off" not in page


def test_a_day_that_has_passed_is_said_to_have_passed(tool) -> None:
    given(tool, 7, -1)
    assert "given Tue 3 Mar. The day has passed." in day()


def test_a_phone_hold_that_ends_tomorrow_is_asked_about(tool) -> None:
    makers.make_phone_hold(tool.item, 2, name="Ash", until=NOW + dt.timedelta(hours=20), at=makers.AT)
    assert "for Ash: Cross peen 2 lb, until 5 Mar 05:30; then free for anybody. Ask again" in day()


def test_what_to_order_comes_from_the_night_and_only_for_the_desk(tool) -> None:
    with makers.transaction.atomic():
        makers.catalogue.change_item(
            tool.handle, at=makers.AT, by=makers.actor(), reorder_point=100, reorder_quantity=24
        )
    with clock.frozen(NOW):
        body = night.compute(at=NOW, today=NOW.date())
        NightResult.objects.create(local_date=NOW.date(), computed_at=NOW, body=body)
    page = day()
    assert "as checked on Wed 4 Mar" in page
    assert tool.handle.name in page
    assert "The book balanced" in page
    assert tool.handle.name not in day("hand")


def test_a_hand_sees_no_address_on_the_day_sheet(tool) -> None:
    given(tool, 2, 0)
    page = day("hand")
    assert "Tarn and Thrupp" in page
    assert "Invented Lane" not in page


def test_the_day_sheet_asks_the_database_no_more_for_more_orders(tool, django_assert_max_num_queries) -> None:
    makers.put_in(tool.item, 40)
    for _ in range(30):
        given(tool, 1, 0)
    with clock.frozen(NOW):
        client = client_of("desk")
        with django_assert_max_num_queries(80):
            client.get("/")


def test_what_was_ordered_since_the_night_is_no_longer_to_be_ordered_and_is_to_be_sent(shop) -> None:
    item = makers.make_item(Item.Kind.HANDLE, name="Ash handle", reorder_point=40)
    makers.put_in(item, 3)
    night.run_if_due(lambda: NOW - dt.timedelta(hours=1))
    assert "Ash handle. 3 free." in day()
    supplier = Supplier.objects.create(name="Invented turnery")
    with transaction.atomic():
        purchasing.open_order(
            supplier, [ToBuy(item, "60")], ordered_on=NOW.date(), at=NOW - dt.timedelta(minutes=5), by=makers.actor()
        )
    page = day()
    assert "Ash handle. 3 free." not in page
    assert "Order 1, Invented turnery: written Wed 4 Mar and not sent. Send it" in page


def test_a_hold_ends_on_the_day_sheet_when_it_ends_on_its_own_page(tool) -> None:
    makers.make_phone_hold(tool.item, 1, until=NOW.replace(hour=17, minute=0), at=NOW)
    assert "17:00; then free for anybody" in day()


def test_an_order_that_is_written_and_not_sent_stands_first_on_the_order_page(shop) -> None:
    item = makers.make_item(Item.Kind.HANDLE, name="Ash handle")
    supplier = Supplier.objects.create(name="Invented turnery")
    with transaction.atomic():
        purchasing.open_order(supplier, [ToBuy(item, "60")], ordered_on=NOW.date(), at=NOW, by=makers.actor())
    with clock.frozen(NOW):
        page = text(client_of("desk").get("/door/to-order")).replace("\u00a0", " ")
    said = "Order 1, Invented turnery: written Wed 4 Mar and not sent. The supplier does not know of it; its goods count as on order."
    assert said in page
    assert page.index(said) < page.index("Nothing has to be ordered today")
