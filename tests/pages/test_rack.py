"""The Rack as a browser without script sees it: bars to scale, slots and labels, what may be done with a bar."""

import re

import pytest
from django.test import Client

from inventory.models import Bar, Item, Lot, Melt, Place
from tests import makers
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture
def bars(db: None) -> tuple[Lot, Lot]:
    make_shop()
    item = makers.make_item(Item.Kind.BAR, code="B-1045-RD-2IN", name="1045 round 2 in")
    melt = makers.make_melt("0048213", grade=item.grade)
    return makers.put_in(item, 6_096_000_000, melt=melt), makers.put_in(item, 1_524_000_000, melt=melt)


@pytest.fixture
def hand(bars: tuple[Lot, Lot]) -> Client:
    return client_of("hand")


def test_bars_are_drawn_to_one_scale_from_one_datum(hand: Client, bars: tuple[Lot, Lot]) -> None:
    page = hand.get("/rack").content.decode()
    widths = re.findall(r'<rect class="stays" x="0" y="1" width="([0-9.]+)%"', page)
    assert [float(width) for width in widths] == [100.0, 25.0]
    assert f"Bar {bars[0].bar.number}: 20 ft" in page
    assert "mill heat 0048213" in page
    assert "The same as a table" in page


def test_a_bar_that_was_not_taped_says_that_it_must_not_be_cut(hand: Client, bars: tuple[Lot, Lot]) -> None:
    Bar.objects.filter(pk=bars[0].pk).update(measured=False)
    assert "not taped: do not cut" in text(hand.get("/rack")) + hand.get("/rack").content.decode()


def test_blanks_stand_beside_the_bars(hand: Client) -> None:
    blank = makers.make_item(Item.Kind.BLANK, code="BL-2", name="Blank 2 lb")
    makers.put_in(blank, 12)
    assert "Blank 2 lb" in text(hand.get("/rack"))


def test_a_slot_is_added_labelled_and_says_what_it_holds(bars: tuple[Lot, Lot]) -> None:
    desk = client_of("desk")
    follow(desk, press(desk, "/rack/slots", code="a3", name="Rack A3", kind="rack"))
    assert Place.objects.get(code="A3").kind == "rack"
    label = desk.get("/rack/labels?place=A3").content.decode()
    assert "<svg" in label
    assert "A3" in label
    number = bars[0].bar.number
    answer = press(desk, f"/rack/bar/{number}/move", place="A3")
    assert "is in Rack A3" in text(follow(desk, answer))
    page = desk.get("/rack/slot/A3")
    assert number in text(page)
    assert "1 bar." in text(page)
    assert makers.stands(bars[0], "A3") == 6_096_000_000


def test_a_slot_that_exists_already_is_refused_and_the_form_comes_back_filled_in(bars: tuple[Lot, Lot]) -> None:
    desk = client_of("desk")
    answer = press(desk, "/rack/slots", code="BIN", name="x", kind="bin")
    assert answer.status_code == 422
    assert "exists already" in text(answer)


def test_a_bar_shows_what_is_left_its_weight_and_where_it_came_from(hand: Client, bars: tuple[Lot, Lot]) -> None:
    page = text(hand.get(f"/rack/bar/{bars[0].bar.number}")).replace("\u00a0", " ")
    assert "mill heat 0048213" in page
    # 2 in round of 7.85 g/cm3 is 10.69 lb/ft; 20 ft of it weigh 213.8 lb.
    assert "213.8 lb" in page
    assert "worked out, not weighed" in page
    assert "Over 51 lb not alone" in page


def test_a_bar_that_waits_at_the_door_is_measured_from_its_own_page(hand: Client, bars: tuple[Lot, Lot]) -> None:
    item = bars[0].item
    lot = makers.put_in(item, 6_096_000_000, place="DOOR")
    Bar.objects.filter(pk=lot.pk).update(measured=False)
    number = lot.bar.number
    answer = press(hand, f"/rack/bar/{number}/measure", length="19'", unit="")
    assert "on the rack" in text(follow(hand, answer))
    assert makers.stands(lot, "RACK") == 19 * makers.FOOT_NM


def test_a_length_that_cannot_be_read_stays_in_the_field(hand: Client, bars: tuple[Lot, Lot]) -> None:
    desk = client_of("desk")
    answer = press(desk, f"/rack/bar/{bars[0].bar.number}/length", length="18 10")
    assert answer.status_code == 422
    assert "18 10" in answer.content.decode()


def test_the_desk_corrects_a_length_and_the_difference_is_in_the_book(bars: tuple[Lot, Lot]) -> None:
    desk = client_of("desk")
    answer = press(desk, f"/rack/bar/{bars[0].bar.number}/length", length="19 ft 11 in")
    follow(desk, answer)
    assert makers.stands(bars[0], "RACK") == 6_070_600_000


def test_a_doubtful_bar_is_taken_out_of_use_by_a_hand_and_cleared_by_the_owner_only(
    hand: Client, bars: tuple[Lot, Lot]
) -> None:
    lot = bars[0]
    follow(hand, press(hand, f"/rack/lot/{lot.pk}/not-to-be-used", reason="paint gone"))
    assert makers.stands(lot, "NOT-USED") == 6_096_000_000
    assert "not to be used" in hand.get("/rack").content.decode()
    assert "1045 round 2 in" in text(hand.get("/rack/not-to-be-used"))
    assert hand.get(f"/rack/lot/{lot.pk}/use-again").status_code == 403
    owner = client_of("owner")
    follow(owner, press(owner, f"/rack/lot/{lot.pk}/use-again", reason="paint found"))
    assert makers.stands(lot, "RACK") == 6_096_000_000


def test_what_is_left_of_a_bar_is_written_off_with_its_cause(hand: Client, bars: tuple[Lot, Lot]) -> None:
    follow(hand, press(hand, f"/rack/bar/{bars[1].bar.number}/scrap", reason="bent", way="scrap"))
    assert makers.stands(bars[1], "RACK") == 0
    assert "Nothing of it is left" in text(hand.get(f"/rack/bar/{bars[1].bar.number}"))


def test_the_mill_heat_of_a_lot_is_corrected_by_the_desk(bars: tuple[Lot, Lot]) -> None:
    desk = client_of("desk")
    follow(desk, press(desk, f"/rack/lot/{bars[0].pk}/mill-heat", heat_number="0048231", reason="read again"))
    assert Lot.objects.get(pk=bars[0].pk).melt == Melt.objects.get(heat_number="0048231")
    assert Lot.objects.get(pk=bars[1].pk).melt.heat_number == "0048213"


def test_labels_of_bars_carry_number_length_and_mill_heat(hand: Client, bars: tuple[Lot, Lot]) -> None:
    page = text(hand.get(f"/rack/labels?bar={bars[0].bar.number}"))
    assert bars[0].bar.number in page
    assert "0048213" in page
    assert hand.get("/rack/labels?bar=ZZZZ").status_code == 404
    assert hand.get("/rack/labels?delivery=x").status_code == 404


@pytest.mark.parametrize(
    "address", ["/rack/bar/ZZZZ", "/rack/bar/O0", "/rack/slot/NOPE", "/rack/slot/CUSTOMER", "/rack/lot/9/mill-heat"]
)
def test_what_is_not_there_is_not_found(bars: tuple[Lot, Lot], address: str) -> None:
    assert client_of("desk").get(address).status_code == 404


def test_the_rack_asks_the_database_the_same_number_of_times_for_few_bars_and_many(
    hand: Client, bars: tuple[Lot, Lot], django_assert_max_num_queries
) -> None:
    with django_assert_max_num_queries(25):
        hand.get("/rack")
    for _ in range(10):
        makers.put_in(bars[0].item, 3_048_000_000, melt=bars[0].melt)
    with django_assert_max_num_queries(25):
        hand.get("/rack")
