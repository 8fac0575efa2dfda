"""Releases: pieces kept for a sale from a moment on, sold once, and out of sight of those who send orders."""

import datetime as dt
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections, transaction

from inventory.models import Item
from inventory.services.allocating import NotEnough
from orders.models import Customer, Order, OrderLine, Release
from orders.queries import availability, book, customers, due, lists, owed
from orders.queries import releases as queries
from orders.services import ordering, releases, shipping
from orders.services.ordering import Terms, Wanted
from orders.services.releases import NotOpen
from orders.services.shipping import Parcel
from shop.flows import releasing
from shop.flows.checking import check_book
from shop.flows.ordering import NewCustomer
from shop.flows.releasing import Sold
from shop.shared import transactions
from shop.shared.errors import Invalid
from tests import makers
from tests.conftest import ON_POSTGRES
from tests.makers import AT
from tests.recomputed import differences

pytestmark = pytest.mark.django_db
BY = makers.actor()
HOUR = dt.timedelta(hours=1)
CLIENTS = 16 if ON_POSTGRES else 8


def begin(item: Item, qty: int, *, opens: dt.datetime = AT, closes: dt.datetime | None = None) -> Release:
    with transaction.atomic():
        return releases.begin("Friday", item, qty, opens_at=opens, closes_at=closes, at=AT, by=BY)


def buyer(name: str = "Invented Buyer") -> NewCustomer:
    return NewCustomer(name, email="buyer@example.org", address="2 Invented Lane")


def take(release: Release, qty: int, *, at: dt.datetime = AT) -> Order:
    with transaction.atomic():
        return releasing.take(release, buyer(), qty, Terms(), at=at, by=BY)


def stands(release: Release, *, at: dt.datetime = AT) -> queries.Standing:
    return queries.standing([Release.objects.select_related("order").get(pk=release.pk)], at=at)[0]


def test_its_pieces_are_set_aside_and_what_is_missing_waits_in_the_queue() -> None:
    item = makers.make_item()
    makers.put_in(item, 3)
    release = begin(item, 5)
    assert availability.one(item, at=AT).can_promise == 0
    assert (stands(release).left, stands(release).waits) == (3, 2)
    later = makers.make_order({item: 2})
    makers.put_in(item, 2)
    assert (stands(release).left, makers.line_of(later).reserved) == (5, 0)
    assert check_book(whole=True) == []


def test_the_shops_own_customer_is_made_once_and_is_in_no_list() -> None:
    item = makers.make_item()
    makers.put_in(item, 9)
    first, second = begin(item, 2), begin(item, 3)
    assert first.order.customer_id == second.order.customer_id
    own = Customer.objects.get()
    assert (own.kind, own.active) == ("one-off", False)
    assert list(customers.listed()) == []
    assert customers.find(own.pk) is None


def test_its_order_is_no_order_to_be_sent_owed_or_listed() -> None:
    item = makers.make_item()
    makers.put_in(item, 4)
    release = begin(item, 4)
    day = AT.date()
    with transaction.atomic():
        ordering.give_day(release.order, day, source="by_hand", at=AT, by=BY)
    assert book.ready(today=day) == []
    assert due.until(day) == []
    assert book.page(closed=True).rows == []
    assert list(lists.orders()) == []
    assert owed.rows(owed.lines()) == []
    with transaction.atomic(), pytest.raises(Invalid, match="send the orders out of it"):
        shipping.send(release.order, {1: 4}, Parcel(), stamp=makers.stamp())
    with transaction.atomic(), pytest.raises(Invalid, match="take an order of its own"):
        ordering.add_line(release.order, Wanted(1, item), at=AT, by=BY)


def test_an_order_takes_its_pieces_out_of_the_release_and_is_sent_like_any() -> None:
    item = makers.make_item(retail_minor=9_900)
    makers.put_in(item, 4)
    release = begin(item, 4)
    order = take(release, 3)
    line = makers.line_of(order)
    assert (line.reserved, line.waiting, line.price_minor) == (3, 0, 9_900)
    assert (order.customer.name, order.ship_to) == ("Invented Buyer", "2 Invented Lane")
    row = stands(release)
    assert (row.left, row.taken, row.orders, row.state) == (1, 3, 1, "open")
    assert list(queries.orders_of(release)) == [order]
    assert [one.order for one in book.ready(today=AT.date())] == [order]
    makers.send(order)
    assert stands(release).taken == 3
    assert differences() == []
    assert check_book(whole=True) == []


def test_what_still_waits_is_not_sold_and_a_release_in_part_keeps_its_place() -> None:
    item = makers.make_item()
    makers.put_in(item, 3)
    release = begin(item, 5)
    take(release, 2)
    line = OrderLine.objects.get(order=release.order)
    assert (line.reserved, line.waiting, line.cancelled, line.gathers) == (1, 2, 2, True)
    with pytest.raises(NotEnough, match="1 is left in the release Friday, 2 more to come"):
        take(release, 2)
    take(release, 1)
    with pytest.raises(NotEnough, match="has nothing set aside yet, 2 more to come"):
        take(release, 1)
    makers.put_in(item, 2)
    assert stands(release).left == 2
    assert differences() == []


def test_it_sells_from_its_moment_until_it_closes_is_sold_out_or_is_ended() -> None:
    item = makers.make_item()
    makers.put_in(item, 4)
    release = begin(item, 3, opens=AT + HOUR, closes=AT + 2 * HOUR)
    states = [stands(release, at=AT + n * HOUR / 2).state for n in range(5)]
    assert states == ["to come", "to come", "open", "open", "closed"]
    with pytest.raises(NotOpen, match="opens Mon 2 Mar 2026, 10:00; take the order from then on"):
        take(release, 1, at=AT + HOUR - dt.timedelta(microseconds=1))
    with pytest.raises(NotOpen, match="closed Mon 2 Mar 2026, 11:00"):
        take(release, 1, at=AT + 2 * HOUR)
    take(release, 3, at=AT + HOUR)
    assert stands(release, at=AT + HOUR).state == "sold out"
    with pytest.raises(NotEnough, match="sold out") as refused:
        take(release, 1, at=AT + HOUR)
    assert refused.value.facts == {"item": item.code, "available": 0, "requested": 1}
    with transaction.atomic():
        releases.end(release, at=AT + HOUR, by=BY)
    assert stands(release).state == "ended"
    with pytest.raises(NotOpen, match="is ended"):
        take(release, 1, at=AT + HOUR)
    assert check_book(whole=True) == []


def test_ending_it_lets_the_rest_go_to_those_who_wait() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    release = begin(item, 5)
    take(release, 1)
    waiting = makers.make_order({item: 3})
    with transaction.atomic():
        releases.end(release, at=AT, by=BY)
    assert makers.line_of(waiting).reserved == 3
    assert availability.one(item, at=AT).can_promise == 1
    with transaction.atomic(), pytest.raises(NotOpen, match="ended already"):
        releases.end(release, at=AT, by=BY)
    assert differences() == []
    assert check_book(whole=True) == []


def test_a_tool_made_of_parts_is_released_as_sets() -> None:
    tool = makers.make_tool()
    makers.put_in(tool.item, 1)
    makers.put_in_parts(tool, 3, 3, 6)
    release = begin(tool.item, 4)
    for qty in (2, 1, 1):
        take(release, qty)
    assert stands(release).left == 0
    assert differences() == []
    assert check_book(whole=True) == []


def test_what_cannot_be_begun_says_what_would_work() -> None:
    item, oil = makers.make_item(), makers.make_item(Item.Kind.CONSUMABLE, unit=Item.Unit.UL)
    with pytest.raises(Invalid, match="close before it opens"):
        begin(item, 1, opens=AT + HOUR, closes=AT + HOUR)
    with pytest.raises(Invalid, match="over already"):
        begin(item, 1, opens=AT - 2 * HOUR, closes=AT - HOUR)
    with pytest.raises(Invalid, match="not counted in pieces"):
        begin(oil, 1)
    with pytest.raises(Invalid, match="write 1 to"):
        begin(item, 0)
    with transaction.atomic(), pytest.raises(Invalid, match="1 to 80 characters"):
        releases.begin("  ", item, 1, opens_at=AT, closes_at=None, at=AT, by=BY)
    assert not Release.objects.exists()


def test_its_name_and_moments_can_be_changed_until_it_is_ended() -> None:
    item = makers.make_item()
    makers.put_in(item, 1)
    release = begin(item, 1, opens=AT + HOUR)
    with transaction.atomic():
        changed = releases.change(release, name="Now", opens_at=AT, closes_at=AT + HOUR, at=AT, by=BY)
    assert (changed.name, changed.closes_at) == ("Now", AT + HOUR)
    take(changed, 1)
    with transaction.atomic():
        releases.end(release, at=AT, by=BY)
    with transaction.atomic(), pytest.raises(NotOpen):
        releases.change(release, name="Later", opens_at=AT, closes_at=None, at=AT, by=BY)


def test_pasted_orders_are_taken_all_or_none_and_a_known_customer_is_not_written_anew() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    release = begin(item, 5)
    sold = [Sold(buyer("A"), 2, 1), Sold(buyer("B"), 2, 2), Sold(buyer("C"), 2, 4)]
    with transaction.atomic(), pytest.raises(Invalid, match="Line 4: 2 wanted and 1 of the release Friday left"):
        releasing.take_all(release, sold, at=AT, by=BY)
    assert stands(release).orders == 0
    with transaction.atomic():
        taken = releasing.take_all(release, [*sold[:2], Sold(buyer("a"), 1, 3)], at=AT, by=BY)
    assert [makers.line_of(order).reserved for order in taken] == [2, 2, 1]
    assert taken[0].customer_id == taken[2].customer_id != taken[1].customer_id
    assert stands(release).state == "sold out"
    assert differences() == []
    assert check_book(whole=True) == []
    for many in (0, releasing.MOST_PASTED + 1):
        with transaction.atomic(), pytest.raises(Invalid, match="at once would work"):
            releasing.take_all(release, [Sold(buyer(), 1, 1)] * many, at=AT, by=BY)


@pytest.mark.parametrize(
    ("alter", "said"),
    [
        (lambda one: Order.objects.filter(pk=one.order_id).update(source="desk"), "which is not the shop's own"),
        (lambda one: one.delete(), "no release stands in it"),
        (lambda one: Release.objects.filter(pk=one.pk).update(ended_at=AT), "still keeps pieces"),
        (lambda one: OrderLine.objects.filter(order=one.order_id).update(number=2), "numbered up to 2"),
        (lambda one: OrderLine.objects.filter(order=one.order_id).update(shipped=1, reserved=3), "were sent"),
        (
            lambda one: Order.objects.exclude(pk=one.order_id).update(source="release 999999"),
            "was taken out of release 999999, which is not in the book",
        ),
    ],
)
def test_the_check_names_a_release_that_somebody_altered(alter: object, said: str) -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    release = begin(item, 5)
    take(release, 1)
    assert check_book(whole=True) == []
    alter(release)  # type: ignore[operator]
    assert any(said in sentence for sentence in check_book(whole=True)), check_book(whole=True)


def test_a_second_line_in_its_order_is_named() -> None:
    item = makers.make_item()
    release = begin(item, 5)
    OrderLine.objects.create(order=release.order, number=2, item=item, ordered=1, queue_no=1_000)
    assert any("keeps one item in one line" in sentence for sentence in check_book(whole=True))


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_a_release_is_never_oversold_however_many_buy_at_once() -> None:
    """A hundred and twenty buyers in many threads want one or two of sixty; an order of the desk waits for the rest."""
    tool = makers.make_tool()
    makers.put_in(tool.item, 30)
    makers.put_in_parts(tool, 30, 30, 60)
    release = begin(tool.item, 60)
    makers.make_order({tool.item: 5})
    start, sold, refused = threading.Barrier(CLIENTS), [], []

    def client(place: int) -> None:
        try:
            start.wait(30)
            for number in range(place, 120, CLIENTS):
                qty = 1 + number % 2
                try:
                    with transactions.entry_point():
                        order = releasing.take(release, buyer(f"Buyer {number}"), qty, Terms(), at=AT, by=BY)
                    sold.append((order.pk, qty))
                except NotEnough:
                    refused.append(qty)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(CLIENTS) as pool:
        for done in [pool.submit(client, place) for place in range(CLIENTS)]:
            done.result()
    assert len(sold) + len(refused) == 120
    assert sum(qty for _, qty in sold) == 60
    lines = OrderLine.objects.filter(order__in=[pk for pk, _ in sold])
    assert sum(line.reserved for line in lines) == 60
    assert stands(release).left == 0
    assert differences() == []
    assert check_book(whole=True) == []
