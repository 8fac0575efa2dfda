"""Which items are to be counted on a day: each in its turn, a handful a day."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from inventory.calc.value_classes import OFTEN, SELDOM, SOMETIMES

WEEKS: Final[Mapping[str, int]] = {OFTEN: 13, SOMETIMES: 26, SELDOM: 52}
"""Weeks from one count to the next. Source: 4, 2 and 1 a year as seen at supplychainmetric.com."""

ROUND_WEEKS: Final = WEEKS[OFTEN]
"""What was never counted is counted within so many weeks: then the first come round again. No source."""

_WEEK: Final = 7
_MORE: Final = Fraction(5, 4)  # No source: days on which nobody counts have to be made up for


@dataclass(frozen=True, slots=True)
class Thing:
    """An item, how often it is counted (often, sometimes, seldom), and the day it was counted last, none for never."""

    code: str
    counted: str
    last: dt.date | None = None

    def __post_init__(self) -> None:
        if self.counted not in WEEKS:
            raise ValueError(f"counted is one of {', '.join(WEEKS)}, not {self.counted}")

    @property
    def due(self) -> dt.date | None:
        """The day its next count is due; none where it was never counted, which is at once."""
        return self.last + dt.timedelta(weeks=WEEKS[self.counted]) if self.last else None


@dataclass(frozen=True, slots=True)
class Day:
    """What is still to be counted on a day, in order; how many a day takes; how many more are due and wait."""

    codes: tuple[str, ...]
    handful: int
    waiting: int


def handful(things: Iterable[Thing], open_days: int = 5) -> int:
    """Return how many counts a day takes, so that all come round in their time.

    Args:
        things: all that is counted.
        open_days: days of a week on which the shop is open, 1 to 7.

    Returns:
        The first whole number above five quarters of what falls due on an open day, so that what was put off is caught up
        with. While some were never counted, at least what brings all round in 13 weeks. 0 for nothing.

    Raises:
        ValueError: open days out of range.
    """
    if not 1 <= open_days <= _WEEK:
        raise ValueError(f"open days are 1 to 7 a week, not {open_days}")
    things = list(things)
    if not things:
        return 0
    a_week = sum((Fraction(1, WEEKS[one.counted]) for one in things), Fraction(0))
    least = int(_MORE * a_week / open_days) + 1
    if all(one.last for one in things):
        return least
    return max(least, -(-len(things) // (ROUND_WEEKS * open_days)))


def due(things: Iterable[Thing], day: dt.date, open_days: int = 5) -> Day:
    """Return what is to be counted on a day the shop is open.

    Args:
        things: all that is counted, each code once.
        day: the day; what was counted on it takes its place of the handful.
        open_days: days of a week on which the shop is open, 1 to 7.

    Returns:
        What was never counted first, the often counted before the others; then what is due, longest overdue by its own
        weeks first; alike ones by code. No more than the day's handful, so counts spread over the days by themselves.

    Raises:
        ValueError: open days out of range.

    Source: cycle counting by class (any book on stock records); the order among those that are due is the shop's choice.
    """
    things = list(things)
    most = handful(things, open_days)
    ready = sorted((one for one in things if one.due is None or one.due <= day), key=lambda one: _turn(one, day))
    left = max(0, most - sum(one.last == day for one in things))
    return Day(tuple(one.code for one in ready[:left]), most, max(0, len(ready) - left))


def _turn(thing: Thing, day: dt.date) -> tuple[bool, Fraction, str]:
    weeks = WEEKS[thing.counted]
    if thing.due is None:
        return False, Fraction(weeks), thing.code
    return True, -Fraction((day - thing.due).days, weeks), thing.code
