"""How runs, counts, loads and readings look in the API."""

from typing import Any

from inventory.models import Hardness, OvenLoad, Run, RunCount
from inventory.queries import along, runs
from inventory.queries.runs import Row
from shop.api import fields, shapes
from shop.api.patterns_shown import tenths

STANDS = shapes.thing(
    after=shapes.maybe(shapes.TEXT), step=shapes.WHOLE, place=shapes.TEXT, pieces=shapes.WHOLE,
    dry_at=shapes.maybe(shapes.MOMENT), load=shapes.maybe(shapes.WHOLE),
)  # fmt: skip
REJECT = shapes.thing(
    id=shapes.WHOLE, cause=shapes.maybe(shapes.TEXT), pieces=shapes.WHOLE,
    fate=shapes.words("scrap", "second", "rework"),
)  # fmt: skip
COUNT = shapes.thing(
    id=shapes.WHOLE,
    run=shapes.TEXT,
    point=shapes.TEXT,
    step=shapes.WHOLE,
    taken=shapes.WHOLE,
    good=shapes.WHOLE,
    scrap=shapes.WHOLE,
    second=shapes.WHOLE,
    rework=shapes.WHOLE,
    handles_lost=shapes.WHOLE,
    rejects=shapes.many(REJECT),
    booked_with_later=shapes.YES_NO,
    entry=shapes.WHOLE,
    undone=shapes.YES_NO,
    happened_at=shapes.MOMENT,
)
RUN = shapes.thing(
    code=shapes.TEXT,
    kind=shapes.words(*Run.Kind.values),
    pattern=shapes.TEXT,
    item=shapes.TEXT,
    mill_heat=shapes.maybe(shapes.TEXT),
    route_version=shapes.WHOLE,
    started=shapes.WHOLE,
    wanted=shapes.maybe(shapes.WHOLE),
    sure_of_100=shapes.WHOLE,
    started_at=shapes.MOMENT,
    joined_into=shapes.maybe(shapes.TEXT),
    stands=shapes.many(STANDS),
)
ONE_RUN = shapes.thing(**{**RUN["properties"], "counts": shapes.many(COUNT), "lots": shapes.many(shapes.TEXT)})
READING = shapes.thing(
    id=shapes.WHOLE,
    lot=shapes.TEXT,
    method=shapes.words(*Hardness.Method.values),
    hrc_from=shapes.QUANTITY,
    hrc_to=shapes.QUANTITY,
    inside=shapes.maybe(shapes.YES_NO),
    taken_back=shapes.YES_NO,
)
LOAD = shapes.thing(
    number=shapes.WHOLE,
    work=shapes.words(*OvenLoad.Work.values),
    oven=shapes.maybe(shapes.TEXT),
    temperature_celsius=shapes.QUANTITY,
    soak_minutes=shapes.WHOLE,
    heat_up_minutes=shapes.WHOLE,
    in_at=shapes.MOMENT,
    at_temperature_at=shapes.maybe(shapes.MOMENT),
    out_at=shapes.maybe(shapes.MOMENT),
    reached=shapes.maybe(shapes.YES_NO),
    lots=shapes.many(
        shapes.thing(lot=shapes.TEXT, run=shapes.maybe(shapes.TEXT), pieces=shapes.WHOLE, trial=shapes.TEXT)
    ),
    readings=shapes.many(READING),
)
_STANDS_EXAMPLE = {"after": None, "step": 0, "place": "floor", "pieces": 28, "dry_at": None, "load": None}
COUNT_EXAMPLE: dict[str, Any] = {
    "id": 7, "run": "K7", "point": "first forging heat", "step": 1, "taken": 28, "good": 27, "scrap": 1, "second": 0,
    "rework": 0, "handles_lost": 0, "rejects": [{"id": 31, "cause": "cheek split", "pieces": 1, "fate": "scrap"}],
    "booked_with_later": False, "entry": 18204, "undone": False, "happened_at": "2026-03-02T15:20:00Z",
}  # fmt: skip
RUN_EXAMPLE: dict[str, Any] = {
    "code": "K7", "kind": "series", "pattern": "CP2", "item": "HD-CP2", "mill_heat": "0048213", "route_version": 1,
    "started": 28, "wanted": 24, "sure_of_100": 90, "started_at": "2026-03-02T14:00:00Z", "joined_into": None,
    "stands": [_STANDS_EXAMPLE],
}  # fmt: skip
ONE_RUN_EXAMPLE = {**RUN_EXAMPLE, "counts": [COUNT_EXAMPLE], "lots": ["L1204"]}
READING_EXAMPLE = {
    "id": 3, "lot": "L1204", "method": "rockwell", "hrc_from": "53", "hrc_to": "53", "inside": True, "taken_back": False,
}  # fmt: skip
LOAD_EXAMPLE: dict[str, Any] = {
    "number": 14, "work": "temper", "oven": "OVEN", "temperature_celsius": "204", "soak_minutes": 120,
    "heat_up_minutes": 30, "in_at": "2026-03-02T15:00:00Z", "at_temperature_at": None, "out_at": None, "reached": None,
    "lots": [{"lot": "L1204", "run": "K7", "pieces": 26, "trial": ""}], "readings": [],
}  # fmt: skip


def run_shown(run: Run, row: Row | None, started: int) -> dict[str, Any]:
    """Return a run with where its pieces stand."""
    return {
        "code": run.code,
        "kind": run.kind,
        "pattern": run.pattern.code,
        "item": run.item.code,
        "mill_heat": run.melt.heat_number if run.melt else None,
        "route_version": run.route.version,
        "started": started,
        "wanted": run.wanted,
        "sure_of_100": run.sure_percent,
        "started_at": fields.moment(run.started_at),
        "joined_into": run.joined_into.code if run.joined_into else None,
        "stands": [
            {
                "after": step.name if (step := row.walk.numbered(one.step)) else None,
                "step": one.step,
                "place": one.place,
                "pieces": one.qty,
                "dry_at": fields.moment(one.dry_at),
                "load": one.load.number if one.load else None,
            }
            for one in row.here
        ]
        if row
        else [],
    }


def one_run_shown(run: Run) -> dict[str, Any]:
    """Return a run with its counts and lots."""
    shown = run_shown(run, runs.row_of(run), runs.started_of([run.pk]).get(run.pk, 0))
    counts = [count_shown(one) for one in runs.counts_of(run)[::-1]]
    return {**shown, "counts": counts, "lots": [lot.code for lot in runs.lots_of(run)]}


def count_shown(one: RunCount) -> dict[str, Any]:
    """Return a count."""
    return {
        "id": one.pk,
        "run": one.run.code,
        "point": one.step.name,
        "step": one.step.number,
        "taken": one.taken,
        "good": one.good,
        "scrap": one.scrap,
        "second": one.second,
        "rework": one.rework,
        "handles_lost": one.handles_lost,
        "rejects": [
            {"id": r.pk, "cause": r.cause.name if r.cause else None, "pieces": r.qty, "fate": r.fate}
            for r in one.rejects.select_related("cause").order_by("pk")
        ],
        "booked_with_later": one.caught_up,
        "entry": one.entry_id,
        "undone": type(one.entry).objects.filter(reverses=one.entry_id).exists(),
        "happened_at": fields.moment(one.entry.happened_at),
    }


def reading_shown(one: Hardness) -> dict[str, Any]:
    """Return a reading."""
    return {
        "id": one.pk,
        "lot": one.lot.code,
        "method": one.method,
        "hrc_from": tenths(one.low),
        "hrc_to": tenths(one.high),
        "inside": one.inside,
        "taken_back": one.withdrawn_at is not None,
    }


def load_shown(load: OvenLoad) -> dict[str, Any]:
    """Return an oven load."""
    return {
        "number": load.number,
        "work": load.work,
        "oven": load.oven.code if load.oven else None,
        "temperature_celsius": tenths(load.temperature_dc),
        "soak_minutes": load.soak_minutes,
        "heat_up_minutes": load.heat_up_minutes,
        "in_at": fields.moment(load.in_at),
        "at_temperature_at": fields.moment(load.at_temperature_at),
        "out_at": fields.moment(load.out_at),
        "reached": load.reached,
        "lots": [
            {
                "lot": held.lot.code,
                "run": held.lot.run.code if held.lot.run else None,
                "pieces": held.qty,
                "trial": held.trial,
            }
            for held in load.lots.select_related("lot__run").order_by("pk")
        ],
        "readings": [reading_shown(one) for one in load.hardness.select_related("lot").order_by("pk")],
    }


def walk_of(run: Run) -> along.Walk:
    """Return the steps of a run's route."""
    return along.walk(run.route)
