"""Runs, counts and oven loads: what a count says is what its entry moved, and no run is of two melts."""

from collections.abc import Iterator

from django.db.models import F, Q, Sum

from inventory.models import (
    CountReject,
    HandleSort,
    Holding,
    Item,
    LoadLot,
    Lot,
    Movement,
    OvenLoad,
    Place,
    RunCount,
    Step,
)
from inventory.queries.checking.span import CHUNK, Span
from inventory.queries.sums import total


def differences(span: Span) -> Iterator[str]:
    """Yield what is wrong with runs, their counts and their loads."""
    yield from _steel()
    yield from _counts(span)
    yield from _rejects()
    yield from _positions()
    yield from _loads(span)
    yield from _sorts()


def _steel() -> Iterator[str]:
    lots = Lot.objects.filter(run__isnull=False, item__kind=Item.Kind.HEAD).order_by("pk")
    for code, run in lots.exclude(melt_id=F("run__melt_id")).values_list("code", "run__code"):
        yield f"Lot {code} is of run {run} and of another melt than the run."
    for code, run in lots.exclude(item_id=F("run__item_id")).values_list("code", "run__code"):
        yield f"Lot {code} is of run {run} and is another head than the run makes."


def _counts(span: Span) -> Iterator[str]:
    """A count moved as many of the run as it says it took."""
    moved = Movement.objects.filter(from_place__inside=True)
    counts = RunCount.objects.filter(entry_id__gte=span.first_entry).annotate(
        all_moved=total(moved, "qty", entry="entry_id"),
        heads_moved=total(moved, "qty", entry="entry_id", item="run__item_id"),
    )
    rows = counts.order_by("pk").values_list(
        "pk", "run__code", "step__name", "step__work", "taken", "all_moved", "heads_moved"
    )
    for pk, run, step, work, taken, every, heads in rows.iterator(CHUNK):
        booked = heads if work == Step.Work.HAFT else every
        if booked != taken:
            yield f"Count {pk} of run {run} at {step} says {taken} were taken up; its entry moved {booked}."
    strange = RunCount.objects.exclude(step__route_id=F("run__route_id")).order_by("pk")
    for pk, run, step in strange.values_list("pk", "run__code", "step__name"):
        yield f"Count {pk} of run {run} is at {step}, which is not on the run's route."


def _rejects() -> Iterator[str]:
    """What was rejected by cause is what the count says of each fate; a handle alone is no piece."""
    pieces = CountReject.objects.filter(Q(cause=None) | Q(cause__handle_only=False))
    counts = RunCount.objects.all()
    sums: dict[tuple[int, str], int] = {}
    for count, fate, qty in pieces.order_by().values_list("count_id", "fate").annotate(qty=Sum("qty")).iterator(CHUNK):
        sums[count, fate] = int(qty)
    for pk, run, scrap, second, rework in counts.order_by("pk").values_list(
        "pk", "run__code", "scrap", "second", "rework"
    ):
        for fate, said in (("scrap", scrap), ("second", second), ("rework", rework)):
            told = sums.pop((pk, fate), 0)
            if told != said:
                yield f"Count {pk} of run {run} says {said} {fate}; its rejects by cause come to {told}."


def _positions() -> Iterator[str]:
    """Heads of a run stand after a step of its route, or before the first."""
    there = Holding.objects.filter(
        lot__run__isnull=False, on_hand__gt=0, step__gt=0, place__kind__in=(Place.Kind.FLOOR, Place.Kind.OVEN)
    )
    numbers = set(Step.objects.values_list("route_id", "number"))
    rows = there.order_by("pk").values_list("pk", "lot__code", "lot__run__code", "lot__run__route_id", "step")
    for pk, lot, run, route, step in rows.iterator(CHUNK):
        if (route, step) not in numbers:
            yield f"Holding {pk} (lot {lot}) stands after step {step}, which run {run} does not have."


def _loads(span: Span) -> Iterator[str]:
    held = LoadLot.objects.order_by("pk")
    brought = Movement.objects.filter(to_place__inside=True)
    fresh = held.filter(load__entry_id__gte=span.first_entry).annotate(
        moved=total(brought, "qty", entry="load__entry_id", lot="lot_id")
    )
    for pk, load, lot, qty, moved in fresh.exclude(moved=F("qty")).values_list(
        "pk", "load__number", "lot__code", "qty", "moved"
    ):
        yield f"Load lot {pk} says {qty} of lot {lot} went into load {load}; its entry moved {moved}."
    wrong = held.filter(open=True).filter(Q(load__out_at__isnull=False) | Q(load__entry__reversed_by__isnull=False))
    for pk, load in wrong.values_list("pk", "load__number"):
        yield f"Load lot {pk} is open in load {load}, which is out of the oven."
    shut = held.filter(open=False, load__out_at=None, load__entry__reversed_by=None)
    for pk, load in shut.values_list("pk", "load__number"):
        yield f"Load lot {pk} is closed in load {load}, which is still in the oven."
    in_oven = Holding.objects.filter(place__kind=Place.Kind.OVEN, on_hand__gt=0)
    open_lots = dict(held.filter(open=True, load__work=OvenLoad.Work.TEMPER).values_list("lot_id", "qty"))
    for pk, lot_id, code, on_hand in in_oven.order_by("pk").values_list("pk", "lot_id", "lot__code", "on_hand"):
        if open_lots.pop(lot_id, 0) != on_hand:
            yield f"Holding {pk} (lot {code} in the oven) is {on_hand}; no open load says so."
    for missing in sorted(open_lots):
        yield f"An open load holds lot {missing}; nothing of it stands in the oven."


def _sorts() -> Iterator[str]:
    sorts = HandleSort.objects.filter(entry__isnull=False).annotate(
        moved=total(Movement.objects.filter(from_place__inside=True), "qty", entry="entry_id")
    )
    for pk, bad, moved in sorts.exclude(moved=F("bad")).order_by("pk").values_list("pk", "bad", "moved"):
        yield f"Sorting {pk} says {bad} handles were no good; its entry moved {moved}."
