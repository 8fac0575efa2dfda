"""Tooling as it stands: what is in which machine, how many pieces since it was dressed, what is out of use."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Sum

from inventory.models import RunCount, ToolingChange, ToolingSet

What = ToolingChange.What


@dataclass(frozen=True, slots=True)
class Set:
    """A tooling set: whether it is in, pieces since it was dressed, and whether it may be used."""

    tooling: ToolingSet
    is_in: bool
    out_of_use: bool
    since_dressed: int

    @property
    def to_dress(self) -> bool:
        """Return whether it has made as many pieces as it may before it is dressed."""
        return self.tooling.dress_at is not None and self.since_dressed >= self.tooling.dress_at


def sets() -> list[Set]:
    """Return every tooling set as it stands."""
    changes = list(ToolingChange.objects.order_by("id"))
    found = list(ToolingSet.objects.prefetch_related("machines").order_by("code"))
    return [_set(one, changes, found) for one in found]


def is_in(tooling: ToolingSet | None) -> bool:
    """Return whether this set is in its machines now."""
    return tooling is not None and any(one.is_in for one in sets() if one.tooling.pk == tooling.pk)


def _set(tooling: ToolingSet, changes: Sequence[ToolingChange], every: Sequence[ToolingSet]) -> Set:
    own = [change for change in changes if change.tooling_id == tooling.pk]
    use = [change.what for change in own if change.what in (What.OUT_OF_USE, What.BACK)]
    out_of_use = bool(use) and use[-1] == What.OUT_OF_USE
    put_in = [change for change in own if change.what == What.IN]
    dressed = [change for change in own if change.what == What.DRESSED]
    counts = RunCount.objects.filter(step__tooling=tooling, entry__reversed_by=None, caught_up=False)
    if dressed:
        counts = counts.filter(entry__happened_at__gt=dressed[-1].at)
    pieces = counts.aggregate(sum=Sum("taken"))["sum"] or 0
    there = bool(put_in) and not out_of_use and not _replaced(tooling, put_in[-1], changes, every)
    return Set(tooling, there, out_of_use, pieces)


def _replaced(
    tooling: ToolingSet, put_in: ToolingChange, changes: Sequence[ToolingChange], every: Sequence[ToolingSet]
) -> bool:
    """Say whether another set was put into one of its machines since."""
    machines = {one.pk: {machine.pk for machine in one.machines.all()} for one in every}
    return any(
        change.what == What.IN
        and change.pk > put_in.pk
        and change.tooling_id != tooling.pk
        and machines.get(change.tooling_id, set()) & machines.get(tooling.pk, set())
        for change in changes
    )
