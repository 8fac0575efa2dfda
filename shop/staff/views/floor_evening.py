"""The evening form: all points of a run from its sheet; and counts made without wifi, sent when it is back."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Item, Run, Step
from inventory.queries import runs
from inventory.queries.runs import Row
from inventory.services.count_facts import Fate, Reject, Seen
from inventory.services.floor_tally import Tally
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.shared import shop_row, units
from shop.staff import posting, signing, wording
from shop.staff.fields import Moment, SlipForm, Whole
from shop.staff.views.floor import ROOM
from shop.staff.views.floor_forms import HardnessField

UNKNOWN = ""


def seen_of(step: Step, good: int, rejected: int, cause: str) -> Seen:
    """Return a count from two figures and a cause by its name; rejects go where the cause usually sends them."""
    if not rejected:
        return Seen(good)
    found = step.causes.filter(name=cause).first() if cause else None
    fate = Fate.REWORK if found and found.rework_to else Fate.SCRAP
    return Seen(good, (Reject(rejected, found, fate),))


def head_points(row: Row) -> list[Step]:
    """Return the points of the head that pieces of a run still have before them, as far as no oven lies between."""
    floor = [one for one in row.here if one.place == "floor"]
    return [
        step
        for step in row.walk.points
        if step.stage == Step.Stage.HEAD
        and any(one.step < step.number and row.walk.oven_between(one.step, step.number) is None for one in floor)
    ]


def sheet_points(row: Row) -> list[Step]:
    """Return every point that the run sheet may have counted: of the head, then the vice and the packing bench."""
    points = head_points(row)
    places = {one.place for one in row.here}
    checked = any(step.work == Step.Work.CHECK for step in points)
    haft, pack = row.walk.of_work(Step.Work.HAFT), row.walk.of_work(Step.Work.PACK)
    if haft and (checked or "shelf" in places):
        points.append(haft)
    if pack and "cure" in places:
        points.append(pack)
    return points


class EveningForm(SlipForm):
    """Good and rejected at each point, with the cause of the rejects."""

    happened_at = Moment(label="It happened at", help_text="Empty: now.")

    def __init__(self, *args: Any, points: Sequence[Step], **kwargs: Any) -> None:
        self.points = points
        super().__init__(*args, **kwargs)
        for step in points:
            key = step.number
            self.fields[f"good_{key}"] = Whole(label=f"Good at {step.name}", required=False, least=0)
            self.fields[f"bad_{key}"] = Whole(label="Rejected", required=False, least=0)
            causes = [(UNKNOWN, "not known yet"), *((c.name, c.name) for c in step.causes.order_by("pk"))]
            self.fields[f"cause_{key}"] = forms.ChoiceField(label="Cause", choices=causes, required=False)
            if step.work == Step.Work.CHECK:
                self.fields["crack_checked"] = forms.BooleanField(label="Looked at for cracks", required=False)
                self.fields["reading"] = HardnessField(label="Hardness", required=False)
        self.tune()

    def rows(self) -> list[tuple[Step, Any, Any, Any]]:
        """Return a line for each point."""
        return [
            (step, self[f"good_{step.number}"], self[f"bad_{step.number}"], self[f"cause_{step.number}"])
            for step in self.points
        ]

    def counted(self) -> list[tuple[Step, Seen]]:
        """Return what was written, point by point."""
        typed, found = self.cleaned_data, []
        for step in self.points:
            good, bad = typed[f"good_{step.number}"] or 0, typed[f"bad_{step.number}"] or 0
            if good or bad:
                seen = seen_of(step, good, bad, typed[f"cause_{step.number}"])
                if step.work == Step.Work.CHECK:
                    seen = replace(seen, crack_checked=typed["crack_checked"], reading=typed["reading"])
                found.append((step, seen))
        return found

    def checks(self) -> list[Any]:
        """Return what is asked beside a check."""
        return [self[name] for name in ("crack_checked", "reading") if name in self.fields]


def evening(request: HttpRequest, code: str) -> HttpResponse:
    """Copy the run sheet: every point that was counted on paper, in one go."""
    here, run = posting.here_of(request), runs.find(code)
    row = runs.row_of(run) if run else None
    if run is None or row is None:
        return posting.not_there(here)
    points = sheet_points(row)
    form = EveningForm(here.POST if here.method == "POST" else None, points=points, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _book(run, form, who), names=_names(points)
        )
        if done:
            return done
    facts = {"run": run, "row": row, "tiles": tablets.tiles()[:8] if here.tablet else []}
    return posting.sheet(here, "staff/floor/evening.html", ROOM, facts, form=form)


def _names(points: Sequence[Step]) -> dict[str, str]:
    first = points[0].number if points else 0
    return {"good": f"good_{first}", "rejects": f"bad_{first}", "hardness": "reading"}


def _book(run: Run, form: EveningForm, who: posting.Doing) -> tuple[str, str]:
    stamp = who.stamp(happened_at=form.cleaned_data["happened_at"])
    tool = Item.objects.filter(recipe__part=run.item_id, active=True).order_by("code").first()
    counted = form.counted()
    lost = sum(r.qty for _, seen in counted for r in seen.rejects if r.cause and r.cause.handle_only)
    made = flow.evening(run, counted, stamp=stamp, tool=tool, handles_lost=lost)
    points = "1 point" if len(made) == 1 else f"{len(made)} points"
    return reverse("staff:floor"), f"{run.code}: {points} of the run sheet are in the book."


class AwayForm(SlipForm):
    """A count of any run at any point, made where there may be no wifi."""

    what = forms.ChoiceField(label="Which run, which point")
    good = Whole(label="Good", least=0)
    rejected = Whole(label="Rejected", least=0, required=False)
    cause = forms.ChoiceField(label="Cause", required=False)
    happened_at = Moment(label="It happened at", help_text="Empty: at the touch.")


def away(request: HttpRequest) -> HttpResponse:
    """Count any run; what is touched without wifi is kept on the tablet and sent once."""
    here = posting.here_of(request)
    rows = {row.run.code: row for row in runs.open_rows()}
    points = [(row, step) for row in rows.values() for step in head_points(row) if step.work != Step.Work.CHECK]
    form = AwayForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    choices = {f"{row.run.code}-{step.number}": (row.run, step) for row, step in points}
    names = [(key, f"{run.code} · {step.name} · {run.pattern.name}") for key, (run, step) in choices.items()]
    form.fields["what"].choices = names  # type: ignore[attr-defined]
    if here.method == "POST":
        choices = _known_or_kept(here.POST.get("what", ""), choices)
        form.fields["what"].choices = [(key, key) for key in choices]  # type: ignore[attr-defined]
    causes = sorted({cause.name for _, step in points for cause in step.causes.all()})
    sent = here.POST.get("cause", "")[:40] if here.method == "POST" else ""
    listed = [*causes, sent] if sent and sent not in causes else causes
    form.fields["cause"].choices = [("", "not known yet"), *((name, name) for name in listed)]  # type: ignore[attr-defined]
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _book_away(*choices[form.cleaned_data["what"]], form, who),
            names={"step": "what", "run": "what", "rejects": "rejected"},
        )  # fmt: skip
        if done:
            return done
    facts = {"any": bool(points), "tiles": tablets.tiles()[:8] if here.tablet else []}
    return posting.sheet(here, "staff/floor/away.html", ROOM, facts, form=form)


def _known_or_kept(sent: str, choices: dict[str, tuple[Run, Step]]) -> dict[str, tuple[Run, Step]]:
    """Return the choices, and the one that was sent: a count that was kept may name a point that has passed since."""
    code, _, point = sent.rpartition("-")
    run, number = runs.find(code[:4]) if code else None, units.plain_number(point)
    if run is None or number is None:
        return choices
    step = run.route.steps.filter(number=number, counting_point=True, stage=Step.Stage.HEAD).first()
    return {**choices, sent: (run, step)} if step else choices


def _book_away(run: Run, step: Step, form: AwayForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    stamp = who.stamp(happened_at=typed["happened_at"])
    seen = seen_of(step, typed["good"], typed["rejected"] or 0, typed["cause"])
    made, _ = flow.count(run, step, seen, stamp=stamp, catch_up=True)
    said = f"{run.code}: {made.count.good} good at {step.name}, line {wording.figures(made.count.entry_id)}."
    return reverse("staff:floor_away"), said


class TallyForm(SlipForm):
    """What lies there of each run after each step; empty where it was not counted."""

    happened_at = Moment(label="Counted at", help_text="Empty: now.")

    def __init__(self, *args: Any, places: Sequence[tuple[Run, int, str]], **kwargs: Any) -> None:
        self.places = places
        super().__init__(*args, **kwargs)
        for run, step, where in places:
            label = f"{run.code}, {where}"
            self.fields[f"t_{run.pk}_{step}"] = Whole(label=label, required=False, least=0)
        self.tune()

    def rows(self) -> list[Any]:
        """Return the fields to be filled in."""
        return [self[f"t_{run.pk}_{step}"] for run, step, _ in self.places]

    def tallies(self) -> list[Tally]:
        """Return what was counted."""
        typed = self.cleaned_data
        return [
            Tally(run, step, typed[f"t_{run.pk}_{step}"])
            for run, step, _ in self.places
            if typed[f"t_{run.pk}_{step}"] is not None
        ]


def tally(request: HttpRequest) -> HttpResponse:
    """Count the whole floor by run and step, without being told what the book says."""
    here = posting.here_of(request)
    places = []
    for row in runs.open_rows():
        steps = sorted({one.step for one in row.here if one.place == "floor"})
        for number in steps:
            step = row.walk.numbered(number)
            places.append((row.run, number, f"through {step.name}" if step else "sawn, not forged yet"))
    form = TallyForm(here.POST if here.method == "POST" else None, places=places, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        first = f"t_{places[0][0].pk}_{places[0][1]}" if places else ""
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _tally(form, who), names={"found": first}
        )
        if done:
            return done
    facts = {"tiles": tablets.tiles()[:8] if here.tablet else []}
    return posting.sheet(here, "staff/floor/tally.html", ROOM, facts, form=form)


def _tally(form: TallyForm, who: posting.Doing) -> tuple[str, str]:
    found = flow.tally(form.tallies(), stamp=who.stamp(happened_at=form.cleaned_data["happened_at"]))
    off = [f"{one.tally.run.code}: {one.before} in the book, {one.tally.found} found" for one in found if one.entry]
    said = "; ".join(off[:5])
    told = f"Unexplained and booked so: {said}." if off else "All that was counted agrees with the book."
    return reverse("staff:floor"), told
