"""Putting by for minutes and on the phone: never lapsed a moment early, gone for everybody at the second."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Allocation, Item
from inventory.services.allocating import NotEnough
from orders.models import Hold, Order
from orders.services import holding, reserving
from orders.services.holding import HoldEnded
from orders.services.ordering import Terms
from shop.flows import ordering as counter
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT
from tests.recomputed import differences

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
MOMENT = dt.timedelta(microseconds=1)
BY = makers.actor()


@pytest.fixture
def handle() -> Item:
    item = makers.make_item()
    makers.put_in(item, 5)
    return item


def test_a_hold_takes_pieces_off_the_shelf_for_everybody_else(handle: Item) -> None:
    hold = makers.make_hold(handle, 3, minutes=2)
    assert (hold.until, hold.ended_at, makers.stock(handle).allocated) == (AT + 2 * MINUTE, None, 3)
    with pytest.raises(NotEnough):
        makers.make_hold(handle, 3)
    assert Hold.objects.count() == Allocation.objects.count() == 1


def test_a_hold_stands_until_the_last_moment_before_it_lapses(handle: Item) -> None:
    hold = makers.make_hold(handle, 4)
    with pytest.raises(NotEnough) as refused:
        makers.make_hold(handle, 2, at=hold.until - MOMENT)
    assert refused.value.facts == {"available": 1, "requested": 2}
    hold.refresh_from_db()
    assert hold.ended_at is None


def test_at_the_second_it_lapses_another_gets_the_pieces_without_any_sweep(handle: Item) -> None:
    hold = makers.make_hold(handle, 4)
    makers.make_hold(handle, 5, at=hold.until)
    hold.refresh_from_db()
    assert hold.ended_at == hold.until
    assert makers.stock(handle).allocated == 5
    assert differences() == []


def test_a_lapsed_hold_first_serves_those_who_wait(handle: Item) -> None:
    hold = makers.make_hold(handle, 4)
    order = makers.make_order({handle: 4})
    assert makers.line_of(order).waiting == 3
    with pytest.raises(NotEnough) as refused:
        makers.make_hold(handle, 2, at=hold.until)
    assert refused.value.facts == {"available": 1, "requested": 2}


def test_the_sweep_ends_what_has_lapsed_and_nothing_else(handle: Item) -> None:
    short, long = makers.make_hold(handle, 1, minutes=1), makers.make_hold(handle, 2, minutes=2)
    order = makers.make_order({handle: 3})
    with transaction.atomic():
        assert reserving.sweep(at=AT + MINUTE - MOMENT) == 0
        assert reserving.sweep(at=AT + MINUTE) == 2, "one hold ended, one line served"
        assert reserving.sweep(at=AT + MINUTE) == 0
    short.refresh_from_db()
    long.refresh_from_db()
    assert (short.ended_at, long.ended_at) == (AT + MINUTE, None)
    assert (makers.line_of(order).reserved, makers.stock(handle).allocated) == (3, 5)
    assert differences(tidied_at=AT + MINUTE) == []


def test_a_sweep_tidies_at_most_fifty_holds_at_once_and_says_so() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 60)
    for _ in range(52):
        makers.make_hold(handle, 1, minutes=1)
    with transaction.atomic():
        rounds = [reserving.sweep(at=AT + MINUTE) for _ in range(3)]
    assert sum(rounds) == 52
    assert rounds[-1] == 0
    assert makers.stock(handle).allocated == 0


def test_a_hold_on_a_tool_keeps_its_parts_together() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 2, 2, 4)
    hold = makers.make_hold(tool.item, 2)
    assert [makers.stock(part).allocated for part in tool.parts] == [2, 2, 4]
    with transaction.atomic():
        holding.let_go(hold, at=AT, by=BY)
    assert [makers.stock(part).allocated for part in tool.parts] == [0, 0, 0]
    assert differences() == []


def test_a_hold_let_go_serves_those_who_wait_and_cannot_be_let_go_twice(handle: Item) -> None:
    hold = makers.make_hold(handle, 5)
    order = makers.make_order({handle: 2})
    with transaction.atomic():
        holding.let_go(hold, at=AT, by=BY)
    assert makers.line_of(order).reserved == 2
    with pytest.raises(HoldEnded, match="lapsed or was let go"), transaction.atomic():
        holding.let_go(hold, at=AT, by=BY)


def test_a_lapsed_hold_can_neither_be_let_go_nor_become_an_order(handle: Item) -> None:
    hold = makers.make_hold(handle, 2)
    buyer = makers.make_customer()
    with pytest.raises(HoldEnded), transaction.atomic():
        holding.let_go(hold, at=hold.until, by=BY)
    with pytest.raises(HoldEnded), transaction.atomic():
        counter.order_from_hold(hold, buyer, Terms(), at=hold.until, by=BY)
    assert not Order.objects.exists()


def test_a_hold_becomes_an_order_in_its_last_moment_and_the_counters_stay(handle: Item) -> None:
    hold = makers.make_hold(handle, 4)
    before = makers.stock(handle).allocated
    with transaction.atomic():
        order = counter.order_from_hold(hold, makers.make_customer(), Terms(), at=hold.until - MOMENT, by=BY)
    line = makers.line_of(order)
    hold.refresh_from_db()
    assert (line.ordered, line.reserved, line.waiting, line.price_minor) == (4, 4, 0, 4_500)
    assert (hold.became, hold.allocation, makers.stock(handle).allocated) == (line, None, before)
    with transaction.atomic():
        reserving.sweep(at=hold.until + MINUTE)
    assert makers.line_of(order).reserved == 4, "what belongs to an order does not lapse"
    assert differences() == []
    with pytest.raises(HoldEnded, match="became an order"), transaction.atomic():
        holding.let_go(hold, at=AT, by=BY)


def test_a_phone_hold_stands_for_days_under_a_name(handle: Item) -> None:
    hold = makers.make_phone_hold(handle, 2, name="Invented caller", until=AT + dt.timedelta(days=3))
    assert (hold.kind, hold.name) == ("phone", "Invented caller")
    with transaction.atomic():
        assert reserving.sweep(at=AT + dt.timedelta(days=2)) == 0
        assert reserving.sweep(at=AT + dt.timedelta(days=3)) == 1


@pytest.mark.parametrize("minutes", [0, -1, 24 * 60 + 1])
def test_a_hold_lasts_from_one_minute_to_one_day(handle: Item, minutes: int) -> None:
    with pytest.raises(Invalid, match="1 to 1440 minutes") as refused:
        makers.make_hold(handle, 1, minutes=minutes)
    assert set(refused.value.fields) == {"minutes"}


@pytest.mark.parametrize("qty", [0, -3, 100_001])
def test_a_hold_of_none_or_of_too_many_is_refused(handle: Item, qty: int) -> None:
    with pytest.raises(Invalid, match="Hold 1 to 100000") as refused:
        makers.make_hold(handle, qty)
    assert set(refused.value.fields) == {"qty"}
    assert makers.stock(handle).allocated == 0


@pytest.mark.parametrize("days", [0, -1, 61])
def test_a_phone_hold_ends_on_a_day_within_two_months(handle: Item, days: int) -> None:
    with pytest.raises(Invalid) as refused:
        makers.make_phone_hold(handle, 1, until=AT + dt.timedelta(days=days))
    assert set(refused.value.fields) == {"until"}


def test_a_phone_hold_without_a_name_is_refused(handle: Item) -> None:
    with pytest.raises(Invalid, match="caller's name"):
        makers.make_phone_hold(handle, 1, name="  ")


def test_what_is_not_for_sale_is_not_put_by() -> None:
    for item in (makers.make_item(Item.Kind.BAR), makers.make_item(active=False)):
        makers.put_in(item, 5)
        with pytest.raises(Invalid, match="not for sale"):
            makers.make_hold(item, 1)


def test_a_refused_hold_leaves_nothing_behind(handle: Item) -> None:
    version = makers.stock(handle).version
    with pytest.raises(NotEnough):
        makers.make_hold(handle, 6)
    assert (Hold.objects.count(), Allocation.objects.count(), makers.stock(handle).version) == (0, 0, version)
