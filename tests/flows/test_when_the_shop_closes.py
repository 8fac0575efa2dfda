"""What is hardened is in the temper within its time or before the shop closes, in summer and in winter, on open days."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction

from inventory.models import Machine, Run
from inventory.queries import hard, runs
from inventory.services.ovens import Fire, Into
from shop.flows import changing_settings, floor, night, untempered
from shop.shared import clock, jobs, shop_row
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import AuditLine, Job, Message, ShutDays
from shop.shared.shop_settings import Settings, settings_of
from tests import forge, makers
from tests.forge import FIRST, GROUND, HARDEN, HOUR, SECOND

pytestmark = pytest.mark.django_db
ZONE = "America/New_York"
EVERY_DAY = tuple(range(7))
MINUTE = dt.timedelta(minutes=1)


def wall(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE)).astimezone(dt.UTC)


def shop(**settings: object) -> None:
    with transaction.atomic():
        shop_row.make(Settings("Invented Forge", ZONE, **settings), at=makers.AT, by="tests")  # type: ignore[arg-type]
        shop_row.set_recipients([("Hale", "hale@forge.example")], at=makers.AT, by="tests")


def change(**settings: object) -> None:
    kept = settings_of(shop_row.the_shop())
    columns = {name: getattr(kept, name) for name in Settings.__slots__}
    with transaction.atomic():
        changing_settings.change(Settings(**{**columns, **settings}), at=makers.AT, by="hale")  # type: ignore[arg-type]


def to_the_oven(made: forge.Forge, qty: int, at: dt.datetime) -> Run:
    run = made.start(qty, at=at)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, qty, at=at)
    return run


def hardened(at: dt.datetime, qty: int = 6) -> Run:
    run = to_the_oven(forge.make_forge(), qty, at)
    forge.harden(run, qty, at=at)
    return run


def ring(at: dt.datetime) -> int:
    jobs.run_due(lambda: at, {untempered.JOB: untempered.work})
    return Message.objects.count()


def due() -> dt.datetime:
    return Job.objects.get(kind=untempered.JOB).due_at


@pytest.mark.parametrize(
    ("put_in", "in_temper", "settings"),
    [
        ("2026-03-04T14:00", "2026-03-04T16:00", {}),  # a Wednesday in winter: two hours are over before closing
        ("2026-03-04T15:30", "2026-03-04T17:00", {}),
        ("2026-07-08T15:30", "2026-07-08T17:00", {}),  # in summer time
        ("2026-03-06T16:59", "2026-03-06T17:00", {}),  # the last open day before the clocks go forward
        ("2026-03-09T16:59", "2026-03-09T17:00", {}),  # and the first after
        ("2026-10-30T16:00", "2026-10-30T17:00", {}),  # the last before they go back
        ("2026-11-02T16:00", "2026-11-02T17:00", {}),
        ("2026-03-04T17:00", "2026-03-04T19:00", {}),  # at closing nobody closes on what goes in now
        ("2026-03-04T18:30", "2026-03-04T20:30", {}),
        ("2026-03-07T16:00", "2026-03-07T18:00", {}),  # a Saturday, which is not open
        ("2026-03-08T16:00", "2026-03-08T17:00", {"open_days": EVERY_DAY}),  # the very Sunday they go forward
        ("2026-03-04T14:00", "2026-03-04T14:45", {"closes_at": dt.time(14, 45)}),
        ("2026-03-04T23:00", "2026-03-04T23:59", {"closes_at": dt.time(23, 59)}),
    ],
)
def test_heads_are_in_the_temper_within_two_hours_or_at_closing(
    put_in: str, in_temper: str, settings: dict[str, object]
) -> None:
    shop(**settings)
    run = hardened(wall(put_in))
    by = wall(in_temper)
    ((row, one, said),) = runs.untempered(at=wall(put_in), hours=shop_row.hours())
    assert (row.run.pk, one.qty, said) == (run.pk, 6, by)
    assert due() == by
    assert ring(by - MINUTE) == 0
    assert ring(by) == 1
    hour = f"{by.astimezone(ZoneInfo(ZONE)):%H:%M}"
    assert f"were to be in the temper by {hour}." in Message.objects.get().text
    assert ring(by + 12 * HOUR) == 1, "once for a load"


def test_nothing_is_sent_at_closing_where_they_are_in_the_temper() -> None:
    shop()
    run = hardened(wall("2026-03-04T15:30"))
    forge.temper(run, 6, at=wall("2026-03-04T16:40"))
    assert ring(wall("2026-03-04T17:00")) == 0


def test_the_night_says_the_hour_of_closing_and_its_own_day() -> None:
    shop()
    hardened(wall("2026-03-04T15:30"))
    (line,) = night_lines(wall("2026-03-05T06:00"))
    assert "should have been in the temper by 17:00 on Wed 4 Mar." in line["words"]
    assert line["facts"]["temper_by"] == wall("2026-03-04T17:00").isoformat()


def test_the_night_says_the_shops_own_day_where_it_is_tomorrow_already_in_greenwich() -> None:
    shop()
    hardened(wall("2026-03-04T18:30"))
    (line,) = night_lines(wall("2026-03-05T06:00"))
    assert "in the temper by 20:30 on Wed 4 Mar." in line["words"]


def night_lines(at: dt.datetime) -> list[dict]:
    body = night.compute(at=at, today=clock.local_date(at, ZONE))
    return next(part["lines"] for part in body["parts"] if part["key"] == "temper")


# ---- the owner changes the hours while something stands hard


def test_a_shop_that_closes_earlier_today_is_warned_earlier() -> None:
    shop()
    hardened(wall("2026-03-04T14:30"))
    assert due() == wall("2026-03-04T16:30")
    change(closes_at=dt.time(15))
    line = AuditLine.objects.get(action="shop settings changed")
    assert (line.before["closes_at"], line.after["closes_at"]) == ("17:00:00", "15:00:00")
    assert ring(wall("2026-03-04T14:59")) == 0
    assert ring(wall("2026-03-04T15:00")) == 1
    assert "by 15:00." in Message.objects.get().text
    assert ring(wall("2026-03-04T16:30")) == 1, "once for a load"


def test_a_shop_that_closes_later_is_not_warned_before_it_is_time() -> None:
    shop()
    hardened(wall("2026-03-04T16:00"))
    change(open_days=(0, 1))
    assert ring(wall("2026-03-04T17:00")) == 0
    assert ring(wall("2026-03-04T18:00")) == 1
    assert "by 18:00." in Message.objects.get().text


def test_hours_written_past_the_owners_page_are_seen_when_the_job_is_due() -> None:
    shop()
    hardened(wall("2026-03-04T16:00"))
    with transaction.atomic():
        shop_row.change(Settings("Invented Forge", ZONE, closes_at=dt.time(17, 30)), at=makers.AT, by="tests")
    assert ring(wall("2026-03-04T17:00")) == 0
    assert ring(wall("2026-03-04T17:30")) == 1


def test_other_settings_leave_what_is_watched_alone() -> None:
    shop()
    hardened(wall("2026-03-04T14:30"))
    change(name="Another Name", night_hour=5)
    assert Job.objects.filter(kind=untempered.JOB).count() == 1


# ---- days on which the shop is shut


def shut(first: str, last: str = "") -> ShutDays:
    with transaction.atomic():
        day, end = dt.date.fromisoformat(first), dt.date.fromisoformat(last or first)
        return changing_settings.shut(day, end, "works holiday", at=wall(f"{first}T07:00"), by="hale")


def test_no_closing_is_named_on_a_holiday() -> None:
    shop()
    shut("2026-03-04")
    run = hardened(wall("2026-03-04T16:00"))
    assert due() == wall("2026-03-04T18:00"), "its own two hours: nobody closes the shop that day"
    ((_, _, by),) = runs.untempered(at=wall("2026-03-04T16:30"), hours=shop_row.hours(wall("2026-03-04T16:30")))
    assert by == wall("2026-03-04T18:00")
    assert ring(wall("2026-03-04T17:00")) == 0
    assert ring(wall("2026-03-04T18:00")) == 1
    assert f"6 of run {run.code} were to be in the temper by 18:00." in Message.objects.get().text


def test_the_closing_before_a_holiday_is_still_named() -> None:
    shop()
    shut("2026-03-05", "2026-03-08")
    hardened(wall("2026-03-04T16:00"))
    assert due() == wall("2026-03-04T17:00")
    hours = shop_row.hours(wall("2026-03-04T18:00"))
    assert hours.next_closing(wall("2026-03-04T18:00")) == wall("2026-03-09T17:00")


def test_a_holiday_written_while_heads_stand_hard_is_seen_and_taken_away_again() -> None:
    shop()
    hardened(wall("2026-03-04T16:00"))
    made = shut("2026-03-04")
    assert ring(wall("2026-03-04T17:00")) == 0
    with transaction.atomic():
        changing_settings.open_again(made.pk, at=wall("2026-03-04T17:10"), by="hale")
    assert ring(wall("2026-03-04T18:00")) == 1
    assert "by 17:00." in Message.objects.get().text


def test_hours_know_the_shut_days_of_a_fortnight_back_and_400_days_ahead() -> None:
    shop()
    for day in ("2026-02-17", "2026-02-18", "2027-04-08", "2027-04-09"):
        shut(day)
    known = shop_row.hours(wall("2026-03-04T12:00")).shut
    assert known == {dt.date(2026, 2, 18), dt.date(2027, 4, 8)}


def test_only_the_part_of_a_shutdown_inside_those_days_is_known() -> None:
    shop()
    shut("2026-02-01", "2026-02-20")
    known = shop_row.hours(wall("2026-03-04T12:00")).shut
    assert (min(known), max(known), len(known)) == (dt.date(2026, 2, 18), dt.date(2026, 2, 20), 3)


@pytest.mark.parametrize(
    ("first", "last", "why", "field", "works"),
    [
        ("2026-03-06", "2026-03-05", "fair", "last", "2026-03-06 or later would work"),
        ("2026-03-06", "2027-03-07", "fair", "last", "367 days; up to 366 at a time"),
        ("1999-12-31", "2000-01-01", "fair", "first", "2000-01-01 to 2199-12-31"),
        ("2199-12-31", "2200-01-01", "fair", "last", "2000-01-01 to 2199-12-31"),
        ("2026-03-06", "2026-03-06", "  ", "why", "1 to 80 characters"),
        ("2026-03-06", "2026-03-06", "x" * 81, "why", "1 to 80 characters"),
        ("2026-03-01", "2026-03-04", "fair", "first", "works holiday, 2026-03-04 to 2026-03-05, is shut already"),
        ("2026-03-05", "2026-03-05", "fair", "first", "is shut already"),
    ],
)
def test_shut_days_that_cannot_be_are_refused_with_what_would_work(
    first: str, last: str, why: str, field: str, works: str
) -> None:
    shop()
    shut("2026-03-04", "2026-03-05")
    days = dt.date.fromisoformat(first), dt.date.fromisoformat(last)
    with pytest.raises(Invalid) as refused, transaction.atomic():
        changing_settings.shut(*days, why, at=makers.AT, by="hale")
    assert list(refused.value.fields) == [field]
    assert works in refused.value.sentence
    assert ShutDays.objects.count() == 1


def test_shutting_and_opening_again_leave_a_line_each() -> None:
    shop()
    made = shut("2026-03-05", "2026-03-06")
    with transaction.atomic():
        changing_settings.open_again(made.pk, at=makers.AT, by="hale")
    lines = AuditLine.objects.filter(subject=f"shut days {made.pk}").order_by("id")
    facts = {"first": "2026-03-05", "last": "2026-03-06", "why": "works holiday"}
    assert [(line.action, line.before, line.after) for line in lines] == [
        ("shut days added", None, facts),
        ("shut days taken away", facts, None),
    ]
    with pytest.raises(NotFound), transaction.atomic():
        changing_settings.open_again(made.pk, at=makers.AT, by="hale")


# ---- which load the pieces are of


def test_a_second_hardening_of_a_run_is_not_late_with_the_first() -> None:
    shop()
    nine = wall("2026-03-04T09:00")
    run = to_the_oven(forge.make_forge(), 10, nine)
    forge.harden(run, 6, at=nine)
    forge.temper(run, 6, at=nine + HOUR / 2)
    forge.harden(run, 4, at=nine + HOUR)
    assert ring(nine + 2 * HOUR) == 0, "the first six are tempered, the four have an hour left"
    assert ring(nine + 3 * HOUR) == 1
    assert Message.objects.get().subject == f"Hard and not tempered: 4 of run {run.code}"


def test_a_part_whose_temper_fell_short_is_as_late_as_the_load_it_was_hardened_in() -> None:
    shop()
    nine = wall("2026-03-04T09:00")
    run = hardened(nine, 10)
    fire = Fire(2_040, "204 °C", 120, 30, Machine.objects.get(code="OVEN1"))
    with transaction.atomic():
        load = floor.temper_in([Into(run, 4)], fire, stamp=makers.stamp(at=nine + HOUR / 2))
    forge.temper(run, 6, at=nine + HOUR / 2)
    with transaction.atomic():
        floor.take_out(load, stamp=makers.stamp(at=nine + HOUR), reached=False)
    ((_, one, by),) = runs.untempered(at=nine + 5 * HOUR, hours=shop_row.hours())
    assert (one.qty, by) == (4, nine + 2 * HOUR), "a lot of their own, hardened with the whole"
    assert ring(nine + 2 * HOUR) == 1
    assert Message.objects.get().subject == f"Hard and not tempered: 4 of run {run.code}"


def test_hard_heads_that_go_on_under_another_code_are_still_looked_after() -> None:
    shop()
    nine = wall("2026-03-04T09:00")
    run = hardened(nine, 10)
    with transaction.atomic():
        other = floor.split(run, HARDEN, 4, stamp=makers.stamp(at=nine + MINUTE))
    assert {(one.run.code, one.qty) for one in hard.standing()} == {(run.code, 6), (other.code, 4)}
    forge.temper(run, 6, at=nine + HOUR)
    assert {by for _, _, by in runs.untempered(at=nine + 3 * HOUR, hours=shop_row.hours())} == {nine + 2 * HOUR}
    assert ring(nine + 2 * HOUR) == 1
    assert Message.objects.get().subject == f"Hard and not tempered: 4 of run {other.code}"


def test_heads_that_stood_hard_before_the_book_are_named_without_a_load() -> None:
    shop()
    made = forge.make_forge()
    lot = makers.put_in(made.head, 3, place="FLOOR", step=HARDEN, melt=made.melt)
    with transaction.atomic():
        run = floor.open_run(lot, stamp=makers.stamp())
    (one,) = hard.standing()
    assert (one.run, one.qty, one.load) == (run, 3, None)
    now = wall("2026-03-04T16:30")
    ((_, _, by),) = runs.untempered(at=now, hours=shop_row.hours())
    assert by == wall("2026-03-04T17:00")


# ---- what hours cannot be


@pytest.mark.parametrize(
    ("wrong", "field", "works"),
    [
        ({"closes_at": dt.time(0)}, "closes_at", "23:59 would work"),
        ({"closes_at": dt.time(17, 0, 30)}, "closes_at", "such as 17:00"),
        ({"closes_at": dt.time(17, tzinfo=dt.UTC)}, "closes_at", "such as 17:00"),
        ({"open_days": ()}, "open_days", "one day or more"),
        ({"open_days": (7,)}, "open_days", "0 for Monday to 6 for Sunday"),
        ({"opens_at": dt.time(17)}, "opens_at", "before closing, 17:00"),
        ({"opens_at": dt.time(8, 0, 1)}, "opens_at", "such as 08:00"),
        ({"carrier_by": dt.time(15, 0, 1)}, "carrier_by", "such as 15:00"),
        ({"carrier_days": ()}, "carrier_days", "one day or more"),
        ({"carrier_days": (-1,)}, "carrier_days", "0 for Monday to 6 for Sunday"),
        ({"production_percent": 4}, "production_percent", "5 to 100"),
        ({"production_percent": 101}, "production_percent", "5 to 100"),
        ({"sure_one_off": 49}, "sure_one_off", "50 to 99"),
        ({"sure_dealer": 100}, "sure_dealer", "50 to 99"),
        ({"slips_below": 0}, "slips_below", "1 to 99"),
        ({"slips_below": 91}, "slips_below", "90, what is wanted of it"),
    ],
)
def test_hours_that_no_shop_has_are_refused_with_what_would_work(
    wrong: dict[str, object], field: str, works: str
) -> None:
    shop()
    with pytest.raises(Invalid) as refused:
        change(**wrong)
    assert list(refused.value.fields) == [field]
    assert works in refused.value.sentence
    assert shop_row.hours().closes_at == dt.time(17)


def test_before_there_is_a_shop_its_hours_are_those_it_begins_with() -> None:
    hours = shop_row.hours()
    assert (hours.zone, hours.closes_at, hours.open_days) == ("UTC", dt.time(17), (0, 1, 2, 3, 4))
