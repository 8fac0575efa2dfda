"""Items, bars, lots, deliveries and the night's results, asked for by a program."""

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Delivery, Item, Supplier
from shop.flows import checking, night
from shop.shared import clock
from shop.shared.models import NightResult
from tests.api.asking import Program, data, problem
from tests.makers import AT, FOOT_NM, make_item, make_order, make_tool, put_in, put_in_parts

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program() -> Program:
    return Program()


@pytest.fixture(autouse=True)
def _the_book_balances() -> Any:
    yield
    assert checking.check_book() == []


def steel(**rest: Any) -> dict[str, Any]:
    line = {"item": "BAR-1", "bars": "2 @ 20 ft, 1 @ 5.74 m", "heat_number": "0A7731", "mill": "Invented Mill"}
    return {"supplier": "Invented Steel", "supplier_paper": "S-1", "lines": [line | rest]}


def test_items_are_listed_by_code_with_what_there_is(program: Program) -> None:
    tool = make_tool(code="HAM-2LB", retail_minor=12_500)
    put_in(tool.item, 4)
    make_order({tool.item: 1})
    rows = data(program.get("items"))["rows"]
    assert [row["code"] for row in rows] == sorted(row["code"] for row in rows)
    (found,) = data(program.get("items?kind=tool"))["rows"]
    assert found["stock"]["there"] == "4"
    assert found["stock"]["set_aside"] == "1"
    assert found["retail_price"] == {"amount": "125.00", "currency": "USD"}
    whole = data(program.get("items/HAM-2LB"))
    assert whole["places"] == [{"place": "Shelf", "step": 0, "sellable": True, "quantity": "4", "set_aside": "1"}]
    assert [part["quantity"] for part in whole["made_of"]] == ["1", "1", "2"]


def test_lists_take_no_more_queries_for_many_rows_than_for_few(program: Program) -> None:
    def count(address: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            data(program.get(address))
        return len(queries)

    def fill() -> None:
        for _ in range(4):
            make_order({make_item(): 1})
            put_in(make_item(Item.Kind.BAR), FOOT_NM)
            put_in_parts(make_tool(), 1, 1, 2)
            data(program.post("deliveries", steel()), 201)

    make_item(Item.Kind.BAR, code="BAR-1")
    fill()
    addresses = ["items", "bars", "lots", "orders", "deliveries", "shipments", "availability"]
    few = {address: count(address) for address in addresses}
    fill()
    assert {address: count(address) for address in addresses} == few


def test_a_delivery_of_steel_brings_numbered_bars_with_their_lengths(program: Program) -> None:
    make_item(Item.Kind.BAR, code="BAR-1")
    body = steel(scale="400 lb", weighed_by="own scale", cost="310.00")
    response = program.post("deliveries", body, key="the-lorry-of-this-morning")
    made = data(response, 201)
    (line,) = made["lines"]
    assert (line["quantity"], line["unit"], len(line["lots"])) == ("17932", "mm", 3)
    assert line["cost"] == {"amount": "310.00", "currency": "USD"}
    assert data(program.get(response["Location"])) == made
    bar = data(program.get(f"bars/{line['lots'][0]['bar']}"))
    assert bar["length_when_new"] == {"mm": "6096", "inches": "20 ft", "typed": "20 ft"}
    assert bar["length_left"]["mm"] == "6096"
    assert bar["melt"] == {"heat_number": "0A7731", "mill": "Invented Mill", "known": True}
    assert bar["place"] == "Rack"
    assert len(data(program.get("bars?heat_number=0A7731"))["rows"]) == 3
    assert data(program.get("bars?heat_number=other"))["rows"] == []
    lot = data(program.get(f"lots/{line['lots'][2]['lot']}"))
    assert (lot["left"], lot["delivery"], lot["bar"]) == ("5740", made["number"], line["lots"][2]["bar"])
    again = program.post("deliveries", body, key="the-lorry-of-this-morning")
    assert again.content == response.content
    assert Delivery.objects.count() == 1


def test_a_delivery_of_goods_serves_the_lines_that_wait(program: Program) -> None:
    item = make_item(code="HAN-1", buy_unit="dozen", issue_per_buy=12)
    order = make_order({item: 5})
    lines = [{"item": "HAN-1", "quantity": "2 dozen"}]
    made = data(program.post("deliveries", {"supplier": "Invented Handles", "lines": lines}), 201)
    assert made["lines"][0]["quantity"] == "24"
    assert data(program.get(f"orders/{order.number}"))["lines"][0]["set_aside"] == "5"
    assert data(program.get("deliveries?supplier=invented%20handles"))["rows"] == [made]
    assert data(program.get("deliveries?state=draft"))["rows"] == []


def test_costs_are_shown_only_to_a_key_that_may_see_them(program: Program) -> None:
    make_item(Item.Kind.BAR, code="BAR-1")
    made = data(program.post("deliveries", steel(cost="310.00")), 201)
    shy = Program("stock:read")
    assert data(shy.get(f"deliveries/{made['number']}"))["lines"][0]["cost"] is None
    code = made["lines"][0]["lots"][0]["lot"]
    assert data(shy.get(f"lots/{code}"))["cost"] is None
    assert data(program.get(f"lots/{code}"))["cost"] is not None
    assert {row["cost"] for row in data(shy.get("lots"))["rows"]} == {None}


@pytest.mark.parametrize(
    "body",
    [
        {"supplier": "Invented Steel", "lines": []}, {"supplier": "", "lines": [{"item": "HAN-1", "quantity": "1"}]},
        {"supplier": "X", "lines": [{"item": "NOPE", "quantity": "1"}]}, {"supplier": "X", "lines": [{}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "0"}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "-3"}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "9" * 30}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "3 lb"}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "1", "place": "CUSTOMER"}]},
        {"supplier": "X", "lines": [{"item": "HAN-1", "quantity": "1", "order_line": 1}]},
        {"supplier": "X", "purchase_order": 99, "lines": [{"item": "HAN-1", "quantity": "1"}]},
        {"supplier": "X", "happened_at": "2100-01-01T00:00:00Z", "lines": [{"item": "HAN-1", "quantity": "1"}]},
        {"supplier": "X", "happened_at": "2026-03-01T00:00:00", "lines": [{"item": "HAN-1", "quantity": "1"}]},
        steel(bars="0 @ 20 ft"), steel(bars="20"), steel(bars="1 @ 2000 ft"), steel(bars="9999 @ 20 ft"),
        steel(heat_number=" "), steel(scale="400"), steel(scale="400 lb"), steel(cost="1.005"), steel(bars="1 @ 20 lb"),
        steel(weighed_by="a guess"), steel(bars=["20 ft"]), steel(bars="x" * 5000), steel(shape="oval"),
    ],
)  # fmt: skip
def test_a_delivery_that_makes_no_sense_is_refused_and_nothing_changes(program: Program, body: dict[str, Any]) -> None:
    make_item(code="HAN-1")
    make_item(Item.Kind.BAR, code="BAR-1")
    problem(program.post("deliveries", body), 422)
    assert not Delivery.objects.exists()
    assert not Supplier.objects.exists()


def test_the_nights_result_is_read_by_its_day(program: Program) -> None:
    put_in(make_item(code="HAN-1", reorder_point=6, reorder_quantity=12), 2)
    with clock.frozen(AT + dt.timedelta(hours=6)):
        assert night.run_if_due(clock.now) is not None
        body = data(program.get("nights/2026-03-02"))
        assert body["zone"] == "America/Chicago"
        assert body == data(program.get("nights"))["rows"][0]
        assert sum(part["count"] for part in body["parts"]) == sum(len(part["lines"]) for part in body["parts"]) > 0
        shy = Program("orders:read")
        assert {part["lines"] is None for part in data(shy.get("nights/2026-03-02"))["parts"]} == {True}
        named = data(Program("orders:read", "addresses:read").get("nights/2026-03-02"))["parts"]
        assert {part["key"] for part in named if part["lines"] is None} == {"order"}
    problem(program.get("nights/2026-03-03"), 404)
    problem(program.get("nights/2026-02-30"), 404)
    assert NightResult.objects.count() == 1


def test_what_does_not_exist_is_said_in_a_sentence(program: Program) -> None:
    for address in ("items/NOPE", "bars/ZZZZ", "lots/L999", "orders/99", "holds/99", "shipments/99", "deliveries/99",
                    "orders/99/lines/1", "availability/NOPE"):  # fmt: skip
        assert "There is no" in problem(program.get(address), 404)["detail"]
