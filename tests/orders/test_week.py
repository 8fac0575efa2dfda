"""The week as it is proposed from the book, and its pins: moved, pinned whole, taken out, dropped when done."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Item, Run
from orders.calc.dates.sheet import Kind, Line
from orders.models import RatedPromise, WeekPin
from orders.queries import week as proposing
from orders.queries.week import Proposed
from orders.services import ordering, week
from shop.flows import week as nights
from shop.shared.errors import Invalid, NotFound, Refusal
from shop.shared.models import AuditLine
from tests import forge, makers
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]

MONDAY = AT.date()
TUESDAY, WEDNESDAY, FRIDAY, SATURDAY = (MONDAY + dt.timedelta(days=number) for number in (1, 2, 4, 5))


@pytest.fixture
def made() -> forge.Forge:
    """Two people, a run of ten at the fire, one of eight that is ground, and an order for all of it and more."""
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login)
    made = forge.make_forge(blanks=60)
    made.start(10)
    ground = made.start(8)
    for number in (forge.FIRST, forge.SECOND, forge.GROUND):
        forge.count(ground, number, 8)
    makers.make_order({made.tool.item: 30})
    return made


def proposed() -> Proposed:
    return proposing.proposed(at=AT)


def runs() -> tuple[str, str]:
    """Give the codes of the run at the fire and of the one that is ground."""
    first, second = Run.objects.order_by("pk")
    return first.code, second.code


def lines(days: int = 14) -> list[tuple[str, str, Line]]:
    return [
        (f"{day.date:%a}", place, line)
        for day in proposed().days(MONDAY, days)
        for place, found in day.cells.items()
        for line in found
    ]


def write(act: Callable[..., Any], *given: Any, **more: Any) -> Any:
    with transaction.atomic():
        return act(*given, **more, at=AT, by=makers.actor())


def move(run: str, step: int, day: dt.date, after: tuple[str, int] | None = None) -> None:
    write(week.move_and_pin, proposed(), [(run, step)], day, after=after)


def pinned() -> list[tuple[str, int, dt.date]]:
    return list(WeekPin.objects.order_by("place", "pk").values_list("run_code", "step", "day"))


def refused(act: Callable[[], object]) -> str:
    before = pinned()
    with pytest.raises(Refusal) as refusal:
        act()
    assert pinned() == before
    return refusal.value.sentence


def test_each_step_stands_where_its_work_is_done(made: forge.Forge) -> None:
    first, second = runs()
    where = {
        (line.parts[0].run, name): place
        for _, place, line in lines()
        for part in line.parts
        for name in (part.name, *(name for _, name in part.more))
    }
    assert where[first, "first forging heat"] == "forge"
    assert where[first, "ground"] == "grinder"
    assert where[second, "harden"] == where[second, "temper"] == "oven"
    assert where[second, "tempered and checked"] == where[second, "hafted"] == "bench"


def test_a_run_that_is_still_to_be_started_has_its_blanks_sawn_before(made: forge.Forge) -> None:
    sawn = [line for _, place, line in lines() if place == "saw"]
    assert sawn == [], "42 blanks are on hand"
    makers.put_in(made.tool.handle, 400)
    makers.put_in(made.tool.wedge, 900)
    bar = makers.make_item(Item.Kind.BAR)
    for _ in range(6):
        makers.put_in(bar, 20 * makers.FOOT_NM, melt=made.melt, place="RACK")
    makers.make_order({made.tool.item: 80})
    blanks = [line for _, place, line in lines(60) if place == "saw"]
    assert blanks
    assert {line.kind for line in blanks} == {Kind.BLANKS}
    assert {line.parts[0].item for line in blanks} == {made.blank.code}


def test_a_line_is_moved_and_pinned_and_the_week_follows(made: forge.Forge) -> None:
    first, _ = runs()
    move(first, 1, WEDNESDAY)
    assert pinned() == [(first, 1, WEDNESDAY)]
    found = proposed().find(first, 1)
    assert found is not None
    assert (found.date, found.pinned) == (WEDNESDAY, True)
    line = AuditLine.objects.get(action="week line pinned")
    assert (line.subject, line.after["day"]) == (f"run {first} step 1", "2026-03-04")


def test_what_a_line_goes_behind_is_pinned_with_it(made: forge.Forge) -> None:
    first, second = runs()
    there = [one for one in proposed().operations if one.place == "bench" and one.date == TUESDAY]
    assert there, "something is hafted on Tuesday"
    move(first, 6, TUESDAY, (there[0].run, there[0].step))
    assert [(run, step) for run, step, _ in pinned()] == [(there[0].run, there[0].step), (first, 6)]
    assert second in {run for run, *_ in pinned()}


def test_a_line_moved_again_leaves_its_place(made: forge.Forge) -> None:
    first, second = runs()
    move(first, 1, WEDNESDAY)
    move(second, 4, TUESDAY)
    move(first, 1, TUESDAY)
    assert pinned() == [(first, 1, TUESDAY), (second, 4, TUESDAY)]
    assert list(WeekPin.objects.order_by("pk").values_list("place", flat=True)) == [1, 2]


def test_who_pinned_it_is_kept_where_others_only_make_room(made: forge.Forge) -> None:
    first, second = runs()
    ines = make_person("desk", "hale")
    move(first, 1, WEDNESDAY)
    with transaction.atomic():
        from shop.access.actor import Actor

        week.move_and_pin(proposed(), [(second, 4)], TUESDAY, after=None, at=AT, by=Actor.of(ines))
    assert dict(WeekPin.objects.values_list("run_code", "by__login")) == {first: None, second: "hale"}


@pytest.mark.parametrize(
    ("run", "step", "day", "after", "field", "said"),
    [
        ("NONE", 1, TUESDAY, None, "run", "no step 1 before it"),
        ("first", 99, TUESDAY, None, "run", "no step 99 before it"),
        ("second", 1, TUESDAY, None, "run", "no step 1 before it"),
        ("first", 1, MONDAY - dt.timedelta(days=1), None, "day", "outside the sheet"),
        ("first", 1, MONDAY + dt.timedelta(days=400), None, "day", "outside the sheet"),
        ("first", 1, SATURDAY, None, "day", "2026-03-09 would work"),
        ("first", 1, FRIDAY, ("second", 4), "after", "does not begin there"),
        ("first", 1, FRIDAY, ("NONE", 4), "after", "does not begin there"),
    ],
)
def test_what_the_sheet_does_not_know_is_refused(
    made: forge.Forge, run: str, step: int, day: dt.date, after: tuple[str, int] | None, field: str, said: str
) -> None:
    names = dict(zip(("first", "second"), runs(), strict=True))
    behind = (names.get(after[0], after[0]), after[1]) if after else None
    with pytest.raises(Invalid) as refusal:
        move(names.get(run, run), step, day, behind)
    assert list(refusal.value.fields) == [field]
    assert said in refusal.value.sentence
    assert not WeekPin.objects.exists()


def test_a_pin_is_taken_out_once(made: forge.Forge) -> None:
    first, _ = runs()
    move(first, 1, WEDNESDAY)
    write(week.unpin, first, 1)
    assert pinned() == []
    with pytest.raises(NotFound, match="not pinned"):
        write(week.unpin, first, 1)


def test_a_week_is_pinned_as_it_is_proposed_and_taken_out_again(made: forge.Forge) -> None:
    before = [(one.run, one.step, one.date) for one in proposed().operations]
    number = write(week.pin_all, proposed(), MONDAY, FRIDAY)
    assert number == len(pinned()) == len([one for one in before if one[2] <= FRIDAY])
    assert [(one.run, one.step, one.date) for one in proposed().operations] == before
    assert write(week.pin_all, proposed(), MONDAY, FRIDAY) == 0, "a second time nothing is new"
    assert write(week.unpin_all, TUESDAY, WEDNESDAY) == len([one for one in before if TUESDAY <= one[2] <= WEDNESDAY])
    assert write(week.unpin_all, None, FRIDAY)
    assert pinned() == []


def test_a_week_without_lines_or_pins_is_refused(made: forge.Forge) -> None:
    assert "nothing begins" in refused(lambda: write(week.pin_all, proposed(), SATURDAY, SATURDAY))
    assert "nothing is pinned from" in refused(lambda: write(week.unpin_all, MONDAY, FRIDAY))
    assert "nothing is pinned up to" in refused(lambda: write(week.unpin_all, None, FRIDAY))


def test_pins_of_what_is_done_are_dropped_by_the_next_move_and_by_night(made: forge.Forge) -> None:
    first, second = runs()
    move(first, 1, TUESDAY)
    move(second, 5, TUESDAY)
    forge.count(Run.objects.get(code=first), forge.FIRST, 10)
    assert [pin.key for pin in proposed().alive] == [(second, 5)]
    assert nights.tidy(at=AT + forge.HOUR) == 1
    assert [(run, step) for run, step, _ in pinned()] == [(second, 5)]
    assert nights.tidy(at=AT + forge.HOUR) == 0
    forge.harden(Run.objects.get(code=second), 8)
    forge.temper(Run.objects.get(code=second), 8)
    move(first, 2, TUESDAY)
    assert [(run, step) for run, step, _ in pinned()] == [(first, 2)]


def test_a_pin_put_on_while_the_night_worked_it_out_stays(made: forge.Forge) -> None:
    WeekPin.objects.create(run_code="GONE", step=1, day=MONDAY, place=1, pinned_at=AT)
    assert write(week.tidy, frozenset()) == 0


def test_a_week_that_cannot_be_worked_out_holds_up_no_night(made: forge.Forge, monkeypatch: pytest.MonkeyPatch) -> None:
    move(runs()[0], 1, TUESDAY)

    def broken(**_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(proposing, "proposed", broken)
    assert nights.tidy(at=AT + forge.HOUR) == 0
    assert len(pinned()) == 1


def test_pins_of_the_next_run_go_over_to_the_run_that_is_started(made: forge.Forge) -> None:
    planned = f"{made.tool.item.code}+1"
    assert proposed().find(planned, 1) is not None, "thirty are wanted, eighteen are on the way"
    move(planned, 1, WEDNESDAY)
    WeekPin.objects.create(run_code=f"{made.tool.item.code}+2", step=1, day=FRIDAY, place=9, pinned_at=AT)
    WeekPin.objects.create(run_code="ELSE+1", step=1, day=FRIDAY, place=10, pinned_at=AT)
    of_head = f"{made.head.code}+1"
    WeekPin.objects.create(run_code=of_head, step=1, day=FRIDAY, place=11, pinned_at=AT)
    run = made.start(12)
    assert pinned() == [(run.code, 1, WEDNESDAY), (planned, 1, FRIDAY), ("ELSE+1", 1, FRIDAY), (of_head, 1, FRIDAY)]
    other = forge.make_forge().start(4)
    assert other.code not in {code for code, *_ in pinned()}, "pins of another head stay as they are"


def test_a_pin_of_a_run_holds_for_all_its_pieces(made: forge.Forge) -> None:
    first, _ = runs()
    forge.count(Run.objects.get(code=first), forge.FIRST, 4)
    move(first, 2, FRIDAY)
    assert {one.date for one in proposed().operations if (one.run, one.step) == (first, 2)} == {FRIDAY}


def test_a_move_shows_what_it_does_to_the_days_given(made: forge.Forge) -> None:
    order = makers.make_order({made.tool.item: 1})
    with transaction.atomic():
        ordering.give_day(order, FRIDAY, source="by hand", at=AT, by=makers.actor())
    found = proposed()
    _, second = runs()
    puts, before = week.checked(found, [(second, 4)], MONDAY + dt.timedelta(days=28), None)
    done = proposing.effect(found, (*puts, *before))
    ((named, swayed),) = done.named
    assert (named.number, swayed.after) == (order.number, 0.0)
    assert swayed.before > 0 or swayed.wanted > 0
    assert done.others == []
    moved = done.after.find(second, 4)
    assert moved is not None
    assert moved.date == MONDAY + dt.timedelta(days=28)
    assert pinned() == [], "nothing is written"


def test_the_promises_are_counted_as_they_were_rated_last(made: forge.Forge) -> None:
    assert proposing.kept() is None
    for chance in (950_000, 710_000):
        order = makers.make_order({made.tool.item: 1})
        with transaction.atomic():
            promise = ordering.give_day(order, FRIDAY, source="by hand", at=AT, by=makers.actor())
        RatedPromise.objects.create(promise=promise, chance_ppm=chance, before_ppm=chance, at=AT)
    found = proposing.kept()
    assert found is not None
    assert (found.promised, found.kept, found.at) == (2, 1, AT)
    assert found.worst is not None
    assert found.worst.chance_ppm == 710_000


def test_a_run_that_gets_stuck_and_goods_that_are_short_are_named(made: forge.Forge) -> None:
    makers.make_order({made.tool.item: 60})
    found = proposed()
    assert {one.item for one in found.stuck()} == {made.tool.item.code}, (
        "forty handles for ninety tools, bought from nobody"
    )
    assert all(one.why for one in found.stuck())
    assert found.short() == ()
