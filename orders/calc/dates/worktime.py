"""Minutes by the clock against minutes of work: opening hours, closed days, the share of the day that is production."""

import datetime as dt
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
    """Tables from the clock to work and back.

    `worked` minutes of work before each minute by the clock; `clock` the first minute by the clock before which so many
    whole minutes are worked; `ships` the day on which a parcel goes that is packed at a minute. The last minute of all
    tables stands for never.
    """

    hours: Hours
    days: int
    open_days: Whole
    worked: Floats
    clock: Whole
    ships: Whole

    @property
    def never(self) -> int:
        """The minute by the clock that stands for never."""
        return self.days * DAY

    @property
    def day_work(self) -> float:
        """Minutes of work in an open day."""
        return (self.hours.closes - self.hours.opens) * self.hours.production

    def to_work(self, minute: Whole) -> Floats:
        """Give the minutes of work before minutes by the clock."""
        found: Floats = self.worked[np.minimum(minute, self.never)]
        return found

    def to_clock(self, work: Floats) -> Whole:
        """Give the minutes by the clock at which so much work is done, rounded up to whole minutes."""
        at = np.ceil(np.minimum(work, len(self.clock) - 1) - SAME).astype(np.int64)
        found: Whole = self.clock[at]
        return found

    def day_begins(self, day: int) -> float:
        """Give the minutes of work before a day opens."""
        return float(self.worked[min(day, self.days) * DAY])

    def fits(self, minutes: int) -> Whole:
        """Give, for each minute by the clock, the first from which so many minutes pass before the shop closes.

        Args:
            minutes: 0 up to the length of an open day.

        Returns:
            A table as long as `worked`; never where no such minute is left.
        """
        return _fits(self, minutes)


@lru_cache(maxsize=64)
def of(hours: Hours, days: int) -> WorkTime:
    """Make the tables of so many days.

    Args:
        hours: of the shop.
        days: 1 or more; what is not done by then is never done.

    Returns:
        The tables.
    """
    if days < 1:
        raise ValueError("the calculator looks a day ahead or more")
    dates = [hours.first_day + dt.timedelta(days=day) for day in range(days)]
    is_open = np.array([date.weekday() in hours.weekdays and date not in hours.closed for date in dates])
    minute = np.arange(DAY)
    at_work = np.where((minute >= hours.opens) & (minute < hours.closes), hours.production, 0.0)
    each = np.where(is_open[:, None], at_work[None, :], 0.0).ravel()
    worked = np.concatenate([[0.0], np.cumsum(each)])
    whole = np.arange(int(worked[-1]) + 2)
    clock = np.searchsorted(worked, whole - SAME)
    goes = np.array([date.weekday() in hours.carrier_weekdays and date not in hours.closed for date in dates])
    return WorkTime(hours, days, np.flatnonzero(is_open), worked, np.minimum(clock, days * DAY), _ships(hours, goes))


def _ships(hours: Hours, goes: npt.NDArray[np.bool_]) -> Whole:
    """Give the carrier's day for each minute; the number of days stands for never."""
    days = len(goes)
    nxt = np.full(days + 1, days, dtype=np.int64)
    for day in range(days - 1, -1, -1):
        nxt[day] = day if goes[day] else nxt[day + 1]
    minute = np.arange(DAY)
    table = np.where(minute[None, :] <= hours.carrier_cutoff, nxt[:-1, None], nxt[1:, None])
    return np.concatenate([table.ravel(), [days]])


@lru_cache(maxsize=64)
def _fits(time: WorkTime, minutes: int) -> Whole:
    hours = time.hours
    if not 0 <= minutes <= hours.closes - hours.opens:
        raise ValueError(f"{minutes} minutes do not pass within an open day")
    good = np.zeros(time.never + 1, dtype=bool)
    for day in time.open_days:
        good[day * DAY + hours.opens : day * DAY + hours.closes - minutes + 1] = True
    at = np.where(good, np.arange(time.never + 1), time.never)
    return np.minimum.accumulate(at[::-1])[::-1]
