"""Holds, orders and shipments, asked for by a program."""

import datetime as dt
from typing import Any

import pytest
from django.db import transaction

from inventory.models import ItemStock, Movement, RefusedDemand
from orders.models import Customer, Hold, Order, OrderLine
from orders.services import ordering
from shop.flows import checking
from shop.shared import clock
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, line_of, make_customer, make_item, make_order, make_tool, put_in, put_in_parts

pytestmark = pytest.mark.django_db


@pytest.fixture
def program() -> Program:
    return Program()


@pytest.fixture(autouse=True)
def _the_book_balances() -> Any:
    yield
    assert checking.check_book() == []


def order_body(code: str, quantity: str = "2", **rest: Any) -> dict[str, Any]:
    return {
        "customer": {"name": "Invented buyer", "address": "1 Invented Lane"},
        "lines": [{"item": code, "quantity": quantity}],
        **rest,
    }


def take(program: Program, code: str, quantity: str = "2", **rest: Any) -> Any:
    return data(program.post("orders", order_body(code, quantity, **rest)), 201)


# Holds


def test_a_hold_puts_stock_by_until_its_second(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    response = program.post("holds", {"item": "HAN-1", "quantity": "2", "minutes": 10})
    made = data(response, 201)
    assert (made["quantity"], made["unit"], made["state"]) == ("2", "piece", "open")
    assert data(program.get(response["Location"])) == made
    assert data(program.get("availability/HAN-1"))["can_promise"] == "3"
    until = dt.datetime.fromisoformat(made["until"])
    with clock.frozen(until):
        assert data(program.get(response["Location"]))["state"] == "lapsed"
        assert data(program.get("holds"))["rows"] == []
        assert [row["id"] for row in data(program.get("holds?state=all"))["rows"]] == [made["id"]]


def test_a_hold_for_a_caller_lasts_to_the_end_of_the_day_on_the_shops_wall(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    with clock.frozen(AT):
        made = data(
            program.post("holds", {"item": "HAN-1", "quantity": "1", "name": "Ada", "until": "2026-03-04"}), 201
        )
    assert made["until"] == "2026-03-05T06:00:00Z"  # midnight in Chicago
    assert made["kind"] == "phone"


def test_a_hold_that_is_sent_twice_is_made_once(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    body = {"item": "HAN-1", "quantity": "2"}
    first = program.post("holds", body, key="one-request-of-a-basket")
    again = program.post("holds", body, key="one-request-of-a-basket")
    assert first.content == again.content
    assert again["Idempotency-Replayed"] == "true"
    assert Hold.objects.count() == 1


def test_more_than_there_is_is_refused_with_figures_and_noted_for_the_forecast(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    body = {"item": "HAN-1", "quantity": "6"}
    told = problem(program.post("holds", body, key="too-many-in-a-basket"), 409)
    assert (told["available"], told["requested"], told["unit"], told["item"]) == ("5", "6", "piece", "HAN-1")
    problem(program.post("holds", body, key="too-many-in-a-basket"), 409)
    assert [(row.qty, row.available) for row in RefusedDemand.objects.all()] == [(6, 5)]
    assert not Hold.objects.exists()


def test_a_program_sees_and_ends_only_its_own_holds(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    response = program.post("holds", {"item": "HAN-1", "quantity": "2"})
    other = Program()
    problem(other.get(response["Location"]), 404)
    assert data(other.get("holds?state=all"))["rows"] == []
    problem(other.ask("DELETE", response["Location"], If_Match="*"), 404)
    problem(other.post(response["Location"] + "/reserve", {"customer": {"name": "B"}}), 404)
    assert data(program.get("availability/HAN-1"))["can_promise"] == "3"


def test_letting_a_hold_go_needs_the_version_that_was_read_and_serves_those_who_wait(program: Program) -> None:
    item = make_item(code="HAN-1")
    put_in(item, 5)
    response = program.post("holds", {"item": "HAN-1", "quantity": "5"})
    order = make_order({item: 2})
    address = response["Location"]
    problem(program.ask("DELETE", address), 428)
    problem(program.ask("DELETE", address, If_Match='"9"'), 412)
    assert program.ask("DELETE", address, If_Match=program.get(address)["ETag"]).status_code == 204
    assert line_of(order).reserved == 2
    assert data(program.get(address))["state"] == "let go"
    problem(program.ask("DELETE", address, If_Match="*"), 409)


def test_a_hold_becomes_an_order_that_nobody_can_get_between(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 2)
    address = program.post("holds", {"item": "HAN-1", "quantity": "2"})["Location"]
    order = data(program.post(address + "/reserve", {"customer": {"name": "Invented"}, "price": "12.50"}), 201)
    assert order["source"] == "api"
    assert order["lines"][0] | {"version": ""} == {
        "line": 1, "version": "", "item": "HAN-1", "words": "", "options": "", "unit": "piece", "ordered": "2", "sent": "0",
        "cancelled": "0", "set_aside": "2", "waiting": "0", "takes_what_comes": False, "whole": False, "one_off": False,
        "price": {"amount": "12.50", "currency": "USD"},
    }  # fmt: skip
    assert data(program.get(address))["order"] == order["number"]
    problem(program.post(address + "/reserve", {"customer": {"name": "Invented"}}), 409)


def test_a_lapsed_hold_can_no_longer_become_an_order(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 2)
    response = program.post("holds", {"item": "HAN-1", "quantity": "2", "minutes": 1})
    with clock.frozen(dt.datetime.fromisoformat(data(response, 201)["until"])):
        told = problem(program.post(response["Location"] + "/reserve", {"customer": {"name": "Invented"}}), 409)
    assert told["type"].endswith("hold_ended")
    assert not Order.objects.exists()


@pytest.mark.parametrize(
    "body",
    [
        {"item": "HAN-1", "quantity": "2.5"}, {"item": "HAN-1", "quantity": "999999999999"},
        {"item": "HAN-1", "quantity": "2", "minutes": 0}, {"item": "HAN-1", "quantity": "2", "minutes": 1441},
        {"item": "HAN-1", "quantity": "2", "until": "2026-03-04"}, {"item": "NOPE", "quantity": "2"},
        {"item": "HAN-1", "quantity": "2", "until": "2199-12-31", "name": "Ada"},
        {"item": "HAN-1", "quantity": "2", "until": "2020-01-01", "name": "Ada"},
        {"item": "HAN-1", "quantity": "2", "until": "2026-03-04", "name": "Ada", "minutes": 5},
        {"item": "HAN-1", "quantity": "-2"}, {"item": "", "quantity": "2"}, {"item": "HAN-1"}, {"quantity": "1"},
        {"item": "BAR-1", "quantity": "100"},
    ],
)  # fmt: skip
def test_a_hold_that_makes_no_sense_is_refused_and_nothing_changes(program: Program, body: dict[str, Any]) -> None:
    put_in(make_item(code="HAN-1"), 5)
    put_in(make_item("bar", code="BAR-1"), 5_000_000_000)
    with clock.frozen(AT):
        problem(program.post("holds", body), 422)
    assert not Hold.objects.exists()
    assert not ItemStock.objects.filter(allocated__gt=0).exists()


# Orders


def test_an_order_sets_aside_what_there_is_and_waits_for_the_rest(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    response = program.post(
        "orders", order_body("HAN-1", "7", reference="web 1", day_given="2026-04-01", carriage="9.50")
    )
    order = data(response, 201)
    line = order["lines"][0]
    assert (line["set_aside"], line["waiting"], line["takes_what_comes"]) == ("5", "2", True)
    assert order["total"] == {"amount": "324.50", "currency": "USD"}
    assert (order["day_given"], order["zone"], order["source"]) == ("2026-04-01", "America/Chicago", "api")
    assert data(program.get(response["Location"])) == order
    assert Customer.objects.get().name == "Invented buyer"


def test_an_order_that_must_not_wait_is_taken_whole_or_not_at_all(program: Program) -> None:
    for code in ("HAN-1", "HAN-2"):
        put_in(make_item(code=code), 5)
    body = order_body("HAN-1", "5", wait=False)
    body["lines"].append({"item": "HAN-2", "quantity": "6"})
    told = problem(program.post("orders", body), 409)
    assert (told["item"], told["available"], told["requested"]) == ("HAN-2", "5", "6")
    assert told["errors"][0]["pointer"] == "/lines/1/quantity"
    assert not Order.objects.exists()
    assert not Customer.objects.exists()
    assert RefusedDemand.objects.get().item.code == "HAN-2"
    body["lines"][1]["quantity"] = "5"
    assert data(program.post("orders", body), 201)["number"] == 1


def test_an_order_takes_a_tool_from_its_parts(program: Program) -> None:
    tool = make_tool(code="HAM-2LB")
    put_in_parts(tool, heads=3, handles=3, wedges=6)
    assert take(program, "HAM-2LB", "3", wait=False)["lines"][0]["set_aside"] == "3"


def test_a_dealer_named_by_id_pays_the_dealer_price(program: Program) -> None:
    make_item(code="HAN-1", dealer_minor=3_000)
    dealer = make_customer(kind="dealer")
    order = data(program.post("orders", order_body("HAN-1") | {"customer": {"id": dealer.pk}}), 201)
    assert order["lines"][0]["price"]["amount"] == "30.00"
    assert order["customer"]["id"] == dealer.pk


def test_a_line_made_to_order_has_words_and_no_stock(program: Program) -> None:
    make_item(code="HAN-1")
    body = order_body("HAN-1") | {"lines": [{"words": "a hot cut hardy, 1 in shank", "quantity": "1", "price": "80"}]}
    line = data(program.post("orders", body), 201)["lines"][0]
    assert (line["item"], line["words"], line["waiting"]) == (None, "a hot cut hardy, 1 in shank", "1")


def test_a_key_without_the_scope_sees_no_name_and_no_address(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    order = take(program, "HAN-1")
    assert order["ship_to"] == "1 Invented Lane"
    shy = Program("orders:read", "orders:write")
    for body in (data(shy.get(f"orders/{order['number']}")), data(shy.get("orders"))["rows"][0]):
        assert (body["ship_to"], body["customer"]["name"]) == (None, None)


def test_the_address_changes_only_from_the_version_that_was_read(program: Program) -> None:
    make_item(code="HAN-1")
    order = take(program, "HAN-1")
    address = f"orders/{order['number']}"
    problem(program.ask("PATCH", address, {"ship_to": "2 Invented Lane"}), 428)
    tag = program.get(address)["ETag"]
    changed = program.ask("PATCH", address, {"ship_to": "2 Invented Lane", "carriage": "1.00"}, If_Match=tag)
    assert (data(changed)["ship_to"], data(changed)["carriage"]["amount"]) == ("2 Invented Lane", "1.00")
    told = problem(program.ask("PATCH", address, {"ship_to": "3 Invented Lane"}, If_Match=tag), 412)
    assert told["version"] == data(changed)["version"]
    by_body = program.ask("PATCH", address, {"reference": "x"}, If_Match=f'"{data(changed)["version"]}"')
    assert data(by_body)["reference"] == "x"
    problem(program.ask("PATCH", address, {}, If_Match="*"), 422)
    problem(program.ask("PATCH", address, {"number": 5}, If_Match="*"), 422)


def test_the_tag_of_an_order_changes_when_an_arrival_serves_it(program: Program) -> None:
    item = make_item(code="HAN-1")
    order = take(program, "HAN-1")
    tag = program.get(f"orders/{order['number']}")["ETag"]
    put_in(item, 5)
    response = program.get(f"orders/{order['number']}", If_None_Match=tag)
    assert data(response)["lines"][0]["set_aside"] == "2"
    assert data(response)["version"] != order["version"]


def test_a_line_is_changed_let_go_set_aside_again_and_cancelled(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    order = take(program, "HAN-1", "2")
    address = f"orders/{order['number']}/lines/1"
    tag = program.get(address)["ETag"]
    changed = data(program.ask("PATCH", address, {"quantity": "4", "price": "40"}, If_Match=tag))
    assert (changed["ordered"], changed["set_aside"], changed["price"]["amount"]) == ("4", "4", "40.00")
    problem(program.ask("PATCH", address, {"quantity": "5"}, If_Match=tag), 412)
    assert data(program.post(address + "/release", {"quantity": "3"}))["set_aside"] == "1"
    assert data(program.get("availability/HAN-1"))["can_promise"] == "4"
    told = problem(program.post(address + "/reserve", {"quantity": "9"}), 422)
    assert told["errors"][0]["pointer"] == "/quantity"
    assert data(program.post(address + "/reserve", {}))["set_aside"] == "4"
    assert data(program.post(address + "/cancel", {"quantity": "1", "reason": "too many"}))["cancelled"] == "1"
    assert data(program.post(address + "/cancel", {}))["set_aside"] == "0"
    assert data(program.get(f"orders/{order['number']}"))["state"] == "closed"
    problem(program.post(address + "/cancel", {}), 409)


def test_a_line_is_added_and_an_order_cancelled(program: Program) -> None:
    for code in ("HAN-1", "HAN-2"):
        put_in(make_item(code=code), 5)
    order = take(program, "HAN-1")
    response = program.post(f"orders/{order['number']}/lines", {"item": "HAN-2", "quantity": "3"})
    assert [line["item"] for line in data(response, 201)["lines"]] == ["HAN-1", "HAN-2"]
    assert data(program.get(response["Location"]))["set_aside"] == "3"
    problem(program.post(f"orders/{order['number']}/lines", {"item": "HAN-2", "quantity": "9", "wait": False}), 409)
    assert data(program.post(f"orders/{order['number']}/cancel", {}))["state"] == "closed"
    assert data(program.get("availability/HAN-2"))["can_promise"] == "5"
    assert data(program.get("orders"))["rows"] == []
    assert len(data(program.get("orders?state=closed"))["rows"]) == 1


def test_setting_aside_for_several_lines_is_all_or_nothing(program: Program) -> None:
    lots = {code: put_in(make_item(code=code), 5) for code in ("HAN-1", "HAN-2")}
    body = order_body("HAN-1", "3")
    body["lines"].append({"item": "HAN-2", "quantity": "3"})
    number = data(program.post("orders", body), 201)["number"]
    for line in OrderLine.objects.all():
        with transaction.atomic():
            ordering.release(line, 3, at=AT, by=makers.actor())
    makers.lose(lots["HAN-2"], 4, place="BIN")
    wanted = [{"line": 1, "quantity": "3"}, {"line": 2, "quantity": "2"}]
    told = problem(program.post(f"orders/{number}/reserve", {"lines": wanted}), 409)
    assert (told["item"], told["available"]) == ("HAN-2", "1")
    assert line_of(Order.objects.get(), 1).reserved == 0
    order = data(program.post(f"orders/{number}/reserve", {}))
    assert [line["set_aside"] for line in order["lines"]] == ["3", "1"]
    twice = [{"line": 1, "quantity": "1"}, {"line": 1, "quantity": "1"}]
    problem(program.post(f"orders/{number}/reserve", {"lines": twice}), 422)
    problem(program.post(f"orders/{number}/reserve", {"lines": [{"line": 9, "quantity": "1"}]}), 422)


def test_what_is_set_aside_is_sent_with_its_lots_and_the_list_tells(program: Program) -> None:
    item = make_item(code="HAN-1", shipped_mass_mg=500_000)
    lot = put_in(item, 5)
    order = take(program, "HAN-1", "3")
    address = f"orders/{order['number']}/shipments"
    problem(program.post(address, {"lines": [{"line": 1, "quantity": "4"}]}), 422)
    problem(program.post(address, {"sent_at": "2100-01-01T00:00:00Z"}), 422)
    part = {"lines": [{"line": 1, "quantity": "1"}], "carrier": "Invented Carrier", "scale_mass": "1.2 lb"}
    response = program.post(address, part)
    made = data(response, 201)
    assert made["lines"] == [
        {"line": 1, "item": "HAN-1", "words": "", "unit": "piece", "quantity": "1",
         "lots": [{"lot": lot.code, "quantity": "1", "heat_number": None}]}
    ]  # fmt: skip
    assert (made["computed_mass"]["g"], made["ship_to"]) == ("500", "1 Invented Lane")
    assert data(program.get(response["Location"])) == made
    rest = data(program.post(address, {}), 201)
    assert rest["lines"][0]["quantity"] == "2"
    assert data(program.get(f"orders/{order['number']}"))["state"] == "closed"
    assert [row["number"] for row in data(program.get(f"shipments?order={order['number']}"))["rows"]] == [1, 2]
    problem(program.post(address, {}), 409)


def test_an_order_that_goes_only_when_paid_is_not_sent(program: Program) -> None:
    put_in(make_item(code="HAN-1"), 5)
    order = take(program, "HAN-1", send_when_paid=True)
    told = problem(program.post(f"orders/{order['number']}/shipments", {}), 409)
    assert told["type"].endswith("not_paid")
    assert not Movement.objects.filter(to_place__code="CUSTOMER").exists()


@pytest.mark.parametrize(
    "change",
    [
        {"customer": {}}, {"customer": {"id": 1, "name": "B"}}, {"customer": {"id": 999}}, {"customer": {"name": ""}},
        {"customer": {"name": "B", "email": "no address"}}, {"customer": {"name": "B", "kind": "friend"}},
        {"customer": "B"}, {"lines": []}, {"lines": [{}]}, {"lines": [{"item": "HAN-1"}]},
        {"lines": [{"item": "HAN-1", "words": "x", "quantity": "1"}]}, {"lines": [{"quantity": "1"}]},
        {"lines": [{"item": "HAN-1", "quantity": "1.5"}]}, {"lines": [{"item": "HAN-1", "quantity": "100001"}]},
        {"lines": [{"item": "NOPE", "quantity": "1"}]}, {"lines": [{"item": "BAR-1", "quantity": "1"}]},
        {"lines": [{"item": "HAN-1", "quantity": "1", "price": "-1"}]},
        {"lines": [{"item": "HAN-1", "quantity": "1", "price": "1.005"}]},
        {"lines": [{"item": "HAN-1", "quantity": "1"}] * 501}, {"carriage": "999999999.99"}, {"deposit": 5},
        {"day_given": "2026-02-30"}, {"reference": "x" * 81}, {"ship_to": "x" * 601}, {"gift": "no"}, {"total": "1"},
    ],
)  # fmt: skip
def test_an_order_that_makes_no_sense_is_refused_and_nothing_changes(program: Program, change: dict[str, Any]) -> None:
    put_in(make_item(code="HAN-1"), 5)
    make_item("bar", code="BAR-1")
    problem(program.post("orders", order_body("HAN-1") | change), 422)
    assert not Order.objects.exists()
    assert not Customer.objects.exists()


def test_orders_are_listed_by_page_and_found_by_reference_customer_and_day(program: Program) -> None:
    item = make_item(code="HAN-1")
    customer = make_customer()
    for number in range(5):
        at = AT + dt.timedelta(days=number)
        make_order({item: 1}, customer=customer, at=at, terms=ordering.Terms(reference=f"ref {number}"))
    page = data(program.get("orders?limit=2"))
    seen = [row["number"] for row in page["rows"]]
    while page["next"]:
        page = data(program.get(page["next"]))
        seen += [row["number"] for row in page["rows"]]
    assert seen == [1, 2, 3, 4, 5]
    assert [row["number"] for row in data(program.get("orders?reference=ref%203"))["rows"]] == [4]
    assert len(data(program.get(f"orders?customer={customer.pk}"))["rows"]) == 5
    assert [row["number"] for row in data(program.get("orders?since=2026-03-05T00:00:00Z"))["rows"]] == [4, 5]
