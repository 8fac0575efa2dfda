"""Counting by sheet: what is due, a place or a kind; line by line, blind; how far the book was off; how right it is."""

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.models import Place, StockCount, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.services import count_sheets as services
from shop.access.middleware import Here
from shop.access.services import tablets
from shop.flows import count_sheets as flow
from shop.flows import giving_way
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid
from shop.staff import posting, signing, wording
from shop.staff.fields import SlipForm
from shop.staff.ruled import Column, Ruled
from shop.staff.views.count_forms import LineForm
from shop.staff.views.count_results import done_table, name_of, off_table, sums_said

ROOM = "shelf"
QUARTER = dt.timedelta(days=91)
LAST = 8
_KINDS = [
    ("kind:bar", "all bars"),
    ("kind:handle", "all handles"),
    ("kind:consumable", "all consumables"),
    ("kind:tool", "all tools"),
]


@dataclass(frozen=True, slots=True)
class Row:
    """A line that is left, with its form and its key, to be counted where it stands on the sheet."""

    line: StockCountLine
    name: str
    form: "LineForm"
    key: str


class OpenForm(SlipForm):
    """What to count."""

    what = forms.ChoiceField(label="What")


def counts(request: HttpRequest) -> HttpResponse:
    """Show what is due, open a sheet, and how right the book has been."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    at = posting.doing(here).at
    today = clock.local_date(at, shop.zone)
    codes = flow.due_codes(shop, today)
    form = OpenForm(here.POST if here.method == "POST" else None, shop=shop)
    places = Place.objects.filter(kind__in=queries.COUNTED_AT).order_by("code")
    due = [("due", f"what is due today: {', '.join(codes)}")] if codes else []
    form.fields["what"].choices = [*due, *_KINDS, *((f"place:{one.code}", one.name) for one in places)]  # type: ignore[attr-defined]

    def act(who: posting.Doing) -> tuple[str, str]:
        made = _open(form.cleaned_data["what"], today, who)
        return reverse("staff:count", args=[made.number]), f"Sheet {made.number} is open, {made.lines.count()} lines."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act)
        if done:
            return done
    facts = {
        "codes": codes,
        "open": [(one, one.lines.filter(counted=None).count(), one.lines.count()) for one in queries.open_sheets()],
        "closed": StockCount.objects.exclude(closed_at=None).order_by("-number")[:LAST],
        "right": _right(at),
    }
    return posting.sheet(here, "staff/shelf/counts.html", ROOM, facts, form=form)


def _open(what: str, today: dt.date, who: posting.Doing) -> StockCount:
    kind, _, name = what.partition(":")
    if kind == "due":
        return flow.open_due(shop_row.the_shop(), today, stamp=who.stamp())
    if kind == "kind":
        return services.open_sheet(dict(_KINDS)[what], queries.of_kind(name), stamp=who.stamp())
    place = Place.objects.get(code=name)
    return services.open_sheet(place.name, queries.of_place(place), stamp=who.stamp())


def _right(at: dt.datetime) -> Ruled:
    """Return how right the book was over a quarter, class by class."""
    found = queries.accuracy(flow.classes(), since=at - QUARTER)
    columns = [
        Column("counted"), Column("lines", figures=True), Column("right, of 100", figures=True),
        Column("between, of 100"), Column("at least, of 100"),
    ]  # fmt: skip
    rows = [
        [
            name, wording.figures(one.lines), wording.in_hundred(one.share),
            f"{wording.in_hundred(one.low)} and {wording.in_hundred(one.high)}", wording.in_hundred(one.least),
        ]
        for name in ("often", "sometimes", "seldom", "all")
        if (one := found.get(name)) is not None
    ]  # fmt: skip
    return Ruled("How right the book was in a quarter of a year", columns, rows)


def count(request: HttpRequest, number: int) -> HttpResponse:
    """Show a sheet: what is left to count, what was off; close it."""
    here, found = posting.here_of(request), queries.sheet(number)
    if found is None:
        return posting.not_there(here)
    form = SlipForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        flow.close(found, stamp=who.stamp())
        return reverse("staff:counts"), f"Sheet {found.number} is closed."

    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, act)
        if done:
            return done
    lines = queries.lines(found)
    left = [one for one in lines if one.counted is None]
    facts = {
        "count": found,
        "left": _rows(left),
        "counted": len(lines) - len(left),
        "off": off_table(found, costs=here.may.see_costs),
        "sums": sums_said(queries.off(found), costs=here.may.see_costs),
        "done": done_table(found, [one for one in lines if one.counted is not None]),
    }
    return posting.sheet(here, "staff/shelf/count.html", ROOM, facts, form=form)


def _rows(lines: Sequence[StockCountLine]) -> list[Row]:
    shop = shop_row.the_shop()
    return [
        Row(one, name_of(one), LineForm(line=one, shop=shop, auto_id=f"id_{one.number}_%s"), uuid.uuid4().hex)
        for one in lines
    ]


def line(request: HttpRequest, number: int, line_number: int) -> HttpResponse:
    """Count one line; then the next one that is left."""
    here, sheet = posting.here_of(request), queries.sheet(number)
    found = (
        sheet.lines.select_related("item", "place", "lot__bar", "count").filter(number=line_number).first()
        if sheet
        else None
    )
    if sheet is None or found is None:
        return posting.not_there(here)
    form = LineForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), line=found)
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _count(found, form, who, here.POST.get("back", ""))
        )
        if done:
            return done
    left = sheet.lines.filter(counted=None).count()
    facts = {
        "count": sheet,
        "line": found,
        "name": name_of(found),
        "again": found.counted is None and bool(found.typed),
        "left": left,
        "why": flow.why(found.item),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/shelf/count_line.html", ROOM, facts, form=form)


def _count(found: StockCountLine, form: LineForm, who: posting.Doing, back: str) -> tuple[str, str]:
    typed = form.cleaned_data
    stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["reason"])
    if stamp.happened_at is not None and stamp.happened_at > who.at:
        raise Invalid.field("happened_at", "Counted at: this moment has not come yet; leave it empty for now.")
    if found.lot_id is not None:
        here = typed["here"] == "yes"
        if typed["length"] and here:
            outcome = flow.tape_bar(found, typed["length"], stamp=stamp)
        else:
            outcome = flow.tick_bar(found, here=here, stamp=stamp)
    else:
        qty, text = form.counted()
        outcome = flow.count_line(found, qty, typed=text, stamp=stamp, reason=typed["reason"])
    here_again = reverse("staff:count_line", args=[found.count.number, found.number])
    if outcome.again:
        said = "Look once more" if found.lot_id else "Count it once more"
        return here_again, f"{said}: the book says something else. A second count holds, or write why it is so."
    said = f"{name_of(found)}: written down."
    if outcome.difference:
        said += f" The book said {wording.amount(found.item, outcome.line.expected or 0)}."
    if outcome.gave_way:
        said += f" {giving_way.said(outcome.gave_way)}"
    if back == "sheet":
        return reverse("staff:count", args=[found.count.number]), said
    following = found.count.lines.filter(counted=None, number__gt=found.number).order_by("number").first()
    following = following or found.count.lines.filter(counted=None).order_by("number").first()
    if following is None:
        return reverse("staff:count", args=[found.count.number]), said
    return reverse("staff:count_line", args=[found.count.number, following.number]), said


def paper(request: HttpRequest, number: int) -> HttpResponse:
    """Print a sheet to count by, without the figures of the book."""
    here: Here = posting.here_of(request)
    found = queries.sheet(number)
    if found is None:
        return posting.not_there(here)
    places: dict[str, list[Row]] = {}
    for row in _rows([one for one in queries.lines(found) if one.counted is None]):
        places.setdefault(row.line.place.code, []).append(row)
    address = reverse("staff:count", args=[number])
    shown = [(rows[0].line.place, f"{address}#{code}", rows) for code, rows in sorted(places.items())]
    return render(here, "staff/paper/count_lines.html", {"count": found, "places": shown})
