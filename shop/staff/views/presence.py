"""Someone is out, a machine is down: one touch for today, a form for until when, and the way back."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Away, MachineDown
from inventory.queries import absences
from inventory.services import presence
from inventory.services.presence import Spell
from shop.shared import clock, shop_row, units
from shop.shared.errors import NotFound
from shop.shared.hours import Hours
from shop.staff import posting
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.views import presence_words as words

ROOM = "day"
UNTIL, UNKNOWN, PLANNED = "until", "unknown", "planned"


class SpellForm(SlipForm):
    """Who or which machine, from when until when."""

    which = forms.ChoiceField(label="Who")
    what = forms.ChoiceField(label="How long", widget=forms.RadioSelect, initial=UNTIL)
    first = Day(label="First day", required=False, help_text="Empty: today.")
    last = Day(label="Last day", required=False)
    why = Words(longest=80, label="Why", required=False, help_text="Everybody reads it; it may stay empty.")

    def __init__(self, *args: object, page: "Page", **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type] # as SlipForm takes them
        self.fields["which"].label = page.which
        self.fields["which"].choices = [(str(pk), name) for pk, name in page.all_tiles]  # type: ignore[attr-defined]
        self.fields["what"].choices = page.how_long  # type: ignore[attr-defined]

    def clean(self) -> None:
        """Ask for a last day where the form says that it is known."""
        typed = self.cleaned_data
        if typed.get("what") in (UNTIL, PLANNED) and "last" in typed and typed["last"] is None:
            self.add_error("last", "No last day is written; write it, or choose that nobody knows yet.")

    def spell(self, today: dt.date) -> Spell:
        """Return what was written."""
        typed = self.cleaned_data
        last = None if typed["what"] == UNKNOWN else typed["last"]
        return Spell(typed["first"] or today, last, typed["what"] == PLANNED, typed["why"])


class TouchForm(SlipForm):
    """A name tile, or the button beside a line: nothing is typed, but a refusal has to stand somewhere."""


@dataclass(frozen=True, slots=True)
class Page:
    """What differs between people and machines: the words, the tiles, the three things that can be noted."""

    address: str
    template: str
    which: str
    how_long: Sequence[tuple[str, str]]
    all_tiles: Sequence[tuple[int, str]]
    noted: Sequence[Away | MachineDown]
    touch: Callable[[int, posting.Doing, dt.date, Hours], str]
    write: Callable[[int, Spell, posting.Doing, dt.date, Hours], str]
    end: Callable[[int, posting.Doing, dt.date], str]


def out(request: HttpRequest) -> HttpResponse:
    """Note that someone is out, until when, and who is back."""
    return _page(request, _people)


def down(request: HttpRequest) -> HttpResponse:
    """Note that a machine is down, until when, and what runs again."""
    return _page(request, _machines)


def _page(request: HttpRequest, made: Callable[[dt.date], Page]) -> HttpResponse:
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = clock.now()
    today, hours = clock.local_date(now, shop.zone), shop_row.hours_of(shop, now)
    page = made(today)
    touched = here.method == "POST" and ("touch" in here.POST or "end" in here.POST)
    form = SpellForm(here.POST if here.method == "POST" and not touched else None, page=page, shop=shop)
    touch = TouchForm(here.POST if touched else None, shop=shop)

    def act(who: posting.Doing) -> tuple[str, str]:
        if "touch" in here.POST:
            said = page.touch(_number(here.POST["touch"]), who, today, hours)
        elif "end" in here.POST:
            said = page.end(_number(here.POST["end"]), who, today)
        else:
            said = page.write(int(form.cleaned_data["which"]), form.spell(today), who, today, hours)
        return reverse(page.address), said

    sent: SlipForm = touch if touched else form
    if here.method == "POST" and sent.is_valid():
        done = posting.book(here, sent, act)
        if done:
            return done
        if touched:
            page = made(today)
    away_now = {words.whose(one) for one in page.noted if one.first <= today}
    facts = {
        "tiles": [tile for tile in page.all_tiles if tile[0] not in away_now],
        "noted": [(one.pk, words.line(one, today)) for one in page.noted],
        "any": bool(page.all_tiles),
        "spell": form,
    }
    return posting.sheet(here, page.template, ROOM, facts, form=sent)


def _number(text: str) -> int:
    return units.plain_number(text) or 0


def _people(today: dt.date) -> Page:
    people = {one.pk: one for one in absences.people()}

    def touch(pk: int, who: posting.Doing, today: dt.date, hours: Hours) -> str:
        if pk not in people:
            raise NotFound("Nobody of that name comes in any more. Touch another name.")
        return words.said(presence.out_today(people[pk], today=today, hours=hours, at=who.at, by=who.by), today)

    def write(pk: int, spell: Spell, who: posting.Doing, today: dt.date, hours: Hours) -> str:
        return words.said(presence.out(people[pk], spell, today=today, hours=hours, at=who.at, by=who.by), today)

    def end(pk: int, who: posting.Doing, today: dt.date) -> str:
        return words.ended(presence.back(pk, today=today, at=who.at, by=who.by), today)

    return Page(
        "staff:out",
        "staff/day/out.html",
        "Who",
        [
            (UNTIL, "out until the last day"),
            (UNKNOWN, "out, nobody knows yet until when"),
            (PLANNED, "leave, planned ahead"),
        ],
        [(pk, one.name) for pk, one in people.items()],
        list(absences.away(today)),
        touch,
        write,
        end,
    )


def _machines(today: dt.date) -> Page:
    machines = {one.pk: one for one in absences.machines()}

    def touch(pk: int, who: posting.Doing, today: dt.date, hours: Hours) -> str:
        if pk not in machines:
            raise NotFound("That machine is not in use any more. Touch another.")
        return words.said(presence.down_now(machines[pk], today=today, hours=hours, at=who.at, by=who.by), today)

    def write(pk: int, spell: Spell, who: posting.Doing, today: dt.date, hours: Hours) -> str:
        return words.said(presence.down(machines[pk], spell, today=today, hours=hours, at=who.at, by=who.by), today)

    def end(pk: int, who: posting.Doing, today: dt.date) -> str:
        return words.ended(presence.runs_again(pk, today=today, at=who.at, by=who.by), today)

    return Page(
        "staff:down",
        "staff/day/down.html",
        "Machine",
        [
            (UNTIL, "down until the last day"),
            (UNKNOWN, "down, nobody knows yet until when"),
            (PLANNED, "a service, planned ahead"),
        ],
        [(pk, one.name) for pk, one in machines.items()],
        list(absences.down(today)),
        touch,
        write,
        end,
    )
