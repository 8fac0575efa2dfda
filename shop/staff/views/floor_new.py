"""What a shop writes down once: a new pattern, a new machine, a new tooling set."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Machine
from inventory.services import patterns, routes, tooling_sets
from shop.shared import shop_row
from shop.shared.units.pieces import MOST_PIECES
from shop.staff import posting
from shop.staff.fields import SlipForm, Whole, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.floor import ROOM


class PatternForm(SlipForm):
    """A pattern and the items made by it."""

    code = Words(longest=20, label="Code", required=True, help_text="Begins with a letter: CP, H-2.")
    name = Words(longest=80, label="Name", required=True)
    items = Words(
        longest=300, label="Made by it", required=False, help_text="Codes of its blank, head and tools, commas between."
    )


class MachineForm(SlipForm):
    """A machine of the shop."""

    code = Words(longest=20, label="Code", required=True, help_text="Begins with a letter: HAMMER, OVEN-2.")
    name = Words(longest=60, label="Name", required=True)
    kind = forms.ChoiceField(label="Kind", choices=[(kind, kind) for kind in tooling_sets.KINDS])
    holds = Whole(label="Takes at once", required=False, most=1000, help_text="Empty: one job.")


class ToolingForm(SlipForm):
    """A tooling set and the machines it spans."""

    code = Words(longest=20, label="Code", required=True, help_text="As stamped on it: T4.")
    name = Words(longest=80, label="Name", required=True)
    machines = forms.MultipleChoiceField(label="Goes into", widget=forms.CheckboxSelectMultiple)
    change_minutes = Whole(label="Minutes to change it", required=False, least=0, most=10_000, help_text="Empty: 30.")
    dress_at = Whole(label="Dress it at", required=False, most=MOST_PIECES, help_text="Pieces; empty: never said.")


def new_pattern(request: HttpRequest) -> HttpResponse:
    """Write a new pattern down."""
    here = posting.here_of(request)
    form = PatternForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        items = patterns.named_items(typed["items"])
        made = patterns.add_pattern(typed["code"].upper(), typed["name"], items, at=who.at, by=who.by)
        return reverse("staff:floor_pattern", args=[made.code]), f"{made.name} is written down. Give it a route next."

    lead = "The code stays for life. Items that are not in the book yet can be given the pattern when they are."
    asked = Ask(
        "A new pattern", lead, "Write it down", reverse("staff:floor_patterns"), "Back to the patterns", room=ROOM
    )
    return ask(here, form, asked, act)


def new_machine(request: HttpRequest) -> HttpResponse:
    """Write a new machine down."""
    here = posting.here_of(request)
    form = MachineForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        made = tooling_sets.add_machine(
            typed["code"].upper(), typed["name"], typed["kind"], at=who.at, by=who.by, holds=typed["holds"] or 1
        )
        return reverse("staff:floor_tooling"), f"{made.name} is written down."

    columns = [Column("code"), Column("machine"), Column("kind"), Column("takes at once", figures=True)]
    rows = [[one.code, one.name, one.kind, str(one.holds)] for one in Machine.objects.order_by("code")]
    asked = Ask(
        "A new machine", f"Routes to begin with look for {', '.join(routes.seed_machines())}.",
        "Write it down", reverse("staff:floor_tooling"), "Back to the tooling", room=ROOM,
        table=Ruled("Machines in the book", columns, rows),
    )  # fmt: skip
    return ask(here, form, asked, act)


def new_tooling(request: HttpRequest) -> HttpResponse:
    """Write a new tooling set down."""
    here = posting.here_of(request)
    form = ToolingForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    machines = {one.code: one for one in Machine.objects.filter(active=True).order_by("code")}
    form.fields["machines"].choices = [(code, one.name) for code, one in machines.items()]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        typed, minutes = form.cleaned_data, form.cleaned_data["change_minutes"]
        made = tooling_sets.add_tooling(
            typed["code"].upper(), typed["name"], [machines[code] for code in typed["machines"]], at=who.at, by=who.by,
            change_minutes=tooling_sets.USUAL_MINUTES if minutes is None else minutes, dress_at=typed["dress_at"],
        )  # fmt: skip
        return reverse("staff:floor_tooling"), f"{made.name} is written down."

    lead = "Dies, punches, drifts and jigs that go in together." if machines else "Write a machine down first."
    asked = Ask(
        "A new tooling set", lead, "Write it down", reverse("staff:floor_tooling"), "Back to the tooling", room=ROOM
    )
    return ask(here, form, asked, act)
