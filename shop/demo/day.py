"""One open day of the demo."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Day:
    """One open day: its date, its number from the first, and a maker of moments on it."""

    date: dt.date
    number: int
    moment: Callable[[int, int], dt.datetime]
    last: bool = False
    sparse: bool = False  # long ago: three days a week are made up, each with more
