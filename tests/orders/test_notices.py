"""What customers are told of days that will not be kept, what they answer, and when their money goes back."""

import datetime as dt

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.models import Item
from orders.models import Notice, Order, Promise, Release
from orders.queries import notices as asked
from orders.services import notices, ordering, shipping
from orders.services.notices import Answered, NotCancelled, Refunded, Told
from orders.services.ordering import Closed
from shop.shared.errors import Invalid
from shop.shared.models import AuditLine
from tests import makers
from tests.makers import AT
from tests.orders.days_given import give, slip

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
TODAY = AT.date()
BY = makers.actor()
TEXT = "It will not be sent by then."


@pytest.fixture
def handle() -> Item:
    return makers.make_item()


@pytest.fixture
def order(handle: Item) -> Order:
    return makers.make_order({handle: 3})


def tell(order: Order, *, at: dt.datetime = AT, promise: Promise | None = None, **facts: object) -> Notice:
    told = Told(**{"how": "by e-mail", "text": TEXT, **facts})  # type: ignore[arg-type]
    with transaction.atomic():
        return notices.write(order, told, promise=promise, today=at.date(), at=at, by=BY)


def answer(notice: Notice, said: str, at: dt.datetime = AT + DAY, **more: object) -> Notice:
    with transaction.atomic():
        return notices.answer(notice, said, at=at, by=BY, **more)  # type: ignore[arg-type]


def refund(notice: Notice, at: dt.datetime = AT + 2 * DAY, **more: object) -> Notice:
    with transaction.atomic():
        return notices.refund(notice, at=at, by=BY, **more)  # type: ignore[arg-type]


def numbers(today: dt.date) -> list[int]:
    return [row.order.number for row in asked.to_tell(today=today)]


def test_a_notice_its_answer_and_the_refund_are_kept_and_audited(order: Order) -> None:
    promise = give(order, TODAY + DAY)
    made = tell(order, promise=promise, how="  by \n telephone", new_day=TODAY + 9 * DAY)
    assert (made.how, made.text, made.new_day, made.promise) == ("by telephone", TEXT, TODAY + 9 * DAY, promise)
    assert (made.answer, made.answered_at, made.told_at) == ("", None, AT)
    assert answer(made, "cancelled").answered_at == AT + DAY
    assert refund(made).refunded_at == AT + 2 * DAY
    lines = AuditLine.objects.filter(subject=f"order {order.number}", after__notice=made.pk).order_by("pk")
    assert [line.action for line in lines] == ["customer told", "customer cancelled", "money gone back"]
    assert lines[0].reason == f"By telephone, new day {TODAY + 9 * DAY:%a %-d %b %Y}."


def test_a_day_may_be_not_known_and_nothing_is_answered_by_silence(order: Order) -> None:
    made = tell(order)
    assert (made.new_day, made.answer) == (None, "")
    assert [one.pk for one in asked.awaited()] == [made.pk]
    assert AuditLine.objects.latest("pk").reason == "By e-mail, new day not known."


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"how": "  "}, "how"),
        ({"how": "x" * 41}, "how"),
        ({"text": "\n "}, "text"),
        ({"text": "x" * 4001}, "text"),
        ({"new_day": TODAY - DAY}, "new_day"),
        ({"told_at": AT + DAY}, "told_at"),
        ({"told_at": AT - DAY}, "told_at"),
    ],
)
def test_a_notice_that_says_nothing_is_refused_by_its_field(order: Order, facts: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        tell(order, **facts)
    assert list(refused.value.fields) == [field]
    assert not Notice.objects.exists()


def test_a_notice_is_about_a_day_of_its_own_order_while_something_is_owed(handle: Item, order: Order) -> None:
    other = give(makers.make_order({handle: 1}), TODAY)
    with pytest.raises(Invalid, match="choose one of its own"):
        tell(order, promise=other)
    with transaction.atomic():
        closed = ordering.cancel_order(order, at=AT, by=BY)
    with pytest.raises(Closed, match="nothing of it is owed"):
        tell(closed)


def test_a_notice_is_answered_once(order: Order) -> None:
    made = tell(order)
    answer(made, "agreed")
    with pytest.raises(Answered, match="answered already: agreed"):
        answer(made, "cancelled")
    made.refresh_from_db()
    assert made.answer == "agreed"


@pytest.mark.parametrize(("said", "when", "field"), [
    ("", AT, "answer"), ("perhaps", AT, "answer"), ("agreed", AT + 2 * DAY, "answered_at"), ("agreed", AT - DAY, "answered_at"),
])  # fmt: skip
def test_an_answer_is_one_that_was_given(order: Order, said: str, when: dt.datetime, field: str) -> None:
    made = tell(order)
    with pytest.raises(Invalid) as refused:
        answer(made, said, answered_at=when)
    assert list(refused.value.fields) == [field]


def test_money_goes_back_without_cancelling_only_where_that_is_said_and_once(order: Order) -> None:
    made = tell(order)
    with pytest.raises(NotCancelled) as refused:
        refund(made)
    assert list(refused.value.fields) == ["not_cancelled"]
    refund(made, not_cancelled=True)
    assert AuditLine.objects.latest("pk").reason == "They had not cancelled."
    with pytest.raises(Refunded, match="went back on 2026-03-04"):
        refund(made, not_cancelled=True)


def test_who_slips_is_told_and_told_again_when_the_new_day_is_over(order: Order) -> None:
    promise = give(order, TODAY + 10 * DAY)
    assert numbers(TODAY) == []
    slip(promise, AT + DAY, sure=TODAY + 20 * DAY, holds="handles")
    (row,) = asked.to_tell(today=TODAY + 2 * DAY)
    assert (row.order, row.promise, row.since, row.over) == (order, promise, AT + DAY, False)
    assert (row.sure_day, row.holds, [line.number for line in row.lines]) == (TODAY + 20 * DAY, "handles", [1])
    tell(order, at=AT + 2 * DAY, new_day=TODAY + 20 * DAY)
    assert numbers(TODAY + 20 * DAY) == []
    assert numbers(TODAY + 21 * DAY) == [order.number]
    assert asked.late(order, today=TODAY + 2 * DAY) is not None, "told or not"


def test_a_notice_from_before_it_slipped_again_settles_nothing(order: Order) -> None:
    promise = give(order, TODAY + 10 * DAY)
    tell(order, at=AT)
    slip(promise, AT + DAY)
    assert numbers(TODAY + 2 * DAY) == [order.number]


def test_a_day_that_is_over_unsent_is_told_also_where_nothing_was_rated(order: Order) -> None:
    give(order, TODAY + DAY, source=Promise.Source.BY_HAND)
    assert numbers(TODAY + DAY) == []
    assert numbers(TODAY + 2 * DAY) == [order.number]
    give(order, TODAY + 9 * DAY, at=AT + DAY)
    assert numbers(TODAY + 2 * DAY) == [], "the day that was replaced counts no more"


def test_nobody_is_told_of_what_is_sent_cancelled_or_the_shops_own(handle: Item) -> None:
    makers.put_in(handle, 3)
    sent, gone, own, line = (makers.make_order({handle: 1}) for _ in range(4))
    for one in (sent, gone, own):
        give(one, TODAY)
    give(line, TODAY, line=makers.line_of(line))
    makers.send(sent)
    with transaction.atomic():
        ordering.cancel_order(gone, at=AT, by=BY)
    Release.objects.create(name="Saturday", order=own, opens_at=AT)
    assert numbers(TODAY + DAY) == [line.number]
    makers.send(makers.Order.objects.get(pk=line.pk))
    assert numbers(TODAY + DAY) == []
    assert shipping.Shipment.objects.count() == 2


def test_an_answer_is_awaited_of_the_last_notice_of_an_open_order(order: Order) -> None:
    first = tell(order)
    second = tell(order, at=AT + DAY)
    assert asked.awaited() == [second]
    answer(first, "cancelled", AT + 2 * DAY)
    assert asked.awaited() == [second]
    answer(second, "agreed", AT + 2 * DAY)
    assert asked.awaited() == []
    assert asked.of_order(order) == [first, second]
    assert asked.find(order.number, first.pk) == first
    assert asked.find(order.number + 1, first.pk) is None


def test_money_is_to_go_back_where_some_came_and_they_cancelled(order: Order) -> None:
    made = answer(tell(order), "cancelled")
    assert asked.to_refund() == []
    with transaction.atomic():
        ordering.receive_money(order, 4500, how="card", at=AT, by=BY)
    assert asked.to_refund() == [made]
    refund(made)
    assert asked.to_refund() == []


def test_the_lists_cost_the_same_for_more_orders(handle: Item) -> None:
    counts = []
    for more in (1, 6):
        for _ in range(more):
            order = makers.make_order({handle: 1})
            slip(give(order, TODAY), AT)
            tell(makers.make_order({handle: 1}))
        with CaptureQueriesContext(connection) as caught:
            rows = asked.to_tell(today=TODAY)
            assert [row.order.customer.name for row in rows]
            assert [one.order.customer.name for one in asked.awaited()]
        counts.append((len(rows), len(caught)))
    assert counts == [(1, 4), (7, 4)]
