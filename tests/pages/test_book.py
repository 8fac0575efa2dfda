"""The Book as a browser without script sees it: lines newest first, one line, undoing, the trace both ways."""

import datetime as dt
import re

import pytest
from django.test import Client

from inventory.models import Entry, Item, ItemStock
from inventory.queries import movements, trace
from inventory.queries.movements import Sought
from shop.shared import clock
from shop.shared.models import Shop
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, log_in, make_person, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def hand(shop: Shop) -> Client:
    return client_of("hand")


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in_parts(made, 6, 6, 20)
    return made


def test_the_book_is_read_newest_first_in_pages_that_stay_put(hand, shop) -> None:
    item = makers.make_item(Item.Kind.HANDLE)
    for n in range(1, 56):
        makers.put_in(item, n)
    first = movements.page(Sought())
    numbers = [line.entry.pk for line in first.entries]
    assert len(numbers) == 50
    assert numbers == sorted(numbers, reverse=True)
    page = hand.get("/book")
    assert "55 × " in text(page)
    older = re.search(r'href="(\?[^"]*before=[0-9]+)"', page.content.decode())
    assert older
    makers.put_in(item, 99)  # a line written meanwhile moves nothing on the next page
    rest = text(hand.get("/book" + older.group(1).replace("&amp;", "&")))
    assert "5 × " in rest
    assert "55 × " not in rest


def test_the_book_is_searched_by_item_lot_kind_and_day(hand, tool) -> None:
    lot = tool.handle.lots.get()
    wanted = {"item": tool.handle.code, "lot": lot.code, "kind": "moved in", "day": makers.AT.date().isoformat()}
    for name, value in wanted.items():
        assert tool.handle.name in text(hand.get("/book", {name: value})), name
    assert "No line of the book" in text(hand.get("/book", {"day": "2001-01-01"}))
    assert "is no lot and no bar" in text(hand.get("/book", {"lot": "L999999"}))


def test_a_late_line_says_when_it_was_typed(hand, tool) -> None:
    early = (clock.now() - dt.timedelta(hours=5)).strftime("%Y-%m-%dT%H:%M")
    follow(hand, press(hand, "/item/CP-2", qty="1", happened_at=early))
    entry = Entry.objects.latest("pk")
    assert "typed" in text(hand.get(f"/book/line/{entry.pk}"))
    assert "Typed" in text(hand.get("/book", {"kind": "made up"}))


def test_somebody_undoes_their_own_line_and_the_owner_anybodys(shop, tool) -> None:
    mine, other, owner = client_of("hand"), client_of("hand"), client_of("owner")
    follow(mine, press(mine, "/item/CP-2", qty="2"))
    line = f"/book/line/{Entry.objects.latest('pk').pk}"
    assert forms(other.get(line)) == []
    key = "0" * 32
    assert other.post(line, {"reason": "mine now", "request_key": key}).status_code == 409
    assert ItemStock.objects.get(item=tool.item).sellable == 2
    page = follow(mine, press(mine, line, reason="only thought of"))
    assert "is undone by" in text(page)
    assert ItemStock.objects.get(item=tool.item).sellable == 0
    follow(mine, press(mine, "/item/CP-2", qty="1"))
    follow(owner, press(owner, f"/book/line/{Entry.objects.latest('pk').pk}", reason="asked to"))
    assert ItemStock.objects.get(item=tool.item).sellable == 0


def test_a_line_that_later_ones_stand_on_names_what_to_undo_first(shop, tool) -> None:
    owner = client_of("owner")
    lot = tool.head.lots.get()
    follow(owner, press(owner, "/item/CP-2", qty="2"))
    later = Entry.objects.latest("pk")
    answer = press(owner, f"/book/line/{lot.entry_id}", reason="wrong")
    assert answer.status_code == 409
    assert str(later.pk) in text(answer)
    assert press(owner, f"/book/line/{lot.entry_id}").status_code == 422  # why is asked


def test_a_tool_is_traced_up_to_its_melt_and_down_to_its_orders(hand, tool) -> None:
    follow(hand, press(hand, "/item/CP-2", qty="4"))
    customer = makers.make_customer("Tarn and Thrupp")
    order = makers.make_order({tool.item: 3}, customer=customer, at=clock.now())
    makers.send(order, at=clock.now())
    head = tool.head.lots.get()
    made = tool.item.lots.get()
    found = hand.get("/book/trace", {"of": made.code})
    assert found.status_code == 302
    page = text(hand.get(found["Location"]))
    assert f"mill heat {head.melt.heat_number}" in page
    assert head.code in page
    assert "Tarn and Thrupp" in page
    assert "1 order to 1 customer, 3 pieces" in page
    melt = text(hand.get(f"/book/melt/{head.melt_id}"))
    assert "1 order to 1 customer, 3 pieces" in melt
    assert made.code in text(hand.get(f"/book/order/{order.number}"))
    assert "2 here" in melt  # heads left
    assert hand.get("/book/trace", {"of": head.melt.heat_number})["Location"] == f"/book/melt/{head.melt_id}"


def test_the_trace_takes_one_query_each_way(hand, tool, django_assert_num_queries) -> None:
    follow(hand, press(hand, "/item/CP-2", qty="4"))
    made, head = tool.item.lots.get(), tool.head.lots.get()
    with django_assert_num_queries(2):
        ups, downs = trace.up([made.pk]), trace.down([head.pk])
    assert {step.parent for step in ups} == {lot.pk for part in tool.parts for lot in part.lots.all()}
    assert [step.child for step in downs] == [made.pk]


def test_a_customer_of_another_lot_is_not_said_to_be_at_stake(hand, tool) -> None:
    follow(hand, press(hand, "/item/CP-2", qty="2"))
    makers.put_in(tool.handle, 5, at=clock.now())
    other = makers.put_in(tool.head, 5, at=clock.now())
    order = makers.make_order({tool.head: 1}, at=clock.now())
    makers.send(order, at=clock.now())
    assert "nothing of it has left the shop" in text(hand.get(f"/book/lot/{other.pk}"))


def test_what_is_not_in_the_book_is_said(hand, shop) -> None:
    assert "Nothing in this book has that name" in text(hand.get("/book/trace", {"of": "Q9"}))
    for address in ("/book/line/999", "/book/lot/999", "/book/melt/999", "/book/order/999"):
        assert hand.get(address).status_code == 404, address


def test_an_entry_of_a_person_names_them(shop, tool) -> None:
    ines = make_person("hand", login="ines")
    client = log_in(Client(), ines)
    follow(client, press(client, "/item/CP-2", qty="1"))
    assert "Ines" in text(client.get("/book"))


def test_the_book_asks_the_database_no_more_for_more_lines(hand, tool, django_assert_max_num_queries) -> None:
    for _ in range(40):
        makers.put_in(tool.handle, 1)
    with django_assert_max_num_queries(17):
        hand.get("/book")
