"""Minutes by the clock against minutes of work: opening hours, closed days, the share of the day that is production."""

import datetime as dt
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates.state import DAY, Hours

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
SAME: Final = 1e-6  # minutes; what rounding may add up to over a year of work


@dataclass(frozen=True, slots=True, eq=False)
class WorkTime:
    """Tables from the clock to work, and the way back.

    `worked` minutes of work before each minute by the clock; `opens` the minute at which each open day begins, then never;
    `ships` the day on which a parcel goes that is packed at a minute. The last minute of all tables stands for never.
    """

    hours: Hours
    days: int
    opens: Whole
    worked: Floats
    ships: Whole

    @property
    def never(self) -> int:
        """The minute by the clock that stands for never."""
        return self.days * DAY

    @property
    def day_work(self) -> float:
        """Minutes of work in an open day."""
        return (self.hours.closes - self.hours.opens) * self.hours.production

    @property
    def too_late(self) -> float:
        """Minutes of work that are never done: a little more than there are."""
        return float(self.worked[-1]) + 1

    def to_work(self, minute: Whole) -> Floats:
        """Give the minutes of work before minutes by the clock."""
        found: Floats = self.worked[np.minimum(minute, self.never)]
        return found

    def to_clock(self, work: Floats) -> Whole:
        """Give the first minutes by the clock before which so much work is done."""
        left = np.clip(work - SAME, 0.0, self.too_late)
        day = np.ceil(left / self.day_work) - 1
        inside = np.ceil((left - day * self.day_work) / self.hours.production).astype(np.int64)
        opens = self.opens[np.minimum(day, len(self.opens) - 1).astype(np.int64)]
        found: Whole = np.minimum(opens + inside, self.never)
        return found if left.all() else np.where(left > 0, found, 0)

    def clock_at(self, work: float) -> int:
        """Give the first minute by the clock before which so much work is done."""
        left = min(work - SAME, self.too_late)
        if left <= 0:
            return 0
        day = math.ceil(left / self.day_work) - 1
        inside = math.ceil((left - day * self.day_work) / self.hours.production)
        return min(int(self.opens[min(day, len(self.opens) - 1)]) + inside, self.never)

    def day_begins(self, day: int) -> float:
        """Give the minutes of work before a day opens; before a day gone by there are none."""
        return float(self.worked[min(max(day, 0), self.days) * DAY])

    def fits(self, minutes: int) -> Whole:
        """Give, for each minute by the clock, the first from which so many minutes pass before the shop closes.

        Args:
            minutes: 0 or more.

        Returns:
            A table as long as `worked`; never where no such minute is left, or no open day is so long.
        """
        return _fits(self, minutes)


@lru_cache(maxsize=8)
def of(hours: Hours, days: int) -> WorkTime:
    """Make the tables of so many days.

    Args:
        hours: of the shop.
        days: 1 or more; what is not done by then is never done.

    Returns:
        The tables.

    Raises:
        ValueError: less than a day.
    """
    if days < 1:
        raise ValueError("the calculator looks a day ahead or more")
    dates = [hours.first_day + dt.timedelta(days=day) for day in range(days)]
    is_open = np.array([date.weekday() in hours.weekdays and date not in hours.closed for date in dates])
    of_day = np.clip(np.arange(DAY) - hours.opens, 0, hours.closes - hours.opens) * hours.production
    # whole days times a day's work, not a sum of minutes: every opening is then exactly where `to_clock` looks for it
    before = (np.cumsum(is_open) - is_open) * ((hours.closes - hours.opens) * hours.production)
    worked = (before[:, None] + np.where(is_open[:, None], of_day[None, :], 0.0)).ravel()
    last = np.count_nonzero(is_open) * ((hours.closes - hours.opens) * hours.production)
    opens = np.append(np.flatnonzero(is_open) * DAY + hours.opens, days * DAY)
    goes = np.array([date.weekday() in hours.carrier_weekdays and date not in hours.closed for date in dates])
    return WorkTime(hours, days, opens, np.append(worked, last), _ships(hours, goes))


def _ships(hours: Hours, goes: npt.NDArray[np.bool_]) -> Whole:
    """Give the carrier's day for each minute; the number of days stands for never."""
    days = len(goes)
    nxt = np.full(days + 1, days, dtype=np.int64)
    for day in range(days - 1, -1, -1):
        nxt[day] = day if goes[day] else nxt[day + 1]
    minute = np.arange(DAY)
    table = np.where(minute[None, :] <= hours.carrier_cutoff, nxt[:-1, None], nxt[1:, None])
    return np.concatenate([table.ravel(), [days]])


@lru_cache(maxsize=16)
def _fits(time: WorkTime, minutes: int) -> Whole:
    good = np.zeros(time.never + 1, dtype=bool)
    for opens in time.opens[:-1]:
        good[opens : max(opens, opens + time.hours.closes - time.hours.opens - minutes + 1)] = True
    at = np.where(good, np.arange(time.never + 1), time.never)
    return np.minimum.accumulate(at[::-1])[::-1]
