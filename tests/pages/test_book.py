"""The Book as a browser without script sees it: lines newest first, one line, undoing, the trace both ways."""

import datetime as dt
import re

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Bar, Delivery, DeliveryLine, Entry, Item, ItemStock, Melt
from inventory.queries import movements, trace
from inventory.queries.movements import Sought
from inventory.services import purchasing
from inventory.services.delivery_lines import Paper, PaperLine
from shop.flows import delivering, reversing, taking_out
from shop.shared import clock
from shop.shared.models import Shop
from shop.shared.units import parse_mass
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


STEEL = PaperLine(grade="1045", shape="round", size="2 in", heat_number="A7731", bars="3 @ 20 ft", scale="640 lb",
                  weighed_by="own scale")  # fmt: skip


@pytest.fixture
def melt(shop: Shop) -> Melt:
    makers.make_grade("1045")
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=makers.AT, by=makers.actor())
        delivering.receive(firm, Paper([STEEL], supplier_paper="S/88"), stamp=makers.stamp())
    return Melt.objects.get(heat_number="A7731")


def test_the_page_of_a_mill_heat_balances_it_and_says_what_scale_and_tape_leave_open(hand, melt) -> None:
    page = text(hand.get(f"/book/melt/{melt.pk}"))
    assert "Where the steel is" in page
    assert "on the rack 290.3 kg (640 lb) worked out" in page
    assert "received 290.3 kg (640 lb) weighed" in page
    assert "about 1.5 lb less by the scale" in page
    assert "leave 0.67 lb open" in page
    assert "No certificate is filed" in page


def test_a_weight_that_is_off_is_said_no_finer_than_it_is_known(hand, melt) -> None:
    DeliveryLine.objects.update(scale_mass_mg=parse_mass("641 lb").mg)
    assert "no difference that could be told" in text(hand.get(f"/book/melt/{melt.pk}"))
    DeliveryLine.objects.update(scale_mass_mg=parse_mass("603.7 lb").mg)
    assert "about 37.8 lb less by the scale" in text(hand.get(f"/book/melt/{melt.pk}"))
    DeliveryLine.objects.update(scale_mass_mg=None)
    assert "Nothing of it was weighed" in text(hand.get(f"/book/melt/{melt.pk}"))


def test_a_certificate_or_delivery_number_leads_to_the_melt(hand, melt) -> None:
    makers.file_certificate(melt)
    address = f"/book/melt/{melt.pk}"
    for said in ("c-1", "A7731", "S/88", str(Delivery.objects.get().number)):
        assert hand.get("/book/trace", {"of": said})["Location"] == address, said
    other = makers.make_melt()
    makers.file_certificate(other)
    both = text(hand.get("/book/trace", {"of": "C-1"}))
    assert "Certificate C-1: Mill heat A7731" in both
    assert f"Mill heat {other.heat_number}" in both


def test_a_delivery_that_is_undone_is_not_said_to_be_used_up(hand, melt) -> None:
    bar = Bar.objects.order_by("pk")[0]
    with transaction.atomic():
        reversing.reverse(bar.lot.entry_id, stamp=makers.stamp(reason="another shop's steel"))
    page = text(hand.get(f"/book/melt/{melt.pk}"))
    assert "undone" in page
    assert "used up" not in page
    assert "Where the steel is" not in page


def test_whom_to_call_is_a_table_for_the_desk_with_gifts_in_it(shop, tool) -> None:
    desk, hand = client_of("desk"), client_of("hand")
    follow(desk, press(desk, "/item/CP-2", qty="4"))
    buyer = makers.make_customer("Tarn, =Thrupp")
    makers.send(makers.make_order({tool.item: 2}, customer=buyer, at=clock.now()), at=clock.now())
    with transaction.atomic():
        taking_out.take_out(tool.item, 1, "gift", stamp=makers.stamp(at=clock.now()), for_whom="A neighbour")
    melt_id = tool.head.lots.get().melt_id
    address = f"/book/melt/{melt_id}/went-into.csv"
    assert "Whom to call" in text(desk.get(f"/book/melt/{melt_id}"))
    page = text(hand.get(f"/book/melt/{melt_id}"))
    assert "Whom to call" not in page
    assert "A neighbour" in page
    assert "1 order to 1 customer, 2 pieces, and 1 taken out and not back" in page
    assert hand.get(address).status_code == 403
    sheet = desk.get(address)
    assert "attachment" in sheet["Content-Disposition"]
    lines = sheet.content.decode().splitlines()
    assert [line.split(",")[1] for line in lines] == ["how", '"sent"', '"gift"']
    assert '"\'Tarn, =Thrupp"' in lines[1]
    assert desk.get("/book/melt/999/went-into.csv").status_code == 404


def test_a_lot_that_was_only_given_away_has_left_the_shop_all_the_same(hand, tool) -> None:
    handles = tool.handle.lots.get()
    with transaction.atomic():
        taking_out.take_out(tool.handle, 2, "sample", stamp=makers.stamp(at=clock.now()), for_whom="A fair")
    page = text(hand.get(f"/book/lot/{handles.pk}"))
    assert "If this is bad: 2 taken out and not back" in page
    assert "A fair" in page
