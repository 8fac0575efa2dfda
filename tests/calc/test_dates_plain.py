"""The rule of thumb says what a shop would work out on the back of a card: the shelf, or mean minutes of a run alone."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates.asking import ask
from orders.calc.dates.chance import Law
from orders.calc.dates.plain import on_shelf, plain_day
from orders.calc.dates.route import Oven, Step
from orders.calc.dates.state import DAY, Hours, Line, Machine, Person, Shop
from tests.calc.dates_making import MONDAY, always_open, known, product
from tests.calc.dates_strategies import shops

HAMMER = product("hammer", Step(1, "forged", 351), Step(2, "ground", 0, set_up=20, change=331))
WEEK = Shop(Hours(MONDAY), (Person("A"),), products=(HAMMER,), pack_minutes=0)  # 351 minutes of work a day


def test_a_shelf_that_has_enough_beyond_what_is_owed_sends_with_the_next_carrier() -> None:
    shop = replace(WEEK, stock={"hammer": 5}, lines=(Line("1", "hammer", 2), Line("2", "hammer", 0)))
    assert plain_day(shop, [Line("asked", "hammer", 3)]) == 0
    assert plain_day(replace(shop, now=15 * 60 + 1), [Line("asked", "hammer", 3)]) == 1, "today's carrier is gone"
    assert on_shelf(shop, "hammer", 3)
    assert not on_shelf(shop, "hammer", 4)
    assert plain_day(shop, [Line("asked", "hammer", 2), Line("asked", "hammer", 2)]) == 7, "four together"
    assert plain_day(replace(shop, stock={"rope": 1}), [Line("asked", "rope", 1)]) == 0, "not made here, and there"


def test_a_run_alone_takes_its_mean_minutes_through_working_days() -> None:
    # one: a day's forging and a day's setting up, through at closing, when the carrier is gone
    assert plain_day(WEEK, [Line("asked", "hammer", 1)]) == 2
    assert plain_day(WEEK, [Line("asked", "hammer", 3)]) == 4, "Thursday at closing; sent on Friday"
    assert plain_day(WEEK, [Line("asked", "hammer", 4)]) == 7, "Friday at closing; sent on Monday"


def test_rejects_count_at_the_mean_and_cures_and_the_oven_by_the_clock() -> None:
    halved = product("axe", Step(1, "forged", DAY, Law("counted", (1.0, 3.0)), **known(0.5)))
    shop = always_open(halved, lines=())
    assert plain_day(shop, [Line("asked", "axe", 2)]) == 8, (
        "four are begun, each twice a day's work; the carrier comes at midnight"
    )
    oven = Oven(0.1, 60, DAY - 60, "204")
    slow = product("tongs", Step(1, "oiled", cure=2 * DAY - 60), Step(2, "left", cure=30), Step(3, "tempered", 1, machines=("OVEN",), oven=oven))  # fmt: skip
    closed = replace(always_open(slow, lines=(), machines=(Machine("OVEN"),)), hours=replace(WEEK.hours, production=1))
    assert plain_day(closed, [Line("asked", "tongs", 1)]) == 3, (
        "Monday midnight to Tuesday 23:30 by the clock, a minute's work on Wednesday, a day in the oven"
    )


def test_what_is_not_made_here_or_takes_too_long_has_no_day() -> None:
    assert plain_day(WEEK, [Line("asked", "rope", 1)]) is None
    assert plain_day(WEEK, [Line("asked", "hammer", 1), Line("asked", "rope", 1)]) is None
    assert plain_day(replace(WEEK, horizon_days=5), [Line("asked", "hammer", 4)]) is None
    assert plain_day(WEEK, [Line("asked", "rope", 0)]) == 0


@given(shops, st.lists(st.sampled_from(["tool0", "tool1", "handle"]), min_size=1, max_size=4), st.integers(1, 9))
@settings(max_examples=60, deadline=None)
def test_several_lines_go_on_the_latest_day_and_more_pieces_never_sooner(
    shop: Shop, items: list[str], pieces: int
) -> None:
    lines = [Line("asked", item, pieces) for item in items]
    whole, sums = plain_day(shop, lines), {item: pieces * items.count(item) for item in items}
    alone = [plain_day(shop, [Line("asked", item, wanted)]) for item, wanted in sums.items()]
    assert whole == (None if None in alone else max(alone))
    more = plain_day(shop, [replace(line, pieces=line.pieces + 1) for line in lines])
    assert more is None or (whole is not None and whole <= more)


@pytest.mark.parametrize("pieces", [1, 3, 8])
def test_a_shop_without_luck_and_without_other_work_sends_on_that_very_day(pieces: int) -> None:
    steps = (Step(1, "forged", 95, set_up=30), Step(2, "oiled", 5, cure=DAY), Step(3, "packed", 12))
    shop = Shop(Hours(MONDAY), (Person("A"),), products=(product("axe", *steps),), pack_minutes=0, unrest=0.0)
    line = Line("asked", "axe", pieces)
    assert ask(shop, [line], sure=0.9, seed=1, futures=100).curve.day(0.9) == plain_day(shop, [line])
