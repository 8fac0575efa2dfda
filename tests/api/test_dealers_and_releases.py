"""Windows, minimums, what is still owed and releases, asked for by a program."""

import csv
import datetime as dt
import io
from typing import Any

import pytest
from django.db import transaction

from inventory.models import RefusedDemand
from orders.models import Order, Release
from orders.services import customers
from shop.flows import checking
from shop.shared import clock
from shop.shared.models import AuditLine
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, make_customer, make_item, make_order, put_in

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program() -> Program:
    return Program()


@pytest.fixture(autouse=True)
def _the_book_balances() -> Any:
    yield
    assert checking.check_book() == []


def body(code: str, quantity: str = "2", **rest: Any) -> dict[str, Any]:
    buyer = {"name": "Invented buyer", "address": "1 Invented Lane"}
    return {"customer": buyer, "lines": [{"item": code, "quantity": quantity}], **rest}


# The customer's window


def test_an_order_keeps_its_window_and_goes_before_it_only_when_asked_to(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    window = {"not_before": "2030-03-05", "not_after": "2030-03-20"}
    made = data(program.post("orders", body("HAN-1", **window)), 201)
    assert (made["not_before"], made["not_after"]) == ("2030-03-05", "2030-03-20")
    address = f"orders/{made['number']}/shipments"
    told = problem(program.post(address, {}), 409)
    assert told["not_before"] == "2030-03-05"
    assert "not before Tue 5 Mar 2030" in told["detail"]
    data(program.post(address, {"before_window": True}), 201)


def test_a_window_is_changed_opened_with_null_and_never_ends_before_it_begins(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    made = data(program.post("orders", body("HAN-1", not_after="2030-03-20")), 201)
    address = f"orders/{made['number']}"
    wrong = problem(program.ask("PATCH", address, {"not_before": "2030-03-21"}, **{"If-Match": "*"}), 422)
    assert wrong["errors"][0]["pointer"] == "/not_after"
    now = data(program.ask("PATCH", address, {"not_before": "2030-03-21", "not_after": None}, **{"If-Match": "*"}))
    assert (now["not_before"], now["not_after"]) == ("2030-03-21", None)
    told = problem(program.post("orders", body("HAN-1", not_before="2030-03-05", day_given="2030-03-04")), 422)
    assert told["errors"][0]["pointer"] == "/day_given"


# Customers


def test_what_is_agreed_with_a_customer_is_read_and_changed(program: Program) -> None:
    dealer = make_customer("Invented Dealer", kind="dealer")
    make_customer("Somebody")
    address = f"customers/{dealer.pk}"
    read = program.get(address)
    assert data(read)["minimum"] == {"amount": "0.00", "currency": "USD"}
    change = {"minimum": "250.00", "takes_parts": False, "terms": "30 days"}
    now = data(program.ask("PATCH", address, change, **{"If-Match": read["ETag"]}))
    assert (now["minimum"]["amount"], now["takes_parts"], now["terms"]) == ("250.00", False, "30 days")
    problem(program.ask("PATCH", address, change, **{"If-Match": read["ETag"]}), 412)
    problem(program.ask("PATCH", address, {}, **{"If-Match": "*"}), 422)
    assert [row["id"] for row in data(program.get("customers?kind=dealer"))["rows"]] == [dealer.pk]
    problem(program.get("customers/999999"), 404)
    unnamed = data(Program("orders:read").get(address))
    assert (unnamed["name"], unnamed["address"], unnamed["takes_parts"]) == (None, None, False)


def test_an_order_under_the_minimum_is_refused_unless_it_says_so(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    dealer = make_customer("Invented Dealer", kind="dealer")
    with transaction.atomic():
        customers.change(dealer, minimum_minor=25_000, at=AT, by=makers.actor())
    asked = {"customer": {"id": dealer.pk}, "lines": [{"item": "HAN-1", "quantity": "2"}]}
    told = problem(program.post("orders", asked), 409)
    assert (told["minimum_minor"], told["comes_to_minor"]) == (25_000, 9_000)
    assert told["errors"][0]["pointer"] == "/below_minimum"
    assert not Order.objects.exists()
    data(program.post("orders", {**asked, "below_minimum": True}), 201)
    assert AuditLine.objects.filter(action="taken under the minimum").count() == 1
    hold = data(program.post("holds", {"item": "HAN-1", "quantity": "1", "minutes": 5}), 201)
    problem(program.post(f"holds/{hold['id']}/reserve", {"customer": {"id": dealer.pk}}), 409)
    data(program.post(f"holds/{hold['id']}/reserve", {"customer": {"id": dealer.pk}, "below_minimum": True}), 201)


def test_a_customer_who_takes_no_parts_is_not_sent_a_part(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 1)
    dealer = make_customer("Invented Dealer", kind="dealer")
    with transaction.atomic():
        customers.change(dealer, takes_parts=False, at=AT, by=makers.actor())
    made = data(
        program.post("orders", {"customer": {"id": dealer.pk}, "lines": [{"item": "HAN-1", "quantity": "2"}]}), 201
    )
    told = problem(program.post(f"orders/{made['number']}/shipments", {}), 409)
    assert told["missing"] == {"1": 1}


# Still owed


def test_what_is_still_owed_is_listed_for_everybody_and_for_one(program: Program) -> None:
    item = make_item(code="HAN-1")
    put_in(item, 3)
    dealer, other = make_customer("Invented Dealer", kind="dealer"), make_customer("Somebody")
    make_order({item: 5}, customer=dealer)
    make_order({item: 1}, customer=other)
    rows = data(program.get("still-owed"))["rows"]
    assert [(row["customer"]["name"], row["owed"], row["set_aside"]) for row in rows] == [
        ("Invented Dealer", "5", "3"),
        ("Somebody", "1", "0"),
    ]
    assert len(data(program.get(f"still-owed?customer={other.pk}"))["rows"]) == 1
    assert len(data(program.get("still-owed?kind=dealer"))["rows"]) == 1
    problem(program.get("still-owed?customer=999999"), 404)
    table = program.get("still-owed", Accept="text/csv").content.decode()
    found = list(csv.DictReader(io.StringIO(table)))
    assert [(row["customer"], row["item"], row["owed"]) for row in found] == [
        ("Invented Dealer", "HAN-1", "5"),
        ("Somebody", "HAN-1", "1"),
    ]
    reader = Program("orders:read")
    assert data(reader.get("still-owed"))["rows"][0]["customer"]["name"] is None
    assert "Invented" not in reader.get("still-owed", Accept="text/csv").content.decode()


# Releases


def begin(program: Program, quantity: str = "3", **rest: Any) -> Any:
    asked = {"name": "Friday", "item": "HAN-1", "quantity": quantity, "opens_at": "2026-03-02T09:00:00Z", **rest}
    return data(program.post("releases", asked), 201)


def buy(program: Program, release: Any, quantity: str = "1", **rest: Any) -> Any:
    who = {"name": "Invented buyer", "address": "1 Invented Lane"}
    return program.post(f"releases/{release['id']}/orders", {"customer": who, "quantity": quantity, **rest})


def test_a_release_is_begun_read_sold_and_ended(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 4)
    with clock.frozen(AT):
        made = begin(program, "5")
        assert (made["left"], made["to_come"], made["state"]) == ("4", "1", "open")
        order = data(buy(program, made, "3", reference="web 7", price="12.50"), 201)
        assert (order["source"], order["reference"]) == (f"release {made['id']}", "web 7")
        assert order["lines"][0]["set_aside"] == "3"
        assert order["lines"][0]["price"]["amount"] == "12.50"
        now = data(program.get(f"releases/{made['id']}"))
        assert (now["left"], now["taken"], now["orders"]) == ("1", "3", 1)
        told = problem(buy(program, made, "2"), 409)
        assert (told["available"], told["requested"], told["unit"]) == ("1", "2", "piece")
        assert [(row.qty, row.available) for row in RefusedDemand.objects.all()] == [(2, 1)]
        ended = data(program.post(f"releases/{made['id']}/end"))
        assert (ended["state"], ended["left"]) == ("ended", "0")
        problem(program.post(f"releases/{made['id']}/end"), 409)
        problem(buy(program, made), 409)
    assert [row["id"] for row in data(program.get("releases"))["rows"]] == [made["id"]]
    assert [row["number"] for row in data(program.get("orders"))["rows"]] == [order["number"]]
    assert len(data(program.get("customers"))["rows"]) == 1


def test_a_release_sells_from_its_moment_until_it_closes(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 4)
    with clock.frozen(AT):
        made = begin(program, opens_at="2026-03-02T10:00:00Z", closes_at="2026-03-02T11:00:00Z")
        told = problem(buy(program, made), 409)
        assert "opens Mon 2 Mar 2026, 04:00" in told["detail"], "on the shop's wall in Chicago"
    with clock.frozen(AT + dt.timedelta(hours=1)):
        data(buy(program, made), 201)
    with clock.frozen(AT + dt.timedelta(hours=2)):
        problem(buy(program, made), 409)


def test_an_order_sent_twice_with_one_key_is_taken_once(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 4)
    made = begin(program)
    body = {"customer": {"name": "Invented buyer", "address": "1 Invented Lane"}, "quantity": "1"}
    address = f"releases/{made['id']}/orders"
    first = program.post(address, body, key="one-order-of-a-release")
    again = program.post(address, body, key="one-order-of-a-release")
    assert first.content == again.content
    assert again["Idempotency-Replayed"] == "true"
    assert data(program.get(f"releases/{made['id']}"))["taken"] == "1"
    problem(program.post(address, body, key=None), 400)


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"item": "HAN-9"}, "/item"),
        ({"quantity": "1.5"}, "/quantity"),
        ({"quantity": "200000"}, "/quantity"),
        ({"closes_at": "2026-03-02T09:00:00Z"}, "/closes_at"),
        ({"name": "  "}, "/name"),
        ({"opens_at": "noon"}, "/opens_at"),
        ({"colour": "red"}, "/colour"),
    ],
)
def test_a_release_that_cannot_be_begun_says_which_field_is_wrong(
    program: Program, wrong: dict[str, str], pointer: str
) -> None:
    put_in(make_item(code="HAN-1"), 4)
    asked = {"name": "Friday", "item": "HAN-1", "quantity": "1", "opens_at": "2026-03-02T09:00:00Z", **wrong}
    with clock.frozen(AT):
        told = problem(program.post("releases", asked), 422)
    assert [one["pointer"] for one in told["errors"]] == [pointer]
    assert not Release.objects.exists()
