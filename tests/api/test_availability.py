"""What can be promised, asked by a program."""

import csv
import datetime as dt
import io
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test import override_settings
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from inventory.models import Item, RecipePart
from inventory.services import catalogue
from shop.api import availability as page
from shop.api import states
from shop.shared import clock
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, make_hold, make_item, make_order, make_tool, put_in, put_in_parts

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program() -> Program:
    return Program("availability:read")


def test_it_tells_what_can_be_promised_of_finished_ones_and_of_parts(program: Program) -> None:
    tool = make_tool(code="HAM-2LB")
    put_in(tool.item, 3)
    put_in_parts(tool, heads=5, handles=2, wedges=9)
    body = data(program.get("availability/HAM-2LB"))
    assert (body["can_promise"], body["of_which_from_parts"], body["unit"]) == ("5", "2", "piece")
    assert body["state"] == "https://schema.org/InStock"


def test_an_expired_hold_counts_for_nobody_from_its_second_and_the_tag_tells(program: Program) -> None:
    item = make_item(code="HAN-1")
    put_in(item, 5)
    hold = make_hold(item, 2, minutes=15)
    before, last, first = hold.until - dt.timedelta(seconds=1), hold.until - dt.timedelta(microseconds=1), hold.until
    tags = {}
    for at, can in ((before, "3"), (last, "3"), (first, "5")):
        with clock.frozen(at):
            response = program.get("availability/HAN-1")
            assert data(response)["can_promise"] == can
            tags[at] = response["ETag"]
    assert tags[before] == tags[last] != tags[first]
    with clock.frozen(first):
        assert data(program.get("availability/HAN-1"))["as_of"] == first.isoformat().replace("+00:00", "Z")
        assert program.get("availability/HAN-1", If_None_Match=tags[first]).status_code == 304
        assert program.get("availability/HAN-1", If_None_Match=tags[last]).status_code == 200


def test_the_tag_stays_until_something_is_written(program: Program) -> None:
    item = make_item(code="HAN-1")
    put_in(item, 5)
    first = program.get("availability")
    assert program.get("availability", If_None_Match=first["ETag"]).status_code == 304
    make_order({item: 2})
    changed = program.get("availability", If_None_Match=first["ETag"])
    assert data(changed)["rows"][0]["can_promise"] == "3"
    with transaction.atomic():
        catalogue.change_item(item, at=AT, by=makers.actor(), name="Another name")
    assert program.get("availability", If_None_Match=changed["ETag"]).status_code == 200


def test_it_answers_for_many_items_named_or_for_all_of_a_kind(program: Program) -> None:
    for code in ("HAN-1", "HAN-2"):
        make_item(code=code)
    make_item(Item.Kind.HEAD, code="HEAD-1")
    make_item(Item.Kind.BAR, code="BAR-1")
    assert [row["item"] for row in data(program.get("availability"))["rows"]] == ["HAN-1", "HAN-2", "HEAD-1"]
    assert [row["item"] for row in data(program.get("availability?item=HEAD-1,HAN-1"))["rows"]] == ["HAN-1", "HEAD-1"]
    assert [row["item"] for row in data(program.get("availability?kind=head"))["rows"]] == ["HEAD-1"]
    body = problem(program.get("availability?item=HAN-1,NOPE-1,BAR-1"), 404)
    assert body["unknown_items"] == ["BAR-1", "NOPE-1"]
    problem(program.get("availability?item=HAN-1&item=HAN-2"), 400)
    problem(program.get("availability/BAR-1"), 404)


def test_it_gives_a_table_for_a_spreadsheet_with_the_moment_on_every_line(program: Program) -> None:
    put_in(make_item(code="HAN-1", name='=HYPERLINK("x"), 1/2 in', eye_size="1-1/8 × 7/8 in"), 5)
    make_item(Item.Kind.BLANK, code="BLANK-1", grade=makers.make_grade(), section=makers.make_section())
    response = program.get("availability", Accept="text/csv")
    assert response["Content-Type"] == "text/csv; charset=utf-8; header=present"
    rows = list(csv.DictReader(io.StringIO(response.content.decode(), newline="")))
    assert list(rows[0]) == list(page.HEADER)
    blank, handle = rows
    assert (blank["size_mm"], blank["size_in"], blank["size"]) == ("50.8", "2.0000", "2 in")
    assert (handle["name"], handle["can_promise"], handle["size"]) == (
        '\'=HYPERLINK("x"), 1/2 in',
        "5",
        "1-1/8 × 7/8 in",
    )
    assert {row["as_of"] for row in rows} == {"2026-03-02T09:00:00Z"}


def test_five_hundred_items_take_no_more_queries_than_five(program: Program) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            data(program.get("availability"))
        return len(queries)

    for _ in range(5):
        make_item()
    count()  # the first request of a minute notes that the key was used
    few = count()
    for _ in range(60):
        make_item()
    assert count() == few <= 6


@given(st.sampled_from(Item.Kind.values), st.booleans(), st.none() | st.integers(0, 50), st.integers(0, 60))
def test_every_state_of_stock_has_exactly_one_word(kind: str, active: bool, point: int | None, can: int) -> None:
    item = Item(kind=kind, active=active, reorder_point=point)
    said = states.state(item, can)
    assert said.startswith("https://schema.org/")
    fits = {
        "Discontinued": not active,
        "LimitedAvailability": active and can > 0 and point is not None and can <= point,
        "InStock": active and can > 0 and (point is None or can > point),
        "BackOrder": active and can == 0 and kind in states.MADE_HERE,
        "OutOfStock": active and can == 0 and kind not in states.MADE_HERE,
    }
    assert [word for word, does in fits.items() if does] == [said.rsplit("/", 1)[1]]


def test_the_sum_over_all_items_is_what_the_book_says(program: Program) -> None:
    for number in range(6):
        item = make_item()
        put_in(item, 10 + number)
        make_order({item: number + 1})
    assert not RecipePart.objects.exists()
    told = sum(Decimal(row["can_promise"]) for row in data(program.get("availability"))["rows"])
    assert told == sum(10 + number - number - 1 for number in range(6))


@override_settings(DEBUG=False)
def test_a_key_without_the_scope_is_told_nothing() -> None:
    put_in(make_item(code="HAN-1"), 5)
    other = Program("orders:read")
    assert "HAN-1" not in str(problem(other.get("availability"), 403))
