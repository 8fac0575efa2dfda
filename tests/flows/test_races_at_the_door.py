"""Many at the Door at once: a delivery is booked once, new steel makes one item, counts and orders keep the book whole."""

import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections

from inventory.models import Bar, Delivery, Entry, Item, ItemStock
from inventory.services import purchasing, receiving
from inventory.services.allocating import NotEnough
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.receiving import AlreadyBooked
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.flows import checking, delivering, stocktaking
from shop.flows.giving_way import SetAsideMeanwhile
from shop.shared import transactions
from shop.shared.errors import Refusal
from tests import makers
from tests.conftest import ON_POSTGRES
from tests.makers import AT, actor, stamp

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]
CLIENTS = 16 if ON_POSTGRES else 8
STEEL = PaperLine(grade="1045", new_grade="yes", shape="round", size="2 in", heat_number="007", bars="2 @ 20 ft")


def at_once(actions: list[Callable[[], object]]) -> Counter[str]:
    """Carry out all of them in the same moment, each in a transaction of its own; count what came of them."""
    start = threading.Barrier(len(actions))

    def client(action: Callable[[], object]) -> str:
        try:
            start.wait(30)
            with transactions.entry_point():
                action()
        except Refusal as refusal:
            return refusal.code
        else:
            return "done"
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(actions)) as pool:
        return Counter(pool.map(client, actions))


def test_an_order_met_by_many_at_once_comes_in_once() -> None:
    item = makers.make_item(Item.Kind.HANDLE)
    with transactions.entry_point():
        firm = purchasing.supplier_named("Invented Turnery", at=AT, by=actor())
        wanted = [purchasing.ToBuy(item, "10")]
        order = purchasing.open_order(firm, wanted, ordered_on=AT.date(), at=AT, by=actor())
    paper = Paper([PaperLine(item=item.code, quantity="10", order_line="1")])
    came = at_once([lambda: delivering.receive(firm, paper, order=order, stamp=stamp()) for _ in range(CLIENTS)])
    assert came == {"done": 1, purchasing.OrderClosed.code: CLIENTS - 1}
    assert ItemStock.objects.get(item=item).sellable == 10
    assert checking.check_book() == []


def test_a_draft_sent_from_many_tablets_is_booked_once() -> None:
    with transactions.entry_point():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        draft = receiving.start(firm, typed=Paper([STEEL]), at=AT, by=actor())
    came = at_once([lambda: delivering.book(Delivery.objects.get(pk=draft.pk), stamp=stamp()) for _ in range(CLIENTS)])
    assert came["done"] == 1
    assert came["done"] + came[AlreadyBooked.code] + came["stale"] == CLIENTS
    assert (Entry.objects.count(), Bar.objects.count()) == (1, 2)
    assert checking.check_book() == []


def test_the_first_bars_of_a_new_steel_from_many_lorries_make_one_item() -> None:
    with transactions.entry_point():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
    came = at_once([lambda: delivering.receive(firm, Paper([STEEL]), stamp=stamp()) for _ in range(CLIENTS)])
    assert came == Counter({"done": CLIENTS})
    assert Item.objects.filter(kind=Item.Kind.BAR).count() == 1
    assert Bar.objects.values("number").distinct().count() == 2 * CLIENTS
    assert ItemStock.objects.get(item__kind=Item.Kind.BAR).sellable == 2 * CLIENTS * 20 * makers.FOOT_NM
    assert checking.check_book() == []


def test_counting_while_orders_are_taken_never_oversells_and_never_loses_an_order() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 40, 40, 80)
    makers.put_in(tool.item, 10)
    customer = makers.make_customer()
    place = makers.place("SHELF")

    def order() -> object:
        return ordering.take(customer, [Wanted(qty=4, item=tool.item)], Terms(), at=AT, by=actor())

    def count(item: Item, found: int) -> Callable[[], object]:
        return lambda: stocktaking.count(item, place, found, stamp=stamp())

    actions: list[Callable[[], object]] = [order] * (CLIENTS - 3)
    came = at_once([*actions, count(tool.item, 5), count(tool.head, 20), count(tool.wedge, 30)])
    assert set(came) <= {"done", SetAsideMeanwhile.code, NotEnough.code}
    assert came["done"] >= CLIENTS - 3
    assert checking.check_book() == []
