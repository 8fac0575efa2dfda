"""A cut question is read strictly, with the key that is wrong; a plan is written with everything a saw needs."""

import contextlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import cut_json, cut_plan_json, cut_verifier
from inventory.calc.cut_problem import Order, Prices
from tests.calc.cut_solving import planned

RACK: dict[str, Any] = {
    "name": "Tuesday",
    "kerf": 15,
    "min_remnant": 3_000,
    "bars": [
        {"id": "4HX", "length": 10_478, "kind": "remnant", "heat": "0048213", "age": 40},
        {"id": "B7K", "length": 57_404, "kind": "full", "trim": 127, "heat": "0048213"},
    ],
    "items": [[921, 11], {"length": 1_300, "count": 2, "due": "2026-12-01", "run": "K9"}],
    "one_heat": True,
    "prices": {"remnant": 1_000, "handled": 300, "full": 2_000},
    "buyable": [{"length": 60_960, "price": 9_500, "most": 3}],
    "locked": [{"bar": "4HX", "items": [1, 1]}],
    "order": "strict",
    "seed": 7,
}


def changed(**more: Any) -> str:
    return json.dumps({name: value for name, value in {**RACK, **more}.items() if value != "gone"})


def test_a_rack_is_read_whole() -> None:
    asked = cut_json.read(changed())
    problem = asked.problem
    assert (problem.name, problem.kerf, problem.min_remnant, problem.order, asked.seed) == (
        "Tuesday", 15, 3_000, Order.STRICT, 7,
    )  # fmt: skip
    assert [(bar.name, bar.length, bar.full, bar.trim, bar.heat, bar.age) for bar in problem.stock] == [
        ("4HX", 10_478, False, 0, "0048213", 40),
        ("B7K", 57_404, True, 127, "0048213", 0),
    ]
    assert [(one.length, one.count, one.due, one.run) for one in problem.pieces] == [
        (921, 11, "", ""), (1_300, 2, "2026-12-01", "K9"),
    ]  # fmt: skip
    assert problem.one_heat
    assert problem.prices == Prices(1_000, 300, 2_000)
    assert (problem.buyable[0].length, problem.buyable[0].price, problem.buyable[0].most) == (60_960, 9_500, 3)
    assert problem.locked[0].pieces == (0, 0)
    assert cut_json.read(changed(), order=Order.ONE_PRICE).problem.order is Order.ONE_PRICE


def test_bars_of_one_length_are_bought_as_many_as_wanted() -> None:
    problem = cut_json.read('{"name": "raws", "capacity": 100, "items": [[45, 97], [36, 610]], "ub": 300}').problem
    assert problem.stock == ()
    assert [(bar.length, bar.price, bar.most) for bar in problem.buyable] == [(100, 1, None)]
    assert (problem.kerf, problem.prices) == (0, Prices(0, 0, 0))


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ("", "line"),
        ("[1, 2]", "line"),
        ("{", "line"),
        ("[" * 100_000, "line"),
        ('{"items": [], "items": []}', "items"),
        (changed(kerfs=3), "kerfs"),
        (changed(capacity=3), "bars"),
        (changed(bars="gone"), "bars"),
        (changed(items="gone"), "items"),
        (changed(items=[[1, 2, 3]]), "items 1"),
        (changed(items=[[1, True]]), "items 1: count"),
        (changed(items=[[1.5, 1]]), "items 1: length"),
        (changed(items=[[0, 1]]), "items 1: length"),
        (changed(items=[[5, -1]]), "items 1: count"),
        (changed(items=[{"length": 5, "counts": 1}]), "items 1"),
        (changed(items=[[5, 10**30]]), "items 1: count"),
        (changed(kerf="2"), "kerf"),
        (changed(kerf=-1), "kerf"),
        (changed(min_remnant=0), "min_remnant"),
        (changed(bars=[{"id": "A"}]), "bars 1: length"),
        (changed(bars=[{"id": "A", "length": 5, "kind": "half"}]), "bars 1: kind"),
        (changed(bars=[{"id": "A", "length": 5}, {"id": "A", "length": 5}], locked=[]), "line"),
        (changed(bars=[{"id": 3, "length": 5}]), "bars 1: id"),
        (changed(one_heat=1), "one_heat"),
        (changed(order="quick"), "order"),
        (changed(order=["strict"]), "order"),
        (changed(prices={"remnant": 1}), "prices handled"),
        (changed(prices=3), "prices"),
        (changed(buyable=[{"length": 5}]), "buyable 1: price"),
        (changed(locked=[{"bar": "4HX", "items": [3]}]), "locked 1"),
        (changed(locked=[{"bar": "none", "items": [1]}]), "line"),
        (changed(locked=[{"bar": "4HX", "items": [1] * 12}]), "line"),
        (changed(seed=-1), "seed"),
        (changed(name=5), "name"),
        ('{"capacity": NaN, "items": []}', "capacity"),
        ('{"capacity": 1e400, "items": []}', "capacity"),
    ],
)
def test_what_is_wrong_is_said_with_its_key_in_one_sentence(line: str, key: str) -> None:
    with pytest.raises(cut_json.Unreadable) as caught:
        cut_json.read(line)
    said = str(caught.value)
    assert said.startswith(f"{key}"), said
    assert said.endswith("."), said
    assert "\n" not in said


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(), lambda inner: st.lists(inner, max_size=3)))  # fmt: skip
def test_no_value_of_a_key_breaks_the_reading(value: Any) -> None:
    for key in cut_json.KEYS:
        with contextlib.suppress(cut_json.Unreadable):  # anything else fails the test
            cut_json.read(json.dumps({**RACK, key: value}))


def test_a_plan_names_bars_items_and_what_is_missing_with_the_bar_it_needs() -> None:
    problem = cut_json.read('{"kerf": 1, "bars": [{"id": "A", "length": 25}], "items": [[10, 4], [99, 0]]}').problem
    row = cut_plan_json.written(problem, cut_verifier.restated(problem, planned(problem, 5)))
    (bar,) = row["bars"]
    assert (bar["bar"], bar["items"], bar["lengths"]) == ("A", [1, 1], [10, 10])
    # 25 less two pieces of 10 and two kerfs of 1 leaves 3; counted by hand.
    assert (bar["left"], bar["remnant"]) == (3, True)
    assert row["missing"] == [{"item": 1, "length": 10, "count": 2, "bar_needed": 21}]
    levels = {one["level"]: one for one in row["levels"]}
    assert (levels["short"]["value"], levels["short"]["proven"]) == (2, True)
    assert json.loads(json.dumps(row)) == row
