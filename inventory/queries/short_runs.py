"""A run that will come out short while its tooling is still in: what is missing, and what a top-up now would gain."""

from dataclasses import dataclass

from django.db.models import F, Sum

from inventory.calc import starts
from inventory.models import Holding, Item, Place, Run, RunCount, Step
from inventory.queries import learned, runs, tooling
from inventory.queries.along import Walk

MOST_MORE = 200
SLACK = 0.1  # a chance a little under the wanted one is no news (shop practice, no source)


@dataclass(frozen=True, slots=True)
class Short:
    """How a run stands to what is wanted of it; times in minutes of forging."""

    run: Run
    likely: int
    chance: float
    blanks: int
    more: int
    tooling: str
    tooling_in: bool
    minutes_now: int
    minutes_later: int

    @property
    def missing(self) -> int:
        """Return how many are likely missing."""
        return max(0, (self.run.wanted or 0) - self.likely)


def short(run: Run) -> Short | None:
    """Return what is short of a run; nothing where it is for no number or is sure enough."""
    row = runs.row_of(run)
    if run.wanted is None or row is None:
        return None
    known = learned.rates(run.pattern, row.walk)
    now: dict[int, int] = {}
    for one in row.here:
        now[one.step] = now.get(one.step, 0) + one.qty
    done = _done(run)
    wanted = max(0, run.wanted - done)
    if wanted == 0:
        return None
    chance = learned.chance(now, wanted, known)
    if chance >= run.sure_percent / 100 - SLACK - starts.SAME:
        return None
    forging = _tooled(row.walk)
    blanks = free_blanks(run)
    more = _more(run, now, wanted, known)
    set_in = forging is not None and tooling.is_in(forging.tooling)
    each = sum(step.seconds_each for step in row.walk.steps if step.work == Step.Work.FORGE)
    forge_minutes = -(-more * each // 60)
    change = forging.tooling.change_minutes if forging and forging.tooling else 0
    return Short(
        run,
        done + int(learned.expected(now, known) + 0.5),
        chance,
        blanks,
        more,
        forging.tooling.name if forging and forging.tooling else "",
        set_in,
        forge_minutes,
        forge_minutes + change,
    )


def _done(run: Run) -> int:
    """Return how many of the run came off well at its last counting point."""
    last = run.route.steps.filter(counting_point=True).order_by("number").last()
    counts = RunCount.objects.filter(run=run, step=last, entry__reversed_by=None)
    return int(counts.aggregate(sum=Sum("good"))["sum"] or 0)


def _tooled(walk: Walk) -> Step | None:
    return next((step for step in walk.steps if step.tooling_id and step.work == Step.Work.FORGE), None)


def free_blanks(run: Run) -> int:
    """Return how many sawn blanks of the run's pattern and mill heat lie free."""
    there = Holding.objects.filter(
        item__kind=Item.Kind.BLANK, item__pattern=run.pattern_id, lot__melt=run.melt_id, step=0,
        place__kind__in=Place.SELLABLE,
    )  # fmt: skip
    return int(there.aggregate(free=Sum(F("on_hand") - F("allocated")))["free"] or 0)


def _more(run: Run, now: dict[int, int], wanted: int, known: list[learned.Learned]) -> int:
    """Return the fewest more to start that make the run sure enough."""
    low, high = 1, 2
    sure = run.sure_percent / 100 - starts.SAME

    def enough(more: int) -> bool:
        return learned.chance({**now, 0: now.get(0, 0) + more}, wanted, known) >= sure

    while high < MOST_MORE and not enough(high):
        low, high = high, high * 2
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    return low
