"""Rare causes of reject that have become more frequent: too few in any one count to show there, seen over many counts."""

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import Sum

from inventory.calc.reject_charts import RunningSum, reference
from inventory.models import CountReject, Pattern, RunCount

RARE = 0.01  # a cause with more rejects than this shows in the single count
LEAST = 0.002  # fewer cannot be told from none in a few hundred pieces
TIMES = 4  # so many times the usual share is what has to be found
PIECES_TO_A_FALSE_ALARM = 20_000  # about once in some years of a small forge
ENOUGH = 200  # pieces before the usual share of a cause is known at all
BACK = dt.timedelta(days=730)


@dataclass(frozen=True, slots=True)
class Creeping:
    """A cause that is more frequent than it was: rejects in the pieces since the sum began to rise, and the usual share."""

    pattern: Pattern
    point: str
    cause: str
    rejects: int
    pieces: int
    usual: float


@lru_cache(maxsize=256)
def _chart(usual: float) -> RunningSum:
    """Return the running sum that tells a usual share from four times it with few false alarms."""
    step = round(reference(usual, TIMES * usual))
    at = step
    while RunningSum(step, at).pieces_to_signal(usual) < PIECES_TO_A_FALSE_ALARM:
        at += step // 2
    return RunningSum(step, at)


def found(*, since: dt.datetime) -> list[Creeping]:
    """Return the rare causes whose running sum has signalled in a count since a moment."""
    fresh = CountReject.objects.filter(count__entry__happened_at__gte=since, count__entry__reversed_by=None)
    asked = fresh.filter(cause__isnull=False, count__caught_up=False).order_by()
    names = set(asked.values_list("count__run__pattern", "count__step__name", "cause__name"))
    signals = []
    for pattern, point, cause in sorted(names):
        one = _of_cause(pattern, point, cause or "", since)
        if one:
            signals.append(one)
    return signals


def _of_cause(pattern: int, point: str, cause: str, since: dt.datetime) -> Creeping | None:
    counts = RunCount.objects.filter(
        run__pattern=pattern, step__name=point, entry__reversed_by=None, caught_up=False,
        entry__happened_at__gte=since - BACK,
    )  # fmt: skip
    rows = list(counts.select_related("step", "entry", "run__pattern").order_by("entry__happened_at", "pk"))
    afresh = rows[-1].step.afresh_from
    rows = [row for row in rows if afresh is None or row.entry.happened_at >= afresh]
    bad = _rejects(rows, cause)
    before = [row for row in rows if row.entry.happened_at < since]
    pieces = sum(row.taken for row in before)
    if pieces < ENOUGH:
        return None
    usual = max(LEAST, round((sum(bad[row.pk] for row in before) + 0.5) / (pieces + 1), 3))
    if usual > RARE:
        return None
    return _signal(rows, bad, since, Creeping(rows[-1].run.pattern, point, cause, 0, 0, usual))


def _rejects(rows: Sequence[RunCount], cause: str) -> dict[int, int]:
    of_cause = CountReject.objects.filter(count__in=rows, cause__name=cause).order_by()
    found: dict[int, int] = defaultdict(int)
    found.update({count: int(qty) for count, qty in of_cause.values_list("count").annotate(qty=Sum("qty"))})
    return found


def _signal(rows: Sequence[RunCount], bad: dict[int, int], since: dt.datetime, about: Creeping) -> Creeping | None:
    """Run the sum over all counts; inside a count the order is not known, so its rejects go last."""
    chart, total, rejects, pieces, signal = _chart(about.usual), 0, 0, 0, None
    for row in rows:
        lost = bad[row.pk]
        total, at = chart.run([False] * (row.taken - lost) + [True] * lost, begin=total)
        rejects, pieces = rejects + lost, pieces + row.taken
        if at is not None:
            if row.entry.happened_at >= since:
                signal = Creeping(about.pattern, about.point, about.cause, rejects, pieces, about.usual)
            total = 0
        if not total:
            rejects, pieces = 0, 0
    return signal
