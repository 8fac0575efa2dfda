"""Sharing pieces that are too few: one booking moves them between lines, and the book agrees with itself afterwards."""

import datetime as dt
import random
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections, transaction

from inventory.models import Item
from orders.models import Order, OrderLine
from orders.queries import short
from orders.services.ordering import Terms, Wanted
from shop.flows import sharing
from shop.flows.checking import check_book
from shop.shared import transactions
from shop.shared.errors import Invalid, Refusal, Stale
from shop.shared.models import AuditLine
from tests import makers
from tests.conftest import ON_POSTGRES
from tests.makers import AT
from tests.recomputed import differences

pytestmark = pytest.mark.django_db
BY = makers.actor()
TODAY = dt.date(2026, 3, 2)
CLIENTS = 16 if ON_POSTGRES else 8


def line(item: Item, qty: int, day: int | None = None, *, whole: bool = False) -> OrderLine:
    """Take an order of one line, with its day given so many days ahead."""
    terms = Terms(day_given=None if day is None else TODAY + dt.timedelta(days=day))
    return makers.line_of(makers.make_order([Wanted(qty, item, whole=whole)], terms=terms))


def look(item: Item, rule: str, typed: dict[int, int] | None = None) -> str:
    found = short.of(item)
    return sharing.seen(found, sharing.shares(found, rule, typed))


def share(item: Item, rule: str, typed: dict[int, int] | None = None, *, seen: str = "") -> sharing.Shared:
    with transaction.atomic():
        return sharing.share(item, rule, typed, looked_at=seen or look(item, rule, typed), at=AT, by=BY)


def reserved(*lines: OrderLine) -> list[int]:
    return [OrderLine.objects.get(pk=one.pk).reserved for one in lines]


def test_by_date_given_the_earlier_day_takes_from_the_earlier_order_and_the_loser_is_named() -> None:
    item = makers.make_item()
    makers.put_in(item, 6)
    first, second, third = line(item, 5, 9), line(item, 4, 2), line(item, 2)
    assert reserved(first, second, third) == [5, 1, 0]
    assert [one.item for one in short.several()] == [item]
    done = share(item, sharing.BY_DATE)
    assert reserved(first, second, third) == [2, 4, 0]
    assert [(one.pk, qty) for one, qty in done.lost] == [(first.pk, 3)]
    assert [(one.pk, qty) for one, qty in done.got] == [(second.pk, 3)]
    told = AuditLine.objects.filter(action="shared").order_by("pk").values_list("subject", "after")
    assert [(subject, after["moved"]) for subject, after in told] == [
        (f"order {first.order.number}", -3),
        (f"order {second.order.number}", 3),
    ]
    assert differences() == []


def test_what_comes_afterwards_goes_to_the_loser_at_its_old_place() -> None:
    item = makers.make_item()
    makers.put_in(item, 6)
    first, second, third = line(item, 5, 9), line(item, 4, 2), line(item, 2)
    share(item, sharing.BY_DATE)
    makers.put_in(item, 3)
    assert reserved(first, second, third) == [5, 4, 0]


def test_proportional_and_by_hand() -> None:
    item = makers.make_item()
    makers.put_in(item, 10)
    lines = [line(item, 5), line(item, 6), line(item, 4)]
    share(item, sharing.PROPORTIONAL)
    assert reserved(*lines) == [3, 4, 3]
    share(item, sharing.BY_HAND, {lines[0].pk: 5, lines[1].pk: 1, lines[2].pk: 4})
    assert reserved(*lines) == [5, 1, 4]
    assert differences() == []


def test_by_hand_gives_out_what_is_there_and_no_line_more_than_it_wants() -> None:
    item = makers.make_item()
    makers.put_in(item, 4)
    lines = [line(item, 3), line(item, 3)]
    with pytest.raises(Invalid, match="2 are given out and 4 are there"):
        share(item, sharing.BY_HAND, {lines[0].pk: 2})
    with pytest.raises(Invalid, match="wants 3; write 0 to 3") as refused:
        share(item, sharing.BY_HAND, {lines[0].pk: 4, lines[1].pk: -1})
    assert set(refused.value.fields) == {f"line_{one.pk}" for one in lines}
    assert reserved(*lines) == [3, 1]


def test_sets_of_parts_are_shared_like_finished_tools() -> None:
    tool = makers.make_tool()
    makers.put_in(tool.item, 2)
    makers.put_in_parts(tool, 4, 4, 8)
    first, second = line(tool.item, 6, 9), line(tool.item, 4, 1)
    assert reserved(first, second) == [6, 0]
    share(tool.item, sharing.BY_DATE)
    assert reserved(first, second) == [2, 4]
    assert differences() == []


def test_a_line_that_goes_whole_keeps_its_pieces_whole() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    whole, other = line(item, 4, 2, whole=True), line(item, 4, 1)
    share(item, sharing.BY_DATE)
    assert reserved(whole, other) == [1, 4], "the odd piece gathers at the line that goes whole"
    share(item, sharing.BY_HAND, {whole.pk: 4, other.pk: 1})
    assert reserved(whole, other) == [4, 1]


def test_what_has_moved_since_the_look_is_refused_and_so_is_a_share_that_changes_nothing() -> None:
    item = makers.make_item()
    makers.put_in(item, 3)
    first, second = line(item, 3, 1), line(item, 2, 2)
    seen = look(item, sharing.PROPORTIONAL)
    with pytest.raises(Invalid, match="has that share already"):
        share(item, sharing.BY_DATE)
    makers.put_in(item, 1)
    with pytest.raises(Stale, match="it has moved since"):
        share(item, sharing.PROPORTIONAL, seen=seen)
    with pytest.raises(Stale, match="not looked at"):
        share(item, sharing.PROPORTIONAL, seen=look(item, sharing.BY_DATE))
    assert reserved(first, second) == [3, 1]


def test_a_line_let_go_by_hand_wants_no_share() -> None:
    item = makers.make_item()
    makers.put_in(item, 3)
    first, second = line(item, 3), line(item, 3)
    with transaction.atomic():
        makers.ordering.release(first, 3, at=AT, by=BY)
    found = short.of(item)
    assert [one.pk for one in found.lines] == [second.pk]
    assert not short.is_short(found)


def test_nothing_is_short_where_everybody_has_all_or_nothing_is_there() -> None:
    item, gone = makers.make_item(), makers.make_item()
    makers.put_in(item, 9)
    line(item, 4)
    line(item, 5)
    line(gone, 4)
    line(gone, 5)
    assert short.several() == []


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_shares_booked_while_others_order_cancel_and_bring_in_leave_the_book_right() -> None:
    """What was looked at has often moved by the time it is booked; then it is refused and nothing has moved."""
    item, customer = makers.make_item(), makers.make_customer()
    makers.put_in(item, 30)
    for day in range(8):
        line(item, 6, 9 - day)
    start, told, chance = threading.Barrier(CLIENTS), [], random.Random(4)
    plans = [[chance.choice("ssoca") for _ in range(12)] for _ in range(CLIENTS)]

    def once(what: str, number: int) -> object:
        if what == "s":
            rule = sharing.PROPORTIONAL if number % 2 else sharing.BY_DATE
            return sharing.share(item, rule, None, looked_at=look(item, rule), at=AT, by=BY)
        if what == "o":
            return makers.ordering.take(customer, [Wanted(3, item)], Terms(), at=AT, by=BY)
        if what == "c":
            order = Order.objects.filter(closed_at=None).order_by("?").first()
            return order and makers.ordering.cancel_order(order, at=AT, by=BY)
        return makers.put_in(item, 1)

    def client(place: int) -> None:
        try:
            start.wait(30)
            for number, what in enumerate(plans[place]):
                try:
                    with transactions.entry_point():
                        once(what, number)
                except Refusal as refusal:
                    told.append(refusal)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(CLIENTS) as pool:
        for done in [pool.submit(client, place) for place in range(CLIENTS)]:
            done.result()
    assert differences() == []
    assert check_book(whole=True) == []
    assert all(refusal.code in {"stale", "invalid", "order_closed"} for refusal in told)
