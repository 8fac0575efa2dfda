"""The Book: every entry newest first, one entry with its lines, undoing it."""

import datetime as dt
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Entry, Movement
from inventory.queries import movements, trace
from inventory.queries.movements import Sought
from orders.queries import book as order_book
from shop.access.middleware import Here
from shop.access.roles import OWNER, reaches
from shop.flows import reversing
from shop.shared import clock, shop_row
from shop.shared.errors import Refusal
from shop.staff import posting, wording
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.item_field import ItemField
from shop.staff.ruled import Column, Ruled
from shop.staff.views import book_lines
from shop.staff.views.counter_history import link

ROOM = "book"


class NotYours(Refusal):
    """Somebody else's entry is undone by the owner."""

    code = "not_yours"


class SeekForm(SlipForm):
    """Which lines of the book are wanted."""

    item = ItemField(label="Item", required=False)
    lot = Words(longest=20, label="Lot or bar", required=False)
    kind = forms.ChoiceField(label="Kind", choices=[("", "any"), *wording.KINDS], required=False)
    day = Day(label="Day", required=False)
    before = forms.IntegerField(required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput)

    def clean_lot(self) -> int | None:
        """Find the lot or bar."""
        text = self.cleaned_data["lot"]
        if not text:
            return None
        found = trace.find_lots(text)
        if not found:
            raise forms.ValidationError(f"“{text}” is no lot and no bar of this book; a lot is written as L12.")
        return found[0].pk


class UndoForm(SlipForm):
    """Why an entry is undone."""

    reason = Words(longest=300, label="Why", required=True)


def book(request: HttpRequest) -> HttpResponse:
    """Print the book, newest line first."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    form = SeekForm(here.GET or {}, shop=shop)
    typed = form.cleaned_data if form.is_valid() else {}
    page = movements.page(_sought(typed, shop.zone), before=typed.get("before"))
    kept = {name: here.GET[name] for name in ("item", "lot", "kind", "day") if here.GET.get(name)}
    facts = {
        "table": book_lines.table(page.entries, "The book, newest line first"),
        "older": urlencode({**kept, "before": page.older}) if page.older else "",
        "sought": bool(kept),
    }
    return posting.sheet(here, "staff/book/book.html", ROOM, facts, form=form)


def _sought(typed: dict[str, Any], zone: str) -> Sought:
    day = typed.get("day")
    return Sought(
        item_id=typed["item"].pk if typed.get("item") else None,
        lot_id=typed.get("lot"),
        kind=typed.get("kind") or "",
        after=clock.at_local(day, 0, zone) if day else None,
        until=clock.at_local(day + dt.timedelta(days=1), 0, zone) if day else None,
    )


def entry(request: HttpRequest, number: int) -> HttpResponse:
    """Show one entry with its lines; undo it."""
    here, found = posting.here_of(request), movements.find_entry(number)
    if found is None:
        return posting.not_there(here)
    form = UndoForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _undo(here, found, form, who))
        if done:
            return done
    written = movements.written([found])[0]
    shipment = order_book.shipments_by_entry([found.pk]).get(found.pk)
    facts = {
        "entry": found,
        "line": written,
        "said": wording.entry_line(written, shipment, order_book.returns_by_entry([found.pk]).get(found.pk)),
        "late": book_lines.typed_late(written),
        "table": _table(found, movements.lines(found)),
        "shipment": shipment,
        "undo": written.undone_by is None and found.kind != Entry.Kind.REVERSAL and _may_undo(here, found),
    }
    return posting.sheet(here, "staff/book/entry.html", ROOM, facts, form=form)


def _may_undo(here: Here, found: Entry) -> bool:
    """Say whether whoever is here may undo an entry: their own, or as owner anybody's."""
    own = found.by_id is not None and here.person is not None and found.by_id == here.person.pk
    return own or reaches(here.acting_role, OWNER)


def _undo(here: Here, found: Entry, form: UndoForm, who: posting.Doing) -> tuple[str, str]:
    if not _may_undo(here, found):
        raise NotYours("Somebody else wrote this line; only they or the owner can undo it.")
    undone = reversing.reverse(found.pk, stamp=who.stamp(reason=form.cleaned_data["reason"])).entry
    address = reverse("staff:book_entry", args=[undone.pk])
    return address, f"Line {wording.figures(found.pk)} is undone by line {wording.figures(undone.pk)}."


def _table(found: Entry, lines: list[Movement]) -> Ruled:
    columns = [Column("line", figures=True), Column("what"), Column("lot"), Column("how much", figures=True)]
    columns += [Column("from"), Column("to")]
    rows = []
    for line in lines:
        lot = link("staff:book_lot", line.lot.bar.number if hasattr(line.lot, "bar") else line.lot.code, line.lot_id)
        source = f"{line.from_place.name}, step {line.from_step}" if line.from_step else line.from_place.name
        target = f"{line.to_place.name}, step {line.to_step}" if line.to_step else line.to_place.name
        what = link("staff:item", line.item.name, line.item.code)
        rows.append([line.line, what, lot, wording.amount(line.item, line.qty), source, target])
    return Ruled(f"What line {found.pk} moved", columns, rows)
