"""The floor as it is read: open runs, where their pieces stand along the shop, and what each waits for."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Q, Sum

from inventory.models import Entry, Holding, Item, LoadLot, Lot, Movement, OvenLoad, Place, Run, RunCount, Step
from inventory.queries import hard
from inventory.queries.along import Walk
from shop.shared.hours import Hours

COLUMNS = ("sawn", "first forging heat", "second forging heat", "ground", "hardened", "tempered", "checked", "hafted")
_BY_WORK = {"grind": 3, "harden": 4, "temper": 5, "check": 6, "finish": 6, "haft": 7, "oil": 7, "pack": 7}
BORN = (Entry.Kind.RUN_STARTED, Entry.Kind.MOVE_IN, Entry.Kind.RUN_SPLIT, Entry.Kind.COUNT)
_ON_THE_WAY = (Place.Kind.FLOOR, Place.Kind.OVEN, Place.Kind.CURE)


@dataclass(frozen=True, slots=True)
class Standing:
    """Pieces of a run that stand together: after which step, at which kind of place, since when, dry when."""

    step: int
    place: str
    qty: int
    column: int
    load: OvenLoad | None = None
    hardened_at: dt.datetime | None = None
    dry_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A run along the shop: how many were started, the good ones at each column so far, and where they stand now."""

    run: Run
    walk: Walk
    started: int
    passed: Mapping[int, int]
    here: Sequence[Standing]

    @property
    def most(self) -> Standing | None:
        """Return the biggest group; the one furthest behind where two are alike."""
        return max(self.here, key=lambda one: (one.qty, -one.column), default=None)


def column_of(walk: Walk, number: int) -> int:
    """Return the column of the shop for pieces that stand after a step."""
    column, forged = 0, 0
    for step in walk.steps:
        if step.number > number:
            break
        if step.work == Step.Work.FORGE and step.counting_point:
            forged += 1
            column = min(2, forged)
        elif step.work in _BY_WORK and (step.counting_point or step.work in (Step.Work.HARDEN, Step.Work.TEMPER)):
            column = _BY_WORK[step.work]
    return column


def open_rows(runs: Iterable[Run] | None = None) -> list[Row]:
    """Return the runs that have pieces in the works, the furthest behind last started first."""
    held = _held(runs)
    found = Run.objects.filter(pk__in=held).select_related("pattern", "item", "melt", "route")
    walks = _walks({run.route_id for run in found})
    started, passed = started_of(held), _passed(held)
    loads = _loads(held)
    hardened = hard.hardenings(
        one.lot_id for run in found for one in held[run.pk] if _stands_hard(walks[run.route_id], one.step)
    )
    rows = []
    for run in found:
        walk = walks[run.route_id]
        by_column: dict[int, int] = defaultdict(int)
        for number, good in passed.get(run.pk, {}).items():
            by_column[column_of(walk, number)] += good
        here = _standings(walk, held[run.pk], loads, hardened)
        rows.append(Row(run, walk, started.get(run.pk, 0), dict(by_column), here))
    return sorted(rows, key=lambda row: (min(one.column for one in row.here), row.run.started_at, row.run.pk))


def row_of(run: Run) -> Row | None:
    """Return one run as it stands along the shop; nothing where nothing of it is in the works."""
    rows = open_rows([run])
    return rows[0] if rows else None


def _held(runs: Iterable[Run] | None) -> dict[int, list[Holding]]:
    """Return what stands of runs: on the floor, in the oven, curing, and heads on the shelf that get a handle."""
    held = Holding.objects.filter(lot__run__isnull=False, on_hand__gt=0)
    if runs is not None:
        held = held.filter(lot__run__in=list(runs))
    unhafted = Q(place__sellable=True, item__kind=Item.Kind.HEAD, item__used_in__isnull=False) & Q(
        lot__run__route__steps__work=Step.Work.HAFT
    )
    held = held.filter(Q(place__kind__in=_ON_THE_WAY) | unhafted).distinct()
    by_run: dict[int, list[Holding]] = defaultdict(list)
    for holding in held.select_related("lot", "place").order_by("lot_id", "id"):
        by_run[holding.lot.run_id or 0].append(holding)
    return dict(by_run)


def _walks(routes: set[int]) -> dict[int, Walk]:
    steps: dict[int, list[Step]] = defaultdict(list)
    for step in Step.objects.filter(route__in=routes).select_related("tooling").order_by("route_id", "number"):
        steps[step.route_id].append(step)
    return {route: Walk(found) for route, found in steps.items()}


def started_of(runs: Iterable[int]) -> dict[int, int]:
    """Return how many pieces were started in each run, top-ups among them and what was parted off taken away."""
    wanted = list(runs)
    born = Movement.objects.filter(
        lot__run__in=wanted, item=F("lot__run__item"), from_place__inside=False, entry__kind__in=BORN,
        entry=F("lot__entry"), entry__reversed_by=None,
    )  # fmt: skip
    sums = {run: int(qty) for run, qty in born.order_by().values_list("lot__run").annotate(qty=Sum("qty"))}
    parted = Movement.objects.filter(
        entry__kind=Entry.Kind.RUN_SPLIT, entry__reversed_by=None, to_place__inside=False, lot__run__in=wanted
    )
    for run, qty in parted.order_by().values_list("lot__run").annotate(qty=Sum("qty")):
        sums[run] = sums.get(run, 0) - int(qty)
    return sums


def _passed(runs: Iterable[int]) -> dict[int, dict[int, int]]:
    counts = RunCount.objects.filter(run__in=list(runs), entry__reversed_by=None).order_by()
    passed: dict[int, dict[int, int]] = defaultdict(dict)
    for run, number, good in counts.values_list("run_id", "step__number").annotate(good=Sum("good")):
        passed[run][number] = int(good)
    loaded = LoadLot.objects.filter(lot__run__in=list(runs), load__entry__reversed_by=None).order_by()
    loaded = loaded.filter(Q(load__work=OvenLoad.Work.HARDEN) | Q(load__reached=True))
    for run, number, qty in loaded.values_list("lot__run", "step__number").annotate(qty=Sum("qty")):
        passed[run or 0][number] = int(qty)
    return passed


def _loads(runs: Iterable[int]) -> dict[int, OvenLoad]:
    """Return the open load of each lot."""
    lots = LoadLot.objects.filter(lot__run__in=list(runs), load__entry__reversed_by=None, open=True).order_by()
    return {held.lot_id: held.load for held in lots.select_related("load")}


def _stands_hard(walk: Walk, number: int) -> bool:
    step = walk.numbered(number)
    return step is not None and step.work == Step.Work.HARDEN


def _standings(
    walk: Walk, held: Sequence[Holding], loads: Mapping[int, OvenLoad], hardened: Mapping[int, OvenLoad]
) -> list[Standing]:
    last = walk.last_of_head()
    groups: dict[tuple[int, str, int | None, dt.datetime | None], list[Holding]] = defaultdict(list)
    for holding in held:
        load = loads.get(holding.lot_id) if holding.place.kind == Place.Kind.OVEN else None
        kind = "shelf" if holding.place.sellable else holding.place.kind
        groups[holding.step, kind, load.pk if load else None, holding.lot.usable_from].append(holding)
    found = []
    for (step, kind, _, dry_at), group in groups.items():
        stands = last.number if kind == "shelf" and last else step
        when = [hardened[one.lot_id].in_at for one in group if one.lot_id in hardened]
        found.append(
            Standing(
                stands,
                kind,
                sum(one.on_hand for one in group),
                column_of(walk, stands),
                loads.get(group[0].lot_id) if kind == Place.Kind.OVEN else None,
                min(when) if when and _stands_hard(walk, stands) else None,
                dry_at if kind == Place.Kind.CURE else None,
            )
        )
    return sorted(found, key=lambda one: (one.column, one.step, one.qty))


def without_a_run() -> list[Holding]:
    """Return heads that stand on the floor and are of no run yet."""
    there = Holding.objects.filter(
        place__kind=Place.Kind.FLOOR, on_hand__gt=0, lot__run=None, item__kind=Item.Kind.HEAD
    )
    return list(there.select_related("lot__item", "lot__melt", "item").order_by("lot_id", "step")[:50])


def find(code: str) -> Run | None:
    """Return the run of a code."""
    return Run.objects.filter(code=code.upper()).select_related("pattern", "item", "melt__grade", "route").first()


def counts_of(run: Run) -> list[RunCount]:
    """Return the counts of a run, the last first, those that were undone too."""
    found = RunCount.objects.filter(run=run).select_related("step", "entry__by").prefetch_related("rejects__cause")
    return list(found.order_by("-entry_id"))


def lots_of(run: Run) -> list[Lot]:
    """Return the lots of a run."""
    return list(Lot.objects.filter(run=run).select_related("item", "melt", "entry").order_by("id"))


def untempered(*, at: dt.datetime, hours: Hours) -> list[tuple[Row, Standing, dt.datetime]]:
    """Return what is hardened and not in the temper, with the time by which it has to be, the soonest first."""
    found = []
    for row in open_rows():
        for one in row.here:
            step = row.walk.numbered(one.step)
            if step is None or step.work != Step.Work.HARDEN or one.place != Place.Kind.FLOOR:
                continue
            found.append((row, one, hard.temper_by(step, one.hardened_at or at, hours)))
    return sorted(found, key=lambda each: each[2])
