"""The queue: who loses by a move before it is made, the move itself, and what refuses it."""

import pytest
from django.db import connection

from inventory.models import Item
from orders.models import Order, OrderLine, RatedPromise
from orders.queries import in_queue
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from orders.services.promising import StaleAnswer
from shop.flows import checking
from shop.flows.ship_days import asking, giving, moving, rating
from shop.flows.ship_days.asking import Asked
from shop.flows.ship_days.giving import Day
from shop.shared.errors import Invalid
from shop.shared.models import AuditLine
from shop.shared.transactions import entry_point
from tests import makers
from tests.flows.test_ship_days import slow_forge
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]

BY = makers.actor()


@pytest.fixture(autouse=True)
def _whole(db: None):
    make_shop()
    make_person("owner", login="ada")
    make_person("hand", login="bo")
    yield
    assert checking.check_book(whole=True) == []


def promised(item: Item, pieces: int) -> Order:
    """Take an order with the day that is worked out for it."""
    question = asking.ask(Asked(((item, pieces),)), at=AT, by=BY)
    with entry_point():
        return giving.give(
            question, makers.make_customer(), [Wanted(pieces, item)], Terms(), Day(), at=AT, by=BY
        )  # fmt: skip


def places() -> list[int]:
    return [one.order.number for one in in_queue.standing()]


def test_who_loses_is_said_before_anything_moves_and_holds_once_it_has() -> None:
    item = slow_forge().tool.item
    first, second, third = promised(item, 6), promised(item, 6), promised(item, 18)
    before = list(OrderLine.objects.order_by("pk").values("pk", "queue_no", "version"))
    found = moving.effect(third, first, at=AT)
    assert list(OrderLine.objects.order_by("pk").values("pk", "queue_no", "version")) == before
    assert not AuditLine.objects.filter(action="moved in the queue").exists()
    assert [one["order"] for one in found.rows] == [first.number, second.number, third.number]
    assert {one["order"] for one in found.losers} == {first.number, second.number}
    assert all(one["before"] - one["after"] > 0.05 for one in found.losers)
    assert found.own[0]["after"] >= found.own[0]["before"]
    with entry_point():
        moving.move(third, first, seen=found.key, at=AT, by=BY, reason="a fair")
    assert places() == [third.number, first.number, second.number]
    back = moving.effect(third, None, at=AT)
    after = {one["order"]: one["after"] for one in found.rows}
    assert {one["order"]: one["before"] for one in back.rows} == after, "what was said of the move is what stands"


def test_rated_as_the_shop_rates_them() -> None:
    item = slow_forge().tool.item
    first, second = promised(item, 6), promised(item, 12)
    assert rating.run_if_due(lambda: AT)
    stood = {one.order.number: one.chance for one in in_queue.standing()}
    found = moving.effect(second, first, at=AT)
    for one in found.rows:
        assert one["before"] == pytest.approx(stood[one["order"]], abs=0.05), "fewer futures, the same shop"


def test_orders_whose_pieces_are_there_lose_nothing() -> None:
    item = makers.make_item()
    makers.put_in(item, 5)
    made = slow_forge().tool.item
    there, waits, last = promised(item, 5), promised(made, 6), promised(made, 6)
    found = moving.effect(last, waits, at=AT)
    assert there.number in {one["order"] for one in found.others}


def test_a_shop_that_has_changed_since_is_looked_at_again() -> None:
    item = slow_forge().tool.item
    first, second = promised(item, 6), promised(item, 6)
    seen = moving.effect(second, first, at=AT).key
    promised(item, 2)
    with entry_point(), pytest.raises(StaleAnswer, match="nothing was moved"):
        moving.move(second, first, seen=seen, at=AT, by=BY)
    assert places()[:2] == [first.number, second.number]


def test_moves_that_are_none_are_refused_alike_by_the_look_and_the_move() -> None:
    item = slow_forge().tool.item
    first, second, gone = promised(item, 6), promised(item, 6), promised(item, 2)
    with entry_point():
        ordering.cancel_order(gone, at=AT, by=BY, reason="not wanted")
    for order, before, why in (
        (first, second, "stands before order"),
        (second, None, "stands behind all"),
        (first, first, "before itself"),
        (first, gone, "is not in the queue"),
        (gone, first, "nothing waiting"),
    ):
        with pytest.raises(Invalid, match=why):
            moving.effect(order, before, at=AT)
        with entry_point(), pytest.raises(Invalid, match=why):
            moving.move(order, before, at=AT, by=BY)
    assert not AuditLine.objects.filter(action="moved in the queue").exists()


def test_lines_that_stood_apart_come_together() -> None:
    item, other = makers.make_item(), makers.make_item()
    first, second = makers.make_order({item: 3}), makers.make_order({item: 2})
    with entry_point():
        ordering.add_line(first, Wanted(1, other), at=AT, by=BY)
    assert [(one.order, one.first, one.alone) for one in in_queue.standing()] == [
        (first, True, False), (second, True, True), (first, False, False),
    ]  # fmt: skip
    with entry_point():
        moving.move(first, None, at=AT, by=BY)
    assert places() == [second.number, first.number]
    assert list(in_queue.orders()) == [second, first]


def test_a_queue_says_its_chances_and_how_sure_was_wanted() -> None:
    item = slow_forge().tool.item
    given, none = promised(item, 6), makers.make_order({item: 3})
    rating.run_if_due(lambda: AT)
    first, second = in_queue.standing()
    assert (first.order, first.place, first.wanted) == (given, 1, 0.9)
    assert first.chance == RatedPromise.objects.get(promise__order=given).chance_ppm / 1_000_000
    assert (second.order, second.place, second.promise, second.chance) == (none, 2, None, None)


def test_looking_writes_nothing_and_locks_nothing() -> None:
    item = slow_forge().tool.item
    first, second = promised(item, 6), promised(item, 6)
    with connection.execute_wrapper(only_reads):
        moving.effect(second, first, at=AT)


def only_reads(execute, sql, params, many, context):  # type: ignore[no-untyped-def]
    assert sql.split()[0] in {"SELECT", "BEGIN", "SAVEPOINT", "RELEASE"}, sql
    assert "FOR UPDATE" not in sql, sql
    return execute(sql, params, many, context)
