"""The Week sheet: days by places of work as proposed around the pins; a line is moved by two fields, a week pinned in one touch."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import WeekPin
from orders.queries import for_the_shelf
from orders.queries import week as proposing
from orders.queries.week import Proposed
from orders.services import week as pinning
from shop.access.roles import DESK, reaches
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid
from shop.staff import posting, wording
from shop.staff.views import week_sheet, week_shelf
from shop.staff.views.week_form import FIRST, MoveForm, WeekForm, key_of, week_of
from shop.staff.views.week_moving import Chosen, Moving, chosen_of
from shop.staff.views.week_words import Words

WEEKS_AHEAD = 2  # that are led to from the sheet; any other is asked for by its name

_ABSENCES = (("staff:out", "Someone is out"), ("staff:down", "Machine is down"))


@dataclass(frozen=True, slots=True)
class Span:
    """The week that is looked at: its name, its days from today on, whether it is the running one."""

    name: str
    monday: dt.date
    first: dt.date
    last: dt.date
    running: bool

    @property
    def title(self) -> str:
        """Return its heading: Week 48, 23 to 28 November."""
        saturday = self.monday + dt.timedelta(days=5)
        month = f"{self.monday:%B} " if self.monday.month != saturday.month else ""
        return f"Week {self.monday.isocalendar().week}, {self.monday.day} {month}to {saturday.day} {saturday:%B}"


def week(request: HttpRequest) -> HttpResponse:
    """Print the week, show what a move would do, or pin and unpin."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    now = posting.doing(here).at
    today = clock.local_date(now, shop.zone)
    found, read = proposing.proposed(at=now), for_the_shelf.stood(at=now)
    form = WeekForm(here.POST if here.method == "POST" else None, shop=shop)
    asked = here.POST if here.method == "POST" else here.GET
    span = span_of(asked.get("week", ""), today, found)
    chosen = chosen_of(found, key_of(asked.get("line", "")))
    if here.method == "POST" and form.is_valid():
        why = week_shelf.why(form.cleaned_data, found, read)
        done = posting.book(here, form, lambda who: _act(form.cleaned_data, found, span, chosen, why, who))
        if done:
            return done
    desk = reaches(here.acting_role, DESK)
    words = Words(found)
    moving = _moving(here.GET, found, chosen if desk else None, words, span, today)
    shown = moving.effect.after if moving and moving.effect else found
    facts = {
        "span": span,
        "lead": _lead(found, shop.zone),
        "moving": moving,
        "may_move": desk,
        **week_sheet.facts(
            shown,
            words,
            span,
            today=today,
            needs=read.needs,
            chosen=chosen.keys if chosen and desk else frozenset(),
            desk=desk,
        ),
        "weeks": _weeks(span, today),
        "again": f"{reverse('staff:week')}?{urlencode({'week': span.name})}",
        "pins_here": any(pin.day <= span.last and (span.running or pin.day >= span.monday) for pin in found.alive),
        "absences": [(to, say) for name, say in _ABSENCES if (to := wording.address(name))],
        "kept": week_sheet.kept(shop.zone),
        **week_shelf.facts(found, read, today=today, desk=desk),
    }
    return posting.sheet(here, "staff/week/week.html", "week", facts, form=form if form.is_bound else None)


def span_of(text: str, today: dt.date, found: Proposed) -> Span:
    """Return the week that is asked for; without one the running week, from its last open day's evening on the next."""
    hours, over = found.stated.shop.hours, found.stated.shop.now >= found.stated.shop.hours.closes
    running = today - dt.timedelta(days=today.weekday())
    left = [today + dt.timedelta(days=number) for number in range(int(over), 7 - today.weekday())]
    is_open = any(day.weekday() in hours.weekdays and day not in hours.closed for day in left)
    monday = week_of(text, today) or (running if is_open else running + dt.timedelta(days=7))
    end = monday + dt.timedelta(days=6 if 6 in hours.weekdays else 5)
    year, number, _ = monday.isocalendar()
    return Span(
        f"{year}-W{number:02}", monday, max(monday, today) if monday == running else monday, end, monday == running
    )


def _act(
    typed: Mapping[str, object], found: Proposed, span: Span, chosen: Chosen | None, why: str, who: posting.Doing
) -> tuple[str, str]:
    """Carry out one thing that was asked for."""
    to = f"{reverse('staff:week')}?{urlencode({'week': span.name})}"
    first = None if span.running else span.monday
    last = span.monday + dt.timedelta(days=6)
    if typed["do"] in week_shelf.DOES:
        return f"{to}#shelf", week_shelf.act(typed, why, who)
    if typed["do"] == "pin_week":
        number = pinning.pin_all(found, span.first, last, at=who.at, by=who.by)
        return to, f"{span.title} is pinned as proposed: {_lines(number)} newly pinned. Dates follow it."
    if typed["do"] == "unpin_week":
        number = pinning.unpin_all(first, last, at=who.at, by=who.by)
        return to, f"{_lines(number)} of {span.title} taken out of the pins; the calculator proposes them again."
    if chosen is None:
        raise Invalid.field("line", "Line: this is no line of the sheet any more; choose one that is.")
    name = chosen.name
    if typed["do"] == "unpin":
        for run, step in chosen.pinned:
            pinning.unpin(run, step, at=who.at, by=who.by)
        return to, f"{name} is not pinned any more."
    day = typed["day"]
    assert isinstance(day, dt.date), "the form wants one for a move"
    after = chosen.after(str(typed["after"] or FIRST), day, found)
    pinning.move_and_pin(found, chosen.order, day, after=after, at=who.at, by=who.by)
    return to, f"{name} is pinned on {wording.on_day(day)}. Dates follow it."


def _lines(number: int) -> str:
    return "1 line" if number == 1 else f"{wording.figures(number)} lines"


def _moving(
    asked: Mapping[str, str], found: Proposed, chosen: Chosen | None, words: Words, span: Span, today: dt.date
) -> Moving | None:
    """Return the slip of the chosen line, with what the move does where a day was asked for."""
    if chosen is None:
        return None
    form = MoveForm(asked if "day" in asked else None, chosen=chosen, found=found, today=today)
    return Moving.of(form, found, chosen, words, span.name)


def _weeks(span: Span, today: dt.date) -> list[tuple[str, str]]:
    """Return the weeks that are led to: the running one and the next ones, without the one that is open."""
    running = today - dt.timedelta(days=today.weekday())
    found = []
    for number in range(WEEKS_AHEAD + 1):
        monday = running + dt.timedelta(days=7 * number)
        year, week_number, _ = monday.isocalendar()
        if monday != span.monday:
            found.append((f"{year}-W{week_number:02}", f"Week {week_number}"))
    return found


def _lead(found: Proposed, zone: str) -> str:
    """Say whose sheet it is: proposed, with so many lines pinned, moved last by whom."""
    number = len(found.alive)
    if not number:
        return "Proposed; nothing is pinned."
    last = WeekPin.objects.select_related("by").order_by("-pinned_at", "-pk").first()
    by = f" by {last.by.name}" if last and last.by else ""
    at = f", last {wording.at_moment(last.pinned_at, zone)}{by}" if last else ""
    return f"Proposed around the pins: {_lines(number)} pinned{at}."
