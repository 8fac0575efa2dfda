"""The hours of the shop as plain values, so that queries take them as they take a zone: from when to when, on which days."""

import datetime as dt
from dataclasses import dataclass

from shop.shared import clock

OPENS_AT = dt.time(8)
CLOSES_AT = dt.time(17)
CARRIER_BY = dt.time(15)
OPEN_DAYS = (0, 1, 2, 3, 4)  # Monday to Friday
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Hours:
    """When the shop opens and closes, on the clock of its own wall, and on which days.

    `open_days` are weekdays, 0 for Monday; on the days of `shut`, holidays and shutdowns, it is not open all the same.
    """

    zone: str = "UTC"
    closes_at: dt.time = CLOSES_AT
    open_days: tuple[int, ...] = OPEN_DAYS
    opens_at: dt.time = OPENS_AT
    shut: frozenset[dt.date] = frozenset()

    def is_open_on(self, day: dt.date) -> bool:
        """Tell whether the shop is open on a day."""
        return day.weekday() in self.open_days and day not in self.shut

    def closing_on(self, day: dt.date) -> dt.datetime | None:
        """Return when the shop closes on a day; nothing where it is not open that day."""
        if not self.is_open_on(day):
            return None
        return clock.at_local(day, self.closes_at.hour, self.zone, minute=self.closes_at.minute)

    def next_closing(self, at: dt.datetime) -> dt.datetime | None:
        """Return the first closing after an instant; nothing where the shop is open on no day."""
        first = clock.local_date(at, self.zone)
        # Each shut day takes at most one open day away, and a week without shut days has one.
        weeks = 1 + len(self.shut) if self.open_days else 0
        for number in range(_WEEK * weeks + 1):
            closing = self.closing_on(first + dt.timedelta(days=number))
            if closing is not None and closing > at:
                return closing
        return None

    def before_closing(self, since: dt.datetime, by: dt.datetime) -> dt.datetime:
        """Return by when something begun at an instant is to be done: its own time, or the closing that comes before."""
        closing = self.next_closing(since)
        return by if closing is None else min(by, closing)
