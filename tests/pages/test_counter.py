"""The Counter as a browser without script sees it: taking an order, changing it, holds, sending, what comes back."""

import datetime as dt
import re

import pytest
from django.test import Client

from inventory.models import Item, ItemStock
from orders.models import Customer, Hold, Order, OrderLine, Return, Shipment
from shop.shared import clock
from shop.shared.models import Shop
from tests import makers
from tests.makers import Tool
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

SLIP = {"customer": "Tarn and Thrupp", "item_0": "CP-2", "qty_0": "3", "ship_to": "4 Weir Row\nSaltby"}


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def desk(shop: Shop) -> Client:
    return client_of("desk")


@pytest.fixture
def hand(shop: Shop) -> Client:
    return client_of("hand")


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb", shipped_mass_mg=1_400_000, caution="Wear goggles.")
    makers.put_in(made.item, 5)
    return made


@pytest.fixture
def dealer(shop: Shop) -> Customer:
    return makers.make_customer("Tarn and Thrupp", kind="dealer")


def taken(desk: Client, **more: str) -> Order:
    answer = press(desk, "/counter/take", **{**SLIP, **more})
    assert answer.status_code == 302, text(answer)
    return Order.objects.latest("number")


# ---- taking


def test_an_order_for_a_known_customer_is_taken_and_set_aside_at_once(desk, tool, dealer) -> None:
    order = taken(desk, reference="PO 9", day_given="2030-05-06")
    line = order.lines.get()
    assert (order.customer, order.reference, order.ship_to) == (dealer, "PO 9", "4 Weir Row\nSaltby")
    assert (line.item, line.ordered, line.reserved) == (tool.item, 3, 3)
    page = text(desk.get(f"/order/{order.number}"))
    assert "All set aside" in page
    assert "Mon 6 May" in page.replace("\u00a0", " ")
    assert "3 × Cross peen 2 lb" in text(desk.get("/counter"))


def test_an_order_takes_a_new_customer_with_it(desk, tool) -> None:
    order = taken(desk, customer="R. Wold", new="on", kind="one-off", phone="12 34")
    assert (order.customer.name, order.customer.phone, order.customer.address) == (
        "R. Wold",
        "12 34",
        "4 Weir Row\nSaltby",
    )


def test_an_unknown_name_is_asked_about_and_nothing_typed_is_lost(desk, tool) -> None:
    answer = press(desk, "/counter/take", **SLIP, reference="keep me")
    assert answer.status_code == 422
    assert "is nobody in the book" in text(answer)
    assert forms(answer)[0].fields | SLIP == forms(answer)[0].fields | {"ship_to": SLIP["ship_to"]}
    assert forms(answer)[0].fields["reference"] == "keep me"
    assert not Order.objects.exists()


def test_two_customers_of_one_name_are_told_apart_by_their_number(desk, tool, dealer) -> None:
    other = makers.make_customer("Tarn and Thrupp")
    answer = press(desk, "/counter/take", **SLIP)
    assert f"(no {other.pk})" in text(answer)
    assert taken(desk, customer=f"Tarn and Thrupp (no {other.pk})").customer == other


def test_looking_first_says_what_can_be_promised_and_books_nothing(desk, tool, dealer) -> None:
    answer = press(desk, "/counter/take", **SLIP, look="1")
    assert "5 there · 0 spoken for · can promise 5" in text(answer)
    assert not Order.objects.exists()


def test_more_than_there_is_waits_its_turn(desk, tool, dealer) -> None:
    line = taken(desk, qty_0="8").lines.get()
    assert (line.reserved, line.waiting, line.gathers) == (5, 3, True)


def test_an_item_is_found_by_its_name_too(desk, tool, dealer) -> None:
    assert taken(desk, item_0="cross PEEN 2 lb").lines.get().item == tool.item


def test_a_dealer_gets_the_dealer_price_unless_another_is_agreed(desk, tool, dealer) -> None:
    with makers.transaction.atomic():
        makers.catalogue.change_item(tool.item, at=makers.AT, by=makers.actor(), dealer_minor=3_000)
    assert taken(desk).lines.get().price_minor == 3_000
    assert taken(desk, price_0="28,50").lines.get().price_minor == 2_850


def test_a_line_made_to_order_stands_beside_an_item(desk, tool, dealer) -> None:
    order = taken(desk, made_words="tongs for 3/4 square", made_qty="2", made_price="90")
    words = order.lines.get(number=2)
    assert (words.words, words.ordered, words.price_minor, words.item) == ("tongs for 3/4 square", 2, 9_000, None)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"item_0": "", "qty_0": ""}, "Nothing is wanted yet"),
        ({"qty_0": ""}, "How many?"),
        ({"item_0": "", "qty_0": "3"}, "How many is written but not of what"),
        ({"item_0": "no such thing"}, "is no code or name on the shelf"),
        ({"qty_0": "-2"}, "not a whole number"),
        ({"qty_0": "100000000"}, "out of range"),
        ({"price_0": "12.345"}, "more than 2 decimals"),
        ({"customer": ""}, "it is needed"),
        ({"start_when_deposit": "on"}, "how much it is"),
        ({"day_given": "1066-10-14"}, "no day a shop can mean"),
    ],
)
def test_a_slip_that_cannot_be_booked_comes_back_with_the_sentence(desk, tool, dealer, typed, said) -> None:
    answer = press(desk, "/counter/take", **{**SLIP, **typed})
    assert answer.status_code == 422
    assert said in text(answer)
    assert not Order.objects.exists()
    assert ItemStock.objects.get(item=tool.item).allocated == 0


def test_an_item_no_longer_kept_is_refused_at_its_own_field(desk, tool, dealer) -> None:
    with makers.transaction.atomic():
        makers.catalogue.change_item(tool.item, at=makers.AT, by=makers.actor(), active=False)
    answer = press(desk, "/counter/take", **SLIP)
    assert answer.status_code == 422
    assert 'id="id_item_0_say"' in answer.content.decode()


def test_a_slip_sent_twice_is_one_order(desk, tool, dealer) -> None:
    fields = {**forms(desk.get("/counter/take"))[0].fields, **SLIP}
    first, second = desk.post("/counter/take", fields), desk.post("/counter/take", fields)
    assert first["Location"] == second["Location"]
    assert Order.objects.count() == 1
    assert ItemStock.objects.get(item=tool.item).allocated == 3


def test_a_slip_sent_again_with_other_figures_is_asked_about(desk, tool, dealer) -> None:
    fields = {**forms(desk.get("/counter/take"))[0].fields, **SLIP}
    desk.post("/counter/take", fields)
    again = desk.post("/counter/take", {**fields, "qty_0": "1"})
    assert "was sent before with other figures" in text(again)
    fresh = forms(again)[0].fields
    assert fresh["request_key"] != fields["request_key"]
    assert desk.post("/counter/take", fresh).status_code == 302
    assert Order.objects.count() == 2


# ---- changing


def line_page(order: Order, number: int = 1) -> str:
    return f"/order/{order.number}/line/{number}"


def act(client: Client, order: Order, what: str, **typed: str):
    page = client.get(line_page(order))
    return client.post(line_page(order), {**forms(page)[0].fields, "what": what, **typed})


def test_a_line_is_let_go_and_set_aside_again(desk, tool, dealer) -> None:
    order = taken(desk)
    follow(desk, act(desk, order, "go", qty="2"))
    assert makers.line_of(order).reserved == 1
    follow(desk, act(desk, order, "aside", qty=""))
    assert makers.line_of(order).reserved == 3


def test_quantity_price_and_part_of_a_line_are_changed(desk, tool, dealer) -> None:
    order = taken(desk)
    follow(desk, act(desk, order, "qty", qty="4"))
    follow(desk, act(desk, order, "price", price="19.90"))
    page = follow(desk, act(desk, order, "cancel", qty="1", reason="one too many"))
    line = makers.line_of(order)
    assert (line.ordered, line.cancelled, line.reserved, line.price_minor) == (4, 1, 3, 1_990)
    said = text(page)
    assert "Line 1 is for 4 now, was 3." in said
    assert "one too many" in said


def test_letting_go_more_than_is_set_aside_is_refused_at_the_field(desk, tool, dealer) -> None:
    order = taken(desk)
    answer = act(desk, order, "go", qty="9")
    assert answer.status_code == 422
    assert "let go 1 to 3" in text(answer)
    assert 'id="go_qty_say"' in answer.content.decode()


def test_address_reference_and_gift_change_until_it_is_sent(desk, tool, dealer) -> None:
    order = taken(desk)
    follow(desk, press(desk, f"/order/{order.number}/change", ship_to="9 Mill Lane", gift="on", gift_note="for May"))
    order.refresh_from_db()
    assert (order.ship_to, order.gift, order.gift_note) == ("9 Mill Lane", True, "for May")


def test_two_people_changing_one_order_are_told_so(desk, tool, dealer) -> None:
    order = taken(desk)
    address = f"/order/{order.number}/change"
    mine = forms(desk.get(address))[0].fields
    follow(desk, press(desk, address, ship_to="9 Mill Lane"))
    answer = desk.post(address, {**mine, "ship_to": "10 Mill Lane"})
    assert answer.status_code == 412
    assert "has changed since it was read" in text(answer)


def test_a_line_is_added_a_day_given_and_money_written_down(desk, tool, dealer) -> None:
    order = taken(desk)
    follow(desk, press(desk, f"/order/{order.number}/add", item="CP-2", qty="1"))
    follow(desk, press(desk, f"/order/{order.number}/day", day="2030-07-01"))
    page = follow(desk, press(desk, f"/order/{order.number}/money", amount="50", way="in", how="transfer"))
    order.refresh_from_db()
    assert order.lines.count() == 2
    assert order.received_minor == 5_000
    assert "transfer" in text(page)
    answer = press(desk, f"/order/{order.number}/money", amount="60", way="back")
    assert "More would be given back than was received" in text(answer)


def test_a_cancelled_order_gives_its_pieces_back(desk, tool, dealer) -> None:
    order = taken(desk)
    follow(desk, press(desk, f"/order/{order.number}/cancel", reason="changed their mind"))
    order.refresh_from_db()
    assert order.closed_at is not None
    assert ItemStock.objects.get(item=tool.item).allocated == 0


# ---- holds


def test_a_phone_hold_becomes_an_order_with_its_very_pieces(desk, tool, dealer) -> None:
    soon = (clock.now() + dt.timedelta(days=3)).date().isoformat()
    follow(desk, press(desk, "/counter/holds", item="CP-2", qty="4", name="Ash at the fair", until=soon))
    hold = Hold.objects.get()
    kept = hold.allocation_id
    assert "4 × Cross peen 2 lb" in text(desk.get("/counter/holds"))
    answer = press(desk, f"/counter/holds/{hold.pk}/order", customer="Tarn and Thrupp", price="31")
    page = follow(desk, answer)
    line = OrderLine.objects.get()
    assert (line.reserved, line.price_minor, line.allocation_id) == (4, 3_100, kept)
    assert f"out of hold {hold.pk}" in text(page)
    assert ItemStock.objects.get(item=tool.item).allocated == 4


def test_a_hold_is_let_go_once(desk, tool) -> None:
    hold = makers.make_phone_hold(tool.item, 2, at=clock.now())
    page = follow(desk, press(desk, f"/counter/holds/{hold.pk}", reason="rang off"))
    assert "let go" in text(page)
    assert forms(desk.get(f"/counter/holds/{hold.pk}")) == []


def test_more_than_there_is_cannot_be_put_by(desk, tool) -> None:
    soon = (clock.now() + dt.timedelta(days=3)).date().isoformat()
    answer = press(desk, "/counter/holds", item="CP-2", qty="6", name="Ash", until=soon)
    assert answer.status_code == 409
    assert "5 can be set aside now, not 6" in text(answer)
    past = press(desk, "/counter/holds", item="CP-2", qty="1", name="Ash", until="2020-01-01")
    assert "from today" in text(past)


# ---- sending and what comes back


def test_a_hand_sends_and_prints_the_slip(desk, hand, tool, dealer) -> None:
    order = taken(desk)
    slip = follow(
        hand,
        press(hand, f"/order/{order.number}/send", line_1="2", carrier="Fen Post", tracking="X1", weight="3.1 kg"),
    )
    shipment = Shipment.objects.get()
    assert (shipment.lines.get().qty, shipment.carrier, shipment.scale_mass_mg) == (2, "Fen Post", 3_100_000)
    assert makers.line_of(order).reserved == 1
    for said in ("4 Weir Row", "Wear goggles.", "45.00 USD for one, 90.00 USD together", "3.1 kg"):
        assert said in text(slip), said
    assert "Sent: shipment 1" in text(hand.get(f"/shipment/{shipment.number}"))


def test_the_slip_of_a_gift_shows_no_price(desk, tool, dealer) -> None:
    order = taken(desk, gift="on", gift_note="Mind your thumbs")
    makers.send(order, at=clock.now())
    slip = text(desk.get(f"/shipment/{Shipment.objects.get().number}/slip"))
    assert "Mind your thumbs" in slip
    assert "Tarn and Thrupp" in slip
    assert "USD" not in slip


def test_what_may_not_go_yet_says_why(desk, hand, tool, dealer) -> None:
    order = taken(desk, send_when_paid="on")
    answer = press(hand, f"/order/{order.number}/send")
    assert answer.status_code == 409
    assert "goes only when paid" in text(answer)
    more = press(hand, f"/order/{order.number}/send", line_1="4")
    assert more.status_code in (409, 422)
    none = press(hand, f"/order/{order.number}/send", line_1="0")
    assert "Nothing was chosen to send" in text(none)
    assert not Shipment.objects.exists()


def test_what_comes_back_is_inspected_and_back_on_the_shelf(desk, hand, tool, dealer) -> None:
    order = taken(desk)
    shipment = makers.send(order, at=clock.now())
    page = follow(hand, press(hand, f"/shipment/{shipment.number}/back", line="1", qty="2", why="loose head"))
    returned = Return.objects.get()
    assert "2 still to be looked at" in text(page)
    assert "loose head" in text(hand.get("/counter/returns"))
    follow(hand, press(hand, f"/counter/returns/{returned.number}", outcome="first", qty="1"))
    follow(hand, press(hand, f"/counter/returns/{returned.number}", outcome="scrap", qty="1"))
    assert ItemStock.objects.get(item=tool.item).sellable == 3
    answer = press(hand, f"/counter/returns/{returned.number}", outcome="first", qty="1")
    assert answer.status_code == 422


# ---- who sees what


def test_a_hand_sees_no_address_and_no_price_on_the_order(desk, hand, tool, dealer) -> None:
    order = taken(desk)
    page = text(hand.get(f"/order/{order.number}"))
    assert "Tarn and Thrupp" in page
    assert "Weir Row" not in page
    assert "USD" not in page
    assert hand.get("/counter/take").status_code == 403
    assert hand.get("/counter/customers").status_code == 403


def test_customers_are_written_down_and_changed(desk, shop) -> None:
    follow(desk, press(desk, "/counter/customers/new", name="Otter and Pell", kind="dealer", address="1 Quay"))
    made = Customer.objects.get()
    follow(desk, press(desk, f"/counter/customers/{made.pk}", name="Otter and Pell", terms="30 days"))
    made.refresh_from_db()
    assert (made.kind, made.terms, made.address) == ("dealer", "30 days", "1 Quay")
    assert "Otter and Pell" in text(desk.get("/counter/customers", {"find": "otter"}))
    wrong = press(desk, "/counter/customers/new", name="X", email="no address")
    assert wrong.status_code == 422


def test_orders_are_found_by_number_customer_and_reference(desk, tool, dealer) -> None:
    order = taken(desk, reference="ABC-77")
    for find in (str(order.number), "thrupp", "abc-77"):
        assert f'href="/order/{order.number}"' in desk.get("/counter", {"find": find}).content.decode(), find
    assert "No order here has" in text(desk.get("/counter", {"find": "nobody"}))


def test_the_list_of_orders_asks_the_database_no_more_for_more_orders(
    desk, tool, dealer, django_assert_max_num_queries
) -> None:
    for _ in range(45):
        makers.make_order({tool.item: 1}, customer=dealer)
    with django_assert_max_num_queries(24):
        page = desk.get("/counter")
    older = re.search(r'href="(\?[^"]*before=[0-9]+)"', page.content.decode())
    assert older
    assert "1 × Cross peen" in text(desk.get("/counter" + older.group(1).replace("&amp;", "&")))


def test_an_item_of_two_names_is_asked_about(desk, tool, dealer) -> None:
    makers.make_item(Item.Kind.TOOL, code="CP-2B", name="Cross peen 2 lb")
    assert taken(desk, item_0="CP-2").lines.get().item == tool.item
    assert "write the code" in text(press(desk, "/counter/take", **{**SLIP, "item_0": "Cross peen 2 lb"}))
