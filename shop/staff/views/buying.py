"""Purchase orders: what was ordered from a supplier, the day it was confirmed for, what is still to come."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Item, PurchaseOrder, Supplier
from inventory.queries import deliveries
from inventory.services import purchasing, steel_items
from inventory.services.purchasing import ToBuy
from shop.access.middleware import Here
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid
from shop.staff import posting, wording
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.door import purchasing_words

ROOM = "door"
LINES, MOST_LINES = 4, 40
_SHAPES = [("", "no steel"), ("round", "round"), ("square", "square"), ("hexagon", "hexagon"), ("octagon", "octagon")]


class BuyForm(SlipForm):
    """What was ordered: up to four lines of goods or steel."""

    supplier = Words(longest=120, label="Supplier", attrs={"list": "suppliers"}, help_text="a new name is added")
    ordered_on = Day(label="Ordered on")
    wanted_on = Day(label="Wanted on", required=False)
    note = Words(longest=300, label="Note", required=False)

    def __init__(self, *args: Any, lines: int = LINES, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = max(LINES, min(lines, MOST_LINES))
        for n in range(self.lines):
            self.fields[f"item_{n}"] = Words(
                longest=120, label="Item, or grade of steel", required=False, attrs={"list": "goods"}
            )
            self.fields[f"shape_{n}"] = forms.ChoiceField(label="Shape", choices=_SHAPES, required=False)
            self.fields[f"size_{n}"] = Words(longest=40, label="Size", required=False, help_text="2 in, 50 mm")
            self.fields[f"qty_{n}"] = Words(
                longest=60, label="How many", required=False, help_text="7 @ 20 ft, 3 dozen"
            )

    def rows(self) -> list[list[forms.BoundField]]:
        """Return the fields of each line."""
        return [[self[f"{name}_{n}"] for name in ("item", "shape", "size", "qty")] for n in range(self.lines)]

    def typed_lines(self) -> list[tuple[int, str, str, str, str]]:
        """Return the lines in which something was typed."""
        typed = self.cleaned_data
        lines = [(n, *(typed[f"{name}_{n}"] for name in ("item", "shape", "size", "qty"))) for n in range(self.lines)]
        return [line for line in lines if any(line[1:])]


def order_new(request: HttpRequest) -> HttpResponse:
    """Write down what was ordered from a supplier."""
    here = posting.here_of(request)
    today = clock.local_date(clock.now(), shop_row.the_shop().zone)
    asked = _asked(request)
    form = BuyForm(
        _sent(here), shop=shop_row.the_shop(), initial={"ordered_on": today, **asked}, lines=_lines(here, asked)
    )
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _order(form, who))
        if done:
            return done
    facts = {
        "rows": form.rows(),
        "suppliers": Supplier.objects.order_by("name")[:300],
        "goods": deliveries.receivable_items()[:500],
    }
    return posting.sheet(here, "staff/door/order_new.html", ROOM, facts, form=form)


def _asked(request: HttpRequest) -> dict[str, str]:
    """Return what a link fills in, for a person to look at before it is written down."""
    names = ["supplier", *(f"{name}_{n}" for n in range(MOST_LINES) for name in ("item", "shape", "size", "qty"))]
    return {name: request.GET[name][:120] for name in names if name in request.GET}


def _lines(here: Here, asked: Mapping[str, str]) -> int:
    """Return how many lines the form has: as many as were sent or asked for, and one that is empty."""
    if here.method == "POST":
        return 1 + max((n for n in range(MOST_LINES) if f"item_{n}" in here.POST), default=0)
    return 2 + max((n for n in range(MOST_LINES) if f"item_{n}" in asked), default=-1)


def _order(form: BuyForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    lines, numbers = [], []
    for number, item, shape, size, quantity in form.typed_lines():
        lines.append(ToBuy(_item(number, item, shape, size, who), quantity))
        numbers.append(number)
    supplier = purchasing.supplier_named(typed["supplier"], at=who.at, by=who.by)
    try:
        order = purchasing.open_order(
            supplier,
            lines,
            ordered_on=typed["ordered_on"],
            wanted_on=typed["wanted_on"],
            note=typed["note"],
            at=who.at,
            by=who.by,
        )
    except Invalid as refusal:
        places = {f"lines.{at}.quantity": f"qty_{number}" for at, number in enumerate(numbers)}
        refusal.fields = {places.get(name, name): sentence for name, sentence in refusal.fields.items()}
        raise
    return reverse("staff:door_order", args=[order.number]), f"Order {order.number} to {supplier.name} is written down."


def _item(number: int, item: str, shape: str, size: str, who: posting.Doing) -> Item:
    try:
        if shape:
            grade = steel_items.grade(item, new=True)
            return steel_items.bar_item(grade, steel_items.section(shape, size), at=who.at, by=who.by)
    except Invalid as refusal:
        names = {"grade": f"item_{number}", "size": f"size_{number}", "shape": f"shape_{number}"}
        refusal.fields = {names.get(name, name): sentence for name, sentence in refusal.fields.items()}
        raise
    found = Item.objects.filter(code__iexact=item, active=True).first()
    if found is None:
        raise Invalid.field(
            f"item_{number}", f"{item[:30]!r} is no item; choose one, or choose a shape where it is steel."
        )
    return found


def order(request: HttpRequest, number: int) -> HttpResponse:
    """Show a purchase order, and write down the day the supplier confirmed."""
    here, found = posting.here_of(request), deliveries.order(number)
    if found is None:
        return posting.not_there(here)
    form = ConfirmForm(
        _sent(here), shop=shop_row.the_shop(), initial={"version": found.version, "day": found.confirmed_on}
    )

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.confirm(found, typed["day"], version=typed["version"], at=who.at, by=who.by)
        return _to(found), f"Order {found.number} is confirmed for {wording.on_day(typed['day'])}."

    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, act, names={"confirmed_on": "day"})
        if done:
            return done
    columns = [Column("what"), Column("ordered"), Column("still to come")]
    left = {line.pk for line in deliveries.to_come(found)}
    rows = [
        [line.item.name, line.typed, purchasing_words(line) if line.pk in left else "all is in"]
        for line in found.lines.all()
    ]
    facts = {
        "order": found,
        "table": Ruled("What was ordered", columns, rows),
        "came": found.deliveries.exclude(state="draft").order_by("number"),
    }
    return posting.sheet(here, "staff/door/order.html", ROOM, facts, form=form)


class ConfirmForm(SlipForm):
    """The day the supplier confirmed."""

    day = Day(label="Confirmed for")
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)


class CloseForm(SlipForm):
    """Why nothing more will come."""

    reason = Words(longest=300, label="Why", required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)


def order_close(request: HttpRequest, number: int) -> HttpResponse:
    """Close a purchase order of which nothing more will come."""
    here, found = posting.here_of(request), deliveries.order(number)
    if found is None:
        return posting.not_there(here)
    form = CloseForm(_sent(here), shop=shop_row.the_shop(), initial={"version": found.version})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.close(found, version=typed["version"], reason=typed["reason"], at=who.at, by=who.by)
        return _to(found), f"Order {found.number} is closed; nothing more is expected of it."

    lead = f"{found.supplier.name}. What has not come is no longer expected."
    return ask(
        here,
        form,
        Ask(f"Close order {number}", lead, "Close it", _to(found), "Back to the order", room=ROOM, part="Close"),
        act,
    )


def _sent(here: Here) -> Any:
    return here.POST if here.method == "POST" else None


def _to(order: PurchaseOrder) -> str:
    return reverse("staff:door_order", args=[order.number])
