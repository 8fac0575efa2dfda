"""Cut plans, saws and the rules of cutting, asked for by a program."""

import pytest

from inventory.models import CutPlan, Holding, Item
from shop.flows import checking, cut_answering
from shop.shared.units import NM_PER_INCH
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program(db: None) -> Program:
    """A program and a rack: two bars of one melt, 42 and 43 in long."""
    made = Program()
    steel = makers.make_item(Item.Kind.BAR, code="B-1045-RD-2IN")
    melt = makers.make_melt("0048213", grade=steel.grade)
    for inches in (42, 43):
        makers.put_in(steel, inches * NM_PER_INCH, melt=melt)
    yield made
    assert checking.check_book() == []


def ask(program: Program, count: int = 8, **more: object) -> dict:
    body = {"steel": "B-1045-RD-2IN", "pieces": [{"length": "10 in", "count": count}], "seconds": 2, **more}
    return data(program.post("cut-plans", body), 201)


def answered(program: Program, count: int = 8, **more: object) -> dict:
    number = ask(program, count, **more)["number"]
    cut_answering.work({"plan": CutPlan.objects.get(number=number).pk}, AT)
    return data(program.get(f"cut-plans/{number}"))


def post(program: Program, plan: dict, what: str, body: dict | None = None, status: int = 200) -> dict:
    return data(program.post(f"cut-plans/{plan['number']}/{what}", body), status)


def test_a_plan_is_asked_for_and_answered_with_values_and_bounds(program: Program) -> None:
    plan = ask(program)
    assert (plan["state"], plan["answers"], plan["taken"]) == ("asked", [], None)
    plan = answered(program)
    assert plan["state"] == "answered"
    (answer,) = plan["answers"]
    assert sorted(bar["length"]["inches"] for bar in answer["bars"]) == ["3 ft 6 in", "3 ft 7 in"]
    levels = {row["level"]: row for row in answer["levels"]}
    assert (levels["short"]["value"], levels["short"]["proven"]) == ("0", True)
    # 42 and 43 in less four of 10 in and four kerfs of 1/16 in leave 1-3/4 and 2-3/4 in of scrap, 114.3 mm together; two
    # full bars opened and sawn count 2 x (200 + 30) mm more by the usual rules. Counted by hand.
    assert (levels["loss"]["value"], levels["loss"]["bound"], levels["loss"]["unit"]) == ("574.3", "574.3", "mm")
    page = data(program.get("cut-plans?state=answered&steel=B-1045-RD-2IN"))
    assert [row["number"] for row in page["rows"]] == [plan["number"]]


def test_a_plan_is_taken_sawn_otherwise_and_the_rest_dropped(program: Program) -> None:
    plan = answered(program)
    taken = post(program, plan, "take", {"answer": 1})
    assert [bar["state"] for bar in taken["bars"]] == ["to saw", "to saw"]
    first, second = (bar["bar"] for bar in taken["bars"])
    body = {"bars": [{"bar": first, "good": [{"line": 1, "count": 3}], "rest_is_scrap": True}], "note": "ran off"}
    (cut,) = post(program, plan, "sawn", body)["cuts"]
    assert (cut["bar"], cut["pieces"][0]["count"]) == (first, 3)
    dropped = post(program, plan, "drop")
    assert dropped["state"] == "sawn"
    assert [bar["state"] for bar in dropped["bars"]] == ["sawn", "left alone"]
    assert Holding.objects.get(lot__bar__number=second, on_hand__gt=0).allocated == 0
    assert problem(program.post(f"cut-plans/{plan['number']}/drop"), 409)["type"].endswith("plan_has_moved_on")


def test_sawn_as_drawn_and_a_bar_left_alone(program: Program) -> None:
    plan = answered(program)
    first, second = (bar["bar"] for bar in post(program, plan, "take", {"answer": 1})["bars"])
    assert post(program, plan, f"bars/{first}/leave-alone")["bars"][0]["state"] == "left alone"
    (cut,) = post(program, plan, "sawn", {"bars": [{"bar": second}]})["cuts"]
    assert (cut["pieces"][0]["count"], cut["difference_mm"]) == (4, "0")
    now = data(program.get(f"cut-plans/{plan['number']}"))
    assert (now["state"], now["bars"][1]["cut"]) == ("sawn", cut["id"])


def test_a_bar_that_changed_keeps_the_plan_from_being_taken(program: Program) -> None:
    plan, other = answered(program), answered(program, 7)
    post(program, plan, "take", {"answer": 1})
    said = problem(program.post(f"cut-plans/{other['number']}/take", {"answer": 1}), 409)
    assert f"cut plan {plan['number']}" in said["detail"]


def test_lengths_to_buy_come_with_their_price(program: Program) -> None:
    data(program.ask("PUT", "cut-rules", {**RULES, "one_mill_heat": False}, If_Match="*"))
    buyable = [{"length": "20 ft", "price": "95.00"}, {"length": "60 in", "price": "25.00"}]
    plan = answered(program, 13, buyable=buyable)
    bought = [bar for bar in plan["answers"][0]["bars"] if bar["bar"] is None]
    assert [bar["buy"]["inches"] for bar in bought] == ["5 ft"]
    assert [(one["length"]["typed"], one["price"]["amount"]) for one in plan["buyable"]] == [
        ("20 ft", "95.00"),
        ("60 in", "25.00"),
    ]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"steel": "NONE"}, "steel"),
        ({"pieces": [{"count": 1}]}, "pieces.0.blank"),
        ({"pieces": [{"blank": "X", "length": "1 in", "count": 1}]}, "pieces.0.blank"),
        ({"pieces": [{"blank": "NONE", "count": 1}]}, "pieces.0.blank"),
        ({"pieces": [{"length": "ten", "count": 1}]}, "pieces.0.length"),
        ({"saw": 999}, "saw"),
        ({"buyable": [{"length": "x", "price": "1"}]}, "buyable.0.length"),
    ],
)
def test_a_question_that_makes_no_sense_names_its_field(program: Program, change: dict, field: str) -> None:
    body = {"steel": "B-1045-RD-2IN", "pieces": [{"length": "10 in", "count": 1}], **change}
    said = problem(program.post("cut-plans", body), 422)
    assert f"/{field.replace('.', '/')}" in {one["pointer"] for one in said["errors"]}
    assert not CutPlan.objects.exists()


RULES = {
    "shortest_remnant": "12 in", "mill_end": "1/2 in", "new_remnant_counts": "100 mm", "bar_sawn_counts": "30 mm",
    "full_bar_counts": "200 mm", "one_mill_heat": True,
}  # fmt: skip


def test_saws_and_rules_are_written_as_they_were_read(program: Program) -> None:
    body = {"name": "band saw", "kerf": "1/8 in", "vice_holds": "3 in", "measured_on": "2026-03-01"}
    saw = data(program.post("saws", body), 201)
    assert (saw["kerf"]["inches"], saw["vice_holds"]["inches"]) == ("1/8 in", "3 in")
    assert data(program.get("saws"))["rows"] == [saw]
    tag = program.get(f"saws/{saw['id']}")["ETag"]
    changed = data(program.ask("PUT", f"saws/{saw['id']}", {**body, "kerf": "1/16 in"}, If_Match=tag))
    assert changed["kerf"]["inches"] == "1/16 in"
    problem(program.ask("PUT", f"saws/{saw['id']}", body, If_Match=tag), 412)
    assert problem(program.post("saws", body), 422)["errors"][0]["pointer"] == "/name"
    rules = data(program.get("cut-rules"))
    assert rules["shortest_remnant"]["inches"] == "1 ft"
    now = data(program.ask("PUT", "cut-rules", RULES, If_Match=f'"{rules["version"]}"'))
    assert now["mill_end"]["inches"] == "1/2 in"
    problem(program.ask("PUT", "cut-rules", RULES, If_Match=f'"{rules["version"]}"'), 412)
    plan = answered(program, 4, saw=saw["id"])
    assert plan["kerf"]["inches"] == "1/16 in"
    assert plan["answers"][0]["bars"][0]["trim"]["inches"] == "9/16 in"


def test_a_key_that_only_reads_asks_for_no_plan(program: Program) -> None:
    reader = Program("stock:read")
    body = {"steel": "B-1045-RD-2IN", "pieces": [{"length": "10 in", "count": 1}]}
    problem(reader.post("cut-plans", body), 403)
    assert data(reader.get("cut-plans"))["rows"] == []
    problem(reader.get("cut-plans/9"), 404)
