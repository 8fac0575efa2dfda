"""What comes into the shadow shop and leaves it: handles, deliveries, lines in their order, the carrier, wrong sheets."""

from dataclasses import replace

import pytest

from tests.shadow.facts import Calendar, Carrier, Cure, Person, Soak, Supply, Work
from tests.shadow.hand_built import OPENS, SHUTS, WEEKDAYS, Scripted, forge, lines, runs, shop_of, tasks
from tests.shadow.laws import Laws
from tests.shadow.mornings import simulate
from tests.shadow.sight import NewRun, Purchase, Sheet, Task
from tests.shadow.truths import Line, OpeningRun, StepTruth, SupplyTruth

DAY = 1_440


def test_hafting_waits_for_handles_which_come_late_and_are_sorted() -> None:
    """Ordered on day 0 for day 7, two days late: on Wednesday of the second week; all are good."""
    shop = shop_of((forge(6.5), Work("wood", 6.5, uses="handle")))
    shop = replace(shop, supplies={"handle": SupplyTruth(late=((2, 1.0),))})
    sheet = Sheet(runs(a=10), {"P1": tasks("a.0", "a.1")}, purchases=(Purchase("handle", 12, 7),))
    manager = Scripted({0: sheet})
    history = simulate(shop, manager)
    assert [one.began for one in history.stints] == [480, 9 * DAY + 480]
    (arrival,) = history.arrivals
    assert (arrival.ordered, arrival.promised, arrival.came, arrival.late, arrival.good) == (0, 7, 9, 2, 12)
    assert dict(history.stock)["handle"] == 12 - 10
    assert [one.promised for one in manager.on(8).coming] == [7]


def test_a_delivery_that_comes_on_a_sunday_is_taken_in_on_monday() -> None:
    shop = replace(shop_of((forge(),)), supplies={"blank": SupplyTruth(late=((5, 1.0),))})
    history = simulate(shop, Scripted({0: Sheet(purchases=(Purchase("blank", 5, 8),))}))
    assert [(one.came, one.late) for one in history.arrivals] == [(14, 6)]


def test_bad_handles_never_reach_the_stock() -> None:
    shop = replace(shop_of((forge(),)), supplies={"handle": SupplyTruth(bad=1.0)})
    history = simulate(shop, Scripted({0: Sheet(purchases=(Purchase("handle", 12, 7),))}))
    assert history.arrivals[0].good == 0
    assert dict(history.stock).get("handle", 0) == 0


def test_finished_tools_go_to_lines_in_the_order_asked_each_whole_before_the_next() -> None:
    """Runs of 10, 10 and 5 end at 580, 680 and 730; lines want 12, 3 and 10."""
    shop = shop_of((forge(6.5),), lines=lines(12, 3, 10))
    opened = runs(a1=10, a2=10, a3=5)
    manager = Scripted({0: Sheet(opened, {"P1": tasks("a1.0", "a2.0", "a3.0")})})
    history = simulate(shop, manager)
    assert [one.done for one in history.lines] == [680, 680, 730]
    assert [one.owed for one in manager.on(0).owed] == [12, 3, 10]
    assert manager.on(1).owed == ()


def test_what_is_set_aside_for_a_line_that_is_not_whole_is_no_longer_owed_nor_free() -> None:
    shop = shop_of((forge(6.5),), lines=lines(12, 3))
    manager = Scripted({0: Sheet(runs(a=10), {"P1": tasks("a.0")})})
    history = simulate(shop, manager)
    assert [(one.qty, one.owed) for one in manager.on(1).owed] == [(12, 2), (3, 3)]
    assert manager.on(1).stock["A"] == 0
    assert [(one.given, one.done, one.carried) for one in history.lines] == [(10, None, None), (0, None, None)]


def test_a_line_asked_this_morning_is_seen_whole_and_takes_from_the_shelf_after_the_manager_has_spoken() -> None:
    shop = replace(shop_of((forge(),), lines=lines(4, asked=1)), stock={"A": 6})
    manager = Scripted({})
    history = simulate(shop, manager)
    assert [(one.owed, one.asked) for one in manager.on(1).owed] == [(4, 1)]
    assert (manager.on(1).stock["A"], manager.on(2).stock["A"]) == (6, 2)
    assert history.lines[0].done == DAY + OPENS


@pytest.mark.parametrize(("pieces", "carried"), [(10, 0), (12, 0), (13, 3), (60, 3)])
def test_the_carrier_takes_what_is_whole_by_his_minute_and_the_rest_on_his_next_day(pieces: int, carried: int) -> None:
    """He comes on Mondays and Thursdays at 600; ten pieces take 100 minutes from 480."""
    shop = shop_of((forge(6.5),), lines=lines(pieces), carrier=Carrier(frozenset({0, 3}), 600))
    history = simulate(shop, Scripted({0: Sheet(runs(a=pieces), {"P1": tasks("a.0")})}))
    assert history.lines[0].carried == carried


def test_the_carrier_does_not_come_while_the_shop_is_closed() -> None:
    calendar = Calendar(WEEKDAYS, OPENS, SHUTS, frozenset({3}))
    assert Carrier(frozenset({0, 3}), 600).takes(DAY, calendar) == 7


def test_a_run_that_lies_there_on_the_first_morning_goes_on_from_its_step_and_its_cure_began_at_midnight() -> None:
    shop = shop_of((forge(6.5), Cure(500), forge(6.5)))
    shop = replace(shop, opening=(OpeningRun("a", "A", 12, (10,)),))
    manager = Scripted({0: Sheet(lists={"P1": tasks("a.2")})})
    history = simulate(shop, manager)
    assert manager.on(0).runs[0].after == (10,)
    assert manager.on(0).runs[0].ready == 500
    assert [(one.began, one.ended) for one in history.stints] == [(500, 600)]
    assert history.runs[0].scrap == (2, 0, 0)


def test_a_run_of_which_nothing_is_left_ends_and_its_people_go_on_with_their_lists() -> None:
    shop = shop_of((forge(6.5, belief=(1.0, 1.0)), forge()), (forge(6.5),))
    shop = replace(shop, steps={**shop.steps, ("A", 0): StepTruth(6.5, good=0.0)})
    history = simulate(shop, Scripted({0: Sheet(runs(a=10, b=10), {"P1": tasks("a.0", "a.1", "b.0")})}))
    assert [one.task for one in history.stints] == [*tasks("a.0"), *tasks("b.0")]
    assert (history.runs[0].after, history.runs[0].scrap, history.runs[0].ended) == ((0,), (10,), 580)


def test_a_wrong_count_is_seen_off_by_one_for_three_open_days_then_right() -> None:
    """Counted on Thursday; Friday and Monday still show it wrong, Tuesday shows it right, in the records too."""
    shop = replace(shop_of((forge(6.5, belief=(49.0, 1.0)), forge())), laws=Laws("miscounts", miscount_share=1.0))
    shop = replace(shop, steps={**shop.steps, ("A", 0): StepTruth(6.5, good=0.5)})
    manager = Scripted({3: Sheet(runs(a=20), {"P1": tasks("a.0")})})
    history = simulate(shop, manager)
    (true,) = history.runs[0].after
    told = [manager.on(day).runs[0].after[0] for day in (4, 7, 8, 9)]
    assert [abs(one - true) for one in told] == [1, 1, 0, 0]
    assert [manager.on(day).counts[0].good for day in (4, 7, 8)] == [told[0], told[0], true]


def test_a_count_that_follows_a_wrong_one_never_tells_of_more_good_pieces_than_came() -> None:
    """Nothing is lost at two counts that are wrong whenever they can be: told are 19 or 20 after each."""
    counted = forge(1, belief=(49.0, 1.0))
    shop = replace(shop_of((counted, counted, forge())), laws=Laws("miscounts", miscount_share=1.0))
    codes = [f"a{at}" for at in range(10)]
    todo = tasks(*(f"{code}.{step}" for step in (0, 1) for code in codes))
    manager = Scripted({0: Sheet(tuple(NewRun(code, "A", 20) for code in codes), {"P1": todo}), 2: Sheet()})
    simulate(shop, manager)
    told = {(one.run, one.step): one for one in manager.on(2).counts}
    assert any(told[code, 0].good < told[code, 1].good for code in codes)
    assert all(19 <= one.good <= one.entered <= 20 for one in told.values())
    assert all(one.good == one.entered == 20 for one in manager.on(8).counts)


def test_a_wrong_last_count_makes_the_shelf_look_wrong_until_it_is_corrected() -> None:
    shop = replace(shop_of((forge(6.5, belief=(49.0, 1.0)),)), laws=Laws("miscounts", miscount_share=1.0))
    shop = replace(shop, steps={("A", 0): StepTruth(6.5, good=0.5)})
    manager = Scripted({0: Sheet(runs(a=20), {"P1": tasks("a.0")})})
    history = simulate(shop, manager)
    true = dict(history.stock)["A"]
    assert [abs(manager.on(day).stock["A"] - true) for day in (1, 2, 3, 4)] == [1, 1, 0, 0]


TWO = (forge(), Soak(200, 60, 30, 0.05))
HOT = (forge(), Soak(840, 60, 30, 0.05))


@pytest.mark.parametrize(
    ("sheet", "says"),
    [
        (Sheet((NewRun("x", "A", 21),)), "1 to 20 pieces"),
        (Sheet((NewRun("x", "A", 9), NewRun("x", "A", 9))), "used before"),
        (Sheet((NewRun("x", "A", 20), NewRun("y", "A", 20))), "15 blanks are there"),
        (Sheet(lists={"P9": ()}), "nobody is called P9"),
        (Sheet(lists={"P1": tasks("z.0")}), "no run z"),
        (Sheet(lists={"P1": tasks("a.7")}), "no step 7"),
        (Sheet(lists={"P1": tasks("a.1")}), "no work for people"),
        (Sheet(lists={"P2": tasks("a.0")}), "cannot work at fire"),
        (Sheet(lists={"P1": tasks("a.0", "a.0")}), "twice"),
        (Sheet(lists={"P1": tasks("a.0"), "P3": tasks("a.0")}), "takes 1 and stands on 2 lists"),
        (Sheet(lists={"P1": tasks("c.0")}), "takes 2 and stands on 1 lists"),
        (Sheet(loads=(tasks("a.0"),)), "no step of the oven"),
        (Sheet(loads=(tasks("q.1"),)), "no run q"),
        (Sheet(loads=(tasks("a.1", "a.1"),)), "twice"),
        (Sheet(loads=(tasks("a.1", "b.1"),)), "one temperature"),
        (Sheet(lists={"P1": tasks("c.1")}, machines={"press": ()}), "name different tasks"),
        (Sheet(machines={"press": tasks("c.1")}), "name different tasks"),
        (Sheet(purchases=(Purchase("blank", 10, 6),)), "pack and lead"),
        (Sheet(purchases=(Purchase("blank", 7, 7),)), "pack and lead"),
        (Sheet(purchases=(Purchase("blank", 0, 7),)), "pack and lead"),
    ],
)
def test_a_sheet_that_nobody_could_follow_is_refused_with_a_word_why(sheet: Sheet, says: str) -> None:
    people = (Person("P1", frozenset({"fire"})), Person("P2", frozenset({"wood"})), Person("P3", frozenset({"fire"})))
    third = (forge(people=2), forge(machines=("press",)))
    shop = shop_of(TWO, HOT, third, people=people, supplies=(Supply("blank", 7, 5),))
    lying = tuple(OpeningRun(name, name.upper(), 5) for name in "abc")
    with pytest.raises(ValueError, match=says):
        simulate(replace(shop, opening=lying, stock={"blank": 35}), Scripted({0: sheet}))


def test_tasks_that_are_done_may_stand_on_a_list_and_are_passed_over() -> None:
    shop = replace(shop_of((forge(6.5), forge(6.5))), opening=(OpeningRun("a", "A", 10, (10,)),))
    history = simulate(shop, Scripted({0: Sheet(lists={"P1": tasks("a.0", "a.1")})}))
    assert [one.task for one in history.stints] == [Task("a", 1)]


def test_lines_keep_their_own_pattern() -> None:
    asked = (Line(1, 0, "one-off", "B", 3, 0), Line(2, 0, "dealer", "A", 5, 0))
    shop = shop_of((forge(6.5),), (forge(6.5),), lines=asked)
    history = simulate(shop, Scripted({0: Sheet(runs(a=5, b=5), {"P1": tasks("a.0", "b.0")})}))
    assert [one.done for one in history.lines] == [580, 530]
