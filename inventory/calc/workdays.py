"""Until when a shortage can be claimed, in working days."""

import datetime as dt
from collections.abc import Collection
from typing import Final

WORKING_DAYS: Final = 5  # Monday to Friday. No source: shop practice
MOST_CLAIM_DAYS: Final = 400  # No source: longer than any terms of sale


def claim_deadline(arrived: dt.date, working_days: int, holidays: Collection[dt.date] = ()) -> dt.date:
    """Return the last day on which a shortage can be claimed.

    Args:
        arrived: the day of the delivery, which is not counted.
        working_days: days the supplier's terms give, 0 to 400.
        holidays: days that are no working days, besides Saturdays and Sundays.

    Returns:
        A day; the day of arrival for 0.

    Raises:
        ValueError: working_days out of range.

    Source: none; counting from the next working day is shop practice. One heat treater's published terms give five.
    """
    if not 0 <= working_days <= MOST_CLAIM_DAYS:
        raise ValueError(f"working_days must be from 0 to {MOST_CLAIM_DAYS}, not {working_days}")
    off = frozenset(holidays)
    day, left = arrived, working_days
    while left:
        day += dt.timedelta(days=1)
        left -= day.weekday() < WORKING_DAYS and day not in off
    return day
