"""The oven: what waits to be hardened or tempered, what is in, and what came of a load."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Machine, OvenLoad, Step
from inventory.queries import runs
from inventory.queries.runs import Row
from inventory.services import ovens
from inventory.services.ovens import Fire, Into
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.shared import clock, shop_row
from shop.staff import posting, signing
from shop.staff.fields import Moment, SlipForm, Whole
from shop.staff.views import floor_words as words
from shop.staff.views.floor import ROOM, open_loads
from shop.staff.views.floor_forms import Degrees, HardnessField

TRIALS = [
    ("file skates, grain fine", "file skates, grain fine"),
    ("file skates, grain coarse", "file skates, grain coarse"),
    ("file bites", "file bites: soft"),
]


@dataclass(frozen=True, slots=True)
class Waiting:
    """Pieces of a run that stand before this work of the oven."""

    row: Row
    step: Step
    qty: int


class LoadForm(SlipForm):
    """Which runs go in, how many of each, and how the oven is set."""

    temperature = Degrees(label="Temperature")
    happened_at = Moment(label="It happened at", help_text="Empty: now.")

    def __init__(self, *args: Any, waiting: Sequence[Waiting], **kwargs: Any) -> None:
        self.waiting = waiting
        super().__init__(*args, **kwargs)
        for one in waiting:
            code = one.row.run.code
            self.fields[f"in_{code}"] = forms.BooleanField(label=f"{code}, {one.row.run.pattern.name}", required=False)
            self.fields[f"qty_{code}"] = Whole(label=f"Only so many of {code}", required=False)
            self.more(code)
        self.tune()

    def more(self, code: str) -> None:
        """Add what this work asks of each run."""

    def clean(self) -> dict[str, Any]:
        """Refuse a load of nothing."""
        typed = super().clean() or {}
        if not any(typed.get(f"in_{one.row.run.code}") for one in self.waiting):
            self.add_error(None, "No run is chosen; tick what goes in.")
        return typed

    def rows(self) -> list[tuple[Waiting, list[Any], list[Any]]]:
        """Return each run with the fields asked of it, and those seldom needed."""
        found = []
        for one in self.waiting:
            code = one.row.run.code
            often = [self[name] for name in (f"in_{code}", f"trial_{code}") if name in self.fields]
            seldom = [self[name] for name in (f"qty_{code}", f"reading_{code}") if name in self.fields]
            found.append((one, often, seldom))
        return found

    def loaded(self) -> list[Into]:
        """Return what goes in."""
        typed = self.cleaned_data
        return [
            Into(
                one.row.run,
                typed[f"qty_{one.row.run.code}"] or one.qty,
                typed.get(f"trial_{one.row.run.code}") or "",
                typed.get(f"reading_{one.row.run.code}"),
            )
            for one in self.waiting
            if typed.get(f"in_{one.row.run.code}")
        ]


class HardenForm(LoadForm):
    """Hardening: every run with its own trial piece or a reading."""

    def more(self, code: str) -> None:
        """Ask for the trial piece."""
        self.fields[f"trial_{code}"] = forms.ChoiceField(
            label=f"Trial piece of {code}", choices=TRIALS, widget=forms.RadioSelect, required=False
        )
        self.fields[f"reading_{code}"] = HardnessField(label=f"Or a reading of {code}", required=False)


class TemperForm(LoadForm):
    """Tempering: one temperature and one soak for all that goes in."""

    soak = Whole(label="Soak in minutes", most=10_000)
    heat_up = Whole(label="Minutes to come to temperature", required=False, least=0, most=1_000)
    oven = forms.ChoiceField(label="Oven", required=False)


def oven(request: HttpRequest) -> HttpResponse:
    """Show what waits for the oven and what is in it; book a hardening or put a temper in."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    rows = runs.open_rows()
    hard, soft = waiting_for(rows, Step.Work.HARDEN), waiting_for(rows, Step.Work.TEMPER)
    asked = here.POST.get("work") if here.method == "POST" else None
    chosen = {f"in_{code[:4].upper()}": True for code in here.GET.getlist("run")}
    harden = HardenForm(
        here.POST if asked == "harden" else None, waiting=hard, shop=shop, initial={**chosen, **_set_as(hard)}
    )
    temper = TemperForm(
        here.POST if asked == "temper" else None, waiting=soft, shop=shop, initial={**chosen, **_set_as(soft)}
    )
    ovens_there = list(Machine.objects.filter(kind="oven", active=True).order_by("code"))
    temper.fields["oven"].choices = [(one.code, one.name) for one in ovens_there] or [("", "the oven")]  # type: ignore[attr-defined]
    form: LoadForm | None = {"harden": harden, "temper": temper}.get(asked or "")
    if form is not None and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, lambda who: _load(form, who), names=_names(form))
        if done:
            return done
    facts = {
        "harden": harden if hard else None,
        "temper": temper if soft else None,
        "loads": [_load_line(load, shop.zone) for load in open_loads()],
        "done": list(OvenLoad.objects.filter(out_at__isnull=False, entry__reversed_by=None).order_by("-pk")[:12]),
        "share": _share(soft),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/floor/oven.html", ROOM, facts, form=form)


def waiting_for(rows: Sequence[Row], work: str) -> list[Waiting]:
    """Return what stands before a work of the oven, by run; what has passed a point uncounted is left out."""
    found = []
    for row in rows:
        qty, step = 0, None
        for one in row.here:
            after = row.walk.next_oven(one.step) if one.place == "floor" else None
            if after is not None and after.work == work and not row.walk.skipped(one.step, after):
                qty, step = qty + one.qty, after
        if qty and step is not None:
            found.append(Waiting(row, step, qty))
    return found


def _set_as(waiting: Sequence[Waiting]) -> dict[str, Any]:
    """Return how the oven is set for what waits first, by its route."""
    if not waiting:
        return {}
    step = waiting[0].step
    set_as: dict[str, Any] = {"soak": step.soak_minutes or "", "heat_up": ovens.HEAT_UP_MINUTES}
    if step.temperature_dc:
        set_as["temperature"] = f"{step.temperature_dc / 10:.0f} C"
    return set_as


def _names(form: LoadForm) -> dict[str, str]:
    first = form.waiting[0].row.run.code if form.waiting else ""
    return {"trial": f"trial_{first}", "qty": f"qty_{first}", "soak_minutes": "soak"}


def _load(form: LoadForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    stamp = who.stamp(happened_at=typed["happened_at"])
    tenths, said = typed["temperature"]
    if isinstance(form, HardenForm):
        load = flow.harden(form.loaded(), Fire(tenths, said), stamp=stamp)
        qty = sum(one.qty for one in load.lots.all())
        runs_in = "&".join(f"run={one.run.code}" for one in form.loaded())
        return (
            f"{reverse('staff:floor_oven')}?{runs_in}",
            f"Load {load.number}: {qty} hardened. Into the temper at once.",
        )
    machine = Machine.objects.filter(code=typed["oven"]).first()
    heat_up = typed["heat_up"] if typed["heat_up"] is not None else ovens.HEAT_UP_MINUTES
    load = flow.temper_in(form.loaded(), Fire(tenths, said, typed["soak"], heat_up, machine), stamp=stamp)
    out = load.in_at + dt.timedelta(minutes=load.heat_up_minutes + load.soak_minutes)
    until = words.when(out, who.at, shop_row.the_shop().zone)
    return reverse("staff:floor"), f"Load {load.number} is in the oven until {until}."


def _share(waiting: Sequence[Waiting]) -> str:
    share = sum(one.qty / one.step.oven_fits for one in waiting if one.step.oven_fits)
    return f"{share:.1f}" if share else ""


def _load_line(load: OvenLoad, zone: str) -> dict[str, object]:
    out = load.in_at + dt.timedelta(minutes=load.heat_up_minutes + load.soak_minutes)
    held = load.lots.select_related("lot__run")
    return {
        "load": load,
        "qty": sum(one.qty for one in held),
        "runs": ", ".join(sorted({one.lot.run.code for one in held if one.lot.run})),
        "out": words.when(out, clock.now(), zone),
    }
