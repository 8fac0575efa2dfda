"""The shadow shop's floor, against figures worked out by hand: hours, hands, machines, tooling, oven, cures, lines."""

from dataclasses import replace
from math import ceil
from statistics import NormalDist

import pytest

from tests.shadow import fates
from tests.shadow.facts import OVEN, Calendar, Cure, Person, Soak
from tests.shadow.hand_built import (
    ANYTHING,
    OPENS,
    SHUTS,
    WEEKDAYS,
    Asking,
    Scripted,
    band,
    forge,
    lines,
    runs,
    shop_of,
    tasks,
)
from tests.shadow.mornings import simulate
from tests.shadow.past import History
from tests.shadow.sight import Seen, Sheet, Task
from tests.shadow.truths import OpeningRun, Shop

DAY = 1_440
FRIDAY, MONDAY = 4, 7


def spans(history: History) -> list[tuple[str, int, int]]:
    """Return run.step, began, ended of every stint, in order."""
    return [(f"{one.task.run}.{one.task.step}", one.began, one.ended) for one in history.stints]


def day_of(shop: Shop, **sheet: object) -> History:
    """Let a shop run on the sheet of day 0."""
    return simulate(shop, Scripted({0: Sheet(**sheet)}))  # type: ignore[arg-type]


def test_ten_pieces_at_six_and_a_half_work_minutes_take_a_hundred_minutes_of_the_open_day() -> None:
    history = day_of(shop_of((forge(6.5),), lines=lines(10)), runs=runs(a=10), lists={"P1": tasks("a.0")})
    assert spans(history) == [("a.0", OPENS, OPENS + 100)]
    assert history.lines[0].done == OPENS + 100
    assert history.timings[0].minutes == pytest.approx(65)


def test_work_goes_on_after_a_night_a_weekend_and_a_holiday() -> None:
    """1,000 open minutes from Friday at 8: 480 on Friday, Monday is a holiday, 480 on Tuesday, 40 on Wednesday."""
    calendar = Calendar(WEEKDAYS, OPENS, SHUTS, frozenset({MONDAY}))
    shop = shop_of((forge(65),), calendar=calendar)
    history = simulate(shop, Scripted({FRIDAY: Sheet(runs(a=10), {"P1": tasks("a.0")})}))
    days = [(FRIDAY, SHUTS), (8, SHUTS), (9, OPENS + 40)]
    assert spans(history) == [("a.0", day * DAY + OPENS, day * DAY + until) for day, until in days]


def test_a_line_of_all_runs_is_whole_with_the_slowest_and_one_after_the_other_they_add_up() -> None:
    """200, 300 and 100 open minutes, side by side and in sequence."""
    shop = shop_of((forge(6.5),), people=3, lines=lines(60))
    opened = runs(a1=20, a2=30, a3=10)
    beside = day_of(shop, runs=opened, lists={"P1": tasks("a1.0"), "P2": tasks("a2.0"), "P3": tasks("a3.0")})
    assert beside.lines[0].done == OPENS + 300
    behind = day_of(replace(shop, weeks=1), runs=opened, lists={"P1": tasks("a1.0", "a2.0", "a3.0")})
    assert behind.lines[0].done == DAY + OPENS + (200 + 300 + 100 - 480)


def test_the_slowest_of_four_comes_by_a_time_as_often_as_the_product_of_their_chances() -> None:
    """Lognormal with spread 0.4 and mean 65: P(all four by t) = Phi(z)^4; exact binomial bounds over 260 days."""
    shop = shop_of((forge(6.5, spread=0.4),), people=4, weeks=52)

    def four(seen: Seen) -> Sheet:
        opened = runs(**{f"a{seen.day}x{at}": 10 for at in range(4)})
        return Sheet(opened, {f"P{at + 1}": (Task(run.code, 0),) for at, run in enumerate(opened)})

    slowest: dict[int, int] = {}
    for one in simulate(shop, Asking(four)).stints:
        day, minute = divmod(one.ended, DAY)
        slowest[day] = max(slowest.get(day, 0), minute - OPENS)
    assert len(slowest) == 260
    for chance in (0.5, 0.8, 0.9):
        z = NormalDist().inv_cdf(chance ** (1 / 4))
        by = ceil(65 * 2.718281828459045 ** (0.4 * z - 0.08) / 0.65)
        assert sum(minute <= by for minute in slowest.values()) in band(260, chance), chance


def test_a_person_waits_for_the_head_of_the_list_though_the_next_task_could_begin() -> None:
    """P1 waits for a, which P2 has first until 580; b lies there all the time."""
    route = (forge(6.5), forge(6.5))
    shop = shop_of(route, (forge(6.5),), people=2)
    history = day_of(shop, runs=runs(a=10, b=10), lists={"P1": tasks("a.1", "b.0"), "P2": tasks("a.0")})
    assert spans(history) == [("a.0", 480, 580), ("a.1", 580, 680), ("b.0", 680, 780)]


def test_a_task_on_no_list_is_not_done() -> None:
    history = day_of(shop_of((forge(), forge())), runs=runs(a1=10, a2=10), lists={"P1": tasks("a1.0", "a2.0", "a1.1")})
    assert {one.task for one in history.stints} == set(tasks("a1.0", "a2.0", "a1.1"))
    assert [run.ended is not None for run in history.runs] == [True, False]


def test_a_step_for_two_begins_when_both_have_come_to_it() -> None:
    shop = shop_of((forge(6.5, people=2),), (forge(6.5),), people=2)
    history = day_of(shop, runs=runs(a=10, b=5), lists={"P1": tasks("a.0"), "P2": tasks("b.0", "a.0")})
    assert spans(history) == [("b.0", 480, 530), ("a.0", 530, 630)]
    assert history.stints[1].people == ("P1", "P2")


def test_a_step_that_holds_two_machines_keeps_both_from_others() -> None:
    """The hammer is held by a until 580; b needs hammer and press, and c takes the press until 680."""
    routes = (
        (forge(6.5, machines=("hammer",)),),
        (forge(6.5, machines=("hammer", "press")),),
        (forge(6.5, machines=("press",)),),
    )
    lists = {"P1": tasks("a.0"), "P2": tasks("b.0"), "P3": tasks("c.0")}
    history = day_of(shop_of(*routes, people=3), runs=runs(a=10, b=10, c=20), lists=lists)
    assert spans(history) == [("a.0", 480, 580), ("c.0", 480, 680), ("b.0", 680, 780)]


def test_a_fixed_order_at_a_machine_keeps_it_free_for_the_next() -> None:
    """Without it b takes the idle hammer at 480; with it b waits until a, which comes late, has had it."""
    routes = ((forge(6.5), forge(6.5, machines=("hammer",)), forge()), (forge(6.5, machines=("hammer",)),))
    lists = {"P1": tasks("a.0", "a.1"), "P2": tasks("b.0")}
    shop, opened = shop_of(*routes, people=2), runs(a=10, b=30)
    free = day_of(shop, runs=opened, lists=lists)
    assert spans(free) == [("a.0", 480, 580), ("b.0", 480, 780), ("a.1", 780, 880)]
    fixed = day_of(shop, runs=opened, lists=lists, machines={"hammer": tasks("a.1", "b.0")})
    assert spans(fixed)[:2] == [("a.0", 480, 580), ("a.1", 580, 680)]
    assert spans(fixed)[2] == ("b.0", 680, 960)


@pytest.mark.parametrize("first", ["P1", "P2"])
def test_of_two_who_want_a_machine_in_one_minute_the_first_on_the_sheet_has_it(first: str) -> None:
    shop = shop_of((forge(6.5, machines=("hammer",)),), people=2)
    lists = {"P1": tasks("a1.0"), "P2": tasks("a2.0")}
    lists = {first: lists[first], **lists}
    history = day_of(shop, runs=runs(a1=10, a2=10), lists=lists)
    assert history.stints[0].people == (first,)
    assert [one.began for one in history.stints] == [480, 580]


@pytest.mark.parametrize(("order", "set_ups"), [("a1 a2 b1", 2), ("a1 b1 a2", 3), ("b1 a1 a2", 2)])
def test_tooling_costs_a_set_up_when_it_changes_and_nothing_while_it_is_in(order: str, set_ups: int) -> None:
    """26 work minutes are 40 open minutes."""
    routes = [(forge(6.5, set_up=26, tooling=f"{name} dies", machines=("hammer",)),) for name in "AB"]
    shop = shop_of(*routes)
    history = day_of(shop, runs=runs(a1=5, a2=5, b1=5), lists={"P1": tasks(*(f"{code}.0" for code in order.split()))})
    assert history.stints[-1].ended == OPENS + 3 * 50 + set_ups * 40
    assert [one.set_up for one in history.stints].count(40) == set_ups == len(history.changes)


def test_tooling_that_is_in_on_the_first_morning_costs_nothing_and_a_step_without_sets_up_each_time() -> None:
    shop = shop_of((forge(6.5, set_up=26, tooling="dies", machines=("hammer",)), forge(6.5, set_up=13)))
    shop = replace(shop, tooling={"hammer": "dies"})
    history = day_of(shop, runs=runs(a1=5, a2=5), lists={"P1": tasks("a1.0", "a1.1", "a2.0", "a2.1")})
    assert [one.set_up for one in history.stints] == [0, 20, 0, 20]
    assert [one.set_up for one in history.timings] == pytest.approx([0, 13, 0, 13])


def test_a_cure_runs_on_over_the_weekend_and_work_after_it_waits_for_monday() -> None:
    """Forged on Friday until 580, cured 720 minutes until 1300 at night; packed on Monday from 480."""
    shop = shop_of((forge(6.5), Cure(720), forge(6.5)))
    manager = Scripted({FRIDAY: Sheet(runs(a=10), {"P1": tasks("a.0", "a.2")})})
    history = simulate(shop, manager)
    assert [(one.began, one.ended) for one in history.waits] == [(FRIDAY * DAY + 580, FRIDAY * DAY + 1_300)]
    assert spans(history)[1] == ("a.2", MONDAY * DAY + 480, MONDAY * DAY + 580)
    (run,) = manager.on(MONDAY).runs
    assert (run.after, run.ready) == ((10, 10), None)


@pytest.mark.parametrize(("unattended", "begins"), [(True, 580), (False, DAY + 480)])
def test_a_load_that_would_end_after_closing_waits_unless_the_oven_may_run_alone(unattended: bool, begins: int) -> None:
    """Ready at 580; 60 minutes to heat and 340 to soak would end at 980, the shop shuts at 960."""
    shop = shop_of((forge(6.5), Soak(200, 340, 60, 0.05)), unattended=unattended)
    history = day_of(shop, runs=runs(a=10), lists={"P1": tasks("a.0")}, loads=(tasks("a.1"),))
    (load,) = history.waits
    assert (load.began, load.ended, load.oven) == (begins, begins + 400, True)
    assert load.share == pytest.approx(0.5)


def test_no_load_begins_while_the_oven_is_down_or_nobody_is_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """The oven is down on Monday, everybody is away on Tuesday."""
    shop = shop_of((forge(6.5), Soak(200, 60, 30, 0.05)), people=(Person("P1", ANYTHING, frozenset({1})),))
    shop = replace(shop, opening=(OpeningRun("a", "A", 10, (10,)),))
    monkeypatch.setattr(fates, "down", lambda _, days: {day: {OVEN: 1} if day == 0 else {} for day in days})
    (load,) = day_of(shop, loads=(tasks("a.1"),)).waits
    assert load.began == 2 * DAY + OPENS


def test_a_load_heats_up_as_long_as_the_slowest_of_it() -> None:
    shop = shop_of((forge(6.5), Soak(200, 60, 30, 0.05)), (forge(6.5), Soak(200, 60, 45, 0.05)))
    shop = replace(shop, opening=(OpeningRun("a", "A", 10, (10,)), OpeningRun("b", "B", 10, (10,))))
    (load,) = day_of(shop, loads=(tasks("a.1", "b.1"),)).waits
    assert (load.began, load.ended) == (OPENS, OPENS + 45 + 60)


def test_runs_share_a_load_and_what_is_too_much_for_it_is_left_out() -> None:
    """Ten and eight pieces at a twentieth fill nine tenths, six more are too many; the load waits for its last run."""
    shop = shop_of((forge(6.5), Soak(200, 60, 30, 0.05)))
    history = day_of(
        shop,
        runs=runs(a1=10, a2=8, a3=6),
        lists={"P1": tasks("a1.0", "a2.0", "a3.0")},
        loads=(tasks("a1.1", "a2.1", "a3.1"),),
    )
    assert [(one.tasks, one.pieces, one.began) for one in history.waits] == [
        (tasks("a1.1", "a2.1"), (10, 8), 480 + 240),
        (tasks("a3.1"), (6,), DAY + 480),  # the sheet of the next day names the same load; two of it are done
    ]
