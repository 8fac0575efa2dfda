"""What is made for the shelf goes behind all that is owed: it moves no order in the queue and is counted on by none."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates import MODEL, asking, pinning, sheet
from orders.calc.dates.dispatch import propose
from orders.calc.dates.outcomes import serving
from orders.calc.dates.pinning import Put
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Step
from orders.calc.dates.sizing import item_of, wanted
from orders.calc.dates.state import Batch, ForShelf, Line, Person, Shop
from orders.calc.dates_json import answering, reading, writing
from orders.calc.dates_json.loading import Refused
from tests.calc.dates_making import MONDAY, always_open, known, passed, product
from tests.calc.dates_strategies import shops

few = settings(max_examples=40, deadline=None)


def with_wish(shop: Shop, pieces: int = 9) -> Shop:
    return replace(shop, for_shelf=(ForShelf(shop.products[0].item, pieces),))


@few
@given(shops, st.integers(1, 150))
def test_the_runs_of_orders_keep_their_sizes_their_names_and_their_order(shop: Shop, pieces: int) -> None:
    before, after = wanted(shop), wanted(with_wish(shop, pieces))
    assert after[: len(before)] == before
    made = after[len(before) :]
    assert sum(one.pieces for one in made) == pieces
    product = shop.products[0]
    assert all(one.shelf and one.planned and one.pieces <= product.most for one in made)
    assert {one.rank for one in made} == {len(shop.lines) + 1}
    assert {item_of(one.code) for one in made} == {product.item}


@few
@given(shops)
def test_it_is_no_promise_and_nothing_is_rated_for_it(shop: Shop) -> None:
    _, rated = asking.rate(shop, seed=1, futures=100)
    outcome, after = asking.rate(with_wish(shop), seed=1, futures=100)
    assert [(one.order, one.day) for one in after] == [(one.order, one.day) for one in rated]
    numbers = {number for number, one in enumerate(outcome.plan.runs) if one.shelf}
    orders = {line.order for line in shop.lines}
    assert not any(numbers & serving(with_wish(shop), outcome.plan, order) for order in orders)


@few
@given(shops, st.integers(1, 12))
def test_nobody_loses_more_than_by_an_order_behind_all_others(shop: Shop, pieces: int) -> None:
    """Of a tool that never fails and of which none is there, both start the same run, last; runs that nobody waits for go between."""
    one = shop.products[0]
    sure = replace(one, steps=tuple(replace(step, good=0.0, bad=0.0, rework=0.0) for step in one.steps), bar_gives=1)
    shop = replace(
        shop, products=(sure, *shop.products[1:]), stock={**shop.stock, one.item: 0},
        lines=tuple(line for line in shop.lines if line.item != one.item), pins=(),
        batches=(),
    )  # fmt: skip
    pieces = min(pieces, one.most, one.usual)
    shelf = propose(with_wish(shop, pieces))
    behind = propose(replace(shop, lines=(*shop.lines, Line("behind", one.item, pieces))))
    assert _worked(shelf) == [(code.replace("+1", "+shelf1") if code == f"{one.item}+1" else code, *rest)
                              for code, *rest in _worked(behind)]  # fmt: skip


def _worked(plan: Plan) -> list[tuple[object, ...]]:
    return [
        (plan.runs[op.run].code, op.step.number, op.people, op.begins, op.ends, op.comes, op.buys)
        for op in plan.operations
    ]


def test_an_order_that_comes_later_goes_before_it_and_has_a_run_of_its_own() -> None:
    shop = always_open(product("axe", *_steps()), lines=(), for_shelf=(ForShelf("axe", 20),))
    asked = replace(shop, lines=(Line("new", "axe", 4),))
    plan = propose(asked)
    assert [(one.code, one.pieces, one.shelf) for one in plan.runs] == [("axe+1", 4, False), ("axe+shelf1", 20, True)]
    first = next(one for one in plan.operations if one.step.number == 1)
    assert plan.runs[first.run].code == "axe+1"
    alone = passed(replace(asked, for_shelf=()))
    assert np.array_equal(passed(asked).sent[0], alone.sent[0])


def test_more_than_a_run_takes_is_parted_evenly() -> None:
    shop = always_open(product("axe", *_steps(), most=24), lines=(), for_shelf=(ForShelf("axe", 50),))
    assert [(one.code, one.pieces) for one in wanted(shop)] == [
        ("axe+shelf1", 17), ("axe+shelf2", 17), ("axe+shelf3", 16),
    ]  # fmt: skip


def test_a_further_run_for_an_order_does_not_stand_behind_the_shelf_for_its_steel() -> None:
    steps = (replace(_steps()[0], **known(0.5)),)
    made = product("axe", *steps, made_from="blank")
    bare = always_open(made, lines=(Line("1", "axe", 4),), stock={"axe": 0, "blank": 30}, starts_sure=0.5)
    bare = replace(bare, people=(Person("A"), Person("B")))
    shop = replace(bare, for_shelf=(ForShelf("axe", 20),))
    plain, shelf = passed(bare).sent[0], passed(shop).sent[0]
    assert (plain == bare.horizon_days).mean() == (shelf == shop.horizon_days).mean()


def test_it_stands_on_the_sheet_is_said_to_be_for_the_shelf_and_can_be_pinned() -> None:
    shop = always_open(product("axe", *_steps()), for_shelf=(ForShelf("axe", 6),))
    plan = propose(shop)
    days = sheet.sheet(shop, plan, sheet.Book(), first=MONDAY, days=5)
    parts = [part for day in days for line in day.lines for part in line.parts]
    assert {(part.run, part.shelf, part.planned) for part in parts} >= {
        ("axe+1", False, True),
        ("axe+shelf1", True, True),
    }
    rows = sheet.operated(shop, plan, sheet.Book())
    assert {one.run for one in rows if one.shelf} == {"axe+shelf1"}
    put = Put("axe+shelf1", 1, MONDAY)
    pinned = replace(shop, pins=pinning.as_pins([put], MONDAY, {}))
    first = propose(pinned).operations[0]
    assert (propose(pinned).runs[first.run].code, first.pinned) == ("axe+shelf1", True)


def test_a_document_carries_it_and_one_without_it_reads_as_none() -> None:
    bare = always_open(product("axe", *_steps()))
    shop = replace(bare, for_shelf=(ForShelf("axe", 6),))
    said = writing.document(shop, questions=[{"ask": "week"}])
    assert said["for_shelf"] == [{"item": "axe", "pieces": 6}]
    assert reading.read(writing.text(said)).shop == shop
    week = answering.answered(reading.read(writing.text(said)))["answers"][0]
    assert {one["run"]: one.get("for_shelf") for one in week["runs"]} == {"axe+1": None, "axe+shelf1": True}
    old = writing.document(bare, questions=[{"ask": "promises"}])
    assert "for_shelf" not in old
    assert reading.read(writing.text(old)).shop == bare
    assert MODEL == "2"  # what a shop without a wish answers has not changed


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{"item": "saw", "pieces": 1}], "for_shelf[0].item"),
        ([{"item": "axe", "pieces": 0}], "for_shelf[0].pieces"),
        ([{"item": "axe", "pieces": 1}, {"item": "axe", "pieces": 2}], "for_shelf[1].item"),
    ],
)
def test_a_document_with_an_odd_one_is_refused_with_its_place(rows: list[object], words: str) -> None:
    said = writing.document(always_open(product("axe", *_steps())), questions=[{"ask": "promises"}])
    with pytest.raises(Refused, match=words.replace("[", r"\[").replace("]", r"\]")):
        reading.read(writing.text({**said, "for_shelf": rows}))


def test_no_piece_is_no_wish() -> None:
    with pytest.raises(ValueError, match="a piece or more"):
        ForShelf("axe", 0)
    assert item_of("axe+0") == item_of("K7") == item_of("axe+shelf") == ""


def test_a_kept_sequence_keeps_it_apart_from_what_comes_new() -> None:
    shop = always_open(product("axe", *_steps()), for_shelf=(ForShelf("axe", 6),), batches=(Batch("K", "axe", 1, 2),))
    kept = propose(shop)
    asked = replace(shop, lines=(*shop.lines, Line("new", "axe", 4)))
    again = propose(asked, keep=kept)
    assert [one.code for one in again.runs if one.shelf] == ["axe+shelf1"]
    assert sum(one.pieces for one in again.runs if one.shelf) == 6


def _steps() -> tuple[Step, Step]:
    return Step(1, "forge", 30.0), Step(2, "grind", 20.0)
