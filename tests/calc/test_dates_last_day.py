"""The last day to order: counted by hand where nothing varies, never earlier for a later day, asked for few times."""

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates import asking, last_day
from orders.calc.dates.chance import Law
from orders.calc.dates.last_day import LEFT_OUT, LastDay, last_days
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Batch, Coming, Hours, Line, Machine, Person, Shop, Supplier
from tests.calc.dates_making import MONDAY, always_open, known, product
from tests.calc.dates_strategies import shops

FORGED = product("axe", Step(1, "forged", 351))  # minutes: the work of an open day of 9 hours at 65 %
WEEK = Shop(Hours(MONDAY), (Person("A"),), products=(FORGED,), pack_minutes=0, unrest=0.0)


def ordered_by(
    shop: Shop, pieces: int, *by: int, item: str = "axe", sure: float = 0.9, keep: bool = True
) -> list[int | None]:
    return [one.order_by for one in last_days(shop, item, pieces, by, sure=sure, seed=3, futures=100, keep=keep)]


def test_an_order_of_two_days_work_is_placed_two_open_days_before_its_carrier() -> None:
    # forged on the day it comes and the next, through as the shop closes, sent on the open day after
    assert ordered_by(WEEK, 2, 1, 2, 3, 4, 5, 6, 7, 8, 9) == [None, 0, 1, 2, 2, 2, 3, 4, 7]
    assert ordered_by(WEEK, 2, 9, 1, 4, 4) == [7, None, 2, 2], "in the order they were given"
    holiday = replace(WEEK, hours=replace(WEEK.hours, closed=frozenset({MONDAY + dt.timedelta(days=8)})))
    assert ordered_by(holiday, 2, 8, 9, 10, 11) == [3, 4, 7, 9], "no work and no carrier on Tuesday"


def test_what_is_in_the_queue_is_worked_off_until_then() -> None:
    queue = replace(WEEK, lines=(Line("promised", "axe", 3),))
    # the anvil is free on Thursday; an axe of Thursday is sent on Friday, one of Friday on Monday
    assert ordered_by(queue, 1, 2, 3, 4, 7, 8) == [None, None, 3, 4, 7]
    late = ordered_by(queue, 1, 3, 4)
    answer = asking.ask(queue, [Line("asked", "axe", 1)], sure=0.9, seed=3, futures=100)
    assert (late, answer.curve.day(0.9)) == ([None, 3], 4), "there is a day from the day that is answered today"


def test_pieces_on_the_shelf_are_ordered_on_the_last_carrier_day() -> None:
    hours = replace(WEEK.hours, carrier_weekdays=(1, 4))
    shelf = replace(WEEK, hours=hours, stock={"axe": 5}, lines=(Line("promised", "axe", 2),), pack_minutes=30)
    assert ordered_by(shelf, 3, 0, 1, 2, 3, 4, 6, 7, 8) == [None, 1, 1, 1, 4, 4, 4, 8]
    assert ordered_by(shelf, 4, 7, 8) == [3, 7], "one of them is to be made"
    early = replace(shelf, hours=replace(hours, carrier_cutoff=8 * 60 + 29))
    assert ordered_by(early, 3, 4, 8) == [3, 7], "packed half an hour after opening, the carrier is gone"
    saturday = replace(shelf, hours=replace(hours, carrier_weekdays=(5,)))
    assert ordered_by(saturday, 3, 5, 6) == [4, 4], "nobody takes an order on Saturday"


def test_what_is_bought_is_bought_from_the_day_of_the_order() -> None:
    axe = replace(FORGED, made_from="blank")
    shop = always_open(
        axe, lines=(), stock={"rope": 1}, suppliers=(Supplier("mill", (0, 2), 9),), buys_from={"blank": "mill", "rope": "mill"},
    )  # fmt: skip
    assert ordered_by(shop, 1, 10, 11, 12, 20) == [None, 0, 1, 9], "nine days and two late in half of all futures"
    assert ordered_by(shop, 1, 8, 9, 10, 20, sure=0.3) == [None, 0, 1, 11]
    assert ordered_by(shop, 1, 7, item="rope") == [7]
    assert ordered_by(shop, 2, 10, 11, 20, item="rope") == [None, 0, 9]
    there = replace(shop, coming=(Coming("blank", 1, 6, "mill"),), stock={"blank": 1})
    assert ordered_by(there, 1, 3) == [3], "a blank is there"
    assert ordered_by(there, 2, 7, 8) == [None, 8], "the other comes on day 8 at the latest, forged the same day"
    assert ordered_by(there, 1, 6, 8, item="nail") == [None, None], "never is no day"


def test_spare_heads_that_nobody_wants_wait_for_the_order_and_those_that_are_wanted_go_on() -> None:
    axe = product("axe", Step(1, "forged", DAY), Step(2, "hafted", DAY))
    heads = (Batch("heads", "axe", 1, 5, spare=True),)
    shop = always_open(axe, lines=(Line("promised", "axe", 2, day=2),), batches=heads)
    assert ordered_by(shop, 3, 4, 5, 6) == [None, 2, 3], "three days of hafting behind the two of what is promised"
    assert ordered_by(replace(shop, lines=()), 3, 2, 3, 4) == [None, 0, 1]
    odd = replace(shop, batches=(*heads, Batch("run", "axe", 1, 1)), lines=())
    assert ordered_by(odd, 1, 5) == [5], "a run that goes on anyhow is on the shelf by then"


def test_the_chance_is_said_with_the_day_and_what_the_day_does_not_know() -> None:
    varies = product("axe", Step(1, "forged", DAY, Law("counted", (0.5, 0.5, 0.5, 1.5))))
    shop = always_open(varies, lines=())
    (found,) = last_days(shop, "axe", 1, [6], sure=0.9, seed=3, futures=2_000)
    assert found == LastDay(6, 5, 1.0, LEFT_OUT)
    (found,) = last_days(shop, "axe", 1, [6], sure=0.7, seed=3, futures=2_000)
    assert (found.order_by, found.sure) == (6, pytest.approx(0.75, abs=0.04))
    (found,) = last_days(shop, "axe", 1, [0], sure=0.9, seed=3, futures=2_000)
    assert (found.order_by, found.sure) == (None, pytest.approx(0.75, abs=0.04)), "the chance of an order placed today"


def test_a_shop_without_a_queue_takes_as_long_from_any_day() -> None:
    axe = product("axe", Step(1, "forged", 900, Law("lognormal", (0.4,)), 0.2, **known(0.8)), Step(2, "oiled", cure=700),
                  made_from="blank", most=3)  # fmt: skip
    shop = always_open(
        axe, lines=(), unrest=0.12, stock={"blank": 2}, suppliers=(Supplier("mill", (0, 1, 5), 3),),
        buys_from={"blank": "mill"},
    )  # fmt: skip
    later = last_day._Later(shop, "axe", 4, 0.9, 3, 400, keep=True)
    counts = later.curve(0).counts
    for day in (1, 9):
        assert later.curve(day).counts[day:] == counts[: len(counts) - day], (
            "bought, begun and stretched from its day on"
        )


def test_a_gap_before_work_that_waits_is_used_by_a_new_plan_and_the_kept_one_does_not_stand_in_its_own_way() -> None:
    forge, grind = Step(1, "forged", DAY, machines=("ANVIL",)), Step(2, "ground", 10 * DAY, machines=("GRINDER",))
    small = Step(1, "forged", 2 * DAY, machines=("ANVIL",)), Step(2, "ground", DAY, machines=("GRINDER",))
    shop = always_open(
        product("hammer", forge, grind), product("axe", *small), people=tuple(Person(code) for code in "ABCD"),
        machines=(Machine("ANVIL"), Machine("GRINDER")), lines=(Line("promised", "hammer", 1, day=20),),
        batches=(Batch("hammers", "hammer", 0, 1, ready=5 * DAY),),
    )  # fmt: skip
    # hammers forged from day 5 to 6, ground to 16; axes of day 4 are ahead of them everywhere, of day 5 ground from 16 on
    for keep in (True, False):
        assert ordered_by(shop, 1, 2, 3, 5, 6, 16, 17, 18, keep=keep) == [None, 0, 2, 3, 4, 14, 15]
    axe = product("axe", replace(small[0], minutes=4 * DAY, cure=2 * DAY), replace(small[1], minutes=DAY // 2))
    other = replace(shop, products=(shop.products[0], axe), batches=(replace(shop.batches[0], ready=DAY // 2),))
    assert ordered_by(other, 1, 11, 12, 13) == [None, 6, 7], "hammers ground to 11.5, axes of day 6 from 12 on"
    assert ordered_by(other, 1, 12, 14, 15, keep=False) == [None, None, 9], "forged first today, hammers ground to 15"


@given(
    shops, st.integers(1, 9), st.sampled_from([0.5, 0.9]), st.lists(st.integers(0, 60), min_size=2, max_size=5), st.booleans()
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_a_later_day_wanted_has_no_earlier_last_day_and_each_was_asked(
    shop: Shop, pieces: int, sure: float, by: list[int], keep: bool
) -> None:
    asked = last_days(shop, "tool0", pieces, by, sure=sure, seed=3, futures=100, keep=keep)
    found = sorted(asked, key=lambda one: one.by)
    order_by = [-1 if one.order_by is None else one.order_by for one in found]
    assert order_by == sorted(order_by)
    answer = asking.ask(shop, [Line("asked", "tool0", pieces)], sure=sure, seed=3, futures=100, keep=keep)
    today = answer.curve.day(sure)
    for one in found:
        assert (one.order_by is None) == (today is None or today > one.by)
        assert (one.sure >= sure) == (one.order_by is not None)
        assert one.order_by is None or one.order_by <= one.by


def test_few_days_are_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    asked, play = [], last_day.scenarios.play

    def counted(*of: Any, **more: Any) -> Any:
        asked.append(of)
        return play(*of, **more)

    monkeypatch.setattr(last_day.scenarios, "play", counted)
    queue = replace(WEEK, lines=(Line("promised", "axe", 30),))
    assert ordered_by(queue, 3, 365, 60, 90) == [360, 57, 85]
    assert len(asked) == 19, "today's three passes, and two plans for each of eight later days"


def test_a_question_has_pieces_and_days_within_the_horizon() -> None:
    with pytest.raises(ValueError, match="horizon"):
        ordered_by(WEEK, 1, 400)
    with pytest.raises(ValueError, match="piece"):
        ordered_by(WEEK, 0, 4)
    assert ordered_by(WEEK, 1) == []
    assert ordered_by(WEEK, 1, -3) == [None]
    names = replace(WEEK, lines=(Line("the order", "axe", 1),))
    assert ordered_by(names, 1, 2, 3) == [1, 2]
