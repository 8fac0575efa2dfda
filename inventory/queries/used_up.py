"""What the shop's bottles and counts say a piece uses up."""

import datetime as dt
import itertools
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Sum

from inventory.calc import learned_use
from inventory.calc.learned_use import Interval, Use
from inventory.models import FloorNote, Item, Route, RunCount, Step, StepUse
from inventory.queries import count_sheets

LAST = 24  # bottles or counts looked back


@dataclass(frozen=True, slots=True)
class Learned:
    """A consumable of the fire: what a piece uses, and how many pieces one bottle lasts."""

    item: Item
    use: Use
    lasts: tuple[int, int, int] | None
    since: int


def bottles() -> list[Learned]:
    """Return what is learned of each bottle that was ever changed."""
    items = Item.objects.filter(pk__in=FloorNote.objects.filter(what=FloorNote.What.BOTTLE).values("item"))
    return [_of(item) for item in items.order_by("code")]


def of(item: Item) -> Learned | None:
    """Return what is learned of one consumable: from bottles that were changed, else from counts; nothing before either."""
    if FloorNote.objects.filter(what=FloorNote.What.BOTTLE, item=item).count() > 1:
        return _of(item)
    return _by_counts(item)


def _by_counts(item: Item) -> Learned | None:
    """Learn from whole counts: what went between two of them, over the pieces made meanwhile."""
    times = count_sheets.whole_counts(item)[-LAST:]
    pairs = list(itertools.pairwise(times))
    intervals = [Interval(count_sheets.gone(item, start, end), _pieces(item, start, end)) for start, end in pairs]
    if not any(one.pieces for one in intervals):
        return None
    use = learned_use.learn(intervals, believed(item))
    return Learned(item, use, learned_use.pieces_from(item.issue_per_buy, use), _pieces(item, times[-1], None))


def _of(item: Item) -> Learned:
    changes = list(
        FloorNote.objects.filter(what=FloorNote.What.BOTTLE, item=item)
        .order_by("-at")
        .values_list("at", flat=True)[:LAST]
    )[::-1]
    pairs = itertools.pairwise(changes)
    intervals = [Interval(item.issue_per_buy, _pieces(item, start, end)) for start, end in pairs]
    use = learned_use.learn(intervals, believed(item))
    since = _pieces(item, changes[-1], None) if changes else 0
    return Learned(item, use, learned_use.pieces_from(item.issue_per_buy, use), since)


def _points(item: Item) -> list[str]:
    """Return the names of the counting points that use an item; where no route says so, those at the fire."""
    named = list(StepUse.objects.filter(item=item, step__counting_point=True).values_list("step__name", flat=True))
    return named or list(Step.objects.filter(work=Step.Work.FORGE, counting_point=True).values_list("name", flat=True))


def _pieces(item: Item, start: dt.datetime, end: dt.datetime | None) -> int:
    """Return how many pieces went through the first point that uses the item between two moments."""
    counts = RunCount.objects.filter(
        step__name__in=_points(item), entry__reversed_by=None, entry__happened_at__gte=start
    )
    if end is not None:
        counts = counts.filter(entry__happened_at__lt=end)
    sums = counts.order_by().values("step__name").annotate(sum=Sum("taken"))
    return max((int(row["sum"]) for row in sums), default=0)


def believed(item: Item) -> Fraction:
    """Return what the newest routes say a piece uses over all its steps, the mean over the patterns that use it."""
    totals: dict[int, int] = {}
    for step in steps_using(item):
        totals[step.route_id] = totals.get(step.route_id, 0) + step.uses.get(item=item).per_hundred
    return Fraction(sum(totals.values()), 100 * len(totals)) if totals else Fraction(0)


def steps_using(item: Item) -> list[Step]:
    """Return the steps that use an item, of the newest route of each pattern."""
    rows = Route.objects.order_by("pattern_id", "version").values_list("pattern_id", "pk")
    newest = dict(rows)
    found = Step.objects.filter(route_id__in=newest.values(), uses__item=item).select_related("route__pattern")
    return list(found.order_by("route__pattern__code", "number"))
