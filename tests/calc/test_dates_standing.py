"""Orders in the queue are answered at their place, by one pass; a change of the queue or the sheet says who gains and loses."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates import outcomes
from orders.calc.dates.asking import Rated, ask, compare, rate, standing, standings
from orders.calc.dates.chance import Law
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Line, Person, Pin, Shop
from tests.calc.dates_making import always_open, product
from tests.calc.dates_strategies import shops

FORGED, GROUND = Step(1, "forged", DAY, hands=("A",)), Step(1, "ground", DAY, hands=("B",))
LINES = (
    Line("first", "axe", 2, day=2),
    Line("second", "hammer", 1, day=3),
    Line("third", "file", 1, day=1),
    Line("rest", "axe", 1),
)
SHOP = always_open(
    product("axe", FORGED), product("hammer", FORGED), product("file", GROUND), people=(Person("A"), Person("B")), lines=LINES
)  # fmt: skip


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Count the passes."""
    found, play = [], outcomes.scenarios.play

    def counted(*of: Any, **more: Any) -> Any:
        found.append(of)
        return play(*of, **more)

    monkeypatch.setattr(outcomes.scenarios, "play", counted)
    return found


def test_an_order_is_answered_at_its_place_by_one_pass(passes: list[Any]) -> None:
    found = standing(SHOP, "second", sure=0.9, seed=3, futures=100)
    assert len(passes) == 1
    assert (found.curve.day(0.9), found.replanned, found.losers) == (4, False, ()), "behind three axes made together"
    assert [(one.what, one.share, one.days) for one in found.holds] == [("A", 1.0, 3.0)]
    assert found.promises == (Rated("first", 2, 0.0, 0.0), Rated("second", 3, 0.0, 0.0), Rated("third", 1, 1.0, 1.0))
    assert standing(SHOP, "third", sure=0.9, seed=3, futures=100).holds == (), "nothing stands before it"


def test_several_orders_are_answered_by_one_pass(passes: list[Any]) -> None:
    found = standings(SHOP, ["rest", "second"], seed=3, futures=100)
    assert len(passes) == 1
    for order, answer in found.items():
        alone = standing(SHOP, order, sure=0.5, seed=3, futures=100)
        assert (answer.curve, answer.holds, answer.promises) == (alone.curve, alone.holds, alone.promises)
    assert standings(SHOP, [], seed=3, futures=100) == {}


def test_asking_takes_a_pass_for_the_shop_as_it_stands_and_one_for_each_plan(passes: list[Any]) -> None:
    ask(SHOP, [Line("asked", "axe", 1)], sure=0.9, seed=3, futures=100)
    assert len(passes) == 3
    ask(SHOP, [Line("asked", "axe", 1)], sure=0.9, seed=3, futures=100, keep=False)
    assert len(passes) == 5


def test_an_order_that_is_not_there_and_a_chance_that_is_none_are_refused() -> None:
    with pytest.raises(ValueError, match="fourth: no order of this name"):
        standings(SHOP, ["first", "fourth"], seed=3, futures=100)
    with pytest.raises(ValueError, match="between 0 and 1"):
        standing(SHOP, "first", sure=1.0, seed=3, futures=100)


@given(shops, st.integers(1, 9))
@settings(max_examples=30, deadline=None)
def test_the_last_in_the_queue_is_answered_as_it_was_when_it_was_asked(shop: Shop, pieces: int) -> None:
    line = Line("asked", "tool0", pieces)
    asked = ask(shop, [line], sure=0.9, seed=3, futures=100, keep=False)
    found = standing(replace(shop, lines=(*shop.lines, line)), "asked", sure=0.9, seed=3, futures=100)
    assert (found.curve, found.holds) == (asked.curve, asked.holds)
    assert [(one.order, one.after) for one in found.promises] == [(one.order, one.after) for one in asked.promises]


def test_a_line_moved_forward_gains_what_those_it_passes_lose() -> None:
    first, second, *others = LINES
    found = compare(SHOP, replace(SHOP, lines=(second, first, *others)), seed=3, futures=100)
    assert found == (Rated("first", 2, 0.0, 0.0), Rated("second", 3, 0.0, 1.0), Rated("third", 1, 1.0, 1.0)), (
        "the hammer is through on day 1, the axes on day 4"
    )
    late = replace(SHOP, lines=(replace(first, day=4), *LINES[1:]))
    swapped = replace(late, lines=(second, replace(first, day=4), *others))
    assert compare(late, swapped, seed=3, futures=100)[0] == Rated("first", 4, 1.0, 1.0)


def test_a_pin_says_who_loses_by_it_and_its_taking_off_who_gains() -> None:
    pinned = replace(SHOP, pins=(Pin("file+1", 1, 5),))
    assert compare(SHOP, pinned, seed=3, futures=100)[2] == Rated("third", 1, 1.0, 0.0)
    assert compare(pinned, SHOP, seed=3, futures=100)[2] == Rated("third", 1, 0.0, 1.0)


def test_an_order_that_goes_is_left_out_and_one_that_loses_its_day_is_rated_at_it() -> None:
    gone = replace(SHOP, lines=LINES[1:])
    assert [one.order for one in compare(SHOP, gone, seed=3, futures=100)] == ["second", "third"]
    assert compare(SHOP, gone, seed=3, futures=100)[0] == Rated("second", 3, 0.0, 1.0)
    other = replace(SHOP, lines=(*LINES[:2], replace(LINES[2], day=None), LINES[3]))
    assert compare(SHOP, other, seed=3, futures=100)[2] == Rated("third", 1, 1.0, 1.0), "the day it has before"
    assert [one.order for one in compare(other, SHOP, seed=3, futures=100)] == ["first", "second"]


@given(shops)
@settings(max_examples=30, deadline=None)
def test_no_change_changes_nothing_and_both_sides_are_rated_as_they_stand(shop: Shop) -> None:
    assert compare(shop, shop, seed=3, futures=100) == rate(shop, seed=3, futures=100)[1]
    turned = replace(shop, lines=tuple(reversed(shop.lines)))
    there = {one.order: one for one in compare(shop, turned, seed=3, futures=100)}
    back = {one.order: one for one in compare(turned, shop, seed=3, futures=100)}
    assert {name: (one.before, one.after) for name, one in there.items()} == {
        name: (one.after, one.before) for name, one in back.items()
    }


def test_what_has_nothing_to_do_with_the_change_draws_the_same_luck() -> None:
    luck = replace(GROUND, varies=Law("lognormal", (0.5,)))
    first, second, third, rest = LINES[0], LINES[1], replace(LINES[2], day=0), LINES[3]
    shop = replace(SHOP, products=(*SHOP.products[:2], product("file", luck)), lines=(first, second, third, rest))
    found = compare(shop, replace(shop, lines=(second, first, third, rest)), seed=3, futures=400)[2]
    assert 0.4 < found.before == found.after < 0.8
