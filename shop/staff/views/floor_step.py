"""One step of a pattern's route: who can do it, how long it takes, on which machines, why pieces are rejected there."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Machine, Pattern, Route, Step, ToolingSet
from inventory.queries import along
from inventory.services import route_steps
from inventory.services.routes import CauseFacts, StepFacts
from shop.access.models import Person
from shop.shared import shop_row, units
from shop.staff import posting
from shop.staff.fields import SlipForm, Typed, Whole, Words
from shop.staff.views.asking import Ask, ask
from shop.staff.views.floor import ROOM

DAY_MINUTES = 24 * 60
MOST_EACH = 8 * 60 * 60  # seconds; a piece that takes longer is a job of its own
_FATES = {"second": {"second": True}, "handle only": {"handle_only": True}}


class MinutesEach(Typed):
    """Minutes for one piece, as 3.5 or 3:20, kept in seconds."""

    def read(self, text: str) -> int:
        """Read minutes and seconds."""
        minutes, colon, seconds = text.partition(":")
        if not colon:
            if minutes.strip() == "0":
                return 0
            tenths = units.parse_tenths(minutes, "minutes", most=MOST_EACH // 6)
            return 6 * tenths
        whole = units.parse_whole(minutes, "minutes", least=0, most=MOST_EACH // 60)
        return 60 * whole + units.parse_whole(seconds, "seconds", least=0, most=59)


class Causes(Words):
    """Causes of reject, one a line, each with what may become of the piece."""

    def clean(self, value: Any) -> Any:
        """Return the causes; what may become of the piece stands behind the last comma."""
        return [_cause(line.strip()) for line in super().clean(value).split("\n") if line.strip()]


def _cause(line: str) -> CauseFacts:
    name, comma, fate = (part.strip() for part in line.rpartition(","))
    if not comma:
        name, fate = line, ""
    back = fate.removeprefix("back to ")
    facts: Mapping[str, Any] = _FATES.get(fate, {})
    if fate != back and back.isascii() and back.isdecimal() and len(back) <= 3:
        facts = {"rework_to": int(back)}
    if (fate and not facts) or not 1 <= len(name) <= 40:
        said = "write the cause in up to 40 signs, alone or with: second, back to 6, handle only"
        raise forms.ValidationError(f"{line[:60]}: {said}.")
    return CauseFacts(name, **facts)


class StepForm(SlipForm):
    """What may be changed of a step."""

    hands = forms.MultipleChoiceField(
        label="Can be done by", widget=forms.CheckboxSelectMultiple, required=False, help_text="Nobody: by everybody."
    )
    people = Whole(label="Takes at once, people", most=20)
    seconds_each = MinutesEach(label="Minutes for one", help_text="3.5 or 3:20.")
    spread_percent = Whole(label="Spread, %", least=0, most=300)
    set_up_minutes = Whole(label="Minutes to set up", least=0, most=DAY_MINUTES)
    machines = forms.MultipleChoiceField(label="Holds all at once", widget=forms.CheckboxSelectMultiple, required=False)
    tooling = forms.ChoiceField(label="Tooling", required=False)
    fire_batch = Whole(label="In the fire at once", least=0, most=1_000)
    oven_fits = Whole(label="Fill the oven", least=0, most=10_000)
    cure_minutes = Whole(label="Then waits, minutes", least=0, most=30 * DAY_MINUTES)
    causes = Causes(
        longest=900, rows=5, label="Causes of reject", required=False,
        help_text="One a line. Behind a comma: second, back to 6, handle only.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = Person.objects.filter(is_active=True).order_by("name", "pk")
        machines = Machine.objects.filter(active=True).order_by("code")
        choices = {
            "hands": [(str(one.pk), one.name) for one in people],
            "machines": [(one.code, one.name) for one in machines],
            "tooling": [
                ("", "none"),
                *((one.code, f"{one.code}, {one.name}") for one in ToolingSet.objects.order_by("code")),
            ],
        }
        for name, offered in choices.items():
            self.fields[name].choices = offered  # type: ignore[attr-defined]

    def changed(self, was: StepFacts) -> StepFacts:
        """Return the step as it was typed; what the form does not ask stays."""
        typed = self.cleaned_data
        plain = {name: typed[name] for name in _PLAIN}
        return replace(
            was,
            columns={**was.columns, **plain},
            machines=sorted(typed["machines"]),
            tooling=typed["tooling"],
            causes=typed["causes"],
            hands=sorted(int(one) for one in typed["hands"]),
        )


_PLAIN = ("people", "seconds_each", "spread_percent", "set_up_minutes", "fire_batch", "oven_fits", "cure_minutes")


def step(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """Change one step; the route gets its next version."""
    here, found = posting.here_of(request), Pattern.objects.filter(code=code).first()
    route = Route.objects.filter(pattern=found).order_by("-version").first() if found else None
    held = along.walk(route).numbered(number) if route else None
    if found is None or held is None:
        return posting.not_there(here)
    was = route_steps.facts_of(held)
    sent = here.POST if here.method == "POST" else None
    form = StepForm(sent, shop=shop_row.the_shop(), initial=_initial(held, was))
    back = reverse("staff:floor_pattern", args=[found.code])

    def act(who: posting.Doing) -> tuple[str, str]:
        made = route_steps.change_step(found, form.changed(was), at=who.at, by=who.by)
        return back, f"{held.name.capitalize()} is changed from the next run on, version {made.version}."

    lead = f"Step {held.number} of {found.name}. Runs that were begun keep the step as it was."
    asked = Ask(held.name.capitalize(), lead, "Write it for the next runs", back, "Back to the pattern", room=ROOM)
    return ask(here, form, asked, act, names={"steps": "causes", "step": "people"})


def _initial(held: Step, was: StepFacts) -> dict[str, object]:
    minutes, seconds = divmod(held.seconds_each, 60)
    return {
        **{name: was.columns[name] for name in _PLAIN},
        "seconds_each": f"{minutes}:{seconds:02}" if seconds else str(minutes),
        "machines": list(was.machines),
        "tooling": was.tooling,
        "hands": [str(one) for one in was.hands],
        "causes": "\n".join(_cause_line(cause) for cause in was.causes),
    }


def _cause_line(cause: CauseFacts) -> str:
    fate = "second" if cause.second else "handle only" if cause.handle_only else ""
    fate = f"back to {cause.rework_to}" if cause.rework_to else fate
    return f"{cause.name}, {fate}" if fate else cause.name
