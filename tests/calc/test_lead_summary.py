"""A supplier's record in figures: the median that was seen, late against the day first promised, what is still waited for."""

import datetime as dt

from inventory.calc.lead_summary import Summary, summary
from inventory.calc.lead_times import Record

FIRST = dt.date(2026, 3, 2)
TODAY = dt.date(2026, 4, 1)


def day(n: int) -> dt.date:
    return FIRST + dt.timedelta(days=n)


def record(*came: tuple[int, float], promised: int | None = None) -> Record:
    return Record(FIRST, None if promised is None else day(promised), tuple((day(n), share) for n, share in came))


def test_of_nothing_nothing_is_known() -> None:
    assert summary([], today=TODAY) == Summary(0, 0, 0, 0, None, None, None, None, 0, 0)


def test_the_day_of_the_last_part_counts_and_the_lower_median_was_seen() -> None:
    some = [record((n, 1.0)) for n in (9, 3, 4)] + [record((2, 0.5), (12, 0.5))]
    found = summary(some, today=TODAY)
    assert (found.whole, found.in_parts, found.median, found.worst) == (4, 1, 4, 12)
    assert (found.late_median, found.late_worst, found.kept, found.promised) == (None, None, 0, 0)


def test_late_is_counted_from_the_day_promised_and_early_is_below_nought() -> None:
    some = [record((n, 1.0), promised=10) for n in (8, 10, 15)]
    found = summary(some, today=TODAY)
    assert (found.late_median, found.late_worst, found.kept, found.promised) == (0, 5, 2, 3)


def test_what_has_not_come_by_its_day_was_not_kept_and_what_is_not_due_says_nothing() -> None:
    some = [record(promised=29), record((5, 0.5), promised=30), record(promised=31), record()]
    found = summary(some, today=TODAY)
    assert (found.whole, found.waiting, found.waited) == (0, 4, 30)
    assert (found.kept, found.promised) == (0, 1)
