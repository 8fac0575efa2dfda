"""Hardened and not yet tempered: in which load, and by when the pieces have to be in the temper."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import Holding, LoadLot, LotParent, OvenLoad, Place, Run, Step
from shop.shared.hours import Hours

USUAL_MINUTES = 120  # no source: shop practice, where a route does not say


@dataclass(frozen=True, slots=True)
class Hard:
    """Pieces of a run that stand hardened on the floor, and the load they were hardened in where the book knows it."""

    run: Run
    step: Step
    qty: int
    load: OvenLoad | None


def temper_by(step: Step, hardened_at: dt.datetime, hours: Hours) -> dt.datetime:
    """Return by when hardened pieces have to be in the temper: within the step's time, and before the shop closes."""
    within = dt.timedelta(minutes=step.within_minutes or USUAL_MINUTES)
    return hours.before_closing(hardened_at, hardened_at + within)


def standing() -> list[Hard]:
    """Return what stands hardened on the floor and is not tempered."""
    there = Holding.objects.filter(place__kind=Place.Kind.FLOOR, on_hand__gt=0, lot__run__isnull=False)
    there = there.select_related("lot__run").order_by("lot_id", "id")
    routes = {one.lot.run.route_id for one in there if one.lot.run}
    hardens = Step.objects.filter(route__in=routes, work=Step.Work.HARDEN)
    steps = {(step.route_id, step.number): step for step in hardens}
    found = [
        (one, run, step)
        for one in there
        if (run := one.lot.run) is not None and (step := steps.get((run.route_id, one.step))) is not None
    ]
    loads = hardenings({one.lot_id for one, _, _ in found})
    return [Hard(run, step, one.on_hand, loads.get(one.lot_id)) for one, run, step in found]


def hardenings(lots: Iterable[int]) -> dict[int, OvenLoad]:
    """Return the load in which each lot was hardened last; a part that got a lot of its own was hardened with the whole."""
    found: dict[int, OvenLoad] = {}
    asked = {lot: lot for lot in lots}  # lot: itself, or the lot it was parted from
    while asked:
        own = _own(asked.values())
        found.update({lot: own[of] for lot, of in asked.items() if of in own})
        left = {lot: of for lot, of in asked.items() if of not in own}
        parents = LotParent.objects.filter(child__in=left.values()).order_by("-parent_id")
        above = dict(parents.values_list("child_id", "parent_id")) if left else {}
        asked = {lot: above[of] for lot, of in left.items() if of in above}
    return found


def _own(lots: Iterable[int]) -> dict[int, OvenLoad]:
    held = LoadLot.objects.filter(lot__in=set(lots), load__work=OvenLoad.Work.HARDEN, load__entry__reversed_by=None)
    return {one.lot_id: one.load for one in held.select_related("load").order_by("load__in_at", "load_id")}
