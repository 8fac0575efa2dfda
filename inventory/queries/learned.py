"""What the shop's own counts teach: good-piece rates, how many to start, rejects by cause, minutes, weight kept."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import F, Q, Sum

from inventory.calc import good_rates, reject_charts, starts
from inventory.calc.good_rates import Rate
from inventory.calc.learned_use import Pace, Record, pace
from inventory.calc.reject_charts import Counted
from inventory.calc.starts import Point, Starts
from inventory.models import CountReject, Pattern, RunCount, Step
from inventory.queries import along
from inventory.queries.along import Walk

SURE = 0.95
_CERTAIN = Fraction(999, 1000)  # a point believed to lose nothing still learns


@dataclass(frozen=True, slots=True)
class Learned:
    """A counting point: what was counted there, the rate that follows, and what share of rejects is worked over."""

    step: Step
    good: int
    rejected: int
    reworked: int
    rate: Rate

    @property
    def point(self) -> Point:
        """Return it for the question how many to start."""
        bad = self.rejected + self.reworked
        return Point(self.rate, self.reworked / bad if bad else 0.0)

    @property
    def of_hundred(self) -> tuple[int, int, int]:
        """Return how many of a hundred come good, and between which numbers that is nineteen times in twenty."""
        low, high = self.rate.interval(SURE)
        return round(100 * self.rate.mean), int(100 * low), -int(-100 * high // 1)


def rates(pattern: Pattern, walk: Walk, *, until: dt.datetime | None = None) -> list[Learned]:
    """Return what is known at each counting point of a route, from every version of it, the prior included."""
    counted = RunCount.objects.filter(run__pattern=pattern, entry__reversed_by=None, caught_up=False)
    if until is not None:
        counted = counted.filter(entry__happened_at__lt=until)
    found = []
    for step in walk.points:
        own = counted.filter(step__name=step.name)
        if step.afresh_from is not None:
            own = own.filter(entry__happened_at__gte=step.afresh_from)
        sums = own.aggregate(good=Sum("good"), lost=Sum(F("scrap") + F("second")), rework=Sum("rework"))
        good, lost, rework = (int(sums[name] or 0) for name in ("good", "lost", "rework"))
        believed = min(_CERTAIN, Fraction(step.good_ppm, 1_000_000))
        before = good_rates.prior(max(believed, 1 - _CERTAIN), step.prior_pieces)
        found.append(Learned(step, good, lost, rework, good_rates.counted(before, good, lost + rework)))
    return found


def ahead(found: Sequence[Learned], after: int, *, heads_only: bool = False) -> list[Point]:
    """Return the points that pieces standing after a step still have to pass."""
    return [
        one.point for one in found if one.step.number > after and not (heads_only and one.step.stage != Step.Stage.HEAD)
    ]


@dataclass(frozen=True, slots=True)
class HowMany:
    """How many to start for so many good ones, beside the plain division, and how sure a few numbers near it are."""

    sure: Starts | None
    plain: Starts
    table: Sequence[tuple[int, float]]


def how_many(wanted: int, sure_percent: int, points: Sequence[Point], *, around: Sequence[int] = ()) -> HowMany:
    """Return how many to start; `around` are further numbers worth a look, as what the blanks or the bar give."""
    found = starts.starts(wanted, sure_percent / 100, points)
    plain = starts.plain(wanted, points)
    near = {wanted, plain.count, *(one for one in around if one > 0)}
    if found:
        near |= {found.count - 1, found.count, found.count + 1}
    numbers = sorted(one for one in near if wanted <= one <= starts.MOST)
    return HowMany(found, plain, starts.table(wanted, numbers, points))


def chance(now: Mapping[int, int], wanted: int, found: Sequence[Learned]) -> float:
    """Return the chance that pieces standing after several steps give so many good ones behind the last."""
    total = [1.0]
    for after, qty in now.items():
        passed = starts.through(qty, ahead(found, after))[qty] if qty else [1.0]
        total = [
            sum(total[a] * passed[k - a] for a in range(max(0, k - len(passed) + 1), min(k, len(total) - 1) + 1))
            for k in range(len(total) + len(passed) - 1)
        ]
    return float(min(1.0, sum(total[wanted:])))


def expected(now: Mapping[int, int], found: Sequence[Learned]) -> float:
    """Return how many good ones pieces standing after several steps give on the average."""
    good = 0.0
    for after, qty in now.items():
        mean = 1.0
        for point in ahead(found, after):
            mean *= point.mean
        good += qty * mean
    return good


@dataclass(frozen=True, slots=True)
class Chart:
    """The counts of one point in order, with the run of each, and where a share of rejects is more than chance."""

    step: Step
    codes: Sequence[str]
    counts: Sequence[Counted]
    chart: reject_charts.ShareChart


def chart_of(pattern: Pattern, name: str, *, last: int = 40) -> Chart | None:
    """Return the chart of rejects of a counting point over its last counts."""
    counted = RunCount.objects.filter(
        run__pattern=pattern, step__name=name, entry__reversed_by=None, caught_up=False
    ).select_related("run", "step")
    rows = list(counted.order_by("-entry__happened_at", "-entry_id")[:last])[::-1]
    if not rows:
        return None
    counts = [Counted(row.taken, row.scrap + row.second + row.rework) for row in rows]
    usual = reject_charts.share_chart(counts[:-1] or counts).mean
    return Chart(rows[-1].step, [row.run.code for row in rows], counts, reject_charts.exact_chart(counts, mean=usual))


@dataclass(frozen=True, slots=True)
class Signal:
    """A count with more rejects than chance."""

    count: RunCount
    usual: float
    most: float


def signals(*, since: dt.datetime) -> list[Signal]:
    """Return the counts since a moment whose share of rejects lies above what is usual for their point."""
    fresh = RunCount.objects.filter(entry__happened_at__gte=since, entry__reversed_by=None, caught_up=False)
    found = []
    for count in fresh.filter(Q(scrap__gt=0) | Q(second__gt=0) | Q(rework__gt=0)).select_related(
        "run__pattern", "step", "entry"
    ):
        signal = _signal(count)
        if signal:
            found.append(signal)
    return found


def _signal(count: RunCount) -> Signal | None:
    """The usual share is what the counts before it taught, the prior included."""
    walk = along.walk(count.run.route)
    before = {one.step.name: one for one in rates(count.run.pattern, walk, until=count.entry.happened_at)}
    learned = before.get(count.step.name)
    if learned is None:
        return None
    usual = 1 - learned.rate.mean
    (sample,) = reject_charts.exact_chart(
        [Counted(count.taken, count.scrap + count.second + count.rework)], mean=usual
    ).samples
    return Signal(count, usual, sample.high) if sample.out > 0 else None


def causes(*, since: dt.datetime, pattern: Pattern | None = None) -> dict[tuple[str, str], int]:
    """Return pieces rejected by point and cause since a moment; a handle alone is one too."""
    rejects = CountReject.objects.filter(count__entry__happened_at__gte=since, count__entry__reversed_by=None)
    if pattern is not None:
        rejects = rejects.filter(count__run__pattern=pattern)
    found: dict[tuple[str, str], int] = defaultdict(int)
    rows = rejects.order_by().values_list("count__step__name", "cause__name").annotate(qty=Sum("qty"))
    for point, cause, qty in rows:
        found[point, cause or "not known yet"] += int(qty)
    return dict(found)


@dataclass(frozen=True, slots=True)
class Minutes:
    """What a piece takes at a point, in seconds of one person, from the counts that said how long."""

    step: Step
    pace: Pace

    @property
    def by_the_clock(self) -> float:
        """Return the minutes of a piece by the clock with as many people as the step takes."""
        return self.pace.seconds_each / self.step.people / 60


def minutes(pattern: Pattern, walk: Walk) -> list[Minutes]:
    """Return the minutes a piece takes at each point, learned only from counts that said them."""
    found = []
    for step in walk.points:
        told = RunCount.objects.filter(
            run__pattern=pattern, step__name=step.name, entry__reversed_by=None, minutes__isnull=False
        )
        rows = [Record(one.minutes, one.people or 1, one.taken) for one in told if one.minutes and one.taken]
        found.append(Minutes(step, pace(rows, step.seconds_each * step.people, step.spread_percent)))
    return found
