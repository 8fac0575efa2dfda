"""Work against the clock: minute by minute over the days, there and back, with holidays, and no hour lost in spring."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.dates import worktime
from orders.calc.dates.state import DAY, Hours
from tests.calc.dates_making import ALWAYS, MONDAY


@st.composite
def hours(draw: st.DrawFn) -> Hours:
    opens = draw(st.integers(0, DAY - 1))
    closed = draw(st.frozensets(st.integers(0, 13).map(lambda day: MONDAY + dt.timedelta(days=day)), max_size=4))
    weekdays = draw(st.lists(st.integers(0, 6), min_size=1, unique=True).map(tuple))
    return Hours(
        MONDAY,
        weekdays,
        opens,
        draw(st.integers(opens + 1, DAY)),
        draw(st.sampled_from([1.0, 0.65, 0.5, 0.37, 0.9])),
        closed,
        draw(st.lists(st.integers(0, 6), min_size=1, unique=True).map(tuple)),
        draw(st.integers(0, DAY)),
    )


def by_minutes(of: Hours, days: int) -> list[float]:
    """Give the work before each minute by adding one minute after the other."""
    worked, total = [0.0], 0.0
    for minute in range(days * DAY):
        date, at = of.first_day + dt.timedelta(days=minute // DAY), minute % DAY
        if date.weekday() in of.weekdays and date not in of.closed and of.opens <= at < of.closes:
            total += of.production
        worked.append(total)
    return worked


@given(of=hours())
def test_work_is_what_the_open_minutes_come_to(of: Hours) -> None:
    time = worktime.of(of, 14)
    assert time.worked == pytest.approx(by_minutes(of, 14), abs=1e-6)
    assert len(time.ships) == time.never + 1
    assert time.too_late > time.worked[-1]
    assert [time.day_begins(day) for day in (-3, 5, 14, 99)] == [0, *time.worked[[5 * DAY, time.never, time.never]]]


@given(of=hours(), parts=st.lists(st.floats(0, 1.01), min_size=1, max_size=20))
def test_work_is_done_at_the_first_minute_before_which_it_is_done(of: Hours, parts: list[float]) -> None:
    time = worktime.of(of, 14)
    work = np.array(parts) * time.worked[-1]
    work = np.concatenate([work, np.floor(work), time.worked[:: DAY // 7]])
    first = np.searchsorted(time.worked, work - worktime.SAME)  # the same question asked of the table of all minutes
    assert list(time.to_clock(work)) == list(np.minimum(first, time.never))
    assert [time.clock_at(float(one)) for one in work] == list(time.to_clock(work))


@given(of=hours(), minute=st.integers(0, 14 * DAY))
def test_the_clock_comes_back_to_the_minute_the_work_was_done(of: Hours, minute: int) -> None:
    time = worktime.of(of, 14)
    work = time.to_work(np.array([minute]))
    back = time.to_clock(work)
    assert back[0] <= minute or minute == time.never
    assert time.to_work(back)[0] == pytest.approx(work[0], abs=1e-6)


def test_what_is_done_in_the_last_half_minute_before_closing_is_done_today() -> None:
    half = Hours(MONDAY, opens=0, closes=101, production=0.5)  # 50.5 minutes of work a day
    time = worktime.of(half, 5)
    assert list(time.to_clock(np.array([50.0, 50.2, 50.5, 50.6]))) == [100, 101, 101, DAY + 1]


def test_never_stays_never_and_nothing_is_done_at_once() -> None:
    time = worktime.of(Hours(MONDAY, closed=frozenset({MONDAY})), 2)
    assert time.clock_at(0.0) == 0
    assert list(time.to_clock(np.array([0.0, -1.0, 1e-7]))) == [0, 0, 0]
    assert list(time.to_clock(np.array([351.0, 351.1, np.inf]))) == [DAY + 17 * 60, time.never, time.never]
    assert time.clock_at(float("inf")) == time.never
    shut = worktime.of(Hours(MONDAY, weekdays=(6,)), 3)  # not open once
    assert list(shut.to_clock(np.array([1.0]))) == [shut.never]
    with pytest.raises(ValueError, match="a day ahead"):
        worktime.of(ALWAYS, 0)


@given(of=hours(), minutes=st.integers(0, DAY), at=st.integers(0, 14 * DAY))
def test_a_load_that_somebody_waits_for_begins_and_ends_within_one_open_day(of: Hours, minutes: int, at: int) -> None:
    time = worktime.of(of, 14)
    begins = int(time.fits(minutes)[at])
    open_days = [
        day
        for day in range(14)
        if (date := MONDAY + dt.timedelta(days=day)).weekday() in of.weekdays and date not in of.closed
    ]
    ways = [
        max(at, day * DAY + of.opens)
        for day in open_days
        if max(at, day * DAY + of.opens) + minutes <= day * DAY + of.closes
    ]
    assert begins == min(ways, default=time.never)


@given(of=hours(), minute=st.integers(0, 14 * DAY - 1))
def test_a_parcel_goes_with_the_next_carrier_that_is_not_gone_yet(of: Hours, minute: int) -> None:
    time = worktime.of(of, 14)
    first = minute // DAY + (minute % DAY > of.carrier_cutoff)
    days = [
        day
        for day in range(first, 14)
        if (date := MONDAY + dt.timedelta(days=day)).weekday() in of.carrier_weekdays and date not in of.closed
    ]
    assert time.ships[minute] == min(days, default=14)
    assert time.ships[time.never] == 14


def test_no_hour_is_lost_when_the_clocks_change() -> None:
    spring = worktime.of(Hours(dt.date(2026, 3, 27)), 5)  # Friday; in Europe the clocks go forward on that Sunday
    assert spring.worked[-1] == pytest.approx(3 * 9 * 60 * 0.65)
    assert spring.day_work == pytest.approx(351)
    assert spring.clock_at(351 + 1) == 3 * DAY + 8 * 60 + 2


def test_hours_that_cannot_be_are_refused() -> None:
    for wrong in (
        {"opens": 600, "closes": 600}, {"opens": -1}, {"closes": DAY + 1}, {"production": 0.0}, {"production": 1.1},
        {"weekdays": ()}, {"carrier_weekdays": ()}, {"weekdays": (7,)}, {"carrier_cutoff": DAY + 1},
    ):  # fmt: skip
        with pytest.raises(ValueError):
            Hours(MONDAY, **wrong)
