"""Days given are counted by the month they fell in: kept, early, late, open, and how many were said to be kept."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.record_tallies import Day, months, tally

MARCH = dt.date(2026, 3, 1)
FIRST = MARCH.toordinal()


def test_five_days_are_counted_as_by_hand() -> None:
    days = [
        Day(FIRST + 3, FIRST + 3, 0.9, FIRST + 2),  # kept on its day; the rule's day was missed
        Day(FIRST + 3, FIRST + 1, 0.8, FIRST + 5),  # early; kept by the rule too
        Day(FIRST + 3, FIRST + 5, 0.7),  # late
        Day(FIRST + 4, None, 0.5, FIRST + 40),  # open; the rule's day is still to come
        Day(FIRST + 30, FIRST + 4, 0.9),  # its day is still to come
    ]
    found = tally(days, last=FIRST + 10)
    assert (found.of, found.kept, found.early, found.late, found.open) == (4, 2, 1, 2, 1)
    assert found.said == pytest.approx(2.9)
    assert (found.plain, found.plain_kept) == (2, 1)


def test_nothing_is_said_where_one_day_has_no_chance() -> None:
    assert tally([Day(FIRST, FIRST, 0.9), Day(FIRST, FIRST)], last=FIRST).said is None
    assert tally([], last=FIRST).said is None


def test_what_was_sent_after_the_record_ends_is_open() -> None:
    assert tally([Day(FIRST, FIRST + 9)], last=FIRST + 3).open == 1


def test_months_are_those_of_the_days_given_the_latest_first() -> None:
    found = months([Day(FIRST + at, FIRST) for at in (0, 30, 31, 60)], last=FIRST + 59)
    assert [(month, one.of) for month, one in found] == [(dt.date(2026, 4, 1), 1), (MARCH, 2)]


@given(
    st.lists(st.builds(Day, st.integers(FIRST, FIRST + 99), st.none() | st.integers(FIRST, FIRST + 120))),
    st.integers(FIRST, FIRST + 120),
)
def test_months_come_to_the_whole(days: list[Day], last: int) -> None:
    whole, parts = tally(days, last=last), [one for _, one in months(days, last=last)]
    for name in ("of", "kept", "early", "late", "open"):
        assert sum(getattr(one, name) for one in parts) == getattr(whole, name)
    assert whole.kept + whole.late == whole.of
    assert whole.early <= whole.kept
    assert whole.open <= whole.late
