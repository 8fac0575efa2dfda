"""The hours of the shop as plain values, so that queries take them as they take a zone: when it closes, on which days."""

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
    """When the shop closes, on the clock of its own wall, and the weekdays it is open: 0 for Monday."""

    zone: str = "UTC"
    closes_at: dt.time = CLOSES_AT
    open_days: tuple[int, ...] = OPEN_DAYS

    def closing_on(self, day: dt.date) -> dt.datetime | None:
        """Return when the shop closes on a day; nothing where it is not open that day."""
        if day.weekday() not in self.open_days:
            return None
        return clock.at_local(day, self.closes_at.hour, self.zone, minute=self.closes_at.minute)

    def next_closing(self, at: dt.datetime) -> dt.datetime | None:
        """Return the first closing after an instant; nothing where the shop is open on no day."""
        first = clock.local_date(at, self.zone)
        for number in range(_WEEK + 1):
            closing = self.closing_on(first + dt.timedelta(days=number))
            if closing is not None and closing > at:
                return closing
        return None

    def before_closing(self, since: dt.datetime, by: dt.datetime) -> dt.datetime:
        """Return by when something begun at an instant is to be done: its own time, or the closing that comes before."""
        closing = self.next_closing(since)
        return by if closing is None else min(by, closing)
