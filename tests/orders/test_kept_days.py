"""Days given, out of the book: each is graded by its own day and by when the last piece of it went."""

import datetime as dt

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.models import Item
from orders.models import Order, Promise, PromiseBasis, Release
from orders.queries import kept_days
from orders.queries.kept_days import LeftOut
from orders.services import ordering
from orders.services.ordering import Wanted
from shop.flows import reversing
from tests import makers
from tests.makers import AT
from tests.orders.days_given import give

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
TODAY = AT.date()
ZONE = "America/Chicago"  # nine o'clock in Greenwich is three in the night there, of the same day
BY = makers.actor()


@pytest.fixture
def handle() -> Item:
    item = makers.make_item()
    makers.put_in(item, 90)
    return item


def order_of(item: Item, qty: int = 3, **more: object) -> Order:
    return makers.make_order({item: qty}, **more)  # type: ignore[arg-type]


def cancel(order: Order, at: dt.datetime = AT) -> None:
    with transaction.atomic():
        ordering.cancel_order(order, at=at, by=BY)


def only(zone: str = ZONE) -> kept_days.Given:
    (one,) = kept_days.days(zone=zone).calculated
    return one


def test_the_day_the_last_piece_went_counts_on_the_shops_own_wall(handle: Item) -> None:
    order = order_of(handle)
    give(order, TODAY + 4 * DAY)
    makers.send(order, {1: 1}, at=AT + DAY)
    assert only().sent is None
    makers.send(
        order, {1: 2}, at=AT + 3 * DAY - 5 * dt.timedelta(hours=1)
    )  # ten in the evening of the day before there
    assert only().sent == (TODAY + 2 * DAY).toordinal()
    assert only("UTC").sent == (TODAY + 3 * DAY).toordinal()


def test_a_shipment_that_was_undone_was_never_sent(handle: Item) -> None:
    order = order_of(handle)
    give(order, TODAY + 4 * DAY)
    sent = makers.send(order, at=AT + DAY)
    assert sent.entry_id is not None
    with transaction.atomic():
        reversing.reverse(sent.entry_id, stamp=makers.stamp(at=AT + 2 * DAY, reason="wrong parcel"))
    assert only().sent is None
    makers.send(order, at=AT + 6 * DAY)
    assert only().sent == (TODAY + 6 * DAY).toordinal()


def test_what_was_cancelled_of_an_order_is_not_waited_for(handle: Item) -> None:
    order = order_of(handle)
    give(order, TODAY + 4 * DAY)
    makers.send(order, {1: 2}, at=AT + 2 * DAY)
    cancel(order, AT + 9 * DAY)
    assert only().sent == (TODAY + 2 * DAY).toordinal()


def test_an_order_that_was_cancelled_whole_is_no_promise_and_is_counted_as_such(handle: Item) -> None:
    early, late = order_of(handle), order_of(handle)
    for order in (early, late):
        give(order, TODAY + 4 * DAY)
    cancel(early, AT + DAY)
    cancel(late, AT + 9 * DAY)
    found = kept_days.days(zone=ZONE)
    assert not found.calculated
    assert found.left_out == LeftOut(cancelled=2, cancelled_late=1)


def test_a_replaced_day_stays_late_and_the_new_one_is_graded_by_itself(handle: Item) -> None:
    order = order_of(handle)
    give(order, TODAY + 2 * DAY)
    give(order, TODAY + 7 * DAY, at=AT + DAY)
    makers.send(order, at=AT + 5 * DAY)
    found = kept_days.days(zone=ZONE)
    graded = found.graded(last=TODAY + 20 * DAY)
    assert graded.all is not None
    assert (graded.all.of, graded.all.kept) == (2, 1)
    assert [one.day for one in found.calculated] == [(TODAY + n * DAY).toordinal() for n in (2, 7)]


def test_by_hand_stands_beside_and_taken_over_outside(handle: Item) -> None:
    order = order_of(handle)
    give(order, TODAY + 2 * DAY, source=Promise.Source.TAKEN_OVER)
    give(order, TODAY + 3 * DAY, source=Promise.Source.BY_HAND)
    found = kept_days.days(zone=ZONE)
    assert not found.calculated
    assert (len(found.by_hand), found.left_out) == (1, LeftOut(taken_over=1))
    assert found.by_hand[0].counted.said is None


def test_a_release_is_no_promise_to_a_customer(handle: Item) -> None:
    order = order_of(handle)
    Release.objects.create(name="Saturday", order=order, opens_at=AT)
    give(order, TODAY + 2 * DAY)
    assert kept_days.days(zone=ZONE) == kept_days.Days((), (), LeftOut())


def test_a_day_written_down_after_the_fact_is_no_promise(handle: Item) -> None:
    gone, over = order_of(handle), order_of(handle)
    makers.send(gone, at=AT + DAY)
    give(gone, TODAY + 9 * DAY, at=AT + 4 * DAY)
    give(over, TODAY + DAY, at=AT + 4 * DAY)
    found = kept_days.days(zone=ZONE)
    assert not found.calculated
    assert found.left_out == LeftOut(after_the_fact=2)


def test_a_line_with_a_day_of_its_own_is_graded_by_it_and_no_longer_by_its_orders(handle: Item) -> None:
    order = makers.make_order([Wanted(2, handle), Wanted(1, words="a gate latch")])
    give(order, TODAY + 20 * DAY, line=makers.line_of(order, 2))
    give(order, TODAY + 3 * DAY, at=AT + DAY)
    makers.send(order, {1: 2}, at=AT + 2 * DAY)
    lines, whole = kept_days.days(zone=ZONE).calculated
    assert (lines.made_to_order, lines.sent) == (True, None)
    assert (whole.made_to_order, whole.sent) == (False, (TODAY + 2 * DAY).toordinal())


def test_a_day_given_for_a_line_later_does_not_take_it_out_of_its_orders_day(handle: Item) -> None:
    order = makers.make_order([Wanted(2, handle), Wanted(1, words="a gate latch")])
    give(order, TODAY + 3 * DAY)
    give(order, TODAY + 20 * DAY, line=makers.line_of(order, 2), at=AT + DAY)
    makers.send(order, {1: 2}, at=AT + 2 * DAY)
    whole, _ = kept_days.days(zone=ZONE).calculated
    assert (whole.made_to_order, whole.sent) == (True, None)


def test_what_was_stated_is_read_from_the_curve_or_from_the_day_alone(handle: Item) -> None:
    day = TODAY + 4 * DAY
    one, two, three = (order_of(handle) for _ in range(3))
    give(one, day, chance=0.93, curve=[(day - DAY, 0.8), (day, 0.93)])
    give(two, day, chance=0.93, curve=[(day - DAY, 0.95), (day, 0.93)])  # falls
    give(three, day, chance=0.93, curve=[(day - DAY, 0.8), (day, 0.9)])  # says another chance of the day
    at = day.toordinal()
    assert [found.curve for found in kept_days.days(zone=ZONE).calculated] == [
        ((at - 1, 0.8), (at, 0.93)), ((at, 0.93),), ((at, 0.93),),
    ]  # fmt: skip


def test_it_costs_three_queries_however_many_days_were_given(handle: Item) -> None:
    counts = []
    for more in (1, 7):
        for _ in range(more):
            order = order_of(handle, 1)
            give(order, TODAY + 3 * DAY, plain=TODAY + 2 * DAY)
            makers.send(order, at=AT + DAY)
        with CaptureQueriesContext(connection) as caught:
            found = kept_days.days(zone=ZONE)
        counts.append((len(found.calculated), len(caught)))
    assert counts == [(1, 3), (8, 3)]
    assert PromiseBasis.objects.count() == 8
