"""Work of the shadow shop that was put down: who goes on with it, when it rests, who takes it over."""

from dataclasses import replace

import pytest

from tests.shadow import fates
from tests.shadow.facts import Person
from tests.shadow.hand_built import ANYTHING, Scripted, forge, runs, shop_of, tasks
from tests.shadow.mornings import simulate
from tests.shadow.past import Stint
from tests.shadow.sight import Sheet

DAY = 1_440


def span(stint: Stint) -> tuple[str, int, int]:
    """Return run.step, began, ended."""
    return f"{stint.task.run}.{stint.task.step}", stint.began, stint.ended


def test_somebody_on_leave_does_nothing_and_work_begun_rests_until_another_takes_it_over() -> None:
    """400 open minutes from 800: 160 on Monday; P1 is away on Tuesday and Wednesday, P2 takes it over then."""
    people = (Person("P1", ANYTHING, frozenset({1, 2})), Person("P2", ANYTHING))
    shop = shop_of((forge(6.5),), (forge(6.5),), people=people)
    manager = Scripted(
        {
            0: Sheet(runs(a=40, b=32), {"P1": tasks("b.0", "a.0")}),
            1: Sheet(lists={"P1": tasks("a.0")}),
            2: Sheet(lists={"P2": tasks("a.0")}),
        },
    )
    history = simulate(shop, manager)
    assert [(one.task.run, one.people, one.began, one.ended) for one in history.stints] == [
        ("b", ("P1",), 480, 800),
        ("a", ("P1",), 800, 960),
        ("a", ("P2",), 2 * DAY + 480, 2 * DAY + 720),
    ]
    begun = manager.on(2).runs[0].begun
    assert begun is not None
    assert (begun.step, begun.people, begun.since) == (0, ("P1",), 800)
    assert begun.minutes == pytest.approx(160 * 0.65)
    assert manager.on(1).out == {"P1"}


def test_hafting_that_is_taken_over_takes_no_handles_again() -> None:
    people = (Person("P1", ANYTHING, frozenset({1})), Person("P2", ANYTHING))
    shop = replace(shop_of((forge(65, uses="handle"),), people=people), stock={"blank": 10, "handle": 10})
    script = {0: Sheet(runs(a=10), {"P1": tasks("a.0")}), 1: Sheet(lists={"P2": tasks("a.0")})}
    history = simulate(shop, Scripted(script))
    assert [(one.people, one.ended - one.began) for one in history.stints] == [
        (("P1",), 480),
        (("P2",), 480),
        (("P2",), 40),
    ]
    assert dict(history.stock)["handle"] == 0


def test_begun_work_goes_on_first_in_the_morning_whatever_the_list_says() -> None:
    shop = shop_of((forge(6.5),), (forge(6.5),))
    script = {0: Sheet(runs(a=60, b=10), {"P1": tasks("a.0")}), 1: Sheet(lists={"P1": tasks("b.0")})}
    history = simulate(shop, Scripted(script))
    assert [span(one) for one in history.stints[1:]] == [("a.0", DAY + 480, DAY + 600), ("b.0", DAY + 600, DAY + 700)]


def test_a_machine_that_is_down_keeps_its_work_waiting_and_its_people_free(monkeypatch: pytest.MonkeyPatch) -> None:
    """The hammer is down on Tuesday and Wednesday; what was begun on it goes on first on Thursday."""
    shop = shop_of((forge(6.5, machines=("hammer",)),), (forge(6.5),))
    broken = {day: {"hammer": 3} if day in {1, 2} else {} for day in range(28)}
    monkeypatch.setattr(fates, "down", lambda *_: broken)
    manager = Scripted({0: Sheet(runs(a=60, b=10), {"P1": tasks("a.0")}), 1: Sheet(lists={"P1": tasks("b.0")})})
    history = simulate(shop, manager)
    assert [span(one) for one in history.stints] == [
        ("a.0", 480, 960),
        ("b.0", DAY + 480, DAY + 580),
        ("a.0", 3 * DAY + 480, 3 * DAY + 600),
    ]
    assert manager.on(1).down == {"hammer": 3}
    assert [one.day for one in history.days_down] == [1, 2]


def test_whoever_has_work_for_a_machine_that_is_down_at_the_head_of_the_list_waits(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The hammer is down on Monday; b, behind it on the list, could be done all day."""
    shop = shop_of((forge(6.5, machines=("hammer",)),), (forge(6.5),))
    monkeypatch.setattr(fates, "down", lambda _, days: {day: {"hammer": 1} if day == 0 else {} for day in days})
    history = simulate(shop, Scripted({0: Sheet(runs(a=10, b=10), {"P1": tasks("a.0", "b.0")})}))
    assert [span(one) for one in history.stints] == [("a.0", DAY + 480, DAY + 580), ("b.0", DAY + 580, DAY + 680)]


def test_work_that_goes_on_may_stand_on_the_list_and_what_follows_it_begins_after_it() -> None:
    shop = shop_of((forge(6.5), forge(6.5)), (forge(6.5),))
    history = simulate(shop, Scripted({0: Sheet(runs(a=60, b=10), {"P1": tasks("a.0", "a.1", "b.0")})}))
    assert [span(one) for one in history.stints] == [
        ("a.0", 480, 960),
        ("a.0", DAY + 480, DAY + 600),
        ("a.1", DAY + 600, DAY + 960),
        ("a.1", 2 * DAY + 480, 2 * DAY + 720),
        ("b.0", 2 * DAY + 720, 2 * DAY + 820),
    ]


def test_of_two_that_were_put_down_the_elder_has_the_machine_first_and_nobody_of_them_begins_anything_else() -> None:
    """P1 is away on Tuesday, P2 has the hammer then; on Wednesday P1 goes on first and P2 waits, though c lies there."""
    people = (Person("P1", ANYTHING, frozenset({1})), Person("P2", ANYTHING))
    hammered = (forge(6.5, machines=("hammer",)),)
    script = {
        0: Sheet(runs(a=60), {"P1": tasks("a.0")}),
        1: Sheet(runs(b=60, c=5), {"P2": tasks("b.0")}),
        2: Sheet(lists={"P2": tasks("c.0")}),
    }
    history = simulate(shop_of(hammered, hammered, (forge(6.5),), people=people), Scripted(script))
    assert [span(one) for one in history.stints] == [
        ("a.0", 480, 960),
        ("b.0", DAY + 480, DAY + 960),
        ("a.0", 2 * DAY + 480, 2 * DAY + 600),
        ("b.0", 2 * DAY + 600, 2 * DAY + 720),
        ("c.0", 2 * DAY + 720, 2 * DAY + 770),
    ]


def test_tooling_changed_while_work_rested_is_set_up_anew() -> None:
    """26 work minutes are 40 open ones. P1 is away on Tuesday, P2 puts other dies in; on Wednesday they go back."""
    people = (Person("P1", ANYTHING, frozenset({1})), Person("P2", ANYTHING))
    routes = [(forge(6.5, set_up=26, tooling=f"{name} dies", machines=("hammer",)),) for name in "AB"]
    script = {0: Sheet(runs(a=60), {"P1": tasks("a.0")}), 1: Sheet(runs(b=10), {"P2": tasks("b.0")})}
    history = simulate(shop_of(*routes, people=people), Scripted({**script, 2: Sheet()}))
    assert [(span(one), one.set_up) for one in history.stints] == [
        (("a.0", 480, 960), 40),
        (("b.0", DAY + 480, DAY + 620), 40),
        (("a.0", 2 * DAY + 480, 2 * DAY + 680), 40),
    ]


def test_work_for_two_rests_while_one_of_them_is_away_and_the_other_does_his_list() -> None:
    people = (Person("P1", ANYTHING), Person("P2", ANYTHING, frozenset({1})))
    script = {
        0: Sheet(runs(a=60, b=10), {"P1": tasks("a.0"), "P2": tasks("a.0")}),
        1: Sheet(lists={"P1": tasks("b.0")}),
    }
    history = simulate(shop_of((forge(6.5, people=2),), (forge(6.5),), people=people), Scripted(script))
    assert [span(one) for one in history.stints] == [
        ("a.0", 480, 960),
        ("b.0", DAY + 480, DAY + 580),
        ("a.0", 2 * DAY + 480, 2 * DAY + 600),
    ]


def test_illness_on_a_day_of_leave_is_no_day_out() -> None:
    shop = shop_of((forge(),), people=(Person("P1", ANYTHING, frozenset({1})),))
    manager = Scripted({})
    history = simulate(replace(shop, sick={"P1": 1.0}, weeks=1), manager)
    assert [one.day for one in history.days_out] == [0, 2, 3, 4]
    assert all(seen.out == {"P1"} for seen in manager.seen)
