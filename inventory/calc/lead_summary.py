"""A supplier's record in a few figures: how long it took, and how far it was from the day promised."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.lead_times import Record


@dataclass(frozen=True, slots=True)
class Summary:
    """Figures over order lines; days are calendar days, below 0 early.

    whole: lines that have come whole; in_parts: of them on more than one day; waiting: lines not whole yet, `waited`
    the days of the one ordered first.
    median, worst: days from order until the whole was there, of whole lines; None where there is none.
    late_median, late_worst: days from the day first promised until the whole was there, of whole lines with a promise.
    kept, promised: lines there whole by the day first promised, of those whose day has come: whole, or passed by.
    """

    whole: int
    in_parts: int
    waiting: int
    waited: int
    median: int | None
    worst: int | None
    late_median: int | None
    late_worst: int | None
    kept: int
    promised: int


def summary(records: Sequence[Record], *, today: dt.date) -> Summary:
    """Return the figures of order lines, whole or still open.

    The median is the lower one of an even number, so that it is a day that was seen. Source: none, shop practice.
    """
    done = [one for one in records if one.came and not one.open]
    waits = [(today - one.ordered).days for one in records if one.open]
    took = sorted((_last(one) - one.ordered).days for one in done)
    late = sorted((_last(one) - one.promised).days for one in done if one.promised is not None)
    passed = sum(1 for one in records if one.open and one.promised is not None and one.promised < today)
    return Summary(
        whole=len(done),
        in_parts=sum(len(one.came) > 1 for one in done),
        waiting=len(waits),
        waited=max(waits, default=0),
        median=_median(took),
        worst=took[-1] if took else None,
        late_median=_median(late),
        late_worst=late[-1] if late else None,
        kept=sum(days <= 0 for days in late),
        promised=len(late) + passed,
    )


def _last(record: Record) -> dt.date:
    return max(day for day, _ in record.came)


def _median(rising: Sequence[int]) -> int | None:
    return rising[(len(rising) - 1) // 2] if rising else None
