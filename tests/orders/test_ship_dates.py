"""The days that stand, for a calendar: one for each order, and for each line with a day of its own."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Item
from orders.models import Release
from orders.queries import ship_dates
from orders.services import ordering
from orders.services.ordering import Wanted
from tests import makers
from tests.makers import AT
from tests.orders.days_given import give, slip

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
TODAY = AT.date()


@pytest.fixture
def handle() -> Item:
    item = makers.make_item()
    makers.put_in(item, 5)
    return item


def test_a_chain_is_known_by_its_first_day_and_stands_for_its_last(handle: Item) -> None:
    order = makers.make_order({handle: 2})
    first = give(order, TODAY)
    give(order, TODAY + 3 * DAY, at=AT + DAY)
    last = give(order, TODAY + 2 * DAY, at=AT + 2 * DAY)
    slip(last, AT + 2 * DAY)
    (found,) = ship_dates.standing()
    assert (found.order, found.day, found.given_at) == (order, TODAY + 2 * DAY, AT + 2 * DAY)
    assert (found.first, found.times, found.slips) == (first, 2, True)


def test_a_line_with_a_day_of_its_own_is_not_in_its_orders(handle: Item) -> None:
    order = makers.make_order([Wanted(2, handle), Wanted(1, words="a gate latch"), Wanted(1, words="a hinge")])
    give(order, TODAY + 3 * DAY)
    give(order, TODAY + 2 * DAY, line=makers.line_of(order, 2))
    found = ship_dates.standing()
    assert [[line.number for line in one.lines] for one in found] == [[2], [1, 3]]
    makers.send(order, {1: 2})
    assert [[line.number for line in one.lines] for one in ship_dates.standing()] == [[2], [3]]


def test_what_is_sent_cancelled_or_the_shops_own_stands_no_more(handle: Item) -> None:
    sent, gone, own = (makers.make_order({handle: 1}) for _ in range(3))
    for one in (sent, gone, own):
        give(one, TODAY)
    makers.send(sent)
    with transaction.atomic():
        ordering.cancel_order(gone, at=AT, by=makers.actor())
    Release.objects.create(name="Saturday", order=own, opens_at=AT)
    assert ship_dates.standing() == []


def test_it_costs_two_queries(handle: Item, django_assert_num_queries) -> None:
    for _ in range(4):
        order = makers.make_order({handle: 1})
        give(order, TODAY)
        give(order, TODAY + DAY)
    with django_assert_num_queries(2):
        found = ship_dates.standing()
        assert [one.lines[0].item.code for one in found if one.lines[0].item]
    assert len(found) == 4
