"""Where the pieces of a run stand along its route, and which step comes next."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Holding, Item, Place, Route, Run, Step

OVEN_WORK = (Step.Work.HARDEN, Step.Work.TEMPER)


@dataclass(frozen=True, slots=True)
class Walk:
    """The steps of a route in order. Pieces stand after a step; 0 is before the first."""

    steps: Sequence[Step]

    def numbered(self, number: int) -> Step | None:
        """Return the step of this number."""
        return next((step for step in self.steps if step.number == number), None)

    @property
    def points(self) -> list[Step]:
        """Return the counting points."""
        return [step for step in self.steps if step.counting_point]

    def next_point(self, after: int) -> Step | None:
        """Return the next counting point for pieces that stand after a step."""
        return next((step for step in self.points if step.number > after), None)

    def next_oven(self, after: int) -> Step | None:
        """Return the hardening or tempering that comes before the next counting point; it cannot be passed by."""
        point = self.next_point(after)
        return self.oven_between(after, point.number if point else 2**15)

    def oven_between(self, after: int, before: int) -> Step | None:
        """Return the first hardening or tempering between two steps."""
        between = (step for step in self.steps if after < step.number < before)
        return next((step for step in between if step.work in OVEN_WORK and not step.optional), None)

    def skipped(self, after: int, point: Step) -> list[Step]:
        """Return the counting points that were passed by, of the head alone."""
        return [step for step in self.points if after < step.number < point.number]

    def stands_before(self, number: int) -> int:
        """Return where pieces stand that have to go through a step again: after the place before it where they can."""
        before = [s.number for s in self.steps if s.number < number and (s.counting_point or s.work in OVEN_WORK)]
        return max(before, default=0)

    def last_of_head(self) -> Step | None:
        """Return the last counting point of the head; behind it the head goes to the shelf."""
        heads = [step for step in self.points if step.stage == Step.Stage.HEAD]
        return heads[-1] if heads else None

    def of_work(self, work: str) -> Step | None:
        """Return the counting point of some work, as hafting or packing."""
        return next((step for step in self.points if step.work == work), None)


def walk(route: Route) -> Walk:
    """Return the steps of a route."""
    return Walk(list(Step.objects.filter(route=route).select_related("tooling").order_by("number")))


def newest_route(item: Item) -> Route | None:
    """Return the route on which the item's pattern is made now."""
    return Route.objects.filter(pattern=item.pattern_id).order_by("-version").first() if item.pattern_id else None


def on_floor(run: Run) -> list[Holding]:
    """Return what stands of a run on the floor, the furthest on first, of the oldest lot first."""
    there = Holding.objects.filter(lot__run=run, place__kind=Place.Kind.FLOOR, on_hand__gt=0)
    return list(there.select_related("lot__item", "lot__melt", "place").order_by("-step", "lot_id"))


def heads_of(run: Run, *kinds: str) -> list[Holding]:
    """Return the heads of a run at places of these kinds."""
    there = Holding.objects.filter(lot__run=run, place__kind__in=kinds, on_hand__gt=0, item=run.item_id)
    return list(there.select_related("lot__item", "lot__melt", "place").order_by("lot_id"))


def curing(run: Run) -> list[Holding]:
    """Return the tools of a run that cure, the oldest first."""
    there = Holding.objects.filter(lot__run=run, place__kind=Place.Kind.CURE, on_hand__gt=0)
    return list(there.select_related("lot__item", "lot__melt", "lot__entry", "place").order_by("lot_id"))
