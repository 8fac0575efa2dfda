"""The last day to order: sure enough and the last that is, and what is refused."""

import datetime as dt

import pytest
from django.db import connection

from shop.flows.ship_days import last_days
from shop.shared.errors import Invalid
from tests import makers
from tests.flows.test_queue import only_reads
from tests.flows.test_ship_days import slow_forge
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]

TODAY = AT.date()


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()
    make_person("owner", login="ada")
    make_person("hand", login="bo")


def test_the_last_day_to_order_is_the_last_that_is_sure_enough() -> None:
    item = slow_forge().tool.item
    soon, later = TODAY + dt.timedelta(days=1), TODAY + dt.timedelta(days=40)
    too_late, found = last_days.find(item, 6, [soon, later], at=AT)
    assert (too_late.order_by, found.by) == (None, later)
    assert too_late.chance < 0.9 <= found.chance
    assert found.order_by is not None
    assert TODAY < found.order_by < later
    more = last_days.find(item, 20, [later], at=AT)[0]
    assert more.order_by is not None
    assert more.order_by < found.order_by, "more pieces are ordered earlier"
    dealers = last_days.find(item, 6, [later], kind="dealer", at=AT)[0]
    assert dealers.order_by is not None
    assert found.leaves_out == "orders that come until then"


def test_what_is_on_the_shelf_can_be_ordered_on_the_day_itself() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    day = TODAY + dt.timedelta(days=7)  # a Monday: a parcel goes
    found = last_days.find(item, 5, [day], at=AT)[0]
    assert (found.order_by, found.chance) == (day, 1.0)


def test_odd_last_days_are_refused_with_their_field() -> None:
    item, gone = makers.make_item(), makers.make_item(active=False)
    for args, field in (
        ((item, 1, [TODAY - dt.timedelta(days=1)]), "by.0"),
        ((item, 1, [TODAY, TODAY + dt.timedelta(days=400)]), "by.1"),
        ((item, 1, []), "by.0"),
        ((item, 1, [TODAY] * 4), "by.0"),
        ((item, 0, [TODAY]), "qty"),
        ((item, 1001, [TODAY]), "qty"),
        ((gone, 1, [TODAY]), "item"),
    ):
        with pytest.raises(Invalid) as refused:
            last_days.find(*args, at=AT)
        assert list(refused.value.fields) == [field]


def test_an_item_nobody_makes_or_buys_gets_a_sentence_or_never() -> None:
    found = last_days.find(makers.make_item(), 3, [TODAY + dt.timedelta(days=30)], at=AT)[0]
    assert (found.order_by, found.chance) == (None, 0.0)


def test_asking_writes_nothing_and_locks_nothing() -> None:
    item = slow_forge().tool.item
    with connection.execute_wrapper(only_reads):
        last_days.find(item, 3, [TODAY + dt.timedelta(days=30)], at=AT)
