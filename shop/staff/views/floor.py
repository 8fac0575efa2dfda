"""The Floor: pieces along the shop, one row a run, and what waits for what in words."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Holding, Item, OvenLoad, RecipePart, RunCount
from inventory.queries import runs, tooling
from inventory.queries.runs import COLUMNS, Row, Standing
from shop.shared import clock, shop_row
from shop.shared.hours import Hours
from shop.staff import posting, wording
from shop.staff.views import floor_words as words

ROOM = "floor"


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands under a column: pieces that stand here with why, or good ones that passed."""

    here: Sequence[tuple[int, str]]
    was: int


@dataclass(frozen=True, slots=True)
class Shown:
    """A run's row on the page: where a touch leads, and a cell for each column."""

    row: Row
    address: str
    said: str
    cells: Sequence[tuple[str, Cell]]


@dataclass(frozen=True, slots=True)
class Wait:
    """A line of what waits: figure, unit, bold words, sentence, one thing to do."""

    figure: str
    unit: str
    bold: str
    words: str
    address: str = ""
    do: str = ""
    loud: bool = False
    time: bool = False


def floor(request: HttpRequest) -> HttpResponse:
    """Print the floor as the book stands."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = clock.now()
    hours = shop_row.hours_of(shop, now)
    rows = runs.open_rows()
    sets = tooling.sets()
    short = parts_short(rows)
    shown = [_shown(row, now, hours, {one.tooling.pk for one in sets if one.is_in}, short) for row in rows]
    totals = [0] * len(COLUMNS)
    for row in rows:
        for one in row.here:
            totals[one.column] += one.qty
    facts = {
        "columns": COLUMNS,
        "totals": totals,
        "total": sum(totals),
        "shown": shown,
        "waits": _waits(rows, short, now, hours),
        "opening": runs.without_a_run(),
        "tooling_in": [one for one in sets if one.is_in],
        "counted_today": _counted_today(now, shop.zone),
    }
    return posting.sheet(here, "staff/floor/floor.html", ROOM, facts)


def _counted_today(now: dt.datetime, zone: str) -> int:
    start = clock.at_local(clock.local_date(now, zone), 0, zone)
    counts = RunCount.objects.filter(entry__happened_at__gte=start, entry__reversed_by=None, caught_up=False)
    return int(counts.aggregate(sum=Sum("taken"))["sum"] or 0)


def _shown(row: Row, now: dt.datetime, hours: Hours, in_now: set[int], short: Mapping[int, str]) -> Shown:
    furthest = max(one.column for one in row.here)
    cells = []
    for column, name in enumerate(COLUMNS):
        here = [
            (
                one.qty,
                words.waits(row, one, now=now, hours=hours, tooling_in=in_now, parts_short=short.get(row.run.pk, "")),
            )
            for one in row.here
            if one.column == column
        ]
        was = row.started if column == 0 else min(row.started, row.passed.get(column, 0))
        cells.append((name, Cell(here, was if column < furthest and not here else 0)))
    most = row.most
    address = address_of(row, most) if most else reverse("staff:floor_run", args=[row.run.code])
    return Shown(row, address, f"Count run {row.run.code}", cells)


def address_of(row: Row, one: Standing) -> str:
    """Return the page where the next work on a group of pieces is booked."""
    code = row.run.code
    if one.load is not None:
        return reverse("staff:floor_load", args=[one.load.number])
    if one.place == "cure":
        return reverse("staff:floor_pack", args=[code])
    if one.place == "shelf":
        return reverse("staff:floor_haft", args=[code])
    if row.walk.next_oven(one.step) is not None:
        return f"{reverse('staff:floor_oven')}?run={code}"
    return f"{reverse('staff:floor_count', args=[code])}?from={one.step}"


def parts_short(rows: Sequence[Row]) -> dict[int, str]:
    """Say for each run whose heads get handles how many handles or wedges are short for all that are checked."""
    heads = {row.run.pk: sum(one.qty for one in row.here if one.place == "shelf") for row in rows}
    checked = [row.run for row in rows if heads[row.run.pk]]
    tools: dict[int, int] = {}
    of_heads = RecipePart.objects.filter(part__in={run.item_id for run in checked}, tool__active=True)
    for part, tool in of_heads.order_by("tool__code").values_list("part_id", "tool_id"):
        tools.setdefault(part, tool)
    parts = list(RecipePart.objects.filter(tool__in=tools.values()).select_related("part").order_by("id"))
    there = Holding.objects.filter(item__in={one.part_id for one in parts}, place__sellable=True, step=0)
    free = dict(there.order_by().values_list("item_id").annotate(sum=Sum("on_hand")))
    said: dict[int, str] = {}
    for run in checked:
        for one in parts:
            if one.tool_id != tools.get(run.item_id) or one.part_id == run.item_id or run.pk in said:
                continue
            missing = heads[run.pk] * one.quantity - int(free.get(one.part_id, 0))
            if missing > 0:
                kind = "handles" if one.part.kind == Item.Kind.HANDLE else one.part.name
                said[run.pk] = f"{kind} {wording.figures(missing)} short"
    return said


def _waits(rows: Sequence[Row], short: Mapping[int, str], now: dt.datetime, hours: Hours) -> list[Wait]:
    lines = [_untempered(*each, now, hours.zone) for each in runs.untempered(at=now, hours=hours)]
    lines += _in_oven(now, hours.zone)
    for row in rows:
        if row.run.pk in short:
            heads = sum(one.qty for one in row.here if one.place == "shelf")
            haft = reverse("staff:floor_haft", args=[row.run.code])
            lines.append(
                Wait(
                    wording.figures(heads), "heads" if heads != 1 else "head", f"of {row.run.code} are checked:",
                    f"{short[row.run.pk]}.", haft, "Haft what goes",
                )
            )  # fmt: skip
    return lines


def _untempered(row: Row, one: Standing, by: dt.datetime, now: dt.datetime, zone: str) -> Wait:
    due = words.when(by, now, zone)
    late = f"should have been in the temper by {due}." if by < now else f"must be in the temper by {due}."
    return Wait(
        words.hour(by, zone), "", f"The {one.qty} of {row.run.code} {late}",
        "Glass-hard: do not strike, drop, haft or send.",
        f"{reverse('staff:floor_oven')}?run={row.run.code}", "Load the oven", loud=True, time=True,
    )  # fmt: skip


def _in_oven(now: dt.datetime, zone: str) -> list[Wait]:
    lines = []
    for load in open_loads():
        out = load.in_at + dt.timedelta(minutes=load.heat_up_minutes + load.soak_minutes)
        held = list(load.lots.select_related("lot__run", "step"))
        names = ", ".join(sorted({one.lot.run.code for one in held if one.lot.run}))
        share = sum(one.qty / one.step.oven_fits for one in held if one.step.oven_fits)
        full = f"The oven is {_share(share)} full. " if share else ""
        hot = f"Soak ends {words.when(out, now, zone)}." if out > now else f"Soak ended {words.when(out, now, zone)}."
        lines.append(
            Wait(
                wording.figures(sum(one.qty for one in held)), "in the oven", f"load {load.number}, {names}:",
                f"{full}{hot}", reverse("staff:floor_load", args=[load.number]), "Take it out",
            )
        )  # fmt: skip
    return lines


def _share(share: float) -> str:
    """Write how full the oven is in words of a smith: a third, half, all."""
    for most, said in (
        (0.15, "hardly"),
        (0.29, "a quarter"),
        (0.4, "a third"),
        (0.58, "half"),
        (0.85, "three quarters"),
    ):
        if share < most:
            return said
    return "all" if share <= 1.05 else "more than"


def open_loads() -> list[OvenLoad]:
    """Return the loads in the oven, the first in first."""
    return list(OvenLoad.objects.filter(out_at=None, entry__reversed_by=None).order_by("in_at", "id"))
