"""Moving in from the page: paste or choose a file, look at every line, then move it in, once."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.models import Item, ItemStock
from tests import makers
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

PAGE = "/door/moving-in"
STOCK = "item\tquantity\tmill heat number\nHANDLE-A\t3 dozen\t\nHEAD-A\t25\t00731\n"


@pytest.fixture
def desk(db: None) -> Client:
    make_shop()
    makers.make_item(Item.Kind.HANDLE, code="HANDLE-A")
    makers.make_item(Item.Kind.HEAD, code="HEAD-A", grade=makers.make_grade())
    return client_of("desk")


def sellable(code: str) -> int:
    return ItemStock.objects.get(item__code=code).sellable


def test_a_table_is_looked_at_line_by_line_and_nothing_is_written(desk: Client) -> None:
    answer = press(desk, PAGE, kind="stock", table=STOCK, do="look")
    page = text(answer)
    assert answer.status_code == 200
    assert "Every line can be moved in" in page
    assert "25 of HEAD-A at Shelf, mill heat 00731" in page
    assert sellable("HEAD-A") == 0
    assert forms(answer)[0].fields["table"].strip() == STOCK.strip()


def test_after_the_look_it_is_moved_in_once(desk: Client) -> None:
    looked = forms(press(desk, PAGE, kind="stock", table=STOCK, do="look"))[0]
    sent = {**looked.fields, "do": "move"}
    first, second = desk.post(PAGE, sent), desk.post(PAGE, sent)
    assert first["Location"] == second["Location"]
    assert "Moved in as number 1: 2 lines of stock" in text(follow(desk, first))
    assert (sellable("HANDLE-A"), sellable("HEAD-A")) == (36, 25)
    again = press(desk, PAGE, kind="stock", table=STOCK, do="move")
    assert again.status_code == 409
    assert "moved in as number 1" in text(again)
    assert sellable("HANDLE-A") == 36


def test_a_wrong_line_stands_first_with_its_column_and_nothing_goes_in(desk: Client) -> None:
    wrong = STOCK.replace("25", "many")
    answer = press(desk, PAGE, kind="stock", table=wrong, do="move")
    page = text(answer)
    assert answer.status_code == 422
    assert "1 line is not right yet, so nothing was moved in" in page
    assert "quantity:" in page
    assert page.index("quantity:") < page.index("3 dozen of HANDLE-A")
    assert sellable("HANDLE-A") == 0
    assert "many" in forms(answer)[0].fields["table"]


def test_a_file_is_looked_at_and_comes_back_as_text_for_the_second_step(desk: Client) -> None:
    form = forms(desk.get(PAGE))[0]
    upload = SimpleUploadedFile("stock.csv", b"\xef\xbb\xbf" + STOCK.replace("\t", ";").encode())
    looked = desk.post(PAGE, {**form.fields, "kind": "stock", "file": upload, "do": "look"})
    assert "Every line can be moved in" in text(looked)
    again = forms(looked)[0]
    assert "HANDLE-A;3 dozen" in again.fields["table"]
    follow(desk, desk.post(PAGE, {**again.fields, "do": "move"}))
    assert sellable("HANDLE-A") == 36


@pytest.mark.parametrize("table", ["", "colour\nred\n", "item;quantity\n", 'item;quantity\n"x;1\n'])
def test_a_table_that_is_none_is_refused_with_a_sentence(desk: Client, table: str) -> None:
    answer = press(desk, PAGE, kind="stock", table=table, do="look")
    assert answer.status_code == 422
    assert "Nothing has been written down yet" in text(answer)


def test_a_picture_is_no_table(desk: Client) -> None:
    form = forms(desk.get(PAGE))[0]
    upload = SimpleUploadedFile("photo.jpg", b"\xff\xd8\xff\xe0\x00\x10")
    answer = desk.post(PAGE, {**form.fields, "kind": "stock", "file": upload, "do": "look"})
    assert answer.status_code == 422
    assert "not UTF-8" in text(answer).replace("utf-8", "UTF-8")


def test_a_hand_does_not_move_in(desk: Client) -> None:
    assert client_of("hand").get(PAGE).status_code == 403
