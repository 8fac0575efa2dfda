"""The Door as a browser without script sees it: a delivery received, kept as a draft, booked once, measured later."""

import datetime as dt

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Bar, Delivery, Entry, Holding, Item, PurchaseOrder, Supplier
from inventory.services import purchasing, steel_items
from inventory.services.purchasing import ToBuy
from shop.shared import clock
from tests import makers
from tests.makers import AT, actor
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_person, make_shop, make_tablet, touch

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def hand(db: None) -> Client:
    make_shop()
    return client_of("hand")


@pytest.fixture
def order(db: None) -> PurchaseOrder:
    """An order of five bars and three dozen handles."""
    with transaction.atomic():
        steel = steel_items.bar_item(makers.make_grade("4140"), makers.make_section(), at=AT, by=actor())
        firm = purchasing.add_supplier("Invented Steel", claim_days=5, at=AT, by=actor())
        handles = makers.make_item(Item.Kind.HANDLE, code="HD-14", buy_unit="dozen", issue_per_buy=12)
        return purchasing.open_order(
            firm, [ToBuy(steel, "5 @ 20 ft"), ToBuy(handles, "3 dozen")], ordered_on=AT.date(), at=AT, by=actor()
        )


STEEL = {
    "supplier": "Another Invented Firm",
    "l0_grade": "4140",
    "l0_new_grade": "on",
    "l0_shape": "round",
    "l0_size": "2 in",
    "l0_bars": "6 @ 20 ft 1/2 in, 1 @ 5.74 m",
    "l0_heat_number": "0051077",
}


def test_a_delivery_without_an_order_is_booked_in_one_form(hand: Client) -> None:
    answer = press(hand, "/door/new", **STEEL, do="book")
    page = text(follow(hand, answer))
    assert "Delivery 1 is in the book" in page
    assert "6 × 20 ft 1/2 in" in page.replace("\u00a0", " ")
    assert "worked out, not weighed" in page
    assert Bar.objects.count() == 7
    assert Supplier.objects.get().name == "Another Invented Firm"


def test_the_same_form_sent_twice_books_one_delivery(hand: Client) -> None:
    form = forms(hand.get("/door/new"))[0]
    sent = {**form.fields, **STEEL, "do": "book"}
    first, second = hand.post("/door/new", sent), hand.post("/door/new", sent)
    assert first["Location"] == second["Location"]
    assert (Delivery.objects.count(), Entry.objects.count(), Bar.objects.count()) == (1, 1, 7)


def test_a_lorry_is_met_with_a_count_and_a_mill_heat_for_each_ordered_line(hand: Client, order: PurchaseOrder) -> None:
    page = text(hand.get("/door"))
    assert "5 bars of 4140 round 2 in" in page
    answer = press(
        hand, f"/door/new/{order.number}", l0_bars="4", l0_heat_number="0051077", l1_quantity="3 dozen", do="book"
    )
    page = text(follow(hand, answer))
    assert "1 bar still to come" in page
    assert Holding.objects.filter(place__code="DOOR", lot__bar__measured=False).count() == 4
    assert Item.objects.get(code="HD-14").stock.sellable == 36
    assert "4 bars wait at the Door" in text(hand.get("/door"))


def test_an_ordered_line_of_which_nothing_came_is_left_open(hand: Client, order: PurchaseOrder) -> None:
    follow(hand, press(hand, f"/door/new/{order.number}", l1_quantity="36", do="book"))
    assert order.lines.get(number=1).received_bars == 0
    assert order.lines.get(number=2).received == 36


def test_a_delivery_of_a_closed_order_is_asked_back_and_booked_when_it_is_said(
    hand: Client, order: PurchaseOrder
) -> None:
    drafts = [press(hand, f"/door/new/{order.number}", l1_quantity="3 dozen", do="keep")["Location"] for _ in range(2)]
    whole = {"l0_bars": "5 @ 20 ft", "l0_heat_number": "0051077"}
    follow(hand, press(hand, drafts[0], **whole, do="book"))
    order.refresh_from_db()
    assert order.closed_at is not None
    refused = text(press(hand, drafts[1], **whole, do="book"))
    assert f"Purchase order {order.number} is closed; delivery 1 brought the last of it." in refused
    assert f"Order {order.number} is closed; this came all the same" in refused
    assert Item.objects.get(code="HD-14").stock.sellable == 36
    follow(hand, press(hand, drafts[1], **whole, although_closed="on", do="book"))
    assert Item.objects.get(code="HD-14").stock.sellable == 72


def test_a_draft_keeps_what_was_typed_even_what_cannot_be_read(hand: Client, order: PurchaseOrder) -> None:
    answer = press(hand, f"/door/new/{order.number}", l0_bars="four or five", l0_heat_number="00", do="keep")
    page = hand.get(answer["Location"])
    assert page.status_code == 200
    assert forms(page)[0].fields["l0_bars"] == "four or five"
    assert "four or five" in text(page)
    assert "Go on with it" in text(hand.get("/door"))
    assert not Entry.objects.exists()


def test_a_draft_reads_back_what_it_understood_before_it_is_booked(hand: Client, order: PurchaseOrder) -> None:
    answer = press(
        hand,
        f"/door/new/{order.number}",
        l0_bars="2 @ 20 ft",
        l0_heat_number="0051077",
        l0_scale="435 lb",
        l0_weighed_by="own scale",
        do="keep",
    )
    page = text(hand.get(answer["Location"])).replace("\u00a0", " ")
    assert "2 × 20 ft (6 096 mm)" in page
    # 2 in round of 7.85 g/cm3 is 10.69 lb/ft, 40 ft of it 427.7 lb.
    assert "427.7 lb" in page
    assert "1.7 % over" in page
    assert "3 bars short. Have the driver write “2 received, 3 short” on his paper. Claims close" in page


def test_going_on_with_a_draft_books_it(hand: Client, order: PurchaseOrder) -> None:
    first = press(hand, f"/door/new/{order.number}", l0_bars="2 @ 20 ft", do="keep")
    answer = press(hand, first["Location"], l0_heat_number="0051077", do="book")
    assert "is in the book" in text(follow(hand, answer))
    assert Bar.objects.count() == 2


def test_a_draft_whose_booking_was_refused_is_put_right_and_booked(hand: Client, order: PurchaseOrder) -> None:
    first = press(hand, f"/door/new/{order.number}", l0_bars="2 @ 20 ft", do="keep")
    refused = press(hand, first["Location"], l0_heat_number="", do="book")
    assert refused.status_code == 422
    answer = hand.post(first["Location"], {**forms(refused)[0].fields, "l0_heat_number": "0051077", "do": "book"})
    assert "is in the book" in text(follow(hand, answer))


def test_two_tablets_at_one_draft_do_not_write_over_each_other(hand: Client, order: PurchaseOrder) -> None:
    first = press(hand, f"/door/new/{order.number}", l0_bars="2 @ 20 ft", do="keep")
    old = forms(hand.get(first["Location"]))[0].fields
    press(hand, first["Location"], l0_heat_number="0051077", do="keep")
    answer = hand.post(first["Location"], {**old, "l0_heat_number": "999", "do": "keep"})
    assert answer.status_code == 412
    assert "has changed since it was read" in text(answer)
    assert forms(answer)[0].fields["l0_heat_number"] == "999"
    assert Delivery.objects.get().draft["lines"][0]["heat_number"] == "0051077"


def test_another_line_keeps_what_is_written_and_adds_one(hand: Client) -> None:
    answer = press(hand, "/door/new", **STEEL, do="goods")
    form = forms(hand.get(answer["Location"]))[0]
    assert form.fields["l0_heat_number"] == "0051077"
    assert "l1_item" in form.fields


def test_a_refused_booking_says_beside_the_field_what_would_work(hand: Client) -> None:
    answer = press(hand, "/door/new", **{**STEEL, "l0_heat_number": "", "l0_bars": "six"}, do="book")
    assert answer.status_code == 422
    page = text(answer)
    assert "Copy it from the tag, or write unknown" in page
    assert forms(answer)[0].fields["l0_bars"] == "six"
    assert (Delivery.objects.count(), Supplier.objects.count()) == (0, 0)


def test_what_a_delivery_cost_is_asked_of_the_desk_only_and_not_lost(hand: Client, order: PurchaseOrder) -> None:
    desk = client_of("desk")
    first = press(desk, f"/door/new/{order.number}", l0_bars="2 @ 20 ft", l0_cost="150.00", do="keep")
    shown = forms(hand.get(first["Location"]))[0]
    assert "l0_cost" not in shown.fields
    assert "150.00" not in hand.get(first["Location"]).content.decode()
    follow(hand, press(hand, first["Location"], l0_heat_number="0051077", do="book"))
    assert Delivery.objects.get().lines.get().cost_minor == 15_000
    assert "150.00" not in text(hand.get(first["Location"]))
    assert "150.00" in text(desk.get(first["Location"]))


def test_at_a_tablet_the_touched_name_signs(hand: Client, order: PurchaseOrder) -> None:
    tablet = Client()
    make_tablet(tablet, "at the door")
    first, second = make_person("hand", "first", on_tablet=True), make_person("hand", "second", on_tablet=True)
    touch(tablet, first)
    form = forms(tablet.get(f"/door/new/{order.number}"))[0]
    assert ("who", str(second.pk)) in form.buttons
    answer = tablet.post(
        f"/door/new/{order.number}",
        {**form.fields, "l0_bars": "2 @ 20 ft", "l0_heat_number": "1", "who": str(second.pk)},
    )
    assert answer.status_code == 302, text(answer)
    entry = Entry.objects.get()
    assert (entry.by, entry.device) == (second, "at the door")


def test_bars_that_wait_are_measured_together_and_stand_on_the_rack(hand: Client, order: PurchaseOrder) -> None:
    follow(hand, press(hand, f"/door/new/{order.number}", l0_bars="3", l0_heat_number="0051077", do="book"))
    first, second, _third = Bar.objects.order_by("lot_id")
    answer = press(hand, "/door/measure", **{f"bar_{first.pk}": "18 10", f"bar_{second.pk}": "20 ft 1 1/2"})
    assert answer.status_code == 422
    assert forms(answer)[0].fields[f"bar_{first.pk}"] == "18 10"
    assert not Bar.objects.filter(measured=True).exists()
    answer = press(hand, "/door/measure", **{f"bar_{first.pk}": "18 ft 10 in", f"bar_{second.pk}": "20 ft 1 1/2 in"})
    assert "2 bars are measured" in text(follow(hand, answer))
    assert sorted(Bar.objects.filter(measured=True).values_list("length_nm", flat=True)) == [
        5_740_400_000,
        6_134_100_000,
    ]


def test_heavy_bars_carry_the_caution(hand: Client) -> None:
    answer = press(hand, "/door/new", **STEEL, do="keep")
    assert "Over 100 lb" in text(hand.get(answer["Location"])).replace("Over about", "Over")


def test_a_delivery_that_does_not_exist_is_not_there(hand: Client) -> None:
    assert hand.get("/door/999").status_code == 404
    assert hand.get("/door/new/999").status_code == 404


def test_a_delivery_undone_says_so(hand: Client) -> None:
    from shop.flows import reversing

    follow(hand, press(hand, "/door/new", **STEEL, do="book"))
    with transaction.atomic():
        reversing.reverse(Entry.objects.get().pk, stamp=makers.stamp(at=clock.now() + dt.timedelta(seconds=1)))
    assert "Undone" in text(hand.get("/door"))
    assert "Undone" in text(hand.get("/door/1"))


# ---- ordering from a supplier


def test_what_is_ordered_is_expected_at_the_door_confirmed_and_closed(order: PurchaseOrder) -> None:
    make_shop()
    desk = client_of("desk")
    answer = press(
        desk,
        "/door/order",
        supplier="Invented Steel",
        wanted_on="2030-05-06",
        item_0="4140",
        shape_0="round",
        size_0="1-5/8 in",
        qty_0="7 @ 20 ft",
        item_2="hd-14",
        qty_2="6 dozen",
    )
    assert "is written down" in text(follow(desk, answer))
    made = PurchaseOrder.objects.latest("number")
    assert [(line.item.code, line.qty, line.bars) for line in made.lines.order_by("number")] == [
        ("B-4140-RD-1.625IN", 7 * 20 * makers.FOOT_NM, 7),
        ("HD-14", 72, None),
    ]
    assert "7 bars of 4140 round 1-5/8 in" in text(desk.get("/door"))
    address = f"/door/order/{made.number}"
    day = (clock.now() + dt.timedelta(days=30)).date().isoformat()
    assert "confirmed for" in text(follow(desk, press(desk, address, day=day)))
    follow(desk, press(desk, f"{address}/close", reason="he has none"))
    made.refresh_from_db()
    assert made.closed_at is not None
    assert "1-5/8" not in text(desk.get("/door"))


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"item_0": "NOPE", "qty_0": "3"}, "is no item"),
        ({"item_0": "HD-14", "qty_0": "some"}, "some"),
        ({"item_0": "4140", "shape_0": "round", "size_0": "fat", "qty_0": "3 @ 20 ft"}, "fat"),
        ({}, "1 to 200 would work"),
    ],
)
def test_an_order_that_cannot_be_read_is_refused_with_what_would_work(
    order: PurchaseOrder, typed: dict[str, str], wrong: str
) -> None:
    make_shop()
    desk = client_of("desk")
    answer = press(desk, "/door/order", supplier="A New Firm", **typed)
    assert answer.status_code == 422
    assert wrong in text(answer)
    assert PurchaseOrder.objects.count() == 1
    assert not Supplier.objects.filter(name="A New Firm").exists()
