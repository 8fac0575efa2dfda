"""Tooling in and out, what stopped the work, and bottles that were changed."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import FloorNote, Item, Run, ToolingChange
from inventory.queries import runs, tooling, used_up
from inventory.services import floor_notes, tooling_sets
from shop.access.roles import DESK, reaches
from shop.access.services import tablets
from shop.shared import shop_row
from shop.staff import posting, signing, wording
from shop.staff.fields import Moment, SlipForm, Words
from shop.staff.views.floor import ROOM

_DO = [("in", "put in"), ("dressed", "dressed"), ("out of use", "out of use"), ("back in use", "back in use")]
_WHAT = [(what.value, what.value) for what in FloorNote.What]


class ToolingForm(SlipForm):
    """What was done to a tooling set."""

    tooling = forms.ChoiceField(label="Which tooling")
    what = forms.ChoiceField(label="It was", choices=_DO, widget=forms.RadioSelect, initial=ToolingChange.What.IN)
    note = Words(longest=200, label="Note", required=False)
    happened_at = Moment(label="It happened at", help_text="Empty: now.")


def tooling_room(request: HttpRequest) -> HttpResponse:
    """Show what is in which machine; put in, dress, take out of use."""
    here = posting.here_of(request)
    found = {one.tooling.code: one for one in tooling.sets()}
    form = ToolingForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    form.fields["tooling"].choices = [(code, f"{code}, {one.tooling.name}") for code, one in found.items()]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        one = found[typed["tooling"]].tooling
        stamp = who.stamp(happened_at=typed["happened_at"])
        tooling_sets.change_tooling(one, typed["what"], at=stamp.when, by=who.by, note=typed["note"])
        return reverse("staff:floor_tooling"), f"{one.name}: {dict(_DO)[typed['what']]}."

    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, act)
        if done:
            return done
    facts = {
        "sets": list(found.values()),
        "desk": reaches(here.acting_role, DESK),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/floor/tooling.html", ROOM, facts, form=form)


class NoteForm(SlipForm):
    """What stopped the work, or a bottle that was changed."""

    what = forms.ChoiceField(label="What", choices=_WHAT, widget=forms.RadioSelect)
    run = forms.ChoiceField(label="Which run", required=False)
    item = forms.ChoiceField(label="What is in the bottle", required=False)
    note = Words(longest=200, label="Note", required=False)
    happened_at = Moment(label="It happened at", help_text="Empty: now.")


def note(request: HttpRequest) -> HttpResponse:
    """Note what stopped the work, or that a bottle was changed."""
    here = posting.here_of(request)
    form = NoteForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    open_runs = [row.run for row in runs.open_rows()]
    bottles = list(Item.objects.filter(kind=Item.Kind.CONSUMABLE, buy_unit="bottle", active=True).order_by("code"))
    form.fields["run"].choices = [("", "no run"), *((run.code, run.code) for run in open_runs)]  # type: ignore[attr-defined]
    form.fields["item"].choices = [("", "no bottle"), *((one.code, one.name) for one in bottles)]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        bottle = next((one for one in bottles if one.code == typed["item"]), None)
        if typed["what"] == FloorNote.What.BOTTLE and bottle is None and len(bottles) == 1:
            bottle = bottles[0]
        run = Run.objects.filter(code=typed["run"]).first() if typed["run"] else None
        stamp = who.stamp(happened_at=typed["happened_at"])
        floor_notes.note(typed["what"], stamp=stamp, run=run, item=bottle, words=typed["note"])
        return reverse("staff:floor"), f"Noted: {typed['what']}."

    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, act)
        if done:
            return done
    facts = {
        "tiles": tablets.tiles()[:8] if here.tablet else [],
        "bottles": [_bottle_said(one) for one in used_up.bottles()],
        "notes": FloorNote.objects.select_related("run", "item", "by").order_by("-at", "-pk")[:20],
    }
    return posting.sheet(here, "staff/floor/note.html", ROOM, facts, form=form)


def _bottle_said(one: used_up.Learned) -> str:
    """Say how many pieces a bottle lasts, and how many have gone through since it was changed."""
    since = f"{wording.figures(one.since)} since it was changed"
    if one.lasts is None:
        return f"{one.item.name}: {since}."
    usual, low, high = one.lasts
    learned = f"from {one.use.intervals} bottles" if one.use.intervals else "as the routes say"
    return f"{one.item.name}: a {one.item.buy_unit or 'bottle'} lasts about {usual} pieces ({low} to {high}, {learned}); {since}."
