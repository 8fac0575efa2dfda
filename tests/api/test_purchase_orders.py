"""Purchase orders for programs: written, changed, sent, confirmed, asked after, cancelled, closed; a supplier's record."""

import datetime as dt
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Item, PurchaseOrder, Supplier, SupplierPrice
from inventory.services import purchasing, steel_items
from shop.shared.models import Message
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, actor

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
FT = makers.FOOT_NM


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    makers.make_item(Item.Kind.HANDLE, code="HD-14", buy_unit="dozen", issue_per_buy=12)
    with transaction.atomic():
        purchasing.add_supplier("Invented Steel", email="orders@steel.example", at=AT, by=actor())
        steel_items.bar_item(makers.make_grade(), makers.make_section(), at=AT, by=actor())
    return made


def code_of_steel() -> str:
    return Item.objects.get(kind=Item.Kind.BAR).code


def write(program: Program, **facts: Any) -> dict[str, Any]:
    body = {
        "supplier": "Invented Steel",
        "lines": [
            {"item": code_of_steel(), "quantity": "5 @ 20 ft", "price": "490.00"},
            {"item": "HD-14", "quantity": "3 dozen"},
        ],
        **facts,
    }
    return dict(data(program.post("purchase-orders", body), 201))


def in_days(days: int) -> str:
    """Write a day so far ahead of today."""
    return (dt.datetime.now(tz=dt.UTC) + dt.timedelta(days=days)).date().isoformat()


def test_an_order_is_written_read_and_listed(program: Program) -> None:
    made = write(program, wanted_on="2030-03-16", ordered_on="2026-01-02", note="ring")
    assert made["goods"] == {"amount": "490.00", "currency": "USD"}
    assert [(one["quantity"], one["bars"], one["price"]) for one in made["lines"]] == [
        ("30480", 5, {"amount": "490.00", "currency": "USD"}), ("36", None, None),
    ]  # fmt: skip
    assert (made["sent"], made["letters"], made["state"], made["note"]) == (None, [], "open", "ring")
    assert data(program.get(f"purchase-orders/{made['number']}"), 200) == made
    assert data(program.get("purchase-orders?state=open&supplier=Invented%20Steel"), 200)["rows"] == [made]
    assert data(program.get("purchase-orders?state=closed"), 200)["rows"] == []
    program.get("purchase-orders/99", key=None)


def test_a_day_of_ordering_that_has_not_come_is_refused_and_a_wanted_day_is_taken_back(program: Program) -> None:
    body = {"supplier": "Invented Steel", "lines": [{"item": "HD-14", "quantity": "36"}]}
    found = problem(program.post("purchase-orders", {**body, "ordered_on": "2199-12-31"}), 422)
    assert found["errors"][0]["pointer"] == "/ordered_on"
    found = problem(program.post("purchase-orders", {**body, "supplier": "\u200b"}), 422)
    assert found["errors"][0]["pointer"] == "/supplier"
    made = write(program, wanted_on="2030-03-16")
    address = f"purchase-orders/{made['number']}"
    assert data(program.ask("PATCH", address, {"wanted_on": None}, If_Match="*"), 200)["wanted_on"] is None


def test_a_letter_tells_prices_so_a_key_that_may_not_see_them_sends_none(program: Program) -> None:
    made = write(program)
    shy, address = Program("stock:read", "stock:write"), f"purchase-orders/{made['number']}/send"
    problem(shy.post(address, {"how": "e-mail", "to": "thief@firm.example"}), 403)
    assert not Message.objects.exists()
    data(shy.post(address, {"how": "phone"}), 200)


def test_what_an_order_comes_to_says_how_many_lines_have_no_price(program: Program) -> None:
    made = write(program)
    assert (made["goods"]["amount"], made["unpriced"]) == ("490.00", 1)
    bare = {"supplier": "Invented Steel", "lines": [{"item": "HD-14", "quantity": "36"}]}
    none = data(program.post("purchase-orders", bare), 201)
    assert (none["goods"], none["unpriced"]) == (None, 1)


def test_prices_are_for_keys_that_may_see_costs(program: Program) -> None:
    made = write(program)
    seen = data(Program("stock:read").get(f"purchase-orders/{made['number']}"), 200)
    assert seen["goods"] is None
    assert [one["price"] for one in seen["lines"]] == [None, None]


@pytest.mark.parametrize(
    ("facts", "pointer"),
    [
        ({"lines": []}, "/lines"),
        ({"lines": [{"item": "NOBODY", "quantity": "3"}]}, "/lines/0/item"),
        ({"lines": [{"item": "HD-14", "quantity": "a few"}]}, "/lines/0/quantity"),
        ({"lines": [{"item": "HD-14", "quantity": "3", "price": "1.234"}]}, "/lines/0/price"),
        ({"ordered_on": "2026-03-02", "wanted_on": "2026-03-01"}, "/wanted_on"),
        ({"cut_plan": 7}, "/cut_plan"),
        ({"supplier": ""}, "/supplier"),
    ],
)
def test_what_cannot_be_ordered_is_pointed_at(program: Program, facts: dict[str, Any], pointer: str) -> None:
    answer = program.post(
        "purchase-orders", {"supplier": "Invented Steel", "lines": [{"item": "HD-14", "quantity": "3"}], **facts}
    )
    assert answer.status_code == 422
    assert pointer in [one["pointer"] for one in answer.json()["errors"]]
    assert not PurchaseOrder.objects.exists()


def test_an_order_is_changed_by_the_version_that_was_read_until_it_is_sent(program: Program) -> None:
    made = write(program, note="ring")
    address = f"purchase-orders/{made['number']}"
    assert program.ask("PATCH", address, {"note": ""}).status_code == 428
    old = f'"{made["version"]}"'
    changed = data(program.ask("PATCH", address, {"note": ""}, If_Match=old), 200)
    assert (changed["note"], changed["lines"]) == ("", made["lines"])
    assert program.ask("PATCH", address, {"note": "no"}, If_Match=old).status_code == 412
    lines = [{"item": "HD-14", "quantity": "5 dozen", "price": "120.00"}]
    changed = data(program.ask("PATCH", address, {"lines": lines, "wanted_on": "2030-01-02"}, If_Match="*"), 200)
    assert [(one["item"], one["quantity"]) for one in changed["lines"]] == [("HD-14", "60")]
    assert changed["wanted_on"] == "2030-01-02"
    assert program.ask("PATCH", address, {}, If_Match="*").status_code == 422
    data(program.post(f"{address}/send", {"how": "phone"}), 200)
    refused = program.ask("PATCH", address, {"note": "no"}, If_Match="*")
    assert (refused.status_code, refused.json()["type"].rpartition("/")[2]) == (409, "purchase_order_sent")


def test_it_is_sent_once_for_a_key_and_says_how_far_the_letter_is(program: Program) -> None:
    made = write(program)
    address, key = f"purchase-orders/{made['number']}/send", "a-key-of-the-program-0001"
    for _ in range(2):
        sent = data(program.post(address, {"how": "e-mail", "version": made["version"]}, key=key), 200)
    assert sent["sent"]["to"] == "orders@steel.example"
    (letter,) = sent["letters"]
    assert (letter["about"], letter["state"], letter["to"]) == ("order", "waiting", "orders@steel.example")
    assert Message.objects.count() == 1
    listed = data(program.get("purchase-orders"), 200)["rows"]
    assert listed == [sent]
    assert program.post(address, {"how": "phone", "version": made["version"]}).status_code == 412
    for body, pointer in (({"how": "phone", "to": "a@b.example"}, "/to"), ({"how": "e-mail", "to": "nobody"}, "/to"),
                          ({"how": "pigeon"}, "/how"), ({}, "/how")):  # fmt: skip
        refused = program.post(address, body)
        assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, pointer)
    Supplier.objects.update(email="")
    assert program.post(address, {"how": "e-mail"}).status_code == 422


def test_days_are_confirmed_asked_after_and_the_first_one_is_kept(program: Program) -> None:
    made = write(program)
    address = f"purchase-orders/{made['number']}"
    first, second = in_days(30), in_days(37)
    data(program.post(f"{address}/confirm", {"day": first}), 200)
    later = data(program.post(f"{address}/confirm", {"day": second}), 200)
    assert (later["first_confirmed_on"], later["confirmed_on"]) == (first, second)
    problem(program.post(f"{address}/confirm", {"day": in_days(3 * 365)}), 422)
    refused = program.post(f"{address}/confirm", {"day": "2001-01-02"})
    assert (refused.status_code, refused.json()["errors"][0]["pointer"]) == (422, "/day")
    asked = data(program.post(f"{address}/asked", {}), 200)
    assert asked["asked_on"] is not None
    assert asked["letters"] == []
    asked = data(program.post(f"{address}/asked", {"to": "orders@steel.example"}), 200)
    assert [one["about"] for one in asked["letters"]] == ["where it is"]


def test_a_line_is_cancelled_and_an_order_closed(program: Program) -> None:
    made = write(program)
    address = f"purchase-orders/{made['number']}"
    left = data(program.post(f"{address}/lines/2/cancel", {"reason": "not made"}), 200)
    assert [one["line"] for one in left["lines"]] == [1]
    assert program.post(f"{address}/lines/2/cancel", {}).status_code == 404
    assert program.post(f"{address}/lines/1/cancel", {}).status_code == 422
    closed = data(program.post(f"{address}/close", {"reason": "no more"}), 200)
    assert closed["state"] == "closed"
    for step, body in (("close", {}), ("send", {"how": "phone"}), ("asked", {}), ("confirm", {"day": in_days(30)})):
        assert program.post(f"{address}/{step}", body).status_code == 409


def test_a_delivery_of_a_closed_order_is_refused_unless_the_program_says_so(program: Program) -> None:
    made = write(program)
    lines = [{"order_line": 2, "quantity": "3 dozen"}]
    data(program.post(f"purchase-orders/{made['number']}/close", {}), 200)
    body = {"supplier": "Invented Steel", "purchase_order": made["number"], "lines": lines}
    refused = program.post("deliveries", body)
    assert (refused.status_code, refused.json()["type"].rpartition("/")[2]) == (409, "purchase_order_closed")
    assert data(program.get("deliveries"), 200)["rows"] == []
    data(program.post("deliveries", {**body, "although_closed": True}), 201)


def test_a_suppliers_record_names_promised_and_actual_line_by_line(program: Program) -> None:
    today = dt.datetime.now(tz=dt.UTC).date()
    begun, promised = today - dt.timedelta(days=30), today - dt.timedelta(days=20)
    made = write(program, ordered_on=begun.isoformat())
    data(program.post(f"purchase-orders/{made['number']}/confirm", {"day": promised.isoformat()}), 200)
    come = promised + dt.timedelta(days=2)
    for qty, day in (("1 dozen", promised), ("2 dozen", come)):
        body = {
            "supplier": "Invented Steel", "purchase_order": made["number"], "happened_at": f"{day}T15:00:00Z",
            "lines": [{"order_line": 2, "quantity": qty}],
        }  # fmt: skip
        data(program.post("deliveries", body), 201)
    record = data(program.get(f"suppliers/{made['supplier']['id']}/record"), 200)
    assert record["figures"] == {
        "whole": 1, "in_parts": 1, "waiting": 1, "waited_days": 30, "half_within_days": 12, "slowest_days": 12,
        "half_off_days": 2, "worst_off_days": 2, "kept": 0, "promised": 2,
    }  # fmt: skip
    lines = {one["item"]: one for one in record["lines"]}
    assert lines["HD-14"]["came"] == [
        {"day": promised.isoformat(), "share": 0.333333}, {"day": come.isoformat(), "share": 0.666667},
    ]  # fmt: skip
    assert lines["HD-14"]["waited_days"] is None
    assert (lines[code_of_steel()]["open"], lines[code_of_steel()]["waited_days"]) == (1.0, 30)
    assert {one["item"] for one in record["items"]} == {"HD-14", code_of_steel()}
    assert program.get("suppliers/99999/record").status_code == 404


def test_a_cut_plan_may_buy_the_lengths_that_prices_are_noted_for(program: Program) -> None:
    steel = Item.objects.get(kind=Item.Kind.BAR)
    SupplierPrice.objects.create(
        supplier=Supplier.objects.get(), item=steel, length_nm=20 * FT, price_minor=9_800, noted_on=AT.date()
    )
    body = {"steel": steel.code, "pieces": [{"length": "4 in", "count": 2}]}
    kinds = [len(data(program.post("cut-plans", {**body, **more}), 201)["buyable"]) for more in ({}, {"buyable": []})]
    assert kinds == [1, 0]
