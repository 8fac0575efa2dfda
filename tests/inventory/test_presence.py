"""Who is out and what is down: noted, joined, ended, and what nobody can mean."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Away, Machine, MachineDown
from inventory.queries import absences
from inventory.services import presence, tooling_sets
from inventory.services.presence import AlreadyNoted, OverAlready, Spell
from shop.access.models import Person
from shop.shared.errors import Invalid, NotFound
from shop.shared.hours import Hours
from shop.shared.models import AuditLine
from tests import makers
from tests.makers import AT

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
TODAY = dt.date(2026, 3, 5)  # a Thursday
HOURS = Hours()
Days = tuple[dt.date, dt.date | None]


def day(number: int) -> dt.date:
    """Return a day so many from today."""
    return TODAY + dt.timedelta(days=number)


def did(call: Callable[..., Any], *args: Any, today: dt.date = TODAY, hours: Hours | None = HOURS) -> Any:
    more = {"hours": hours} if hours else {}
    with transaction.atomic():
        return call(*args, today=today, at=AT, by=makers.actor(), **more)


@pytest.fixture
def ines(db: None) -> Person:
    return makers.make_person(name="Ines")


@pytest.fixture
def hammer(db: None) -> Machine:
    with transaction.atomic():
        return tooling_sets.add_machine("HAMMER", "power hammer", "hammer", at=AT, by=makers.actor())


def spells(model: type[Away] | type[MachineDown] = Away) -> list[Days]:
    return list(model.objects.order_by("first", "pk").values_list("first", "last"))


def ill(person: Person, first: int, last: int | None, **more: Any) -> Away:
    return did(presence.out, person, Spell(day(first), None if last is None else day(last)), **more)


def leave(person: Person, first: int, last: int, why: str = "") -> Away:
    return did(presence.out, person, Spell(day(first), day(last), planned=True, why=why))


# ---- one touch


def test_one_touch_says_out_today_and_the_audit_line_says_who_noted_it(ines: Person) -> None:
    made = did(presence.out_today, ines)
    assert (made.first, made.last, made.ill, made.person) == (TODAY, TODAY, True, ines)
    line = AuditLine.objects.get(action="out noted")
    assert (line.by, line.subject, line.before) == ("tests", f"person {ines.pk}", None)
    assert line.after == {"first": "2026-03-05", "last": "2026-03-05", "planned": False, "why": ""}


@pytest.mark.parametrize("last", [0, 4, None])
def test_a_second_touch_shortens_nothing_and_says_what_is_noted(ines: Person, last: int | None) -> None:
    ill(ines, -1, last)
    before = spells()
    with pytest.raises(AlreadyNoted, match="Ines is noted out already"):
        did(presence.out_today, ines)
    assert spells() == before


def test_one_touch_at_a_machine_says_down_until_somebody_notes_that_it_runs(hammer: Machine) -> None:
    made = did(presence.down_now, hammer)
    assert (made.first, made.last, made.broke) == (TODAY, None, True)
    with pytest.raises(AlreadyNoted, match="nobody knows until when"):
        did(presence.down_now, hammer)


# ---- joined


def test_an_illness_noted_day_by_day_is_one_also_over_the_weekend(ines: Person) -> None:
    for number in (0, 1, 4, 5):  # Thursday, Friday, Monday, Tuesday
        did(presence.out_today, ines, today=day(number))
    assert spells() == [(TODAY, day(5))]
    assert AuditLine.objects.filter(action="out noted").count() == 4


def test_an_open_day_at_work_parts_two_illnesses(ines: Person) -> None:
    did(presence.out_today, ines, today=TODAY)
    did(presence.out_today, ines, today=day(4), hours=Hours(open_days=(0, 1, 2, 3, 4, 5)))
    assert spells() == [(TODAY, TODAY), (day(4), day(4))]


def test_days_the_shop_is_shut_part_nothing(ines: Person) -> None:
    did(presence.out_today, ines)
    shut = frozenset(day(number) for number in range(1, 12))
    did(presence.out_today, ines, today=day(12), hours=Hours(shut=shut))
    assert spells() == [(TODAY, day(12))]


def test_after_a_long_shutdown_it_is_another_illness(ines: Person) -> None:
    did(presence.out_today, ines)
    shut = frozenset(day(number) for number in range(1, 40))
    did(presence.out_today, ines, today=day(40), hours=Hours(shut=shut))
    assert len(spells()) == 2


@pytest.mark.parametrize(
    ("before", "said", "whole"),
    [
        ((-2, 3), (0, 1), (-2, 1)),  # what is said last about the end holds
        ((-2, 1), (0, 3), (-2, 3)),
        ((-2, 3), (0, None), (-2, None)),
        ((-2, None), (0, 3), (-2, 3)),
        ((0, 4), (-3, -1), (-3, 4)),  # noted late: the days before belong to it
        ((0, None), (-1, -1), (-1, None)),
        ((-9, -6), (0, 1), None),
    ],
)
def test_illnesses_that_overlap_become_one(
    ines: Person, before: tuple[int, int | None], said: tuple[int, int | None], whole: tuple[int, int | None] | None
) -> None:
    def days(pair: tuple[int, int | None]) -> Days:
        return day(pair[0]), None if pair[1] is None else day(pair[1])

    ill(ines, *before)
    ill(ines, *said)
    assert spells() == ([days(whole)] if whole else [days(before), days(said)])


def test_three_become_one_with_the_newest_reason(ines: Person) -> None:
    ill(ines, -9, -9)
    did(presence.out, ines, Spell(day(-3), day(-3), why="a cough"))
    ill(ines, 0, 0)
    ill(ines, -9, -2)
    assert spells() == [(day(-9), day(-2)), (TODAY, TODAY)]
    ill(ines, -2, 0)
    assert spells() == [(day(-9), TODAY)]
    assert Away.objects.get().why == "a cough"
    before = AuditLine.objects.latest("id").before
    assert [one["first"] for one in before["spells"]] == ["2026-02-24", "2026-03-05"]


def test_a_leave_stays_noted_while_somebody_falls_ill(ines: Person) -> None:
    leave(ines, 3, 9, "her sister's wedding")
    ill(ines, 0, None)
    assert spells() == [(TODAY, None), (day(3), day(9))]
    did(presence.back, Away.objects.get(ill=True).pk, today=day(2), hours=None)
    assert spells() == [(TODAY, day(1)), (day(3), day(9))]


def test_leaves_that_overlap_become_one_and_neighbours_stay_two(ines: Person) -> None:
    leave(ines, 10, 14)
    leave(ines, 12, 20)
    leave(ines, 21, 22)
    assert spells() == [(day(10), day(20)), (day(21), day(22))]


def test_another_persons_days_are_left_alone(ines: Person) -> None:
    ill(makers.make_person(name="Marek"), 0, None)
    ill(ines, 0, 0)
    assert Away.objects.count() == 2


def test_breakdowns_and_services_of_a_machine_are_joined_by_kind(hammer: Machine) -> None:
    did(presence.down, hammer, Spell(day(-1), day(1), why="a belt has torn"))
    did(presence.down, hammer, Spell(TODAY, day(2)))
    did(presence.down, hammer, Spell(day(2), day(6), planned=True))
    assert spells(MachineDown) == [(day(-1), day(2)), (day(2), day(6))]
    broke = MachineDown.objects.get(broke=True)
    assert broke.why == "a belt has torn"


# ---- ended


@pytest.mark.parametrize(("first", "last"), [(-3, None), (-3, 4), (-3, 0)])
def test_who_is_back_was_out_until_yesterday(ines: Person, first: int, last: int | None) -> None:
    made = ill(ines, first, last)
    stood = did(presence.back, made.pk, hours=None)
    assert (stood.first, stood.last) == (made.first, made.last)
    assert spells() == [(day(first), day(-1))]
    line = AuditLine.objects.get(action="back noted")
    assert line.after == {"last": "2026-03-04"}


def test_what_began_today_or_lies_ahead_is_taken_away(ines: Person, hammer: Machine) -> None:
    for made in (ill(ines, 0, None), leave(ines, 4, 5)):
        did(presence.back, made.pk, hours=None)
    for spell in (Spell(TODAY, None), Spell(day(3), day(3), planned=True)):
        made = did(presence.down, hammer, spell)
        did(presence.runs_again, made.pk, hours=None)
    assert spells() == spells(MachineDown) == []
    assert {
        line.after["last"] for line in AuditLine.objects.filter(action__in=["back noted", "machine runs again"])
    } == {None}


def test_a_machine_that_runs_again_was_down_until_yesterday(hammer: Machine) -> None:
    made = did(presence.down, hammer, Spell(day(-2), None))
    did(presence.runs_again, made.pk, hours=None)
    assert spells(MachineDown) == [(day(-2), day(-1))]


def test_what_is_over_cannot_be_ended_again(ines: Person, hammer: Machine) -> None:
    away, down = ill(ines, -3, -1), did(presence.down, hammer, Spell(day(-3), day(-1)))
    with pytest.raises(OverAlready, match="Ines is back already"):
        did(presence.back, away.pk, hours=None)
    with pytest.raises(OverAlready, match="power hammer runs again already"):
        did(presence.runs_again, down.pk, hours=None)
    for call in (presence.back, presence.runs_again):
        with pytest.raises(NotFound):
            did(call, 99_999, hours=None)


# ---- refused


@pytest.mark.parametrize(
    ("spell", "field", "works"),
    [
        (Spell(day(1), day(2)), "first", "what lies ahead is planned"),
        (Spell(day(-367), TODAY), "first", "2025-03-04 to 2028-03-05 would work"),
        (Spell(day(732), day(733), planned=True), "first", "2025-03-04 to 2028-03-05 would work"),
        (Spell(TODAY, day(-1)), "last", "2026-03-05 or later would work"),
        (Spell(TODAY, day(732)), "last", "one up to 2028-03-05 would work"),
        (Spell(TODAY, None, planned=True), "last", "what is planned has one"),
        (Spell(TODAY, TODAY, why="x" * 81), "why", "up to 80"),
    ],
)
def test_days_that_cannot_be_are_refused_with_what_would_work(
    ines: Person, hammer: Machine, spell: Spell, field: str, works: str
) -> None:
    for call, whom in ((presence.out, ines), (presence.down, hammer)):
        with pytest.raises(Invalid) as refused:
            did(call, whom, spell)
        assert next(iter(refused.value.fields)) == field
        assert works in refused.value.sentence
    assert spells() == spells(MachineDown) == []


def test_who_does_not_come_in_any_more_and_what_is_out_of_use_is_refused(ines: Person, hammer: Machine) -> None:
    Person.objects.filter(pk=ines.pk).update(is_active=False)
    Machine.objects.filter(pk=hammer.pk).update(active=False)
    with pytest.raises(Invalid, match="does not come in any more"):
        did(presence.out_today, ines)
    with pytest.raises(Invalid, match="not in use any more"):
        did(presence.down_now, hammer)


# ---- what the pages read


def test_what_is_over_is_not_read_any_more(ines: Person, hammer: Machine) -> None:
    ill(ines, -5, -1)
    now, ahead = ill(ines, 0, None, hours=Hours(open_days=tuple(range(7)))), leave(ines, 30, 31)
    did(presence.down, hammer, Spell(day(-5), day(-2)))
    down = did(presence.down, hammer, Spell(day(1), day(1), planned=True))
    assert [one.pk for one in absences.away(TODAY)][-1] == ahead.pk
    assert now.first == day(-5), "one illness: no day at work between"
    assert [one.pk for one in absences.down(TODAY)] == [down.pk]
    assert absences.people() == [ines]
    assert absences.machines() == [hammer]
