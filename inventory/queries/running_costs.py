"""What a run has cost so far and where it went: blanks, what its steps use up, minutes, handles; good pieces bear the usual
losses, rejects beyond the usual are kept apart.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Sum

from inventory.calc import fifo_cost
from inventory.calc.reject_cost import Spent, reject_cost_minor
from inventory.models import (
    Entry,
    Item,
    Lot,
    LotParent,
    Movement,
    Pattern,
    RecipePart,
    Route,
    Run,
    RunCount,
    Step,
    StepCause,
)
from inventory.queries import learned, runs
from inventory.queries.along import Walk, walk
from inventory.queries.costs import Costs, steel_into


@dataclass(frozen=True, slots=True)
class StepCost:
    """What one piece costs at a counting point, minor units: before it, by its own minutes, use and handle, and as a reject."""

    step: Step
    before: int
    own: int

    @property
    def reject(self) -> int:
        """Return what a reject found here has cost."""
        return self.before + self.own


def steel_of(run: Run) -> tuple[int, int]:
    """Return what the blanks of a run cost, minor units, and how many pieces they are; lots of no known cost count 0."""
    lots = Lot.objects.filter(run=run, entry__kind=Entry.Kind.RUN_STARTED, entry__reversed_by=None).select_related(
        "item"
    )
    pieces = LotParent.objects.filter(child__in=lots).aggregate(sum=Sum("quantity"))["sum"] or 0
    return steel_into(list(lots), Costs()), int(pieces)


def steel_each(pattern: Pattern) -> int:
    """Return what the steel of one piece cost in the last run of a pattern, minor units."""
    run = Run.objects.filter(pattern=pattern, lots__entry__kind=Entry.Kind.RUN_STARTED).order_by("-pk").first()
    cost, pieces = steel_of(run) if run else (0, 0)
    return cost // pieces if pieces else 0


def price_of(item: Item) -> Fraction:
    """Return what a unit of an item cost when it last came in, minor units; 0 where no cost is known."""
    lot = Lot.objects.filter(item=item, cost_minor__gt=0).order_by("-id").first()
    if lot is None or lot.cost_minor is None:
        return Fraction(0)
    born = Movement.objects.filter(lot=lot, entry=lot.entry_id, from_place__inside=False).aggregate(sum=Sum("qty"))
    return Fraction(lot.cost_minor, int(born["sum"])) if born["sum"] else Fraction(0)


def by_step(pattern: Pattern, route: Walk, steel_each: int) -> list[StepCost]:
    """Return what a piece costs at each counting point: steel, then minutes, what is used up and the handle."""
    spent = [_spent(step) for step in route.steps]
    handle = _handle_price(pattern) if any(one.hafts for one in spent) else 0
    before, found = steel_each, []
    for step in route.points:
        cost = reject_cost_minor(
            step.number, spent, steel_minor=steel_each, labour_minor_per_hour=pattern.labour_minor_per_hour,
            handle_minor=handle,
        )  # fmt: skip
        found.append(StepCost(step, before, cost - before))
        before = cost
    return found


def _spent(step: Step) -> Spent:
    uses = (price_of(use.item) * use.per_hundred / 100 for use in step.uses.select_related("item"))
    used = sum(uses, start=Fraction(0))
    return Spent(step.number, step.seconds_each, step.people, used, hafts=step.work == Step.Work.HAFT)


@dataclass(frozen=True, slots=True)
class RunCost:
    """Where the cost of a run went, minor units; good, apart and still in the works come to steel and work together."""

    steel: int
    work: int
    good: int
    apart: int
    open: int
    good_pieces: int

    @property
    def each(self) -> int | None:
        """Return what a good piece has cost; nothing where there is none yet."""
        return fifo_cost.per_piece(self.good, self.good_pieces)[0] if self.good_pieces else None


def of_run(run: Run) -> RunCost:
    """Return what a run has cost so far; losses up to the usual are borne by the good pieces."""
    route = walk(run.route)
    steel, pieces = steel_of(run)
    each = steel // pieces if pieces else 0
    costs = {one.step.pk: one for one in by_step(run.pattern, route, each)}
    counts = RunCount.objects.filter(run=run, entry__reversed_by=None).select_related("step")
    taken: dict[int, int] = {}
    scrapped: dict[int, int] = {}
    for count in counts:
        taken[count.step_id] = taken.get(count.step_id, 0) + count.taken
        scrapped[count.step_id] = scrapped.get(count.step_id, 0) + count.scrap + count.second
    work = sum(costs[step].own * qty for step, qty in taken.items() if step in costs)
    started = runs.started_of([run.pk]).get(run.pk, 0)
    lost = sum(scrapped.values())
    last = route.last_of_head()
    good = sum(c.good for c in counts if last is not None and c.step_id == last.pk)
    done = good + lost
    whole = steel + work
    if not started or not done:
        return RunCost(steel, work, 0, 0, whole, 0)
    usual = _usual(run, route, done)
    share = whole * min(done, started) // started
    borne = fifo_cost.after_losses(share, done, good, usual)
    return RunCost(steel, work, borne.good, borne.apart, whole - share, good)


def _usual(run: Run, route: Walk, done: int) -> int:
    """Return how many of so many pieces are usually lost over the points of the head."""
    good = 1.0
    for one in learned.rates(run.pattern, route, until=run.started_at):
        if one.step.stage == Step.Stage.HEAD:
            good *= one.point.mean
    return round(done * (1 - good))


def newest_route_of(pattern: Pattern) -> Route | None:
    """Return the route a pattern is made by now."""
    return Route.objects.filter(pattern=pattern).order_by("-version").first()


def reject_costs(causes: Mapping[tuple[str, str], int], pattern: Pattern) -> dict[str, int]:
    """Return what the rejects of a pattern cost by point and cause, minor units; of a handle only, the handle."""
    route = newest_route_of(pattern)
    if route is None:
        return {}
    at = {one.step.name: one.reject for one in by_step(pattern, walk(route), steel_each(pattern))}
    causes_there = StepCause.objects.filter(step__route=route, handle_only=True)
    alone = set(causes_there.values_list("step__name", "name"))
    handle = _handle_price(pattern) if alone else 0
    return {
        f"{cause} at {point}": qty * (handle if (point, cause) in alone else at.get(point, 0))
        for (point, cause), qty in causes.items()
    }


def _handle_price(pattern: Pattern) -> int:
    """Return what the handle of a pattern's tool cost last, minor units; 0 where it gets none."""
    tools = Item.objects.filter(recipe__part__pattern=pattern, recipe__part__kind=Item.Kind.HEAD)
    part = RecipePart.objects.filter(tool__in=tools, part__kind=Item.Kind.HANDLE).select_related("part").first()
    return round(price_of(part.part)) if part else 0
