"""The week sheet: what stands where on which day, what is moved and pinned, and what that does to the days given."""

import datetime as dt
from dataclasses import replace
from random import Random

import pytest

from orders.calc.dates import moments, pinning, shortage
from orders.calc.dates.dispatch import propose
from orders.calc.dates.pinning import Put
from orders.calc.dates.route import Oven, Product, Step
from orders.calc.dates.sheet import Book, Kind, Line, SheetDay, ahead, operated, sheet
from orders.calc.dates.state import DAY, Batch, Hours, Machine, Person, Pin, Shop, Supplier
from orders.calc.dates.state import Line as Owed
from orders.calc.dates.worktime import of
from tests.calc.dates_making import MONDAY, known, product
from tests.calc.dates_strategies import a_shop

HOURS = Hours(MONDAY, production=1.0)  # nine hours of work a day, 8:00 to 17:00
ANVIL, OVEN = Machine("ANVIL"), Machine("OVEN")
TUESDAY, WEDNESDAY, FRIDAY = (MONDAY + dt.timedelta(days=number) for number in (1, 2, 4))
PLACES = {("axe", 1): "forge", ("axe", 2): "grinder", ("hammer", 1): "forge", ("hammer", 2): "grinder"}
BOOK = Book(PLACES)


def axe(**more) -> Product:
    return product("axe", Step(1, "forge", 60, machines=("ANVIL",), **more), Step(2, "faces", 30))


def shop(*products: Product, **more) -> Shop:
    """One person, a piece ordered of each product, begun at opening on Monday."""
    given = {
        "people": (Person("Ines"),),
        "machines": (ANVIL, OVEN),
        "lines": tuple(Owed(f"order of {one.item}", one.item, 1, day=9) for one in products),
        "starts_sure": 0.5, "horizon_days": 60, "unrest": 0.0,
    }  # fmt: skip
    return Shop(HOURS, products=products, **(given | more))


def laid(one: Shop, days: int = 7, **book) -> tuple[SheetDay, ...]:
    return sheet(one, propose(one), replace(BOOK, **book), first=MONDAY, days=days)


def lines_of(days: tuple[SheetDay, ...]) -> dict[str, list[tuple[str, str, str, int]]]:
    """Give day and place with what stands there: kind, run, step and pieces."""
    return {
        f"{day.date:%a} {place}": [(line.kind.value, line.parts[0].run, line.parts[0].name, line.parts[0].pieces) for line in lines]
        for day in days for place, lines in day.cells.items()
    }  # fmt: skip


def only(days: tuple[SheetDay, ...], kind: Kind) -> Line:
    found = [line for day in days for line in day.lines if line.kind is kind]
    assert len(found) == 1
    return found[0]


def at(line: Line) -> tuple[str, str]:
    """Give begin and end as day and time of day."""
    return tuple(f"{minute // DAY} {minute % DAY // 60}:{minute % 60:02}" for minute in (line.begins, line.ends))  # type: ignore[return-value]


def test_each_step_stands_in_its_place_on_its_day() -> None:
    days = laid(shop(axe(), batches=(Batch("K7", "axe", 0, 9),), lines=(Owed("1", "axe", 9),)))
    assert lines_of(days) == {"Mon forge": [("work", "K7", "forge", 9)], "Tue grinder": [("work", "K7", "faces", 9)]}
    assert [day.open for day in days] == [True] * 5 + [False] * 2
    forge = days[0].cells["forge"][0]
    assert (forge.people, forge.machines, at(forge)) == (("Ines",), ("ANVIL",), ("0 8:00", "0 17:00"))


def test_work_over_several_days_stands_on_each_open_one_and_goes_on() -> None:
    days = laid(shop(axe(), batches=(Batch("K7", "axe", 0, 50),), lines=(Owed("1", "axe", 50),)), 14)
    on = [(day.date.day, line.goes_on) for day in days for line in day.cells.get("forge", ())]
    assert on == [(2, False), (3, True), (4, True), (5, True), (6, True), (9, True)], "fifty hours, no Saturday"


def test_a_mean_is_about_and_a_whole_number_is_not() -> None:
    days = laid(shop(axe(**known(0.9)), batches=(Batch("K7", "axe", 0, 8),), lines=(Owed("1", "axe", 7),)))
    found = {line.parts[0].name: line.parts[0] for day in days for line in day.lines}
    assert [(found[name].pieces, found[name].about) for name in ("forge", "faces")] == [(8, False), (7, True)]


def test_a_change_of_tooling_is_a_line_of_its_own_with_what_comes_out() -> None:
    one = shop(axe(tooling="T2", change=25), batches=(Batch("K7", "axe", 0, 1),), tooling_in={"ANVIL": "T4"})
    first, second = laid(one)[0].cells["forge"]
    assert (first.kind, first.out, first.tooling, first.minutes) == (Kind.TOOLING, "T4", "T2", 25)
    assert (second.kind, at(second)) == (Kind.WORK, ("0 8:00", "0 9:25"))
    it_is_in = laid(replace(one, tooling_in={"ANVIL": "T2"}))[0].cells["forge"]
    assert [line.kind for line in it_is_in] == [Kind.WORK]


def test_what_came_out_of_an_empty_machine_is_nothing() -> None:
    one = shop(axe(tooling="T2", change=25), batches=(Batch("K7", "axe", 0, 1),))
    assert laid(one)[0].cells["forge"][0].out == ""


def test_runs_that_share_a_load_stand_on_one_line_from_door_shut_to_door_open() -> None:
    hot = Oven(0.25, 60, 90, "204")
    items = [product(item, Step(1, "harden", 6, machines=("OVEN",), oven=hot)) for item in ("axe", "hammer")]
    one = shop(*items, batches=(Batch("M2", "axe", 0, 1), Batch("J8", "hammer", 0, 1)))
    load = only(laid(one), Kind.LOAD)
    assert (load.place, [part.run for part in load.parts], load.loads) == ("oven", ["M2", "J8"], 1)
    assert at(load) == ("0 8:12", "0 10:42")


def test_a_run_too_big_for_the_oven_makes_several_loads_and_a_night_stands_on_both_days() -> None:
    hot = Oven(0.25, 60, 540, "204", unattended=True)
    one = shop(product("axe", Step(1, "temper", machines=("OVEN",), oven=hot)), batches=(Batch("M2", "axe", 0, 9),),
               lines=(Owed("1", "axe", 9),))  # fmt: skip
    found = [
        (day.date.day, line.loads, line.goes_on, at(line)) for day in laid(one) for line in day.cells.get("oven", ())
    ]
    assert found == [(2, 3, False, ("0 8:00", "1 14:00")), (3, 3, True, ("0 8:00", "1 14:00"))]


def test_a_step_without_an_oven_has_no_load() -> None:
    one = shop(axe(), batches=(Batch("K7", "axe", 0, 1),))
    plan = propose(one)
    with pytest.raises(ValueError, match="with an oven"):
        moments.load_of(of(one.hours, one.horizon_days), plan, plan.groups[0])


def test_steps_of_a_run_that_follow_each_other_in_one_place_are_one_line() -> None:
    steps = (Step(1, "check", 10), Step(2, "haft", 10, uses=(("handle", 1),)), Step(3, "oil", 5))
    one = shop(product("tongs", *steps), batches=(Batch("K7", "tongs", 0, 1),), stock={"handle": 0},
               buys_from={"handle": "wood"}, suppliers=(Supplier("wood", (0,), 0),))  # fmt: skip
    found = lines_of(laid(one))
    assert found == {"Mon bench": [("work", "K7", "check", 1)]}
    line = laid(one)[0].cells["bench"][0]
    assert (line.parts[0].more, line.buys, at(line)) == (((2, "haft"), (3, "oil")), ("handle",), ("0 8:00", "0 12:15"))


def test_a_pinned_step_does_not_hide_behind_one_that_is_not() -> None:
    one = shop(product("tongs", Step(1, "check", 10), Step(2, "haft", 10)), batches=(Batch("K7", "tongs", 0, 1),),
               pins=(Pin("K7", 2, 0),))  # fmt: skip
    assert [(line.parts[0].name, line.pinned) for line in laid(one)[0].cells["bench"]] == [
        ("check", False),
        ("haft", True),
    ]


def test_blanks_that_are_not_sawn_stand_at_the_saw_the_open_day_before() -> None:
    one, blanks = shop(axe(), pins=(Pin("axe+1", 1, 7),)), {"axe": "blank"}
    assert lines_of(laid(one, 9, blanks=blanks))["Fri saw"] == [("blanks", "axe+1", "blanks", 1)]
    assert "Fri saw" not in lines_of(laid(one, 9, blanks=blanks, sawn={"blank": 1}))
    assert "Fri saw" not in lines_of(laid(one, 9)), "what has no blank is not sawn here"
    soon = lines_of(laid(replace(one, pins=()), blanks=blanks))
    assert soon["Mon saw"] == [("blanks", "axe+1", "blanks", 1)], "on the day itself where none comes before"


def test_blanks_are_dealt_out_in_the_order_the_runs_begin() -> None:
    made = [axe(), product("hammer", Step(1, "forge", 60, machines=("ANVIL",)))]
    found = laid(
        shop(*made, pins=(Pin("axe+1", 1, 2),)), blanks=dict.fromkeys(("axe", "hammer"), "blank"), sawn={"blank": 1}
    )
    assert lines_of(found)["Tue saw"] == [("blanks", "axe+1", "blanks", 1)]


def test_batches_of_a_run_stand_under_its_code_and_what_they_have_before_them_can_be_pinned() -> None:
    one = shop(axe(), batches=(Batch("K7", "axe", 0, 2), Batch("K7 after step 1", "axe", 1, 3)), lines=(Owed("1", "axe", 5),),
               people=(Person("Ines"), Person("Marek")))  # fmt: skip
    runs = {"K7": "K7", "K7 after step 1": "K7", "HEAD-1": ""}
    found = lines_of(laid(one, runs=runs))
    assert found["Mon forge"] == [("work", "K7", "forge", 2)]
    assert {line[1] for line in found["Mon grinder"]} == {"K7"}
    assert sum(line[3] for line in found["Mon grinder"]) == 5
    book = replace(BOOK, runs=runs)
    assert ahead(propose(one), book) == {("K7", 1), ("K7", 2)}
    pins = pinning.as_pins([Put("K7", 2, TUESDAY), Put("axe+1", 1, MONDAY)], MONDAY, runs)
    assert pins == (Pin("K7", 2, 1), Pin("K7 after step 1", 2, 1), Pin("axe+1", 1, 0))


def test_a_step_done_by_the_same_hand_for_two_batches_is_one_line() -> None:
    steps = (Step(1, "check", 10), Step(2, "haft", 10))
    one = shop(product("tongs", *steps), batches=(Batch("K7", "tongs", 1, 2), Batch("K7 after step 1", "tongs", 1, 3)),
               lines=(Owed("1", "tongs", 5),))  # fmt: skip
    assert lines_of(laid(one, runs={"K7": "K7", "K7 after step 1": "K7"})) == {"Mon bench": [("work", "K7", "haft", 5)]}


def test_a_day_gone_by_is_empty_and_a_sheet_has_a_day() -> None:
    one = shop(axe(), batches=(Batch("K7", "axe", 0, 1),))
    days = sheet(one, propose(one), BOOK, first=MONDAY - dt.timedelta(days=1), days=2)
    assert [bool(day.lines) for day in days] == [False, True]
    with pytest.raises(ValueError, match="a day or more"):
        sheet(one, propose(one), BOOK, first=MONDAY, days=0)


@pytest.mark.parametrize("seed", range(40))
def test_every_operation_stands_on_the_sheet(seed: int) -> None:
    one = a_shop(Random(seed))
    plan = propose(one)
    days = sheet(one, plan, Book(), first=one.hours.first_day, days=one.horizon_days)
    shown: dict[str, int] = {}
    for day in days:
        for line in day.lines:
            if line.kind in (Kind.WORK, Kind.LOAD) and not line.goes_on:
                for part in line.parts:
                    shown[part.run] = shown.get(part.run, 0) + 1 + len(part.more)
    wanted: dict[str, int] = {}
    for operation in operated(one, plan, Book()):
        wanted[operation.run] = wanted.get(operation.run, 0) + 1
    assert all(shown.get(run, 0) >= number - _going_on(days, run) for run, number in wanted.items())
    assert sum(wanted.values()) == len(plan.operations)


def _going_on(days: tuple[SheetDay, ...], run: str) -> int:
    """Count steps that are joined to one that goes on from the day before."""
    return sum(
        len(part.more) for day in days for line in day.lines if line.goes_on for part in line.parts if part.run == run
    )


def test_goods_that_are_short_are_named_with_how_many_and_who_waits() -> None:
    made = product("axe", Step(1, "haft", 10, uses=(("handle", 2),)))
    one = shop(made, batches=(Batch("K7", "axe", 0, 6),), lines=(Owed("1", "axe", 6), Owed("2", "handle", 3)),
               stock={"handle": 5}, buys_from={"handle": "wood"}, suppliers=(Supplier("wood", (0,), 3),))  # fmt: skip
    assert shortage.short(one, propose(one)) == (shortage.Short("handle", 10, ("K7",)),)
    assert shortage.short(replace(one, stock={"handle": 15}), propose(replace(one, stock={"handle": 15}))) == ()


def put(run: str, day: dt.date = TUESDAY, step: int = 1) -> Put:
    return Put(run, step, day)


@pytest.mark.parametrize(
    ("what", "pins", "after", "order"),
    [
        ("alone", [], [], "Z"),
        ("first of its day", [put("A", MONDAY), put("B"), put("C", WEDNESDAY)], [], "AZBC"),
        ("behind a pin", [put("A"), put("B"), put("C")], [put("A")], "AZBC"),
        ("behind what was not pinned, which is pinned with it", [put("C", WEDNESDAY)], [put("A"), put("B")], "ABZC"),
        ("behind some of both", [put("A"), put("C")], [put("A"), put("B")], "ABZC"),
        ("from where it was", [put("Z"), put("A"), put("B")], [put("A")], "AZB"),
        ("behind itself is first", [put("A"), put("Z"), put("B")], [put("Z")], "ZAB"),
        ("never before what comes last of both", [put("B"), put("A")], [put("A"), put("B")], "BAZ"),
    ],
)
def test_a_line_is_moved_behind_others(what: str, pins: list[Put], after: list[Put], order: str) -> None:
    found = pinning.moved(pins, [put("Z")], after)
    assert "".join(pin.run for pin in found) == order, what


def test_a_load_is_moved_whole() -> None:
    pins = [put("A"), put("M"), put("B")]
    found = pinning.moved(pins, [put("M"), put("J")], [put("B")])
    assert "".join(pin.run for pin in found) == "ABMJ"
    assert pinning.moved(pins, []) == tuple(pins)


def test_what_a_line_is_moved_behind_is_read_off_the_plan() -> None:
    one = shop(
        axe(), batches=tuple(Batch(code, "axe", 0, 1) for code in ("K7", "K9", "M2")), lines=(Owed("1", "axe", 3),)
    )
    operations = operated(one, propose(one), BOOK)
    forge = [operation.run for operation in operations if operation.place == "forge"]
    assert pinning.before_it(operations, [(forge[2], 1)], "forge", MONDAY, (forge[1], 1)) == tuple(
        Put(run, 1, MONDAY) for run in forge[:2]
    )
    assert pinning.before_it(operations, [(forge[0], 1)], "forge", TUESDAY, (forge[1], 1)) == ()


def test_a_moved_line_stands_on_its_day_behind_what_was_chosen() -> None:
    batches = tuple(Batch(code, "axe", 0, 4) for code in ("K7", "K9", "M2"))
    one = shop(axe(), batches=batches, lines=(Owed("1", "axe", 12),), people=(Person("Ines"), Person("Marek")))
    before = operated(one, propose(one), BOOK)
    last = [operation for operation in before if operation.place == "forge"][-1]
    first = next(operation for operation in before if operation.place == "forge")
    after = pinning.before_it(before, [(first.run, 1)], "forge", last.date, (last.run, 1))
    pins = pinning.as_pins(pinning.moved((), [Put(first.run, 1, last.date)], after), MONDAY, {})
    order = [
        operation.run for operation in operated(one, propose(replace(one, pins=pins)), BOOK) if operation.step == 1
    ]
    assert order[-2:] == [last.run, first.run]


@pytest.mark.parametrize("seed", range(120))
def test_a_week_pinned_as_it_is_proposed_stays_as_it_is(seed: int) -> None:
    one = replace(a_shop(Random(seed)), pins=())
    plan = propose(one)
    operations = operated(one, plan, Book())
    first, last = one.hours.first_day, one.hours.first_day + dt.timedelta(days=20)
    pins = pinning.all_of((), operations, first, last)
    again = operated(one, propose(replace(one, pins=pinning.as_pins(pins, first, {}))), Book())
    span = [(o.run, o.step, o.date) for o in operations if first <= o.date <= last]
    assert [(o.run, o.step, o.date) for o in again if o.date <= last] == span
    assert len(pins) == len(span)


def test_pinning_a_week_keeps_what_is_pinned_outside_it() -> None:
    one = shop(axe(), batches=(Batch("K7", "axe", 0, 9),), lines=(Owed("1", "axe", 9),))
    operations = operated(one, propose(one), BOOK)
    other, gone = Put("K7", 2, FRIDAY), Put("X1", 1, MONDAY)
    pins = pinning.all_of((gone, other), operations, MONDAY, MONDAY)
    assert pins == (Put("K7", 1, MONDAY), other, gone), "in the order of the plan; what it does not know stays behind"


def test_a_pin_of_a_day_gone_by_is_for_the_first() -> None:
    assert pinning.as_pins([Put("K7", 1, MONDAY)], WEDNESDAY, {}) == (Pin("K7", 1, 0),)


def test_a_move_names_the_promises_that_lose_by_it() -> None:
    one = shop(axe(), product("hammer", Step(1, "forge", 60, machines=("ANVIL",))), lines=(
        Owed("1", "axe", 1, day=2, sure=0.9), Owed("2", "hammer", 1, day=2, sure=0.8)))  # fmt: skip
    found = pinning.effect(one, (Pin("axe+1", 1, 7),), seed=1, futures=200)
    rows = {row.order: (row.before, row.after, row.wanted, row.named) for row in found.promises}
    assert rows == {"1": (1.0, 0.0, 0.9, True), "2": (1.0, 1.0, 0.8, False)}
    assert next(o.date for o in operated(one, found.after, BOOK) if o.run == "axe+1") == MONDAY + dt.timedelta(days=7)


def test_a_promise_that_loses_little_and_stays_sure_is_not_named() -> None:
    assert not pinning.Swayed("1", 4, 0.98, 0.94, 0.9).named
    assert pinning.Swayed("1", 4, 0.99, 0.93, 0.9).named
    assert pinning.Swayed("1", 4, 0.70, 0.89, 0.9).named
