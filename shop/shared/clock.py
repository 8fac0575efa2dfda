"""The one source of time. Entry points read it and pass `at=` or `today=` down; nothing below reads a clock."""

import contextlib
import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

_frozen: dt.datetime | None = None


def now() -> dt.datetime:
    """Return the current instant, in UTC, to the microsecond."""
    return _frozen if _frozen is not None else dt.datetime.now(dt.UTC)


def local_date(at: dt.datetime, zone: str) -> dt.date:
    """Return the calendar day on the shop's wall at an instant."""
    return at.astimezone(ZoneInfo(zone)).date()


def at_local(day: dt.date, hour: int, zone: str, *, minute: int = 0) -> dt.datetime:
    """Return the instant of a time on a local day, in UTC; one that a clock change skips falls an hour later."""
    return dt.datetime.combine(day, dt.time(hour, minute), tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)


@contextlib.contextmanager
def frozen(at: dt.datetime) -> Iterator[None]:
    """Hold the clock at an instant inside the block; for tests and for the demo's made-up weeks."""
    global _frozen  # noqa: PLW0603 - one clock for the process is the point
    before, _frozen = _frozen, at
    try:
        yield
    finally:
        _frozen = before
