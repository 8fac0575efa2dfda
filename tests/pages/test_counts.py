"""Counting on pages: a line in digits and one touch, blind until it is counted, the dearest first after."""

import datetime as dt
import re

import pytest
from django.test import Client

from inventory.models import Entry, Holding, Item, Lot, StockCount, StockCountLine, Supplier, SupplierPrice
from shop.shared import clock
from tests import makers
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")
NOW = dt.datetime(2026, 12, 1, 16, 0, tzinfo=dt.UTC)  # a Tuesday morning in Chicago


@pytest.fixture
def hand(db: None, monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr(clock, "_frozen", NOW)
    make_shop()
    return client_of("hand")


@pytest.fixture
def handles(hand: Client) -> Item:
    supplier = Supplier.objects.create(name="Invented turnery")
    item = makers.make_item(Item.Kind.HANDLE, code="HA16", name="Hickory 16 in", supplier=supplier)
    SupplierPrice.objects.create(supplier=supplier, item=item, price_minor=300, noted_on=NOW.date())
    makers.put_in(item, 7319)
    return item


@pytest.fixture
def oil(hand: Client) -> Item:
    item = makers.make_item(
        Item.Kind.CONSUMABLE, code="OIL", name="Linseed oil", unit="ul", buy_unit="tin", issue_per_buy=1_000_000
    )
    makers.put_in(item, 3_500_000)
    return item


@pytest.fixture
def bar(hand: Client) -> Lot:
    return makers.put_in(makers.make_item(Item.Kind.BAR, code="R2"), 20 * makers.FOOT_NM)


def opened(client: Client, what: str) -> str:
    answer = press(client, "/shelf/counts", what=what)
    assert answer.status_code == 302
    return str(answer["Location"])


def there(item: Item) -> int:
    return sum(Holding.objects.filter(item=item).values_list("on_hand", flat=True))


def on_sheet(client: Client, sheet: str, number: int = 1) -> tuple[str, dict[str, str], list[tuple[str, str]]]:
    """Return the form of a line as it stands on the sheet: where it goes, its fields and its buttons."""
    (form,) = [one for one in forms(client.get(sheet)) if one.action.endswith(f"/{number}")]
    return form.action, form.fields, form.buttons


def test_a_line_takes_digits_and_one_touch_on_the_sheet_itself(hand: Client, handles: Item) -> None:
    sheet = opened(hand, "due")
    address, fields, buttons = on_sheet(hand, sheet)
    assert len(buttons) <= 1  # Book
    page = follow(hand, hand.post(address, {**fields, "found": "7319"}))
    assert "Hickory 16 in: written down." in text(page)
    assert "Nothing was off by more than allowed." in text(page)
    assert StockCountLine.objects.get().entry is None
    assert opened(hand, "kind:handle") != sheet


def test_what_is_due_goes_on_where_its_sheet_is_open(hand: Client, handles: Item) -> None:
    assert opened(hand, "due") == opened(hand, "due")
    assert StockCount.objects.count() == 1


def test_no_page_and_no_print_shows_the_book_before_the_line_is_counted(hand: Client, handles: Item) -> None:
    sheet = opened(hand, "kind:handle")
    asked = follow(hand, press(hand, f"{sheet}/1", found="31"))
    assert "A second count holds, or write why it is so." in text(asked)
    pages = [asked, *(hand.get(at) for at in ("/shelf/counts", sheet, f"{sheet}/1", f"{sheet}/paper"))]
    for page in pages:
        assert not re.search(r"7.?319", page.content.decode())
    assert there(handles) == 7319


def test_a_line_that_is_off_is_said_with_its_worth_to_who_may_see_costs(hand: Client, handles: Item) -> None:
    sheet = opened(hand, "place:BIN")
    for _ in range(2):
        address, fields, _ = on_sheet(hand, sheet)
        hand.post(address, {**fields, "found": "32", "request_key": ""})
    assert there(handles) == 32
    page = text(hand.get(sheet))
    assert "7 287 fewer" in page
    assert "One line short, no lines over: the one makes up for no other." in page
    assert "21 861.00" not in page
    assert "the one makes up for no other. Goods for 21 861.00 USD are missing." in text(client_of("desk").get(sheet))


def test_tins_are_read_by_whole_ones_and_a_touch(hand: Client, oil: Item) -> None:
    sheet = opened(hand, "kind:consumable")
    address, fields, buttons = on_sheet(hand, sheet)
    assert buttons == [("part", "0"), ("part", "1"), ("part", "2"), ("part", "3")]
    assert hand.post(address, {**fields, "whole": "3", "part": "1"}).status_code == 302
    line = StockCountLine.objects.get()
    assert (line.counted, line.typed, there(oil)) == (3_250_000, "3 and 1/4", 3_250_000)


def test_a_bar_is_ticked_by_one_touch_and_one_not_here_is_looked_for_again(hand: Client, bar: Lot) -> None:
    sheet = opened(hand, "kind:bar")
    address, fields, buttons = on_sheet(hand, sheet)
    assert buttons == [("here", "yes"), ("here", "no")]
    asked = hand.post(address, {**fields, "here": "no"})
    assert asked["Location"].endswith("/1")
    assert "Look once more" in text(follow(hand, asked))
    assert hand.post(address, {**fields, "here": "yes", "request_key": ""})["Location"] == sheet
    assert there(bar.item) == 20 * makers.FOOT_NM


def test_a_bar_is_taped_anew_on_its_line(hand: Client, bar: Lot) -> None:
    sheet = opened(hand, "kind:bar")
    assert press(hand, f"{sheet}/1", length="some").status_code == 422
    assert press(hand, f"{sheet}/1", length="19 ft", reason="sawn and not booked").status_code == 302
    assert (there(bar.item), Entry.objects.latest("pk").kind) == (19 * makers.FOOT_NM, Entry.Kind.CORRECTION)
    assert press(hand, f"{sheet}/1", here="no").status_code == 302
    assert there(bar.item) == 0


def test_the_line_says_why_it_is_counted_so_often(hand: Client, handles: Item) -> None:
    sheet = opened(hand, "kind:handle")
    assert "Counted sometimes, as no yearly value is known." in text(hand.get(f"{sheet}/1"))
    Item.objects.update(counted="seldom")
    assert "Counted seldom, as written on the item." in text(hand.get(f"{sheet}/1"))


def test_the_print_has_room_to_write_and_a_code_for_each_place(
    hand: Client, handles: Item, bar: Lot, oil: Item
) -> None:
    for what, words in (
        ("kind:handle", "Hickory 16 in"),
        ("kind:bar", "not here □"),
        ("kind:consumable", "and ¼ ½ ¾ whole {oil}s"),
    ):
        sheet = opened(hand, what)
        page = hand.get(f"{sheet}/paper")
        assert page.content.decode().count('class="qr"') == 1
        assert words.format(oil=oil.buy_unit) in text(page)


def test_a_counted_line_is_opened_from_the_sheet_and_counted_again(hand: Client, handles: Item) -> None:
    sheet = opened(hand, "kind:handle")
    press(hand, f"{sheet}/1", found="7300", reason="split in the damp")
    assert f'href="{sheet}/1"' in hand.get(sheet).content.decode()
    press(hand, f"{sheet}/1", found="7310", reason="ten stood behind the door")
    page = text(hand.get(sheet))
    assert "Hickory 16 in 7 310 7 319" in page
    assert press(hand, sheet).status_code == 302
    assert StockCount.objects.get().closed_at == NOW
    assert f'href="{sheet}/1"' not in hand.get(sheet).content.decode()
