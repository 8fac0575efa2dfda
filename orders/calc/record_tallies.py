"""Days given that are counted month by month: kept, early, late, and how many were said to be kept."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Day:
    """A day that was given, as an ordinal day, and the one it was sent on; nothing while it is not sent.

    `said` is the chance that was stated, 0 to 1, nothing where none was; `plain` the day of the rule of thumb.
    """

    day: int
    sent: int | None
    said: float | None = None
    plain: int | None = None


@dataclass(frozen=True, slots=True)
class Tally:
    """So many days given and what became of them; early ones are kept ones too, open ones late ones.

    `said` is how many of them were said to be kept, nothing where a chance was not stated of each; `plain_kept` of
    `plain` is how many days of the rule of thumb would have been kept.
    """

    of: int
    kept: int
    early: int
    late: int
    open: int
    said: float | None
    plain: int
    plain_kept: int


def tally(days: Sequence[Day], *, last: int) -> Tally:
    """Count days given that are over.

    Args:
        days: given; those after `last` are left out.
        last: the last day of which it is known what was sent.

    Returns:
        The tally, all noughts where nothing is over.
    """
    over = [one for one in days if one.day <= last]
    came = [(one, one.sent if one.sent is not None and one.sent <= last else last + 1) for one in over]
    said = [one.said for one in over if one.said is not None]
    ruled = [(one.plain, sent) for one, sent in came if one.plain is not None and one.plain <= last]
    return Tally(
        of=len(over),
        kept=sum(sent <= one.day for one, sent in came),
        early=sum(sent < one.day for one, sent in came),
        late=sum(sent > one.day for one, sent in came),
        open=sum(sent > last for _, sent in came),
        said=sum(said) if over and len(said) == len(over) else None,
        plain=len(ruled),
        plain_kept=sum(sent <= plain for plain, sent in ruled),
    )


def months(days: Sequence[Day], *, last: int) -> list[tuple[dt.date, Tally]]:
    """Count days given by the month they fell in.

    Args:
        days: given; those after `last` are left out.
        last: the last day of which it is known what was sent.

    Returns:
        The first day of each month in which a day given was over, with its tally, the latest month first.
    """
    found: dict[dt.date, list[Day]] = defaultdict(list)
    for one in days:
        if one.day <= last:
            found[dt.date.fromordinal(one.day).replace(day=1)].append(one)
    return [(month, tally(found[month], last=last)) for month in sorted(found, reverse=True)]
