"""At the saw without a plan, as a browser without script sees it: blanks off a bar, a bar in two, a length for own tooling."""

import pytest
from django.test import Client

from inventory.models import Bar, Cut, Holding, Item, Lot
from shop.flows import checking
from shop.shared.units import parse_length
from tests import makers
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

FOOT = 304_800_000


@pytest.fixture
def bar(db: None) -> Bar:
    make_shop()
    item = makers.make_item(Item.Kind.BAR, code="B-1045-RD-2IN", name="1045 round 2 in")
    return makers.put_in(item, 20 * FOOT, melt=makers.make_melt("0048213", grade=item.grade)).bar


@pytest.fixture
def hand(bar: Bar) -> Client:
    return client_of("hand")


def inches(typed: str) -> int:
    return parse_length(typed).nm


def test_blanks_of_a_new_length_come_off_with_trim_and_kerf_as_typed(hand: Client, bar: Bar) -> None:
    answer = press(
        hand, f"/rack/bar/{bar.number}/saw", blank="other", length="4-7/16", unit="in", pieces="10", trim="1/2",
        kerf="1/16", left="194-7/16",
    )  # fmt: skip
    said = text(follow(hand, answer))
    made = Cut.objects.get()
    assert (made.pieces, made.trim_nm, made.kerf_nm, made.kerfs) == (10, inches("1/2 in"), inches("1/16 in"), 11)
    # 240 in less 1/2, ten of 4-7/16 and eleven kerfs of 1/16 is 194-7/16 in.
    assert (made.remnant_nm, made.difference_nm) == (inches("194 7/16 in"), 0)
    kept = Bar.objects.get(parent=bar)
    assert f"What is left is bar {kept.number}" in said
    assert "10 × " in said
    assert Holding.objects.get(item__kind=Item.Kind.BLANK).on_hand == 10
    assert checking.check_book() == []


def test_a_bar_sawn_in_two_is_two_bars_in_the_slot_that_was_chosen(hand: Client, bar: Bar) -> None:
    follow(client_of("desk"), press(client_of("desk"), "/rack/slots", code="a3", name="Rack A3", kind="rack"))
    said = text(follow(hand, press(hand, f"/rack/bar/{bar.number}/in-two", left="9 ft 11 in + 10 ft 1 in", slot="A3")))
    halves = Bar.objects.filter(parent=bar).order_by("pk")
    assert [half.typed for half in halves] == ["9 ft 11 in", "10 ft 1 in"]
    assert all(makers.stands(half.lot, "A3") for half in halves)
    assert f"Bar {bar.number} is sawn." in said
    assert checking.check_book() == []


def test_a_length_for_own_tooling_leaves_stock_and_the_rest_may_be_scrap(hand: Client, bar: Bar) -> None:
    said = text(follow(hand, press(hand, f"/rack/bar/{bar.number}/own-tooling", length="19 ft 8 in", scrap="on")))
    made = Cut.objects.get()
    assert made.own_nm == inches("236 in")
    assert made.scrap_nm > 0
    assert "is scrap" in said
    assert not Lot.objects.filter(parents__parent=bar.lot).exists()
    assert checking.check_book() == []


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"length": "", "pieces": "10"}, "write how long a piece is"),
        ({"length": "4-7/16 in", "pieces": "10", "kerf": "2 in", "left": "16 ft"}, "More than an inch"),
        ({"length": "4-7/16 in", "pieces": "80", "left": ""}, "too short for this"),
        ({"length": "4-7/16 in", "pieces": "10", "left": ""}, "tape it and write it, or say it is scrap"),
        ({"length": "4-7/16 in", "pieces": "10", "left": "12 ft"}, "tape it again, or say why under Note"),
        ({"length": "much", "pieces": "10"}, "much"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_booked(
    hand: Client, bar: Bar, typed: dict[str, str], sentence: str
) -> None:
    answer = press(hand, f"/rack/bar/{bar.number}/saw", blank="other", **typed)
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert not Cut.objects.exists()
