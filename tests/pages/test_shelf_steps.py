"""Heads move on along their route at the Shelf, and one question for each kind seeds the reorder points."""

import datetime as dt

import pytest
from django.test import Client

from inventory.models import Entry, Holding, Item, Pattern, Place, Route, Step
from shop.flows import checking, stocktaking
from shop.shared import clock
from tests import makers
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def head(db: None) -> Item:
    """Twelve heads that stand on the floor, ground."""
    make_shop()
    pattern = Pattern.objects.create(code="CP2", name="cross peen 2 lb")
    route = Route.objects.create(pattern=pattern)
    for number, name in enumerate(("first forging heat", "ground", "tempered and checked"), 1):
        Step.objects.create(route=route, number=number, name=name, counting_point=True)
    item = makers.make_item(Item.Kind.HEAD, code="HD-CP2", pattern=pattern)
    makers.put_in(item, 12, place="FLOOR", step=2)
    return item


def test_heads_that_are_tempered_and_checked_go_to_the_shelf_one_step_at_a_time(head: Item) -> None:
    hand = client_of("hand")
    standing = Holding.objects.get(item=head)
    page = text(hand.get("/item/HD-CP2/step"))
    assert "next: tempered and checked" in page
    answer = press(hand, "/item/HD-CP2/step", holding=str(standing.pk), qty="7")
    assert "7" in text(follow(hand, answer))
    assert head.stock.sellable == 0, "checked is not on the shelf yet"
    checked = Holding.objects.get(item=head, step=3)
    follow(hand, press(hand, "/item/HD-CP2/step", holding=str(checked.pk), qty="7"))
    head.stock.refresh_from_db()
    assert head.stock.sellable == 7
    assert Holding.objects.get(item=head, place__kind=Place.Kind.SHELF).on_hand == 7
    assert checking.check_book(whole=True) == []


@pytest.mark.parametrize("qty", ["0", "13", "-1", "1.5", "x", ""])
def test_no_more_heads_move_on_than_stand_there(head: Item, qty: str) -> None:
    hand, before = client_of("hand"), Entry.objects.count()
    standing = Holding.objects.get(item=head)
    answer = press(hand, "/item/HD-CP2/step", holding=str(standing.pk), qty=qty)
    assert answer.status_code == 422
    assert Entry.objects.count() == before


def test_one_answer_for_each_kind_seeds_the_reorder_points(db: None) -> None:
    make_shop()
    long_ago = clock.now() - dt.timedelta(days=42)
    handle = makers.make_item(Item.Kind.HANDLE, code="HA16")
    unused = makers.make_item(Item.Kind.HANDLE, code="HA18")
    makers.put_in(handle, 100, at=long_ago)
    makers.put_in(unused, 100, at=long_ago)
    with makers.transaction.atomic():
        stocktaking.use(handle, 42, stamp=makers.stamp(at=clock.now()))
    desk = client_of("desk")
    follow(desk, press(desk, "/shelf/how-long", handle="20"))
    handle.refresh_from_db()
    unused.refresh_from_db()
    assert handle.reorder_point == 20, "one a day, for twenty days"
    assert unused.reorder_point is None


def test_days_that_are_none_are_refused(db: None) -> None:
    make_shop()
    desk: Client = client_of("desk")
    for typed in ("", "-3", "9999", "soon"):
        assert press(desk, "/shelf/how-long", handle=typed).status_code == 422
