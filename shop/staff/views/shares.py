"""Items of which there are too few for all: what each line would get under three rules, a look, then one booking."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Item
from orders.models import OWN_SOURCE, OrderLine
from orders.queries import short
from orders.queries.short import Short, wants
from orders.services.ordering import MOST_PIECES
from shop.flows import sharing
from shop.flows.sharing import BY_DATE, PROPORTIONAL, RULES
from shop.shared import shop_row
from shop.shared.errors import Refusal
from shop.staff import posting, wording
from shop.staff.fields import SlipForm, Whole
from shop.staff.forms import refuse
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link

SEEN = "seen"


class ShareForm(SlipForm):
    """Which rule; for each line how many by hand, filled in with what it has now."""

    rule = forms.ChoiceField(
        label="Shared", choices=[(rule, rule) for rule in RULES], initial=BY_DATE, widget=forms.RadioSelect
    )
    seen = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, found: Short, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.found = found
        for line in found.lines:
            field = Whole(label=_name(line), required=False, least=0, most=MOST_PIECES)
            field.help_text = f"wants {wording.figures(wants(line))}"
            field.initial = line.reserved
            self.fields[f"line_{line.pk}"] = field
        self.tune()

    def hand_fields(self) -> list[forms.BoundField]:
        """Return the fields of the lines, for the template."""
        return [self[f"line_{line.pk}"] for line in self.found.lines]

    def typed(self) -> dict[int, int]:
        """Return how many each line gets by hand."""
        return {line.pk: self.cleaned_data[f"line_{line.pk}"] or 0 for line in self.found.lines}

    def look(self) -> Ruled | None:
        """Return what would move, and keep in the form that it was looked at; a refusal becomes the form's."""
        rule = self.cleaned_data["rule"]
        try:
            shares = sharing.shares(self.found, rule, self.typed())
        except Refusal as refusal:
            refuse(self, refusal)
            return None
        self.data = {**self.data.dict(), SEEN: sharing.seen(self.found, shares)}  # type: ignore[attr-defined]
        return _moves(self.found, shares)


def too_few(request: HttpRequest) -> HttpResponse:
    """List the items of which open lines want more than is there."""
    here = posting.here_of(request)
    columns = [
        Column("what"),
        Column("wanted", figures=True),
        Column("there", figures=True),
        Column("lines", figures=True),
    ]
    rows = [
        [
            link("staff:counter_shares", one.item.name, one.item.code),
            wording.amount(one.item, one.wanted),
            wording.amount(one.item, one.there),
            wording.figures(len(one.lines)),
        ]
        for one in short.several()
    ]
    return posting.sheet(
        here, "staff/counter/short.html", "counter", {"table": Ruled("Too few for all", columns, rows)}
    )


def shares(request: HttpRequest, code: str) -> HttpResponse:
    """Show who has and who wants pieces of an item; look at a rule, then move pieces by it."""
    here, item = posting.here_of(request), Item.objects.filter(code=code).first()
    if item is None or item.unit != Item.Unit.PIECE:
        return posting.not_there(here)
    found = short.of(item)
    form = ShareForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), found=found)
    moves = None
    if here.method == "POST" and form.is_valid():
        if "look" in here.POST:
            moves = form.look()
        else:
            done = posting.book(here, form, lambda who: _share(item, form, who))
            if done:
                return done
    facts = {
        "item": item,
        "found": found,
        "short": short.is_short(found),
        "table": _table(found),
        "rules": [(rule, words) for rule, words in RULES.items()],
        "moves": moves,
        "looked": moves is not None,
    }
    return posting.sheet(here, "staff/counter/shares.html", "counter", facts, form=form)


def _share(item: Item, form: ShareForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    done = sharing.share(item, typed["rule"], form.typed(), looked_at=typed[SEEN], at=who.at, by=who.by)
    lost = ", ".join(f"{wording.figures(qty)} of order {line.order.number}" for line, qty in done.lost)
    got = ", ".join(f"{wording.figures(qty)} to order {line.order.number}" for line, qty in done.got)
    took = f"Taken away: {lost}; those lines wait again at their old place. " if lost else ""
    return reverse("staff:counter_shares", args=[item.code]), f"{took}Given: {got}." if got else took.strip()


def _table(found: Short) -> Ruled:
    by_date, in_proportion = sharing.shares(found, BY_DATE), sharing.shares(found, PROPORTIONAL)
    heads = ("wants", "has now", BY_DATE, PROPORTIONAL)
    columns = [Column("line"), Column("day given", figures=True), *(Column(head, figures=True) for head in heads)]
    rows = []
    for line in found.lines:
        day = found.days.get(line.pk)
        named = link("staff:order", _name(line) + (", goes whole" if line.whole else ""), line.order.number)
        figures = (wants(line), line.reserved, by_date[line.pk], in_proportion[line.pk])
        rows.append(
            [named, wording.on_day(day).replace(" ", "\u00a0") if day else "none", *map(wording.figures, figures)]
        )
    sums = (found.wanted, sum(found.set_aside.values()), sum(by_date.values()), sum(in_proportion.values()))
    total = ["together", "", *map(wording.figures, sums)]
    return Ruled(f"Who has and wants {found.item.name}", columns, rows, total=total)


def _moves(found: Short, shares: dict[int, int]) -> Ruled:
    columns = [Column("line"), Column("has now", figures=True), Column("would have", figures=True), Column("")]
    rows = []
    for line in found.lines:
        change = shares[line.pk] - line.reserved
        if change:
            said = f"{'gets' if change > 0 else 'loses'} {wording.figures(abs(change))}"
            rows.append([_name(line), wording.figures(line.reserved), wording.figures(shares[line.pk]), said])
    return Ruled("What would move", columns, rows)


def _name(line: OrderLine) -> str:
    if line.order.source == OWN_SOURCE:
        return f"the release {line.order.release.name}"
    return f"{line.order.customer.name}, order {line.order.number} line {line.number}"
