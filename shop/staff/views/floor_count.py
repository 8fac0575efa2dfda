"""Counting a run: which pieces, how many good, how many rejected by cause; a name books it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import Run, Step
from inventory.queries import runs, short_runs
from inventory.queries.runs import Row, Standing
from inventory.queries.short_runs import Short
from inventory.services.run_counting import Counted
from shop.access.middleware import Here
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.shared import shop_row, units
from shop.staff import posting, signing, wording
from shop.staff.views import floor_words as words
from shop.staff.views.floor import ROOM, address_of
from shop.staff.views.floor_forms import CheckForm, CountForm

_RENAMED = {"good": "only", "rejects": "only", "step": "only", "hardness": "reading"}


@dataclass(frozen=True, slots=True)
class Asked:
    """Which pieces are counted at which point."""

    row: Row
    standing: Standing
    step: Step

    @property
    def run(self) -> Run:
        """Return the run."""
        return self.row.run


def count(request: HttpRequest, code: str) -> HttpResponse:
    """Count pieces of a run at the next point, or at a later one."""
    here, run = posting.here_of(request), runs.find(code)
    if run is None:
        return posting.not_there(here)
    row = runs.row_of(run)
    asked = _asked(here, row) if row else None
    if row is None or asked is None:
        most = row.most if row else None
        return HttpResponseRedirect(
            address_of(row, most)
            if row and most and _elsewhere(row, most)
            else reverse("staff:floor_run", args=[run.code])
        )
    kind = CheckForm if asked.step.work == Step.Work.CHECK else CountForm
    causes = list(asked.step.causes.order_by("pk"))
    sent = here.POST if here.method == "POST" else None
    form = kind(sent, step=asked.step, causes=causes, stand=asked.standing.qty, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _book(asked, form, who, here.POST), names=_RENAMED
        )
        if done:
            return done
    return posting.sheet(here, "staff/floor/count.html", ROOM, _facts(here, asked, form), form=form)


def _elsewhere(row: Row, one: Standing) -> bool:
    return one.place != "floor" or row.walk.next_oven(one.step) is not None


def _asked(here: Here, row: Row) -> Asked | None:
    """Return what is to be counted: where the address says so, else the biggest group that waits for a count.

    A form that was sent is taken at its word: pieces that have gone on meanwhile are refused, and no others counted.
    """
    if here.method == "POST":
        return _as_sent(here, row)
    from_step, at = units.plain_number(here.GET.get("from")), units.plain_number(here.GET.get("at"))
    groups = [one for one in row.here if one.place == "floor" and row.walk.next_oven(one.step) is None]
    groups = [one for one in groups if row.walk.next_point(one.step) is not None]
    chosen = next((one for one in groups if one.step == from_step), None)
    if chosen is None:
        chosen = max(groups, key=lambda one: one.qty, default=None)
    if chosen is None:
        return None
    step = row.walk.next_point(chosen.step)
    later = row.walk.numbered(at) if at is not None else None
    if later and later.counting_point and later.number > chosen.step and later.stage == Step.Stage.HEAD:
        step = later
    return Asked(row, chosen, step) if step and step.stage == Step.Stage.HEAD else None


def _as_sent(here: Here, row: Row) -> Asked | None:
    from_step, at = units.plain_number(here.POST.get("from")), units.plain_number(here.POST.get("at"))
    step = row.walk.numbered(at) if at is not None else None
    if from_step is None or step is None or not step.counting_point or step.stage != Step.Stage.HEAD:
        return None
    there = [one for one in row.here if one.place == "floor" and one.step == from_step]
    stood = units.plain_number(here.POST.get("stood"))
    qty = stood if stood is not None else sum(one.qty for one in there)
    return Asked(row, Standing(from_step, "floor", qty, 0), step)


def _book(asked: Asked, form: CountForm | CheckForm, who: posting.Doing, sent: Mapping[str, Any]) -> tuple[str, str]:
    stamp = who.stamp(happened_at=form.cleaned_data["happened_at"])
    catch_up = sent.get("catch_up") == "yes"
    seen = form.seen()
    together = catch_up and seen.taken != asked.standing.qty
    made, served = flow.count(
        asked.run, asked.step, seen, stamp=stamp, catch_up=catch_up, after=None if together else asked.standing.step
    )
    said = _said(made)
    if served:
        orders = ", ".join(str(number) for number in sorted({line.order.number for line in served}))
        said += f" Set aside for order {orders}."
    short = short_runs.short(asked.run) if asked.step.stage == Step.Stage.HEAD else None
    if short and short.tooling_in and short.blanks and asked.step.work == Step.Work.FORGE:
        return reverse("staff:floor_run", args=[asked.run.code]), said
    return reverse("staff:floor"), said + (short_words(short) if short else "")


def _said(made: Counted) -> str:
    late = f" {len(made.before)} points before it were booked with it." if len(made.before) > 1 else ""
    late = f" {made.before[0].step.name.capitalize()} was booked with it." if len(made.before) == 1 else late
    return f"{made.count.run.code}: {words.counted(made.count)}, line {wording.figures(made.count.entry_id)}.{late}"


def short_words(short: Short) -> str:
    """Say that a run will be short, and of what."""
    if short.missing:
        return f" {short.run.code} is likely {short.missing} short of {short.run.wanted}."
    return f" {short.run.wanted} good of {short.run.code} now come {words.in_hundred(short.chance)}."


_FEW = ("1", "2", "3", "4")  # what a touch says; five and more are typed


def _facts(here: Here, asked: Asked, form: CountForm | CheckForm) -> dict[str, object]:
    row, run = asked.row, asked.run
    later = [one for one in row.walk.points if one.number > asked.standing.step and one.stage == Step.Stage.HEAD]
    later = [one for one in later if row.walk.oven_between(asked.standing.step, one.number) is None]
    others = [one for one in row.here if (one.place, one.step) != (asked.standing.place, asked.standing.step)]
    rejected = sum(int(s["chosen"]) for s in form.strips() if s["chosen"] in _FEW)
    return {
        "run": run,
        "step": asked.step,
        "standing": asked.standing,
        "stood": row.walk.numbered(asked.standing.step),
        "likely_good": max(0, asked.standing.qty - rejected),
        "strips": form.strips(),
        "later": [one for one in later if one.pk != asked.step.pk],
        "others": [(one, address_of(row, one), row.walk.numbered(one.step)) for one in others],
        "is_check": isinstance(form, CheckForm),
        "classes": words.weight_classes(run.pattern),
        "window": window(run),
        "skipped": form.is_bound and any(str(said).startswith("Not counted yet") for said in form.non_field_errors()),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
        "figures": ("0", "1", "2", "3", "4", "5+"),
        "catch_up": here.POST.get("catch_up", ""),
    }


def window(run: Run) -> str:
    """Write the published window of a run's pattern, and the shop's aim."""
    pattern = run.pattern
    if pattern.hard_low is None or pattern.hard_high is None:
        return ""
    aim = f"; aim: {pattern.aim}" if pattern.aim else ""
    return f"{pattern.hard_low / 10:g} to {pattern.hard_high / 10:g} HRC, {pattern.hard_source}{aim}"
