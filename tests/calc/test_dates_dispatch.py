"""The proposed plan: who does what in which order, what goes into the oven together, what the week sheet says first."""

import datetime as dt
from dataclasses import replace

import pytest

from orders.calc.dates.chance import Law
from orders.calc.dates.dispatch import propose
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Oven, Product, Step
from orders.calc.dates.sizing import points, start_for, sure_good, wanted
from orders.calc.dates.state import DAY, Batch, Coming, Hours, Line, Machine, Person, Pin, Shop, Supplier
from tests.calc.dates_making import ALWAYS, MONDAY, always_open, curve, known, passed, product

ANVIL, OVEN, GRINDER = Machine("ANVIL"), Machine("OVEN"), Machine("GRINDER")
HOT = Oven(0.25, 30, 90, "204")


def order(plan: Plan) -> list[tuple[str, int]]:
    """Give runs and step numbers in the order of the plan."""
    return [(plan.runs[one.run].code, one.step.number) for one in plan.operations]


def operation(plan: Plan, run: str, step: int = 1) -> Operation:
    return next(one for one in plan.operations if (plan.runs[one.run].code, one.step.number) == (run, step))


def times(plan: Plan) -> dict[tuple[str, int], tuple[float, float]]:
    return {(plan.runs[one.run].code, one.step.number): (one.begins, one.ends) for one in plan.operations}


def forged(item: str, minutes: float = 60, **more) -> Product:
    return product(item, Step(1, "forged", minutes, machines=("ANVIL",), **more))


def test_of_those_that_can_begin_at_once_the_first_in_the_queue_goes_first() -> None:
    items = [forged(item) for item in ("axe", "hammer", "tongs")]
    lines = tuple(Line(f"order {n}", item, 1) for n, item in enumerate(("tongs", "axe", "hammer", "axe")))
    plan = propose(always_open(*items, machines=(ANVIL,), lines=lines))
    assert order(plan) == [("tongs+1", 1), ("axe+1", 1), ("hammer+1", 1)]
    assert times(plan) == {("tongs+1", 1): (0, 60), ("axe+1", 1): (60, 180), ("hammer+1", 1): (180, 240)}
    assert [one.why for one in plan.operations] == ["", "ANVIL", "ANVIL"]


def test_what_can_begin_sooner_does_not_wait_for_the_first_in_the_queue() -> None:
    shop = always_open(
        forged("axe"), forged("hammer"), machines=(ANVIL,), lines=(Line("1", "axe", 1), Line("2", "hammer", 1)),
        batches=(Batch("late", "axe", 0, 1, ready=31), Batch("there", "hammer", 0, 1)),
    )  # fmt: skip
    assert times(propose(shop)) == {("there", 1): (0, 60), ("late", 1): (60, 120)}
    soon = replace(shop, batches=(Batch("late", "axe", 0, 1, ready=30), shop.batches[1]))
    assert order(propose(soon)) == [("late", 1), ("there", 1)], "half an hour is at once"


def test_work_that_was_begun_goes_on_first_and_by_those_who_began_it() -> None:
    shop = always_open(
        forged("axe"), forged("hammer"), people=(Person("A"), Person("B")), machines=(ANVIL,),
        lines=(Line("1", "axe", 1), Line("2", "hammer", 1)),
        batches=(Batch("begun", "hammer", 0, 1, done_minutes=45, by=("B",)), Batch("new", "axe", 0, 1)),
    )  # fmt: skip
    plan = propose(shop)
    assert times(plan) == {("begun", 1): (0, 15), ("new", 1): (15, 75)}
    assert operation(plan, "begun").people == ("B",)
    gone = replace(shop, people=(Person("A"),))
    assert operation(propose(gone), "begun").people == ("A",), "somebody else, where he is not in the shop any more"


def test_tooling_is_changed_once_for_runs_after_each_other() -> None:
    def with_dies(item: str, dies: str) -> Product:
        return forged(item, 10, tooling=dies, change=30, set_up=5)

    shop = always_open(
        with_dies("axe", "D1"), with_dies("hatchet", "D1"), with_dies("hammer", "D2"), machines=(ANVIL,),
        lines=tuple(Line(item, item, 1) for item in ("axe", "hatchet", "hammer")),
    )  # fmt: skip
    plan = propose(shop)
    assert [(one.set_up, one.change) for one in plan.operations] == [(35, "D1"), (5, ""), (35, "D2")]
    assert plan.operations[-1].ends == 3 * 10 + 3 * 5 + 2 * 30
    assert list(passed(shop, count=100).ready[-1][:2]) == [105, 105]
    plan = propose(replace(shop, tooling_in={"ANVIL": "D1"}))
    assert [one.set_up for one in plan.operations] == [5, 5, 35]
    by_hand = product("rivet", Step(1, "set", 10, tooling="D1", change=30))
    assert propose(always_open(by_hand)).operations[0].set_up == 30, "what is in no machine is always fetched"


def test_a_step_for_two_takes_two_and_waits_for_both() -> None:
    shop = always_open(
        product("axe", Step(1, "struck", 60, people=2)), product("hammer", Step(1, "ground", 100, hands=("A",))),
        people=(Person("A"), Person("B"), Person("C")), lines=(Line("1", "hammer", 1), Line("2", "axe", 1)),
    )  # fmt: skip
    plan = propose(shop)
    assert operation(plan, "axe+1").people == ("B", "C")
    few = replace(shop, people=(Person("A"), Person("B")))
    plan = propose(few)
    assert operation(plan, "axe+1").people == ("B", "A")
    assert times(plan)["axe+1", 1] == (100, 160)
    assert operation(plan, "axe+1").why == "A"
    one = replace(shop, people=(Person("A"),))
    assert order(propose(one)) == [("hammer+1", 1)]
    assert curve(one, "2", count=100).never == 1


def test_hands_that_are_named_and_not_in_the_shop_can_do_nothing() -> None:
    shop = always_open(
        product("axe", Step(1, "forged", 60, hands=("X", "B")), Step(2, "oiled", 1, hands=("X",))),
        people=(Person("A"), Person("B")),
    )
    assert operation(propose(shop), "axe+1").people == ("B",)
    assert curve(shop, "order of axe", count=100).never == 1


def test_a_machine_that_the_shop_has_not_is_waited_for_in_vain() -> None:
    shop = always_open(forged("axe"))
    assert propose(shop).operations == ()
    assert curve(shop, "order of axe", count=100).never == 1


def test_who_is_out_is_not_planned_and_work_stops_over_his_days() -> None:
    shop = always_open(
        product("axe", Step(1, "forged", DAY + 60)), people=(Person("A", out=frozenset({0, 2})),),
    )  # fmt: skip
    assert times(propose(shop)) == {("axe+1", 1): (DAY, 3 * DAY + 60)}
    assert set(passed(shop, count=100).ready[0]) == {3 * DAY + 60}
    two = replace(shop, people=(*shop.people, Person("B")))
    assert operation(propose(two), "axe+1").people == ("B",)
    ill = replace(shop, people=(Person("A", ill_for=2), Person("B", out=frozenset({0, 1}))))
    assert operation(propose(ill), "axe+1").people == ("A",), "he who is ill today is thought to come tomorrow"
    assert times(propose(ill))["axe+1", 1][0] == DAY


def test_a_step_for_two_waits_until_both_are_there_at_once() -> None:
    people = (Person("A", out=frozenset({0, 2})), Person("B", out=frozenset({1, 3})))
    shop = always_open(product("axe", Step(1, "struck", 60, people=2)), people=people)
    assert times(propose(shop)) == {("axe+1", 1): (4 * DAY, 4 * DAY + 60)}
    assert set(passed(shop, count=100).ready[0]) == {4 * DAY + 60}


def test_a_machine_that_is_down_or_has_something_in_it_is_waited_for() -> None:
    shop = always_open(forged("axe"), machines=(Machine("ANVIL", down=frozenset({0})),))
    assert times(propose(shop)) == {("axe+1", 1): (DAY, DAY + 60)}
    busy = replace(shop, machines=(Machine("ANVIL", busy=300),))
    assert times(propose(busy)) == {("axe+1", 1): (300, 360)}
    assert set(passed(busy, count=100).ready[0]) == {360}
    assert times(propose(replace(busy, now=400))) == {("axe+1", 1): (400, 460)}


def test_an_operation_on_the_sheet_waits_for_its_day_and_goes_before_others() -> None:
    shop = always_open(
        forged("axe"), forged("hammer"), machines=(ANVIL,), people=(Person("A"),),
        lines=(Line("1", "axe", 1), Line("2", "hammer", 1)), pins=(Pin("hammer+1", 1, 0),),
    )  # fmt: skip
    assert order(propose(shop)) == [("hammer+1", 1), ("axe+1", 1)]
    assert operation(propose(shop), "hammer+1").pinned
    later = replace(shop, pins=(Pin("hammer+1", 1, 2),))
    assert times(propose(later)) == {("axe+1", 1): (0, 60), ("hammer+1", 1): (2 * DAY, 2 * DAY + 60)}
    assert operation(propose(later), "hammer+1").why == "the week sheet"
    assert set(passed(later, count=100).ready[1]) == {2 * DAY + 60}
    gone_by = replace(shop, pins=(Pin("hammer+1", 1, -3),))
    assert times(propose(gone_by))["hammer+1", 1] == (0, 60)


def test_the_sheet_says_from_which_day_and_not_from_which_minute() -> None:
    slow = product("axe", Step(1, "forged", 100, Law("counted", (0.5, 1.5))), Step(2, "ground", 10))
    shop = always_open(slow, pins=(Pin("axe+1", 2, 0),))
    assert set(passed(shop, count=200).ready[0]) == {60, 160}, "at the mean it begins at 100, but that is no rule"


def test_the_sheets_order_on_a_machine_holds_for_runs_that_are_not_there_yet() -> None:
    shop = always_open(
        product("axe", Step(1, "filed", 60, hands=("A",)), Step(2, "ground", 30, hands=("B",), machines=("GRINDER",))),
        product("hammer", Step(1, "ground", 30, hands=("B",), machines=("GRINDER",))),
        people=(Person("A"), Person("B")), machines=(GRINDER,), pins=(Pin("axe+1", 2, 0), Pin("hammer+1", 1, 0)),
    )  # fmt: skip
    assert times(propose(shop)) == {("axe+1", 1): (0, 60), ("axe+1", 2): (60, 90), ("hammer+1", 1): (90, 120)}
    other_way = replace(shop, pins=shop.pins[::-1])
    assert times(propose(other_way)) == {("hammer+1", 1): (0, 30), ("axe+1", 1): (0, 60), ("axe+1", 2): (60, 90)}


def test_what_stands_first_on_the_sheet_and_cannot_come_holds_nobody_up() -> None:
    shop = always_open(
        product("axe", Step(1, "forged", 60, machines=("ANVIL",)), made_from="blank"), forged("hammer"),
        machines=(ANVIL,), pins=(Pin("axe+1", 1, 0), Pin("hammer+1", 1, 0)),
    )  # fmt: skip
    assert order(propose(shop)) == [("hammer+1", 1)]
    filled = passed(shop, count=100)
    assert set(filled.ready[1]) == {60}
    assert set(filled.sent[0]) == {shop.horizon_days}


def test_pieces_of_one_temperature_share_a_load() -> None:
    def tempered(item: str, oven: Oven, machine: str = "OVEN") -> Product:
        return product(item, Step(1, "tempered", 3, machines=(machine,), oven=oven, people=1))

    shop = always_open(
        tempered("axe", HOT), tempered("hammer", replace(HOT, heat_up=50)), tempered("chisel", replace(HOT, kind="280")),
        tempered("punch", HOT, "KILN"), tempered("drift", HOT), people=(Person("A"),), machines=(OVEN, Machine("KILN")),
        lines=(Line("1", "axe", 2), Line("2", "hammer", 1), Line("3", "chisel", 1), Line("4", "punch", 1),
               Line("5", "drift", 2)), hours=replace(ALWAYS, closes=DAY - 1),
    )  # fmt: skip
    plan = propose(shop)
    groups = [[plan.runs[one.run].code for one in group] for group in plan.groups]
    assert groups == [["axe+1", "hammer+1"], ["punch+1"], ["chisel+1"], ["drift+1"]]
    begins = [group[0].begins for group in plan.groups]
    assert begins == [0, 9, 149, 272], "loaded by hand, then as long as the slowest of the load takes"
    assert set(passed(shop, count=100).ready[0]) == {9 + 140}


def test_a_load_holds_exactly_what_fits() -> None:
    thirds = product("axe", Step(1, "tempered", machines=("OVEN",), oven=Oven(1 / 30, 0, 100, "204", unattended=True)))
    tongs = replace(thirds, item="tongs")
    shop = always_open(
        thirds, tongs, people=(Person("A"),), machines=(OVEN,), lines=(Line("1", "axe", 11), Line("2", "tongs", 19)),
    )  # fmt: skip
    assert len(propose(shop).groups) == 1
    assert len(propose(replace(shop, lines=(Line("1", "axe", 11), Line("2", "tongs", 20)))).groups) == 2
    fifths = always_open(
        replace(thirds, steps=(replace(thirds.steps[0], oven=Oven(0.4, 0, 100, "204", unattended=True)),)),
        machines=(OVEN,), lines=(Line("1", "axe", 3),),
    )  # fmt: skip
    assert set(passed(fifths, count=100).ready[0]) == {200}, "two go in at once, so three are two loads"
    assert operation(propose(fifths), "axe+1").ends == 0


def test_a_load_counts_the_pieces_that_are_left_of_a_run() -> None:
    steps = (
        Step(1, "checked", good=1.0, bad=1.0),
        Step(2, "tempered", machines=("OVEN",), oven=Oven(0.5, 0, 100, "204", unattended=True)),
    )
    shop = always_open(
        product("axe", *steps), machines=(OVEN,), batches=(Batch("run", "axe", 0, 4),), lines=(Line("1", "axe", 1),)
    )
    ready = passed(shop, count=4_000).ready[0]
    assert set(ready) >= {100, 200}
    assert abs((ready == 200).mean() - 2 / 5) < 0.05  # three or four of four: a Beta(1, 1) rate makes all counts alike


def test_a_load_waits_for_the_day_of_its_run_on_the_sheet() -> None:
    step = Step(1, "tempered", 0, machines=("OVEN",), oven=HOT)
    shop = always_open(
        product("axe", step), product("hammer", step), people=(Person("A"),), machines=(OVEN,),
        pins=(Pin("hammer+1", 1, 1),),
    )  # fmt: skip
    assert times(propose(shop)) == {("axe+1", 1): (0, 0), ("hammer+1", 1): (DAY, DAY)}
    together = replace(shop, pins=(Pin("axe+1", 1, 1), Pin("hammer+1", 1, 1)))
    assert len(propose(together).groups) == 1
    assert set(passed(together, count=100).ready[1]) == {DAY + 120}


def test_a_load_too_long_for_an_open_day_is_never_done_and_the_rest_is() -> None:
    long = product("axe", Step(1, "soaked", machines=("OVEN",), oven=replace(HOT, soak=600)))
    short = product("hammer", Step(1, "tempered", machines=("OVEN",), oven=HOT))
    shop = Shop(
        Hours(MONDAY), (Person("A"),), (OVEN,), (long, short), lines=(Line("1", "axe", 1), Line("2", "hammer", 1))
    )
    assert order(propose(shop)) == [("hammer+1", 1)]
    assert (curve(shop, "1", count=100).never, curve(shop, "2", count=100).never) == (1, 0)
    alone = replace(long, steps=(replace(long.steps[0], oven=replace(HOT, soak=600, unattended=True)),))
    assert curve(replace(shop, products=(alone, short)), "1", count=100).never == 0


def test_a_load_begun_at_closing_time_waits_for_the_morning_unless_it_is_left_alone() -> None:
    tempered = Step(1, "tempered", 300, machines=("OVEN",), oven=HOT)
    shop = Shop(Hours(MONDAY), (Person("A"),), (OVEN,), (product("axe", tempered),), lines=(Line("1", "axe", 1),))
    shop = replace(shop, unrest=0.0)
    assert set(passed(shop, count=50).ready[0]) == {DAY + 8 * 60 + 120}  # 300 minutes of work are over at 15:42
    alone = replace(tempered, oven=replace(HOT, unattended=True))
    assert set(passed(replace(shop, products=(product("axe", alone),)), count=50).ready[0]) == {15 * 60 + 42 + 120}


def test_a_cure_runs_through_the_night() -> None:
    cured = product("axe", Step(1, "oiled", 300, cure=12 * 60))
    shop = Shop(
        Hours(MONDAY, carrier_cutoff=18 * 60), (Person("A"),), products=(cured,), lines=(Line("1", "axe", 1),),
        pack_minutes=0, unrest=0.0,
    )  # fmt: skip
    out = 15 * 60 + 42 + 12 * 60
    assert out == DAY + 3 * 60 + 42
    filled = passed(shop, count=50)
    assert set(filled.ready[0]) == {out}, "it is not there at closing time, when the last minute of work was"
    assert set(filled.sent[0]) == {1}
    twice = product("axe", Step(1, "oiled", 300, cure=12 * 60), Step(2, "waxed", 0, cure=60))
    assert set(passed(replace(shop, products=(twice,)), count=50).ready[0]) == {out + 60}
    night = product("axe", Step(1, "tempered", 300, machines=("OVEN",), oven=replace(HOT, unattended=True), cure=600))
    assert set(passed(replace(shop, products=(night,), machines=(OVEN,)), count=50).ready[0]) == {
        15 * 60 + 42 + 120 + 600
    }
    standing = replace(shop, batches=(Batch("r", "axe", 1, 1, ready=2 * DAY + 200),))
    assert set(passed(standing, count=50).ready[0]) == {2 * DAY + 200}


def test_steel_and_handles_are_waited_for_at_what_is_usual() -> None:
    mill = Supplier("mill", (0, 2, 9), 10)
    axe = product(
        "axe", Step(1, "forged", 60), Step(2, "hafted", 60, uses=(("handle", 1.0),)), made_from="blank", most=3
    )
    shop = always_open(
        axe, people=(Person("A"),), lines=(Line("1", "axe", 9),), stock={"blank": 3, "handle": 3}, suppliers=(mill,),
        coming=(Coming("blank", 3, 4, "mill"), Coming("handle", 20, 1, "nobody")), buys_from={"blank": "mill"},
    )  # fmt: skip
    plan = propose(shop)
    assert times(plan)["axe+2", 1][0] == 6 * DAY, "four days, and two late as usual"
    assert times(plan)["axe+3", 1][0] == 12 * DAY, "ten days from today, and two late"
    assert [operation(plan, f"axe+{n}").why for n in (1, 2, 3)] == ["", "blank", "blank"]
    assert (operation(plan, "axe+2").comes, operation(plan, "axe+3").buys) == ((0,), ("blank",))
    assert (operation(plan, "axe+1", 2).comes, operation(plan, "axe+2", 2).comes) == ((), (1,))
    none = replace(shop, buys_from={"blank": "who"})
    assert ("axe+3", 1) not in times(propose(none)), "nobody sells it"


def test_handles_that_an_order_wants_as_they_are_serve_no_run_behind_it() -> None:
    axe = product("axe", Step(1, "hafted", 60, uses=(("handle", 1.0),)))
    shop = always_open(
        axe, lines=(Line("handles", "handle", 5), Line("axes", "axe", 2), Line("more", "handle", 2)),
        stock={"handle": 6}, coming=(Coming("handle", 10, 3, ""),),
    )  # fmt: skip
    assert times(propose(shop)) == {("axe+1", 1): (3 * DAY, 3 * DAY + 120)}
    filled = passed(shop, count=50)
    assert [set(ready) for ready in filled.ready] == [{0}, {3 * DAY + 120}, {3 * DAY}]
    turned = replace(shop, lines=shop.lines[::-1])
    assert [set(ready) for ready in passed(turned, count=50).ready] == [{0}, {120}, {3 * DAY}]


def test_a_kept_plan_stays_and_what_is_new_comes_behind_it() -> None:
    grind = Step(2, "ground", 50, machines=("GRINDER",), hands=("B",))
    shop = always_open(
        product("axe", Step(1, "forged", 60, machines=("ANVIL",), hands=("A",)), grind),
        product("hammer", Step(1, "forged", 10, machines=("ANVIL",), hands=("A",)), replace(grind, minutes=5)),
        people=(Person("A"), Person("B")), machines=(ANVIL, GRINDER), lines=(Line("1", "axe", 1),),
    )  # fmt: skip
    before = propose(shop)
    asked = replace(shop, lines=(Line("0", "hammer", 1), *shop.lines))
    assert order(propose(asked))[0] == ("hammer+1", 1)
    kept = propose(asked, keep=before)
    assert order(kept) == [("axe+1", 1), ("axe+1", 2), ("hammer+1", 1), ("hammer+1", 2)]
    assert times(kept)["hammer+1", 2] == (110, 115), "the grinder has been through with the axes"
    fewer = replace(asked, people=(Person("B"),), products=tuple(
        replace(one, steps=tuple(replace(step, hands=()) for step in one.steps)) for one in asked.products))  # fmt: skip
    assert {one.people for one in propose(fewer, keep=before).operations} == {("B",)}, "who has left is replaced"


def test_a_kept_plan_keeps_the_sizes_of_its_runs() -> None:
    axe = product("axe", Step(1, "forged", 60), Step(2, "hafted", 10))
    shop = always_open(axe, lines=(Line("1", "axe", 4),), batches=(Batch("heads", "axe", 1, 9, spare=True),))
    before = propose(shop)
    asked = replace(shop, lines=(*shop.lines, Line("2", "axe", 7)))
    assert [(run.code, run.pieces) for run in propose(asked).runs] == [("heads", 9), ("axe+1", 2)]
    kept = propose(asked, keep=before)
    assert [(run.code, run.pieces) for run in kept.runs] == [("heads", 4), ("heads+", 5), ("axe+1", 2)]
    again = propose(replace(asked, lines=(*asked.lines, Line("3", "axe", 1))), keep=propose(asked))
    assert [(run.code, run.pieces) for run in again.runs] == [("heads", 9), ("axe+1", 2), ("axe+2", 1)]
    no_steel = replace(asked, products=(replace(axe, made_from="blank"),), batches=())
    assert propose(no_steel, keep=propose(replace(asked, batches=()))).operations == (), "what cannot be kept is left"
    nothing_left = propose(replace(shop, lines=(Line("1", "axe", 1),), stock={"axe": 1}), keep=propose(asked))
    assert nothing_left.runs == ()


def test_an_oven_load_of_a_kept_plan_stays_together() -> None:
    step = Step(1, "tempered", 0, machines=("OVEN",), oven=HOT)
    shop = always_open(
        product("axe", step), product("hammer", step), product("chisel", step), people=(Person("A"),), machines=(OVEN,),
        lines=(Line("1", "axe", 1), Line("2", "hammer", 1)),
    )  # fmt: skip
    before = propose(shop)
    asked = replace(shop, lines=(*shop.lines, Line("3", "chisel", 1)))
    groups = propose(asked, keep=before).groups
    assert [[one.run for one in group] for group in groups] == [[0, 1], [2]]
    assert len(propose(asked).groups) == 1


def test_runs_are_rounded_up_to_bars_and_parted_where_they_grow_too_long() -> None:
    axe = product("axe", Step(1, "forged", 60, **known(0.9)), made_from="blank", usual=20, most=12, bar_gives=5)
    shop = always_open(axe, lines=(Line("1", "axe", 3), Line("2", "axe", 11)), starts_sure=0.9)
    runs = wanted(shop)
    assert [run.pieces for run in runs] == [12, 10]
    assert [run.rank for run in runs] == [0, 1]
    assert runs[0].good == 9, "nine of twelve come off well for certain enough"
    assert start_for(5, points(axe.steps, 0), 0.9) == 7
    assert sure_good(7, points(axe.steps, 0), 0.9) == 5


def test_a_small_order_is_not_put_into_the_run_of_a_big_one() -> None:
    axe = product("axe", Step(1, "forged", 60), usual=12)
    shop = always_open(axe, lines=tuple(Line(str(n), "axe", pieces) for n, pieces in enumerate((3, 4, 30, 5, 2))))
    assert [(run.pieces, run.rank) for run in wanted(shop)] == [(7, 0), (30, 2), (7, 3)]


def test_steel_is_kept_for_the_line_that_was_promised_first() -> None:
    axe = product("axe", Step(1, "forged", 60, machines=("ANVIL",)), made_from="blank")
    hammer = product("hammer", Step(1, "ground", 60), made_from="blank")
    shop = always_open(
        hammer, axe, people=(Person("A"), Person("B")), machines=(Machine("ANVIL", busy=600),),
        lines=(Line("1", "axe", 6), Line("2", "hammer", 6)), stock={"blank": 8},
        coming=(Coming("blank", 10, 5, "mill"),), suppliers=(Supplier("mill"),),
    )  # fmt: skip
    plan = propose(shop)
    assert times(plan)["axe+1", 1][0] == 600, "the hammer could be ground at once, but not with its steel"
    assert times(plan)["hammer+1", 1][0] >= 5 * DAY, "two of its six come with the lorry"


def test_nothing_is_started_for_what_is_there_and_spare_pieces_go_on_as_far_as_they_are_wanted() -> None:
    axe = product("axe", Step(1, "forged", 60), Step(2, "hafted", 10))
    batches = (
        Batch("young", "axe", 0, 5), Batch("old", "axe", 1, 2, ready=10), Batch("heads", "axe", 1, 9, spare=True),
        Batch("blanks", "axe", 0, 9, spare=True),
    )  # fmt: skip
    shop = always_open(axe, lines=(Line("1", "axe", 3), Line("2", "axe", 8)), batches=batches, stock={"axe": 2})
    assert [(run.code, run.pieces, run.rank) for run in wanted(shop)] == [
        ("old", 2, 0),
        ("young", 5, 1),
        ("heads", 2, 1),
    ]
    enough = replace(shop, stock={"axe": 9})
    assert [(run.code, run.rank) for run in wanted(enough)] == [("old", 1), ("young", 2)], "the last is for nobody yet"


def test_pieces_that_are_through_already_are_there_when_they_are_ready() -> None:
    axe = product("axe", Step(1, "forged", 60))
    shop = always_open(axe, batches=(Batch("done", "axe", 1, 3, ready=500),), lines=(Line("1", "axe", 2),))
    assert propose(shop).operations == ()
    assert set(passed(shop, count=50).ready[0]) == {500}


def test_what_is_worked_over_passes_as_often_as_the_rest() -> None:
    step = Step(1, "checked", 1.0, **known(0.8), rework=1.0)
    assert points((step,), 0)[0].mean == pytest.approx(0.96)
    assert step.rate == pytest.approx(0.96)
    axe = product("axe", step)
    shop = always_open(axe, batches=(Batch("run", "axe", 0, 100),), lines=(Line("1", "axe", 96),))
    assert abs((passed(shop, count=2_000).ready[0] == 100).mean() - 0.63) < 0.05  # P(Binomial(100, .96) >= 96) = .6289


def test_a_rate_no_start_is_sure_enough_for_is_started_by_the_mean() -> None:
    assert start_for(3, points((Step(1, "checked", good=0.001, bad=0.009),), 0), 0.9) == 30


def test_a_shop_with_two_things_of_one_name_is_refused() -> None:
    hours = Hours(MONDAY + dt.timedelta(days=1))
    for wrong in (
        {"people": (Person("A"), Person("A"))}, {"people": (Person("A"),), "machines": (Machine("A"),)},
        {"people": (), "batches": (Batch("r", "axe", 0, 1), Batch("r", "axe", 1, 1))},
        {"people": (), "products": (forged("axe"), forged("axe"))},
    ):  # fmt: skip
        with pytest.raises(ValueError, match="code of its own"):
            Shop(hours, **wrong)


def test_a_load_of_three_that_is_pinned_stays_one_load() -> None:
    mild = replace(HOT, kind="400")
    items = [product(item, Step(1, "harden", 6, machines=("OVEN",), oven=HOT), Step(2, "temper", 6, machines=("OVEN",), oven=mild))
             for item in ("axe", "hammer", "tongs")]  # fmt: skip
    shop = always_open(*items, machines=(OVEN,), people=(Person("A"),))
    loads = [[plan.runs[one.run].code for one in group] for plan in [propose(shop)] for group in plan.groups]
    assert loads == [["axe+1", "hammer+1", "tongs+1"]] * 2
    pins = tuple(Pin(run, step, 0) for step in (1, 2) for run in loads[0])
    plan = propose(replace(shop, pins=pins))
    assert [[plan.runs[one.run].code for one in group] for group in plan.groups] == loads
    apart = tuple(Pin(run, step, 0) for run in loads[0] for step in (1, 2))
    plan = propose(replace(shop, pins=apart))
    assert len(plan.groups) == 6, "a temper that stands before the next hardening keeps them apart"
