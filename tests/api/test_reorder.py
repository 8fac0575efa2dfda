"""What to order and make, asked by a program: the same figures as the pages, costs only to who may read them."""

import datetime as dt

import pytest

from inventory.models import Bottle, Entry, Item, Supplier, SupplierPrice
from orders.queries.reorder import needs
from shop.api import reorder
from shop.shared import clock
from tests import makers
from tests.api.asking import Program, data, problem

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
NOW = dt.datetime(2026, 11, 30, 18, 0, tzinfo=dt.UTC)
WEEK = dt.timedelta(days=7)


@pytest.fixture
def program(db: None, monkeypatch: pytest.MonkeyPatch) -> Program:
    monkeypatch.setattr(clock, "_frozen", NOW)
    return Program()


@pytest.fixture
def handles(program: Program) -> Item:
    supplier = Supplier.objects.create(name="Invented turnery", lead_days=14)
    item = makers.make_item(
        Item.Kind.HANDLE, code="HA16", supplier=supplier, buy_unit="dozen", issue_per_buy=12, lead_days=14
    )
    lot = makers.put_in(item, 300, at=NOW - 20 * WEEK)
    for week in range(20):
        at = NOW - (20 - week) * WEEK + dt.timedelta(days=1)
        makers.move(lot, 14, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=at)
    SupplierPrice.objects.create(supplier=supplier, item=item, price_minor=6_000, noted_on=NOW.date())
    return item


def test_what_is_due_is_listed_with_the_figures_of_the_pages(program: Program, handles: Item) -> None:
    makers.make_item(Item.Kind.HANDLE, code="IDLE")
    (row,) = data(program.get("reorder"))["rows"]
    (need,) = needs.needs(at=NOW)
    assert (row["item"], row["due"], row["make"]) == ("HA16", True, False)
    assert (row["point"], row["position"], row["free"]) == (str(need.decision.point), "20", "20")
    assert row["order_by"] == need.decision.order_by.isoformat()
    assert row["lasts_until"] == need.decision.lasts_until.isoformat()
    assert row["why"].startswith("20 free. The point is ")
    assert {one["item"] for one in data(program.get("reorder?which=all"))["rows"]} == {"HA16", "IDLE"}
    problem(program.get("reorder?which=some"), 400)


def test_every_item_is_read_page_by_page(program: Program, handles: Item, monkeypatch: pytest.MonkeyPatch) -> None:
    for code in ("A", "B", "C"):
        makers.make_item(Item.Kind.HANDLE, code=code)
    monkeypatch.setattr(reorder, "PAGE", 3)
    first = data(program.get("reorder?which=all"))
    assert ([one["item"] for one in first["rows"]], first["next"]) == (["A", "B", "C"], "C")
    rest = data(program.get("reorder?which=all&after=C"))
    assert ([one["item"] for one in rest["rows"]], rest["next"]) == (["HA16"], None)
    problem(program.get("reorder?after=C"), 400)


def test_what_is_expected_is_told_in_the_unit_of_the_api(program: Program) -> None:
    glue = makers.make_item("consumable", unit="mg", code="GLUE", buy_unit="bag", issue_per_buy=5_000_000)
    lot = makers.put_in(glue, 200_000_000, place="BIN", at=NOW - 20 * WEEK)
    for week in range(20):
        at = NOW - (20 - week) * WEEK + dt.timedelta(days=1)
        makers.move(lot, 7_000_000, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=at)
    found = data(program.get("reorder/GLUE"))
    assert (found["need"]["unit"], found["weekly"][-1]) == ("g", "7000")
    assert found["forecast"][0] == pytest.approx(7_000, rel=0.2)
    assert found["need"]["per_day"] == pytest.approx(1_000, rel=0.2)
    assert found["naive_error"] < 7_000


def test_the_facts_of_a_reason_are_in_the_unit_of_the_line_and_money_is_money(program: Program, handles: Item) -> None:
    (before,) = data(program.get("purchase-proposals"))["rows"][0]["lines"]
    packs = int(before["quantity"]) // 12
    SupplierPrice.objects.create(
        supplier=handles.supplier, item=handles, from_qty=packs + 1, price_minor=4_000, noted_on=NOW.date()
    )
    (line,) = data(program.get("purchase-proposals"))["rows"][0]["lines"]
    facts = {one["kind"]: one["facts"] for one in line["why"]}
    assert int(facts["due"]["least"]) == int(facts["due"]["to_point"]) + int(facts["due"]["until_next_look"])
    assert facts["price"]["units"] == line["quantity"] == str(12 * (packs + 1))
    assert facts["price"].get("saves", facts["price"].get("less"))["currency"] == "USD"


def test_one_item_tells_what_it_rests_on(program: Program, handles: Item) -> None:
    found = data(program.get("reorder/HA16?days=10"))
    assert found["weekly"][-20:] == ["14"] * 20
    assert len(found["forecast"]) == 52
    assert sum(one["chance"] for one in found["lead"]) == pytest.approx(1, abs=1e-4)
    assert len(found["run_down"]) == 11
    assert found["run_down"][0]["median"] == "20"
    assert found["run_down"][-1]["short"] > 0
    problem(program.get("reorder/NONE"), 404)
    problem(program.get("reorder/HA16?days=0"), 400)


def test_proposals_show_costs_only_to_who_may_read_them(program: Program, handles: Item) -> None:
    whole = data(program.get("purchase-proposals"))
    (one,) = whole["rows"]
    (line,) = one["lines"]
    assert one["supplier"] == "Invented turnery"
    assert line["typed"] == f"{int(line['quantity']) // 12} dozen"
    assert line["value"] == one["value"]
    assert whole["stops_first"] == [{"item": "HA16", "day": whole["stops_first"][0]["day"], "tools": []}]
    plain = data(Program("stock:read").get("purchase-proposals"))["rows"][0]
    assert (plain["value"], plain["lines"][0]["value"]) == (None, None)
    assert plain["lines"][0]["words"]
    assert "USD" not in plain["lines"][0]["words"]
    problem(Program("orders:read").get("purchase-proposals"), 403)


def test_bottles_come_are_read_put_in_and_go_back(program: Program) -> None:
    gas = makers.make_item("consumable", unit="mg", code="GAS", buy_unit="bottle", issue_per_buy=18_000_000)
    makers.put_in(gas, 36_000_000, at=NOW - WEEK)
    body = {"item": "GAS", "bottles": [{"number": "14"}, {"number": "15"}], "deposit": "45.00"}
    made = data(program.post("bottles", body), 201)["rows"]
    assert [(one["number"], one["state"], one["quarters"]) for one in made] == [("14", "full", 4), ("15", "full", 4)]
    first, second = (one["id"] for one in made)
    assert data(program.post(f"bottles/{first}/put-in", {}))["in_use"]
    assert data(program.post(f"bottles/{first}/read", {"quarters": 1}))["state"] == "part"
    problem(program.post(f"bottles/{first}/back", {}), 409)
    assert data(program.post(f"bottles/{second}/put-in", {}))["in_use"]
    assert Bottle.objects.get(pk=first).state == "empty"
    assert data(program.post(f"bottles/{first}/back", {}))["state"] == "gone back"
    assert [one["number"] for one in data(program.get("bottles"))["rows"]] == ["15"]
    problem(program.post(f"bottles/{second}/read", {"quarters": 5}), 422)
    problem(program.post("bottles/9999/read", {"quarters": 1}), 404)
    problem(program.post("bottles", {**body, "item": "NONE"}), 422)
    problem(program.post("bottles", {**body, "supplier": "Nobody"}), 422)


def test_a_line_is_said_to_be_one_off(program: Program, handles: Item) -> None:
    order = makers.make_order({handles: 5}, at=NOW)
    address = f"orders/{order.number}/lines/1"
    answer = program.get(address)
    assert data(answer)["one_off"] is False
    changed = program.ask("PATCH", address, {"one_off": True}, If_Match=answer["ETag"])
    assert data(changed)["one_off"] is True


def test_nothing_left_is_a_count_too_and_a_bar_is_ticked_or_taped_by_a_program(program: Program) -> None:
    item = makers.make_item(Item.Kind.HANDLE, code="HA16")
    makers.put_in(item, 2)
    bar = makers.make_item(Item.Kind.BAR, code="R2")
    makers.put_in(bar, 20 * makers.FOOT_NM)
    made = data(program.post("count-sheets", {"what": "kind", "kind": "handle"}), 201)
    address = f"count-sheets/{made['number']}/lines/1"
    problem(program.post(address, {"found": "-1"}), 422)
    line = data(program.post(address, {"found": "0", "reason": "sold at the fair"}))["line"]
    assert (line["state"], line["counted"], line["book"]) == ("counted", "0", "2")
    made = data(program.post("count-sheets", {"what": "kind", "kind": "bar"}), 201)
    address = f"count-sheets/{made['number']}/lines/1"
    problem(program.post(address, {"found": "1"}), 422)
    assert data(program.post(address, {"here": True}))["line"]["reason"] == ""
    line = data(program.post(address, {"here": True, "length": "19 ft", "reason": "sawn for a trial"}))["line"]
    assert (line["counted"], line["reason"]) == ("5791.2", "sawn for a trial")
    problem(program.post(address, {"here": True, "length": "long"}), 422)


def test_a_sheet_is_counted_blind_by_a_program(program: Program) -> None:
    item = makers.make_item(Item.Kind.HANDLE, code="HA16")
    makers.put_in(item, 30, at=NOW - WEEK)
    found = data(program.get("count-sheets"))
    assert (found["rows"], found["due"]) == ([], ["HA16"])
    made = data(program.post("count-sheets", {"what": "due"}), 201)
    assert [(one["item"], one["state"], one["book"]) for one in made["lines"]] == [("HA16", "left", None)]
    address = f"count-sheets/{made['number']}/lines/1"
    first = data(program.post(address, {"found": "28"}))["line"]
    assert (first["state"], first["book"], first["counted"]) == ("once more", None, None)
    second = data(program.post(address, {"found": "28"}))
    assert (second["line"]["state"], second["line"]["book"], second["gave_way"]) == ("counted", "30", [])
    assert data(program.get("count-accuracy"))["rows"][-1]["right"] == 0
    problem(program.post(address, {}), 422)
    problem(program.post(f"count-sheets/{made['number']}/lines/9", {"found": "1"}), 404)
    assert data(program.post(f"count-sheets/{made['number']}/close", None))["left"] == 0
    problem(program.post(f"count-sheets/{made['number']}/close", None), 409)
    problem(program.post(address, {"found": "30"}), 409)
    problem(program.post("count-sheets", {"what": "place", "place": "MOON"}), 422)
    problem(program.post("count-sheets", {"what": "kind"}), 422)
    assert data(program.post("count-sheets", {"what": "kind", "kind": "handle"}), 201)["left"] == 1
