"""The Shelf as a browser without script sees it: figures, lots, making up, counts, use, take-outs, items."""

import re

import pytest
from django.test import Client

from inventory.models import Entry, Item, ItemStock, RecipePart, TakeOut
from orders.models import Customer
from shop.shared.models import Shop
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def hand(shop: Shop) -> Client:
    return client_of("hand")


@pytest.fixture
def desk(shop: Shop) -> Client:
    return client_of("desk")


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in_parts(made, 6, 4, 20)
    return made


@pytest.fixture
def oil(shop: Shop) -> Item:
    item = makers.make_item(Item.Kind.CONSUMABLE, code="OIL", name="Linseed oil", unit=Item.Unit.UL)
    makers.put_in(item, 5_000_000)
    return item


def stock(item: Item) -> ItemStock:
    return ItemStock.objects.get(item=item)


def test_the_shelf_says_what_is_there_spoken_for_and_can_be_promised(hand, tool) -> None:
    makers.put_in(tool.item, 3)
    makers.make_order({tool.item: 2})
    page = text(hand.get("/shelf"))
    assert "Cross peen 2 lb CP-2 3 2 4 5" in page  # there, spoken for, from parts, can promise
    assert "Cross peen" not in text(hand.get("/shelf", {"find": "tongs"}))


def test_tools_are_made_up_from_the_free_parts_and_serve_who_waits(hand, tool) -> None:
    page = follow(hand, press(hand, "/item/CP-2", qty="3"))
    assert "made up" in text(page)
    assert (stock(tool.item).sellable, stock(tool.handle).sellable, stock(tool.wedge).sellable) == (3, 1, 14)
    entry = Entry.objects.latest("pk")
    assert (entry.kind, entry.by.role) == (Entry.Kind.MADE_UP, "hand")


def test_more_tools_than_parts_cannot_be_made_up(hand, tool) -> None:
    answer = press(hand, "/item/CP-2", qty="5")
    assert answer.status_code == 422
    assert "The free parts make 4 of CP-2, not 5" in text(answer)
    assert stock(tool.item).sellable == 0


def test_the_item_page_names_lot_melt_place_and_lines(hand, tool) -> None:
    page = text(hand.get(f"/item/{tool.head.code}"))
    lot = tool.head.lots.get()
    assert lot.code in page
    assert f"mill heat {lot.melt.heat_number}" in page
    assert "Shelf" in page
    assert "Moved in" in page


def test_a_count_books_the_difference_and_names_the_orders_that_give_way(hand, tool) -> None:
    order = makers.make_order({tool.handle: 4})
    page = follow(hand, press(hand, f"/item/{tool.handle.code}/count", place="BIN", found="3"))
    assert f"order {order.number} line 1 gave way" in text(page).lower()
    assert stock(tool.handle).sellable == 3
    again = follow(hand, press(hand, f"/item/{tool.handle.code}/count", place="BIN", found="3"))
    assert "as the book says" in text(again)


def test_oil_is_used_by_the_volume(hand, oil) -> None:
    follow(hand, press(hand, "/item/OIL/use", qty="1/2 L", reason="handles"))
    assert stock(oil).sellable == 4_500_000
    wrong = press(hand, "/item/OIL/use", qty="2 lb")
    assert wrong.status_code == 422
    assert "lb" in text(wrong)
    assert stock(oil).sellable == 4_500_000


def test_what_goes_to_a_show_comes_back(hand, tool) -> None:
    makers.put_in(tool.item, 4)
    follow(hand, press(hand, "/item/CP-2/take-out", qty="2", why="show", for_whom="the autumn fair"))
    taken = TakeOut.objects.get()
    assert stock(tool.item).sellable == 2
    assert "the autumn fair" in text(hand.get("/shelf/out"))
    follow(hand, press(hand, f"/shelf/out/{taken.pk}", qty="2"))
    assert stock(tool.item).sellable == 4
    assert "Nothing is out" in text(hand.get("/shelf/out"))


def test_scrap_is_written_off_with_its_cause(hand, tool) -> None:
    holding = tool.handle.holdings.get()
    follow(hand, press(hand, f"/item/{tool.handle.code}/scrap", holding=str(holding.pk), qty="1", cause="split"))
    assert stock(tool.handle).sellable == 3
    assert press(hand, f"/item/{tool.handle.code}/scrap", holding="999999", qty="1", cause="x").status_code == 422


def test_an_item_is_written_down_and_changed_at_the_desk(desk, hand, shop) -> None:
    fields = {"code": "tg-1", "name": "Bolt tongs", "kind": "tool", "unit": "piece", "retail_minor": "85"}
    page = follow(desk, press(desk, "/shelf/new", **fields))
    assert "Bolt tongs" in text(page)
    follow(desk, press(desk, "/item/TG-1/change", reorder_point="4", retail_minor="90.50", shipped_mass="1.2 kg"))
    item = Item.objects.get(code="TG-1")
    assert (item.reorder_point, item.retail_minor, item.shipped_mass_mg) == (4, 9_050, 1_200_000)
    assert hand.get("/shelf/new").status_code == 403
    again = press(desk, "/shelf/new", **fields)
    assert "exists already" in text(again)


def test_changing_nothing_changes_nothing(desk, oil) -> None:
    with makers.transaction.atomic():
        makers.catalogue.change_item(
            oil, at=makers.AT, by=makers.actor(), reorder_point=1_234_567, issue_per_buy=20_000_000
        )
    before = Item.objects.filter(pk=oil.pk).values().get()
    follow(desk, press(desk, "/item/OIL/change"))
    assert Item.objects.filter(pk=oil.pk).values().get() == before


def test_what_goes_into_a_tool_is_said_at_the_desk(desk, tool) -> None:
    page = desk.get("/item/CP-2/parts")
    assert forms(page)[0].fields["qty_2"] == "2"
    follow(desk, press(desk, "/item/CP-2/parts", qty_2="3"))
    assert RecipePart.objects.get(tool=tool.item, part=tool.wedge).quantity == 3
    twice = press(desk, "/item/CP-2/parts", item_3=tool.head.code, qty_3="1")
    assert "stands here twice" in text(twice)


def test_a_tool_of_many_parts_keeps_them_all_and_always_has_room_for_three_more(desk, tool) -> None:
    small = [makers.make_item(Item.Kind.CONSUMABLE, code=f"PIN-{n}") for n in range(9)]
    with makers.transaction.atomic():
        parts = {tool.head: 1, **dict.fromkeys(small, 2)}
        makers.catalogue.set_recipe(tool.item, parts, at=makers.AT, by=makers.actor())
    fields = forms(desk.get("/item/CP-2/parts"))[0].fields
    assert [name for name in fields if name.startswith("item_")] == [f"item_{n}" for n in range(13)]
    follow(desk, press(desk, "/item/CP-2/parts", item_12=tool.handle.code, qty_12="1"))
    assert RecipePart.objects.filter(tool=tool.item).count() == 11
    assert "stands here twice" in text(press(desk, "/item/CP-2/parts", item_13="PIN-1", qty_13="1"))


def test_the_count_sheet_names_every_place_and_no_figure(hand, tool) -> None:
    page = text(hand.get("/shelf/count-sheet"))
    assert tool.handle.code in page
    assert "20" not in re.sub(r"[A-Z]+-?[0-9]+", "", page.split("found", 1)[1]), "codes aside, no figure"


def test_the_shelf_asks_the_database_no_more_for_more_items(hand, tool, django_assert_max_num_queries) -> None:
    for _ in range(30):
        makers.make_item(Item.Kind.HANDLE)
    with django_assert_max_num_queries(12):
        hand.get("/shelf")


def test_nobody_finds_an_item_that_is_not_there(hand, shop) -> None:
    assert hand.get("/item/NO-SUCH").status_code == 404
    assert not Customer.objects.exists()
