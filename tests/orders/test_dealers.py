"""Minimums, windows, customers who take no parts, and what is still owed."""

import datetime as dt

import pytest
from django.db import transaction

from orders.models import Customer, Order
from orders.queries import book, owed
from orders.services import customers, ordering, shipping, windows
from orders.services.minimums import BelowMinimum
from orders.services.ordering import Terms, Wanted
from orders.services.shipping import OnlyWhole, Parcel
from orders.services.windows import BeforeWindow
from shop.shared.errors import Invalid
from shop.shared.models import AuditLine
from tests import makers
from tests.makers import AT
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
TODAY = dt.date(2026, 3, 2)
BY = makers.actor()


def days(number: int) -> dt.date:
    return TODAY + dt.timedelta(days=number)


def dealer(**facts: object) -> Customer:
    made = makers.make_customer("Invented Dealer", kind="dealer")
    with transaction.atomic():
        return customers.change(made, at=AT, by=BY, **facts)


def send(order: Order, sending: dict[int, int], **parcel: bool) -> object:
    with transaction.atomic():
        return shipping.send(order, sending, Parcel(**parcel), stamp=makers.stamp())  # type: ignore[arg-type]


def test_an_order_under_the_minimum_is_refused_and_says_how_much_is_missing() -> None:
    make_shop()
    item = makers.make_item(retail_minor=4_500)
    with pytest.raises(BelowMinimum) as refused:
        makers.make_order({item: 2}, customer=dealer(minimum_minor=25_000))
    assert "add 160.00 USD, or say that it is taken all the same" in refused.value.sentence
    assert refused.value.facts == {"minimum_minor": 25_000, "comes_to_minor": 9_000}
    assert list(refused.value.fields) == ["below_minimum"]
    assert not Order.objects.exists()


def test_an_order_that_comes_to_the_minimum_is_taken_and_one_below_all_the_same_is_written_down() -> None:
    item = makers.make_item(retail_minor=5_000)
    buyer = dealer(minimum_minor=25_000)
    makers.make_order({item: 5}, customer=buyer)
    assert not AuditLine.objects.filter(action="taken under the minimum").exists()
    small = makers.make_order({item: 4}, customer=buyer, terms=Terms(below_minimum=True))
    line = AuditLine.objects.get(action="taken under the minimum")
    assert (line.subject, line.after) == (
        f"order {small.number}",
        {"minimum_minor": 25_000, "comes_to_minor": 20_000},
    )


def test_carriage_does_not_make_up_a_minimum() -> None:
    make_shop()
    item = makers.make_item(retail_minor=5_000)
    with pytest.raises(BelowMinimum):
        makers.make_order({item: 1}, customer=dealer(minimum_minor=6_000), terms=Terms(carriage_minor=2_000))


@pytest.mark.parametrize("minimum", [-1, 10**11])
def test_an_absurd_minimum_is_refused(minimum: int) -> None:
    with pytest.raises(Invalid, match="absurdly"):
        dealer(minimum_minor=minimum)


def test_a_customer_who_takes_no_parts_gets_the_order_whole_and_the_refusal_names_what_is_missing() -> None:
    here, short = makers.make_item(), makers.make_item()
    makers.put_in(here, 5)
    makers.put_in(short, 1)
    order = makers.make_order({here: 3, short: 2}, customer=dealer(takes_parts=False))
    with pytest.raises(OnlyWhole, match="1 of line 2 would be missing") as refused:
        send(order, {1: 3, 2: 1})
    assert refused.value.facts == {"missing": {2: 1}}
    with pytest.raises(OnlyWhole, match="1 of line 1, 2 of line 2"):
        send(order, {1: 2})
    makers.put_in(short, 1)
    send(order, {1: 3, 2: 2})
    order.refresh_from_db()
    assert order.closed_at is not None


def test_a_customer_who_takes_parts_gets_them() -> None:
    item = makers.make_item()
    makers.put_in(item, 1)
    order = makers.make_order({item: 2}, customer=dealer(takes_parts=True))
    send(order, {1: 1})
    assert makers.line_of(order).shipped == 1


def test_what_is_made_to_order_counts_among_what_is_missing() -> None:
    item = makers.make_item()
    makers.put_in(item, 1)
    lines = [Wanted(1, item), Wanted(1, words="a hot cut as drawn")]
    order = makers.make_order(lines, customer=dealer(takes_parts=False))
    with pytest.raises(OnlyWhole, match="1 of line 2"):
        send(order, {1: 1})
    send(order, {1: 1, 2: 1})


def test_before_its_window_an_order_is_not_ready_and_goes_only_when_somebody_says_so() -> None:
    item = makers.make_item()
    makers.put_in(item, 2)
    order = makers.make_order({item: 2}, terms=Terms(not_before=days(3), not_after=days(9)))
    assert book.ready(today=days(2)) == []
    assert [row.order for row in book.before_window(today=days(2))] == [order]
    assert [row.order for row in book.ready(today=days(3))] == [order]
    assert book.before_window(today=days(3)) == []
    with pytest.raises(BeforeWindow, match="not before Thu 5 Mar 2026") as refused:
        send(order, {1: 2})
    assert list(refused.value.fields) == ["before_window"]
    send(order, {1: 2}, before_window=True)
    assert AuditLine.objects.get(action="sent").after["before_window"] is True


def test_when_the_parcel_left_decides_whether_the_window_had_begun() -> None:
    item = makers.make_item()
    makers.put_in(item, 2)
    order = makers.make_order({item: 2}, terms=Terms(not_before=days(3)))
    left = makers.stamp(at=AT + dt.timedelta(days=4), happened_at=AT + dt.timedelta(days=1))
    with transaction.atomic(), pytest.raises(BeforeWindow):
        shipping.send(order, {1: 2}, Parcel(), stamp=left)
    with transaction.atomic():
        shipping.send(order, {1: 2}, Parcel(), stamp=makers.stamp(at=AT + dt.timedelta(days=3)))
    assert "before_window" not in AuditLine.objects.get(action="sent").after


@pytest.mark.parametrize(
    ("first", "last", "day", "inside"),
    [
        (3, 9, 3, True), (3, 9, 9, True), (3, 9, 2, False), (3, 9, 10, False),
        (None, 9, 0, True), (3, None, 99, True), (None, None, 5, True),
    ],
)  # fmt: skip
def test_a_day_given_lies_inside_the_window(first: int | None, last: int | None, day: int, *, inside: bool) -> None:
    item = makers.make_item()
    terms = Terms(not_before=None if first is None else days(first), not_after=None if last is None else days(last))
    order = makers.make_order({item: 1}, terms=terms)
    assert windows.holds(order, days(day)) is inside
    if inside:
        windows.check_day(order, days(day))
    else:
        with pytest.raises(Invalid, match="lies outside"):
            windows.check_day(order, days(day))


def test_an_order_is_not_taken_with_a_day_outside_its_window() -> None:
    item = makers.make_item()
    with pytest.raises(Invalid) as refused:
        makers.make_order({item: 1}, terms=Terms(not_before=days(3), day_given=days(2)))
    assert list(refused.value.fields) == ["day_given"]
    assert not Order.objects.exists()


def test_a_window_cannot_end_before_it_begins() -> None:
    item = makers.make_item()
    with pytest.raises(Invalid, match="lies before its first day"):
        makers.make_order({item: 1}, terms=Terms(not_before=days(3), not_after=days(2)))
    order = makers.make_order({item: 1}, terms=Terms(not_before=days(3)))
    with transaction.atomic(), pytest.raises(Invalid, match="lies before its first day"):
        ordering.change(order, version=order.version, at=AT, by=BY, not_after=days(2))
    with transaction.atomic():
        changed = ordering.change(order, version=order.version, at=AT, by=BY, not_before=None, not_after=days(2))
    assert (changed.not_before, changed.not_after) == (None, days(2))
    assert windows.said(changed) == "not after Wed 4 Mar 2026"


def test_still_owed_lists_each_line_with_its_day_and_what_is_set_aside() -> None:
    item, other = makers.make_item(code="HA-1"), makers.make_item(code="HA-2")
    makers.put_in(item, 3)
    buyer = dealer()
    order = makers.make_order(
        {item: 5, other: 2}, customer=buyer, terms=Terms(day_given=days(4), not_after=days(5), reference="PO 7")
    )
    makers.make_order({item: 1}, customer=makers.make_customer("A one-off"))
    send(order, {1: 2})
    rows = owed.rows(owed.lines(customer=buyer.pk))
    assert [(one.line.number, one.left, one.line.reserved, one.day) for one in rows] == [
        (1, 3, 1, days(4)),
        (2, 2, 0, days(4)),
    ]
    assert len(owed.rows(owed.lines())) == 3
    assert len(owed.rows(owed.lines(kind="dealer"))) == 2
    csv = owed.table(rows, zone="UTC").splitlines()
    assert csv[0].startswith("customer,order,reference,taken,line,item")
    assert csv[1] == (
        f'"Invented Dealer",{order.number},"PO 7",2026-03-02,1,"HA-1","","piece",5,2,3,1,2,2026-03-06,,2026-03-07'
    )


def test_a_line_that_is_cancelled_or_sent_is_owed_no_more() -> None:
    item = makers.make_item()
    makers.put_in(item, 2)
    order = makers.make_order({item: 2})
    assert len(owed.rows(owed.lines())) == 1
    send(order, {1: 2})
    assert owed.rows(owed.lines()) == []
