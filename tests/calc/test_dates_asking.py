"""The three questions: when, how sure by a day, how many by a day; what it waits for, what would help, who loses by it."""

from dataclasses import replace

import numpy as np
import pytest

from orders.calc.dates.answers import Curve, how_many
from orders.calc.dates.asking import Answer, Rated, ask, better, rate, split
from orders.calc.dates.chance import Law
from orders.calc.dates.ideas import changes, ideas
from orders.calc.dates.route import Oven, Step
from orders.calc.dates.state import DAY, Batch, Coming, Hours, Line, Machine, Person, Pin, Shop, Supplier
from tests.calc.dates_making import MONDAY, always_open, known, product

ANVIL, GRINDER = Machine("ANVIL"), Machine("GRINDER")
HALF_DAY = DAY // 2


def asked(shop: Shop, *lines: Line, sure: float = 0.9, futures: int = 400) -> Answer:
    return ask(shop, lines, sure=sure, seed=3, futures=futures)


def days(answer: Answer, order: str) -> set[int]:
    """Give the days on which an order is sent in some future."""
    filled = answer.outcome.filled
    return set(filled.sent[filled.orders.index(order)].tolist())


def two_benches(*, cure: int) -> Shop:
    """Make a shop with one order promised: half a day until its blanks are there, ten days at the grinder."""
    forge, grind = Step(1, "forged", DAY, machines=("ANVIL",)), Step(2, "ground", 10 * DAY, machines=("GRINDER",))
    small = (
        Step(1, "forged", 4 * DAY, machines=("ANVIL",), cure=cure),
        Step(2, "ground", HALF_DAY, machines=("GRINDER",)),
    )
    return always_open(
        product("hammer", forge, grind), product("axe", *small), people=tuple(Person(code) for code in "ABCD"),
        machines=(ANVIL, GRINDER), lines=(Line("promised", "hammer", 1, day=11),),
        batches=(Batch("hammers", "hammer", 0, 1, ready=HALF_DAY),),
    )  # fmt: skip


def test_an_order_that_can_begin_before_the_others_work_comes_is_planned_anew_and_the_loser_is_named() -> None:
    answer = asked(two_benches(cure=0), Line("asked", "axe", 1))
    assert answer.replanned
    assert (answer.curve.day(0.9), answer.curve.never) == (4, 0), "forged at once, and ground before the hammers come"
    assert days(answer, "promised") == {15}
    assert answer.losers == (Rated("promised", 11, 1.0, 0.0),)
    assert [place.code for place in answer.outcome.plan.runs] == ["hammers", "axe+1"]


def test_an_order_that_would_stand_in_its_own_way_keeps_the_plan_as_it_was() -> None:
    answer = asked(two_benches(cure=2 * DAY), Line("asked", "axe", 1))
    assert not answer.replanned
    # anew: axes forged first, to day 4; hammers at the grinder from day 5 to 15; axes behind them
    assert answer.curve.day(0.9) == 12, "behind the hammers that go first: 1.5 days, then 10, then half a day"
    assert answer.promises == (Rated("promised", 11, 1.0, 1.0),)
    assert answer.losers == ()


def test_an_order_with_promised_ones_beside_it_that_lose_nothing_names_nobody() -> None:
    shop = always_open(
        product("axe", Step(1, "forged", HALF_DAY)), product("hammer", Step(1, "ground", HALF_DAY)),
        lines=(Line("a", "hammer", 1, day=0), Line("b", "hammer", 1), Line("a", "rope", 1, day=2)), stock={"rope": 1},
    )  # fmt: skip
    answer = asked(shop, Line("asked", "axe", 2), Line("asked", "hammer", 1))
    assert answer.promises == (Rated("a", 2, 1.0, 1.0),), "the order's day is that of its last line; b has none"
    outcome, promises = rate(shop, seed=3, futures=100)
    assert promises == (Rated("a", 2, 1.0, 1.0),)
    assert outcome.curve("b", shop.horizon_days).day(0.5) == 1, "its hammer is the second of the run"


def test_a_small_loss_is_no_loss_and_more_than_a_point_is_one() -> None:
    answer = replace(
        asked(two_benches(cure=0), Line("asked", "axe", 1)),
        promises=(Rated("a", 1, 0.9, 0.895), Rated("b", 1, 0.9, 0.885)),
    )
    assert [one.order for one in answer.losers] == ["b"]


def test_the_better_plan_gives_the_earlier_day_then_the_surer_one_and_any_day_rather_than_none() -> None:
    early, late, surer, never, hardly = (
        Curve(counts, 10) for counts in ((5, 9), (0, 9), (6, 6), (0, 0), (0, 1))
    )  # fmt: skip
    assert better(early, late, 0.5)
    assert not better(late, early, 0.5)
    assert better(surer, early, 0.5)
    assert not better(early, early, 0.5), "where both are alike the plan stays"
    assert better(early, never, 0.5)
    assert not better(never, early, 0.5)
    assert better(hardly, never, 0.5), "neither is sure enough, but one may come"
    assert not better(never, hardly, 0.5)


def test_an_order_is_planned_anew_past_what_never_comes_and_keeps_the_plan_where_nothing_helps() -> None:
    shop = always_open(
        product("hammer", Step(1, "forged", 60, machines=("ANVIL",))), product("axe", Step(1, "forged", 60, machines=("ANVIL",))),
        machines=(ANVIL,), lines=(Line("promised", "hammer", 1),), pins=(Pin("hammer+1", 1, 99),), horizon_days=90,
    )  # fmt: skip
    answer = asked(shop, Line("asked", "axe", 1))
    assert answer.replanned
    assert answer.curve.day(0.9) == 0
    nobody = asked(replace(shop, people=()), Line("asked", "axe", 1))
    assert not nobody.replanned
    assert (nobody.curve.day(0.1), nobody.curve.never) == (None, 1.0)


def test_a_question_needs_one_order_with_a_name_of_its_own() -> None:
    shop = two_benches(cure=0)
    for lines in ((), (Line("a", "axe", 1), Line("b", "axe", 1))):
        with pytest.raises(ValueError, match="one order"):
            asked(shop, *lines)
    with pytest.raises(ValueError, match="already"):
        asked(shop, Line("promised", "axe", 1))


def thirty_axes() -> Shop:
    """Make a shop with steel for twenty-six axes today and for more in two weeks."""
    axe = product("axe", Step(1, "forged", HALF_DAY), made_from="blank", usual=26, most=26)
    return always_open(
        axe, lines=(), stock={"blank": 26, "axe": 0}, coming=(Coming("blank", 40, 20, "mill"),),
        suppliers=(Supplier("mill", (0, 0, 0, 5)),),
    )  # fmt: skip


def parted(shop: Shop, item: str, pieces: int, *, day: int, sure: float = 0.9) -> tuple[tuple[int, int | None], ...]:
    found = split(shop, Line("asked", item, pieces), day=day, sure=sure, seed=3, futures=400)
    return tuple((part.pieces, part.day) for part in found)


def test_twenty_six_go_on_one_day_and_the_last_four_when_their_steel_has_come() -> None:
    shop = thirty_axes()
    assert parted(shop, "axe", 30, day=13) == ((26, 13), (4, 27))
    assert parted(shop, "axe", 30, day=22, sure=0.7) == ((30, 22),)
    assert parted(shop, "axe", 30, day=22) == ((26, 13), (4, 27))
    answer = asked(shop, Line("asked", "axe", 30))
    assert (answer.curve.day(0.9), answer.curve.day(0.7)) == (27, 22)


def test_fewer_are_asked_for_by_themselves_where_the_whole_run_would_be_late() -> None:
    shop = thirty_axes()
    assert parted(shop, "axe", 26, day=12) == ((25, 12), (1, 13)), "two axes a day; the rest in a run of its own"
    assert parted(shop, "axe", 26, day=0) == ((1, 0), (25, 13))
    assert parted(shop, "axe", 26, day=13) == ((26, 13),)
    for fewer, more in ((3, 4), (9, 12), (24, 25)):
        assert parted(shop, "axe", more, day=4)[0][0] >= parted(shop, "axe", fewer, day=4)[0][0], (
            "more asked, none fewer"
        )


def test_the_pieces_of_lines_before_it_come_first() -> None:
    shop = replace(thirty_axes(), lines=(Line("promised", "axe", 10),))
    shop = replace(shop, products=(replace(shop.products[0], most=10),))
    assert parted(shop, "axe", 20, day=10) == ((11, 10), (9, 29)), "ten before it, half a day each"


def test_what_is_not_made_here_is_split_by_what_is_there_and_comes() -> None:
    shop = replace(thirty_axes(), stock={"rope": 3}, coming=(Coming("rope", 5, 4, ""),), lines=(Line("a", "rope", 1),))
    assert parted(shop, "rope", 5, day=0) == ((2, 0), (3, 4))
    assert parted(shop, "rope", 9, day=5) == ((7, 4), (2, None)), "the rest never comes"
    assert parted(shop, "twine", 1, day=5) == ((1, None),)
    assert parted(shop, "twine", 1, day=10**6) == ((1, None),), "never is no day"
    assert parted(shop, "rope", 0, day=0) == ()


def test_how_many_is_the_most_that_is_sure_enough() -> None:
    ready = [(count, np.array([count, count, 9, 9])) for count in (1, 2, 3)]
    assert how_many(ready, 2, 0.5) == 2
    assert how_many(ready, 9, 1.0) == 3
    assert how_many(ready, 3, 0.51) == 0


def test_an_order_is_told_what_it_waits_for_in_which_futures_and_how_long() -> None:
    axe = product("axe", Step(1, "forged", 60, machines=("ANVIL",), uses=(("handle", 1.0),)), Step(2, "oiled", 5))
    hammer = product("hammer", Step(1, "ground", 250, Law("counted", (0.0, 2.0)), hands=("B",)))
    shop = always_open(
        axe, hammer, people=(Person("A", out=frozenset({0})), Person("B")), machines=(replace(ANVIL, busy=HALF_DAY),),
        lines=(Line("promised", "hammer", 1),), coming=(Coming("handle", 9, 2, "wood"),),
        suppliers=(Supplier("wood", (0, 4)),), pins=(Pin("axe+1", 2, 3),),
    )  # fmt: skip
    answer = asked(shop, Line("asked", "axe", 1), futures=2_000)
    holds = {one.what: one for one in answer.holds}
    assert set(holds) == {"handle", "the week sheet"}, "the anvil is free before the handles are there"
    assert holds["handle"].share == 1.0, "in every future, until the lorry comes"
    assert holds["handle"].days == pytest.approx(4, abs=0.2)
    assert holds["the week sheet"].share == pytest.approx(0.5, abs=0.05), "where the handles come in time"
    assert [one.days for one in answer.holds] == sorted((one.days for one in answer.holds), reverse=True)
    here = replace(shop, stock={"handle": 9}, pins=())
    (anvil,) = asked(here, Line("asked", "axe", 1), futures=2_000).holds
    assert (anvil.what, anvil.share, anvil.days) == ("ANVIL", 1.0, 0.5)
    (hands,) = asked(replace(here, machines=(ANVIL,)), Line("asked", "axe", 1), futures=2_000).holds
    assert (hands.what, hands.days) == ("B", pytest.approx(250 / DAY, abs=0.02))
    assert hands.share == pytest.approx(0.5, abs=0.05), "in half of all futures he grinds hammers first"
    ill = replace(here, machines=(replace(ANVIL, down=frozenset({0, 1})),))
    assert [(one.what, one.days) for one in asked(ill, Line("asked", "axe", 1), futures=200).holds] == [
        ("people and machines away", pytest.approx(2, abs=0.2)), ("B", pytest.approx(0, abs=0.2)),
    ]  # fmt: skip
    shelf = asked(replace(shop, stock={"axe": 1}), Line("asked", "axe", 1))
    assert shelf.holds == ()


def test_a_load_waits_for_the_runs_it_is_shared_with() -> None:
    step = Step(2, "tempered", 1, hands=("C",), machines=("OVEN",), oven=Oven(0.5, 0, 2 * DAY, "204", unattended=True))
    shop = always_open(
        product("axe", Step(1, "ground", 80), step), product("hammer", Step(1, "ground", 20, Law("counted", (0, 9))), step),
        people=(Person("A"), Person("B"), Person("C")), machines=(Machine("OVEN"),), lines=(Line("promised", "hammer", 1),),
    )  # fmt: skip
    answer = asked(shop, Line("asked", "axe", 1), futures=2_000)
    assert answer.replanned, "one load of two days, not two"
    assert len(answer.outcome.plan.groups) == 3
    (load,) = answer.holds
    assert (load.what, load.days) == ("the rest of the load", pytest.approx(50 / DAY, abs=0.005))
    assert load.share == pytest.approx(0.5, abs=0.05), "where the hammers take 180 minutes, and the axes 80"


def in_working_hours() -> Shop:
    """Make a shop where an axe takes two people five days of forging, steel is late, and the oven waits for people."""
    steps = (
        Step(1, "forged", 351 * 3, hands=("A",)),
        Step(2, "tempered", 10, machines=("OVEN",), oven=Oven(0.5, 60, 420, "204")),
        Step(3, "hafted", 60, uses=(("handle", 1.0),)),
    )
    return Shop(
        Hours(MONDAY), (Person("A"),), (Machine("OVEN"),),
        (product("axe", *steps, made_from="blank"), product("hammer", Step(1, "forged", 351 * 4))),
        {"handle": 5}, coming=(Coming("blank", 40, 9, "mill"),), suppliers=(Supplier("mill"),),
        lines=(Line("promised", "hammer", 1), Line("promised too", "axe", 1)),
    )  # fmt: skip


def test_ideas_say_which_change_gives_which_day() -> None:
    shop, line = in_working_hours(), Line("asked", "axe", 1)
    base = asked(shop, line, sure=0.9, futures=100).curve.day(0.9)
    found = ideas(shop, [line], sure=0.9, seed=3, futures=100)
    assert base is not None
    assert 2 <= len(found) <= 3
    assert [one.gain for one in found] == sorted((one.gain for one in found), reverse=True)
    for one in found:
        assert one.day == base - one.gain
        changed = dict(changes(replace(shop, lines=(*shop.lines, line)), {"axe"}))[one.what]
        others = replace(changed, lines=tuple(other for other in changed.lines if other.order != "asked"))
        assert asked(others, line, sure=0.9, futures=100).curve.day(0.9) >= one.day
    assert "blank there today" in {one.what for one in found}


def test_each_change_changes_what_it_says() -> None:
    shop = replace(in_working_hours(), lines=(*in_working_hours().lines, Line("asked", "axe", 1)))
    found = dict(changes(shop, {"axe"}))
    assert list(found) == [
        "blank there today", "handle there today", "an hour longer each day", "open on Saturdays",
        "one more pair of hands", "the oven left alone over night", "first in the queue",
    ]  # fmt: skip
    assert found["first in the queue"].lines[0].order == "asked"
    assert found["an hour longer each day"].hours.closes == 18 * 60
    assert found["open on Saturdays"].hours.weekdays == (0, 1, 2, 3, 4, 5)
    assert len(found["one more pair of hands"].people) == 2
    assert all(step.oven is None or step.oven.unattended for one in found["the oven left alone over night"].products
               for step in one.steps)  # fmt: skip
    open_always = always_open(product("axe", Step(1, "forged", 60)), lines=(Line("asked", "axe", 1),))
    assert list(dict(changes(open_always, {"axe"}))) == ["one more pair of hands"]


def test_an_order_that_never_comes_gains_a_day_and_no_number_of_days() -> None:
    axe = product("axe", Step(1, "forged", 60, **known(0.99)), made_from="blank")
    shop = always_open(axe, lines=())
    found = ideas(shop, [Line("asked", "axe", 1)], sure=0.9, seed=3, futures=100)
    assert [(one.what, one.day, one.gain) for one in found] == [("blank there today", 0, None)]


def test_one_more_pair_of_hands_can_do_what_only_some_can() -> None:
    axe = product("axe", Step(1, "forged", 8 * 60, hands=("A",)))
    shop = always_open(axe, people=(Person("A"), Person("B")), lines=(Line("before", "axe", 6),))
    found = {one.what: one.gain for one in ideas(shop, [Line("asked", "axe", 6)], sure=0.9, seed=3, futures=100)}
    assert found["one more pair of hands"] >= 1, "B cannot forge, and one more like him would help nobody"


def test_an_idea_names_the_promised_orders_it_breaks() -> None:
    axe = product("axe", Step(1, "forged", 60), made_from="blank")
    shop = always_open(axe, lines=(Line("promised", "axe", 8, day=0),), stock={"blank": 8})
    found = {one.what: one for one in ideas(shop, [Line("asked", "axe", 8)], sure=0.9, seed=3, futures=100)}
    assert found["first in the queue"].losers == ("promised",)
    assert found["blank there today"].losers == ()


def test_an_order_waits_only_for_what_the_runs_that_serve_it_wait_for() -> None:
    before = tuple(Line(str(number), "hook", 12) for number in range(4))
    hook = product("hook", Step(1, "forged", 30, machines=("ANVIL",)), usual=12)
    nail = product("nail", Step(1, "forged", 30, machines=("ANVIL",)))
    shop = always_open(hook, nail, people=(Person("A"),), machines=(ANVIL,), lines=before)
    waits = [
        {one.what: one.days for one in asked(shop, Line("asked", item, 1)).holds}["ANVIL"] for item in ("hook", "nail")
    ]
    assert waits[0] == pytest.approx(waits[1]), "as long behind the same orders, whatever it is"
