"""How many to make for the shelf: by hand, and against trying every number and every way to saw."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc import starts
from inventory.calc.starts import Point
from orders.calc.for_shelf import Asked, Bar, Batches, Reason, Steel, choose

SURE_GOOD = (Point(1.0),)
PLAIN = Asked(least=10, most=40, ahead=SURE_GOOD, sure=0.9, usual=12, most_run=60, each_minor=1_000.0)


def kinds(asked: Asked) -> list[Reason]:
    return [one.kind for one in choose(asked).why]


def test_where_no_number_is_cheaper_the_least_is_made() -> None:
    found = choose(PLAIN)
    assert (found.pieces, found.good, found.each_minor) == (10, 10.0, 1_000.0)
    assert kinds(PLAIN) == [Reason.NO_STEEL]


def test_set_up_is_shared_until_keeping_costs_more() -> None:
    """Without bars and loads the number is near the classical one, sqrt(2 * use a year * set-up / keeping a piece)."""
    asked = replace(PLAIN, least=1, most=400, set_up_minor=4_000.0, per_day=0.5, holding=0.2, most_run=1_000)
    classical = math.sqrt(2 * 0.5 * 365 * 4_000 / (0.2 * 1_000))
    assert choose(asked).pieces == pytest.approx(classical, rel=0.02)
    assert choose(replace(asked, most=50)).pieces == 50


def test_tooling_that_is_in_makes_a_small_run_as_cheap() -> None:
    asked = replace(PLAIN, least=1, most=400, set_up_minor=1_000.0, change_minor=3_000.0, per_day=0.5, holding=0.2,
                    most_run=1_000)  # fmt: skip
    assert choose(replace(asked, change_minor=0.0)).pieces < choose(asked).pieces


def test_two_whole_bars_and_a_full_oven_go_before_a_rest() -> None:
    bars = (Bar("AB12", 12, 40.0, 900.0), Bar("AB13", 12, 40.0, 900.0), Bar("C7", 7, 300.0, 900.0))
    asked = replace(
        PLAIN, least=20, most=28, steel=(Steel("melt", 0, bars),), ovens=(Batches("temper", 24, 5_000.0),), usual=24
    )
    found = choose(asked)
    assert found.pieces == 24
    first = found.why[0]
    assert first.kind is Reason.BARS
    assert first.facts["bars"] == (("AB12", 12), ("AB13", 12))
    assert first.facts["whole"] == 2
    assert [one.kind for one in found.why[1:]] == [Reason.OVEN, Reason.USUAL, Reason.CHEAPER]
    assert found.why[-1].facts["least"] == 20
    assert found.each_minor < found.least_each_minor


def test_sawn_blanks_go_first_and_a_run_is_of_one_mill_heat() -> None:
    one = Steel("one", 8, (Bar("A", 6, 0.0, 50.0),))
    two = Steel("two", 0, (Bar("B", 30, 0.0, 500.0),))
    found = choose(replace(PLAIN, least=14, most=14, steel=(two, one)))
    assert [(why.kind, why.facts.get("steel")) for why in found.why] == [(Reason.SAWN, "one"), (Reason.BARS, "one")]
    over = choose(replace(PLAIN, least=15, most=15, steel=(two, one)))
    assert over.why[0].facts["bars"] == (("B", 15),)


def test_bars_are_bought_whole_where_the_rack_has_too_few() -> None:
    asked = replace(PLAIN, least=20, most=30, bought=Bar("bought", 13, 10.0, 2_000.0), steel=(Steel("one", 3),))
    found = choose(asked)
    assert found.pieces == 26
    assert found.why[0].kind is Reason.BUY
    assert found.why[0].facts == {"bars": 2, "gives": 13, "whole": 1}


def test_a_load_that_is_not_full_and_whole_fire_batches_are_said() -> None:
    asked = replace(PLAIN, least=12, most=12, ovens=(Batches("temper", 40, 0.0),), fires=(Batches("forge", 4, 9.0),))
    assert kinds(asked) == [Reason.NO_STEEL, Reason.OVEN_PART, Reason.FIRE, Reason.USUAL]
    assert Reason.FIRE not in kinds(replace(asked, least=13, most=13))


def test_more_than_a_run_takes_is_several_runs() -> None:
    asked = replace(PLAIN, least=30, most=30, most_run=12)
    assert [one.facts for one in choose(asked).why if one.kind is Reason.RUNS] == [{"runs": 3, "most": 12}]


@settings(max_examples=60, deadline=None)
@given(
    least=st.integers(1, 25), more=st.integers(0, 12), rate=st.sampled_from([1.0, 0.95, 0.8]),
    gives=st.lists(st.integers(1, 9), max_size=5), sawn=st.integers(0, 6), ends=st.integers(0, 3),
    holds=st.integers(1, 12), load=st.sampled_from([0.0, 700.0]), set_up=st.sampled_from([0.0, 2_500.0]),
    holding=st.sampled_from([0.0, 0.3]), bought=st.integers(0, 8),
)  # fmt: skip
def test_no_number_that_is_sure_enough_costs_less_however_it_is_sawn(
    least: int, more: int, rate: float, gives: list[int], sawn: int, ends: int, holds: int, load: float, set_up: float,
    holding: float, bought: int,
) -> None:  # fmt: skip
    bars = tuple(Bar(f"B{n}", one, 37.0 * (one % (ends + 1)), 100.0 + one) for n, one in enumerate(gives))
    asked = Asked(
        least, least + more, (Point(rate),), 0.8, 5, 20, (Steel("melt", sawn, bars),),
        Bar("bought", bought, 11.0, 222.0) if bought else None, 900.0, set_up, 100.0,
        (Batches("oven", holds, load),), (), 0.3, holding,
    )  # fmt: skip
    found = choose(asked)
    assert starts.chance(found.pieces, least, asked.ahead) >= 0.8 - 1e-9
    first = starts.starts(least, 0.8, asked.ahead)
    assert first is not None
    last = max(first.count, math.ceil((least + more) / rate - 1e-9))
    costs = {n: by_hand(asked, n, rate) for n in range(first.count, last + 1)}
    assert found.pieces in costs
    assert costs[found.pieces] == pytest.approx(min(costs.values()))
    assert found.each_minor == pytest.approx(costs[found.pieces])


def by_hand(asked: Asked, pieces: int, rate: float) -> float:
    """Try every subset of bars with at most one sawn in part."""
    (steel,) = asked.steel
    left = pieces - min(pieces, steel.sawn)
    ways = []
    for count in range(len(steel.bars) + 1):
        for some in itertools.combinations(steel.bars, count):
            given_by = sum(bar.gives for bar in some)
            ends = sum(bar.end_minor for bar in some)
            if given_by == left:
                ways.append(ends)
            ways += [ends - bar.end_minor + bar.part_minor for bar in some if 0 < given_by - left < bar.gives]
    if steel.gives < pieces:
        ways = [0.0]
        if asked.bought:
            whole, part = divmod(pieces, asked.bought.gives)
            ways = [whole * asked.bought.end_minor + (asked.bought.part_minor if part else 0.0)]
    good = pieces * rate
    total = pieces * asked.each_minor + min(ways) + math.ceil(pieces / asked.most_run) * asked.set_up_minor
    total += asked.change_minor + sum(math.ceil(pieces / oven.holds) * oven.minor for oven in asked.ovens)
    return total / good * (1 + asked.holding * (good / (2 * asked.per_day)) / 365)


@pytest.mark.parametrize(
    "odd",
    [
        {"least": 0}, {"most": 9}, {"sure": 1.0}, {"usual": 0}, {"most_run": 11}, {"each_minor": -1.0}, {"holding": -0.1},
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(odd: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        replace(PLAIN, **odd)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="a blank or more"):
        Bar("A", 0)
    with pytest.raises(ValueError, match="a piece or more"):
        Batches("oven", 0, 1.0)
