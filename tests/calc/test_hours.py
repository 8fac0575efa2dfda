"""The hours of the shop as plain values, on walls of both summer and winter time."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shop.shared.hours import Hours

FIVE = dt.time(17)
# UTC never moves its clocks; Lord Howe moves them by half an hour, Chatham stands at a quarter (IANA time zone database).
ZONES = ("America/New_York", "Europe/Vienna", "Australia/Lord_Howe", "Pacific/Chatham", "UTC")
moments = st.datetimes(dt.datetime(2024, 1, 1), dt.datetime(2030, 1, 1), timezones=st.just(dt.UTC))
days = st.sets(st.integers(0, 6), min_size=1).map(lambda chosen: tuple(sorted(chosen)))
times = st.times().map(lambda at: at.replace(second=0, microsecond=0))
shut = st.lists(st.tuples(st.dates(dt.date(2024, 1, 1), dt.date(2030, 1, 1)), st.integers(1, 40)), max_size=4).map(
    lambda spells: frozenset(first + dt.timedelta(days=n) for first, days in spells for n in range(days))
)
shops = st.builds(Hours, st.sampled_from(ZONES), times, days, shut=shut)


def wall(text: str, zone: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


@given(shops, moments)
def test_the_next_closing_is_after_now_at_its_hour_and_none_was_missed(hours: Hours, at: dt.datetime) -> None:
    closing = hours.next_closing(at)
    assert closing is not None
    assert closing > at
    local, before = (one.astimezone(ZoneInfo(hours.zone)) for one in (closing, closing - dt.timedelta(hours=3)))
    assert local.weekday() in hours.open_days
    assert local.date() not in hours.shut
    assert local.time() == hours.closes_at or local.utcoffset() != before.utcoffset(), "only clocks that move skip it"
    day = at.astimezone(ZoneInfo(hours.zone)).date()
    while day < local.date():
        earlier = hours.closing_on(day)
        assert earlier is None or earlier <= at
        day += dt.timedelta(days=1)


@given(shops, moments, st.timedeltas(dt.timedelta(minutes=1), dt.timedelta(days=7)))
def test_what_is_begun_is_done_in_its_time_and_never_after_a_closing(
    hours: Hours, at: dt.datetime, takes: dt.timedelta
) -> None:
    by = hours.before_closing(at, at + takes)
    assert at < by <= at + takes
    assert by in (at + takes, hours.next_closing(at))
    assume(by < at + takes)
    assert hours.next_closing(at) == by


@pytest.mark.parametrize("zone", ["America/New_York", "Europe/Vienna"])
@pytest.mark.parametrize("day", ["2026-03-06", "2026-03-09", "2026-03-27", "2026-03-30", "2026-10-23", "2026-10-26",
                                 "2026-10-30", "2026-11-02"])  # fmt: skip
def test_the_shop_closes_at_five_on_its_wall_in_summer_and_in_winter(zone: str, day: str) -> None:
    closing = Hours(zone).next_closing(wall(f"{day}T15:30", zone))
    assert closing == wall(f"{day}T17:00", zone)


def test_the_same_hour_of_the_wall_is_another_instant_once_the_clocks_have_moved() -> None:
    hours = Hours("America/New_York")  # the clocks go forward on Sunday 8 March 2026 (IANA time zone database)
    assert hours.closing_on(dt.date(2026, 3, 6)) == dt.datetime(2026, 3, 6, 22, tzinfo=dt.UTC)
    assert hours.closing_on(dt.date(2026, 3, 9)) == dt.datetime(2026, 3, 9, 21, tzinfo=dt.UTC)


def test_an_hour_that_the_clocks_leave_out_or_have_twice_still_closes_the_shop_once() -> None:
    hours = Hours("America/New_York", dt.time(2, 30), (6,))
    forward = hours.closing_on(dt.date(2026, 3, 8))
    assert forward == dt.datetime(2026, 3, 8, 7, 30, tzinfo=dt.UTC), "half past two is skipped: half past three"
    twice = Hours("America/New_York", dt.time(1, 30), (6,))
    back = twice.closing_on(dt.date(2026, 11, 1))
    assert back == dt.datetime(2026, 11, 1, 5, 30, tzinfo=dt.UTC), "the first of the two"
    assert twice.next_closing(back) == dt.datetime(2026, 11, 8, 6, 30, tzinfo=dt.UTC)


def test_a_shop_that_is_closed_today_closes_on_its_next_open_day() -> None:
    zone = "Europe/Vienna"
    assert Hours(zone).next_closing(wall("2026-03-07T10:00", zone)) == wall("2026-03-09T17:00", zone)
    assert Hours(zone).next_closing(wall("2026-03-06T17:00", zone)) == wall("2026-03-09T17:00", zone)
    assert Hours(zone, FIVE, (2,)).next_closing(wall("2026-03-04T17:00", zone)) == wall("2026-03-11T17:00", zone)


def test_a_shop_that_is_open_on_no_day_has_no_closing() -> None:
    at = dt.datetime(2026, 3, 4, 12, tzinfo=dt.UTC)
    hours = Hours("UTC", FIVE, ())
    assert hours.next_closing(at) is None
    assert hours.before_closing(at, at + dt.timedelta(hours=9)) == at + dt.timedelta(hours=9)


def test_a_holiday_has_no_closing_and_what_comes_after_it_has() -> None:
    zone = "Europe/Vienna"
    shut = frozenset({dt.date(2026, 3, 5), dt.date(2026, 3, 6)})
    hours = Hours(zone, shut=shut)
    assert hours.closing_on(dt.date(2026, 3, 5)) is None
    assert not hours.is_open_on(dt.date(2026, 3, 6))
    assert hours.is_open_on(dt.date(2026, 3, 9))
    assert hours.next_closing(wall("2026-03-04T17:00", zone)) == wall("2026-03-09T17:00", zone)
    assert hours.next_closing(wall("2026-03-04T16:00", zone)) == wall("2026-03-04T17:00", zone)


def test_a_shop_that_is_shut_for_weeks_closes_on_the_first_open_day_after_them() -> None:
    weeks = frozenset(dt.date(2026, 7, 1) + dt.timedelta(days=number) for number in range(100))
    hours = Hours("UTC", FIVE, (0,), shut=weeks)
    assert hours.next_closing(dt.datetime(2026, 7, 1, 9, tzinfo=dt.UTC)) == dt.datetime(2026, 10, 12, 17, tzinfo=dt.UTC)


def test_mondays_that_are_shut_one_by_one_are_all_passed_over() -> None:
    mondays = frozenset(dt.date(2026, 3, 2) + dt.timedelta(weeks=number) for number in range(9))
    hours = Hours("UTC", FIVE, (0,), shut=mondays)
    assert hours.next_closing(dt.datetime(2026, 3, 1, tzinfo=dt.UTC)) == dt.datetime(2026, 5, 4, 17, tzinfo=dt.UTC)
