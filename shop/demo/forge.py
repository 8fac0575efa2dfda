"""The demo's floor: runs started from sawn blanks, counted, hardened, tempered, hafted and packed, with rejects and bad weeks."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import F, Sum

from inventory.models import Holding, Item, Lot, Machine, Melt, OvenLoad, Pattern, Run, Step, ToolingSet
from inventory.queries import runs, tooling
from inventory.queries.runs import Row, Standing
from inventory.services import floor_notes, patterns, routes, tooling_sets
from inventory.services.count_facts import Fate, Reject, Seen
from inventory.services.hafting import Hafted
from inventory.services.hardness import Reading
from inventory.services.ledger import Stamp
from inventory.services.ovens import Fire, Into
from inventory.services.starting import Start
from shop.demo import goods
from shop.demo.day import Day
from shop.demo.opening import Stage
from shop.flows import floor
from shop.shared.units import parse_mass

TARGET = 26  # heads of the best seller in the works and on the shelf, the others by their share
OPENING_STEPS = (1, 2, 5)  # where moved-in heads stand: after the forging heats, and ground
USES = {
    "propane": "GAS", "coarse belt": "BELT36", "medium belt": "BELT120", "fine belt": "BELT220", "boiled linseed oil": "LOIL",
}  # fmt: skip
_BAD_WEEK = 11  # every so many weeks the steel or the fire is off


def set_up(stage: Stage, *, at: dt.datetime) -> None:
    """Write down machines, tooling, and each pattern's weight, window and route."""
    machines = [
        ("FORGE", "gas forge", "forge"), ("HAMMER", "power hammer", "hammer"), ("PRESS", "eye press", "press"),
        ("GRINDER", "belt grinder", "grinder"), ("OVEN", "tempering oven", "oven"), ("BENCH", "hafting bench", "bench"),
    ]  # fmt: skip
    made = {code: tooling_sets.add_machine(code, name, kind, at=at, by=stage.by) for code, name, kind in machines}
    for code, name, dress in (
        ("T2", "eye punch and drift, 1 x 3/4", 400),
        ("T4", "eye punch and drift, 7/8 x 5/8", 300),
    ):
        tooling_sets.add_tooling(code, name, [made["HAMMER"], made["PRESS"]], at=at, by=stage.by, dress_at=dress)
    for kind in goods.PATTERNS:
        pattern = Pattern.objects.get(code=kind.code)
        weight = parse_mass(kind.head).mg
        patterns.change_pattern(
            pattern, at=at, by=stage.by, head_mass_mg=weight, light_below_mg=weight * 97 // 100,
            heavy_above_mg=weight * 104 // 100, hard_low=450, hard_high=600,
            hard_source="ASME B107.54-2001, 4.3.1", aim="52 to 55 HRC", crack_check=kind.handle is not None,
            labour_minor_per_hour=3200,
        )  # fmt: skip
        seed = "in series with tooling" if kind.tooling else "free-hand"
        routes.seed_route(
            pattern, seed, at=at, by=stage.by, new=kind.code == "HC", tooling=kind.tooling, tool=kind.handle is not None,
            uses=USES,
        )  # fmt: skip


def open_runs(stage: Stage, *, at: dt.datetime) -> None:
    """Give codes to the heads that stood on the floor before the book."""
    for lot in Lot.objects.filter(holdings__place__kind="floor", run=None).order_by("pk").distinct():
        floor.open_run(lot, stamp=Stamp(at=at, by=stage.by))


def work(stage: Stage, day: Day) -> None:
    """Let the floor have one day."""
    _tooling(stage, day)
    for row in runs.open_rows():
        for standing in row.here:
            _next(stage, day, row, standing)
    _oven(stage, day)
    _start(stage, day)


def _tooling(stage: Stage, day: Day) -> None:
    """Change the tooling every few days, and dress it when it has made its pieces."""
    if day.number % 5 and not day.last:
        return
    for one in tooling.sets():
        if one.to_dress:
            tooling_sets.change_tooling(one.tooling, "dressed", at=day.moment(7, 30), by=stage.by)
    now = ToolingSet.objects.order_by("code")[(day.number // 5) % 2]
    tooling_sets.change_tooling(now, "in", at=day.moment(7, 40), by=stage.by)
    if day.number % 10 == 0:
        floor_notes.note("bottle changed", stamp=_stamp(stage, day.moment(7, 50)), item=stage.consumables["GAS"])


def _stamp(stage: Stage, at: dt.datetime, reason: str = "") -> Stamp:
    return Stamp(at=at, by=stage.by, reason=reason)


def _next(stage: Stage, day: Day, row: Row, one: Standing) -> None:
    if one.place == "cure":
        if one.dry_at is None or one.dry_at <= day.moment(8, 40):
            pack = row.walk.of_work(Step.Work.PACK)
            rejects = _rejects(stage, day, pack, one.qty) if pack else []
            good = one.qty - sum(r.qty for r in rejects)
            floor.pack(row.run, Seen(good, rejects), stamp=_stamp(stage, day.moment(8, 40)))
    elif one.place == "shelf":
        _haft(stage, day, row, one)
    elif one.place == "floor" and stage.dice.random() < (1 if day.sparse else 0.8):
        _count(stage, day, row, one)


def _count(stage: Stage, day: Day, row: Row, one: Standing) -> None:
    point = row.walk.next_point(one.step)
    if point is None or point.stage != Step.Stage.HEAD or row.walk.next_oven(one.step) is not None:
        return
    rejects = _rejects(stage, day, point, one.qty)
    good = one.qty - sum(r.qty for r in rejects)
    told = stage.dice.random() < 0.3
    minutes = round(one.qty * point.seconds_each / 60 * stage.dice.uniform(0.85, 1.3)) if told else None
    at = day.moment(15, stage.dice.randint(0, 50))
    if point.work == Step.Work.CHECK:
        seen = _checked(stage, good, rejects, minutes)
    else:
        seen = Seen(good, rejects, minutes=minutes or None)
    floor.count(row.run, point, seen, stamp=_stamp(stage, at))


def _checked(stage: Stage, good: int, rejects: Sequence[Reject], minutes: int | None) -> Seen:
    light = sum(stage.dice.random() < 0.1 for _ in range(good))
    heavy = sum(stage.dice.random() < 0.08 for _ in range(good - light))
    hrc = stage.dice.randint(520, 555)
    return Seen(
        good, rejects, crack_checked=True, reading=Reading("rockwell", hrc, hrc), minutes=minutes or None, light=light,
        in_class=good - light - heavy, heavy=heavy,
    )  # fmt: skip


def _rejects(stage: Stage, day: Day, step: Step, qty: int) -> list[Reject]:
    """Deal rejects out by the causes of a step; in a bad week there are three times as many."""
    shares = {"eye off centre": 14, "cheek split": 9, "mis-strike": 5, "cold shut": 8, "burnt": 2, "under weight": 6,
              "quench crack": 21, "soft face": 20, "over or under temper": 8, "head loose": 5, "grain run-out": 5}  # fmt: skip
    bad = 3 if (day.number // 7) % _BAD_WEEK == _BAD_WEEK - 2 else 1
    found, left = [], qty
    for cause in step.causes.order_by("pk"):
        share = shares.get(cause.name, 0) * bad / 1000
        number = min(left, sum(stage.dice.random() < share for _ in range(qty)))
        if not number or cause.handle_only:
            continue
        fate = (
            Fate.REWORK
            if cause.rework_to
            else Fate.SECOND
            if cause.second and stage.dice.random() < 0.5
            else Fate.SCRAP
        )
        found.append(Reject(number, cause, fate))
        left -= number
    return found


def _oven(stage: Stage, day: Day) -> None:
    """Harden what is ground when there is a good half load or it has waited, and temper it the same day."""
    waiting = _before(Step.Work.HARDEN)
    if sum(qty for _, qty in waiting) >= 14 or (waiting and day.date.weekday() == 4):
        loaded = [Into(run, qty, "file skates, grain fine") for run, qty in waiting]
        floor.harden(loaded, Fire(8_450, "845 °C"), stamp=_stamp(stage, day.moment(11, 30)))
    if day.last:
        return  # what was hardened on the last morning stands there to be seen
    soft = _before(Step.Work.TEMPER)
    if not soft:
        return
    fire = Fire(2_040, "400 °F", 120, 30, Machine.objects.get(code="OVEN"))
    load = floor.temper_in([Into(run, qty) for run, qty in soft], fire, stamp=_stamp(stage, day.moment(12, 10)))
    short = stage.dice.random() < 0.02
    load = OvenLoad.objects.get(pk=load.pk)
    floor.take_out(load, stamp=_stamp(stage, day.moment(13 if short else 14, 45)))


def _before(work_of: str) -> list[tuple[Run, int]]:
    found = []
    for row in runs.open_rows():
        qty = 0
        for one in row.here:
            step = row.walk.next_oven(one.step) if one.place == "floor" else None
            if step is not None and step.work == work_of and not row.walk.skipped(one.step, step):
                qty += one.qty
        if qty:
            found.append((row.run, qty))
    return found


def _haft(stage: Stage, day: Day, row: Row, one: Standing) -> None:
    kind = next(kind for kind in goods.PATTERNS if kind.code == row.run.pattern.code)
    if kind.handle is None or (day.date.weekday() not in (1, 3) and not day.sparse):
        return
    free = [stage.handles[kind.handle], stage.consumables["WW"], stage.consumables["SW"]]
    can = min(_free(item) for item in free)
    split = int(stage.dice.random() < 0.3 and can > 1)
    qty = min(one.qty, can - split, 16)
    if qty >= 1:
        hafted = Hafted(stage.tools[kind.code], Seen(qty), handles_lost=split)
        floor.haft(row.run, hafted, stamp=_stamp(stage, day.moment(14, 20)))


def _free(item: Item) -> int:
    there = Holding.objects.filter(item=item, place__sellable=True, step=0)
    return int(there.aggregate(free=Sum(F("on_hand") - F("allocated")))["free"] or 0)


def _start(stage: Stage, day: Day) -> None:
    """Start a run of the pattern that is shortest, where enough blanks of one mill heat lie sawn."""
    short = []
    for kind in goods.PATTERNS:
        head, tool = stage.heads[kind.code], stage.tools[kind.code]
        there = Holding.objects.filter(item__in=[head, tool], place__inside=True).exclude(
            place__kind__in=("seconds", "not to be used")
        )
        stands = int(there.aggregate(sum=Sum("on_hand"))["sum"] or 0)
        season = 1.5 if day.date.month in (9, 10, 11) else 0.9 if day.date.month in (6, 7) else 1.0
        short.append((TARGET * season * kind.share / 10 - stands, kind))
    short.sort(key=lambda each: -each[0])
    for missing, kind in short[:2]:
        if missing > 6:
            _start_one(stage, day, kind, round(missing))


def _start_one(stage: Stage, day: Day, kind: goods.PatternKind, missing: int) -> None:
    head, blank = stage.heads[kind.code], Item.objects.get(code=f"BL-{kind.code}")
    there = Holding.objects.filter(item=blank, place__sellable=True, step=0).order_by()
    sums = there.values_list("lot__melt_id").annotate(free=Sum(F("on_hand") - F("allocated")))
    melt, free = max(((melt, int(free)) for melt, free in sums), key=lambda each: each[1], default=(None, 0))
    if melt is None or free < 6:
        return
    qty = min(free, missing + 3, stage.dice.choice((16, 20, 24, 30)))
    wanted = max(1, round(qty * 0.86))
    start = Start(head, blank, Melt.objects.get(pk=melt), qty, wanted)
    floor.start(start, stamp=_stamp(stage, day.moment(9, stage.dice.randint(0, 30))))
