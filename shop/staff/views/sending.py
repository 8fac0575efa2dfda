"""Parcels out: what goes, in how many parcels, by whom; and what comes back."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Order, OrderLine, Return, ReturnOutcome, Shipment
from orders.queries import book
from orders.services import returning, shipping
from orders.services.ordering import MOST_PIECES
from orders.services.shipping import Parcel
from shop.access.middleware import Here
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.fields import Moment, SlipForm, Weight, Whole, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link

_OUTCOMES = [
    (ReturnOutcome.Outcome.FIRST, "good as new: back to the shelf"),
    (ReturnOutcome.Outcome.SECOND, "a second"),
    (ReturnOutcome.Outcome.REHAFT, "re-haft: waits for a new handle"),
    (ReturnOutcome.Outcome.REPLACED, "replaced: a new one is owed, this one is scrap"),
    (ReturnOutcome.Outcome.SCRAP, "scrap"),
]


class SendForm(SlipForm):
    """How it travels; a field for each line that has something to send is added by the view."""

    parcels = Whole(label="Parcels", most=200)
    carrier = Words(longest=60, label="Carrier", required=False)
    tracking = Words(longest=80, label="Tracking", required=False)
    weight = Weight(label="Weight by the scale", required=False, help_text="With its unit; empty where not weighed.")
    happened_at = Moment(label="Left at", help_text="Empty: now.")
    before_window = forms.BooleanField(label="it goes before its window", required=False)

    def __init__(self, *args: Any, lines: list[OrderLine], windowed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = lines
        if not windowed:
            del self.fields["before_window"]
        for line in lines:
            ready = ready_of(line)
            field = Whole(label=f"{line.number}. {wording.line_name(line)}", required=False, least=0, most=MOST_PIECES)
            field.help_text = (
                f"{wording.figures(ready)} {'set aside' if line.item_id else 'to be made: send when ready'}"
            )
            field.initial = ready if line.item_id else ""
            self.fields[f"line_{line.number}"] = field

    def line_fields(self) -> list[forms.BoundField]:
        """Return the fields of the lines, for the template."""
        return [self[f"line_{line.number}"] for line in self.lines]

    def travel_fields(self) -> list[forms.BoundField]:
        """Return the fields about the parcels."""
        return [self[name] for name in SendForm.base_fields if name in self.fields]

    def sending(self) -> dict[int, int]:
        """Return how many of which line go."""
        typed = {line.number: self.cleaned_data[f"line_{line.number}"] for line in self.lines}
        return {number: qty for number, qty in typed.items() if qty}


def ready_of(line: OrderLine) -> int:
    """Return how many of a line may go now."""
    return line.reserved if line.item_id else line.waiting


def send(request: HttpRequest, number: int) -> HttpResponse:
    """Send what is set aside of an order, all or some; then the packing slip."""
    here, order = posting.here_of(request), book.find_order(number)
    if order is None:
        return posting.not_there(here)
    row = book.rows([order])[0]
    lines = [line for line in row.lines if ready_of(line)]
    sent = here.POST if here.method == "POST" else None
    windowed = order.not_before is not None
    form = SendForm(sent, shop=shop_row.the_shop(), lines=lines, windowed=windowed, initial={"parcels": 1})
    if here.method == "POST" and form.is_valid():
        names = {"qty": f"line_{lines[0].number}" if len(lines) == 1 else ""}
        done = posting.book(here, form, lambda who: _send(order, form, who), names=names)
        if done:
            return done
    masses = [line.item.shipped_mass_mg if line.item else None for line in lines]
    known = all(mass is not None for mass in masses) and bool(lines)
    facts = {
        "order": order,
        "lines": lines,
        **_notices(here, order, {line.number: ready_of(line) for line in lines}),
        "mass": sum(ready_of(ln) * (m or 0) for ln, m in zip(lines, masses, strict=True)) if known else None,
    }
    return posting.sheet(here, "staff/counter/send.html", "counter", facts, form=form)


def _notices(here: Here, order: Order, ready: dict[int, int]) -> dict[str, str]:
    """Return what is to be known before it goes: its window, and what a customer who takes no parts still lacks."""
    today, said = clock.local_date(posting.doing(here).at, shop_row.the_shop().zone), {}
    if order.not_before and today < order.not_before:
        said["begins"] = f"It is wanted not before {wording.on_day(order.not_before)}."
    if order.not_after and order.not_after < today:
        said["over"] = f"Its window ended on {wording.on_day(order.not_after)}."
    missing = [] if order.customer.takes_parts else shipping.lacking(order, ready)
    if missing:
        named = ", ".join(f"{wording.figures(qty)} × {wording.line_name(line)}" for line, qty in missing)
        said["lacking"] = (
            f"{order.customer.name} takes no parts, and {named} {'is' if missing[0][1] == 1 and len(missing) == 1 else 'are'} missing."
        )
    return said


def _send(order: Order, form: SendForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    parcel = Parcel(
        parcels=typed["parcels"],
        carrier=typed["carrier"],
        tracking=typed["tracking"],
        scale_mass_mg=typed["weight"].mg if typed["weight"] else None,
        scale_typed=typed["weight"].typed if typed["weight"] else "",
        before_window=typed.get("before_window", False),
    )
    shipment = shipping.send(order, form.sending(), parcel, stamp=who.stamp(happened_at=typed["happened_at"]))
    said = f"Sent: shipment {shipment.number} of order {order.number}."
    return reverse("staff:packing_slip", args=[shipment.number]), said


def shipment(request: HttpRequest, number: int) -> HttpResponse:
    """Show what went in a shipment; print its slip, take pieces back."""
    here, found = posting.here_of(request), book.find_shipment(number)
    if found is None:
        return posting.not_there(here)
    facts = {"shipment": found, "table": _sent_table(found), "returns": _returns_of(found)}
    return posting.sheet(here, "staff/counter/shipment.html", "counter", facts)


def _sent_table(found: Shipment) -> Ruled:
    columns = [Column("what"), Column("sent", figures=True), Column("out of")]
    rows = []
    for sent in found.lines.all():
        lots = ", ".join(f"lot {shipped.lot.code}" for shipped in sent.lots.all())
        rows.append([wording.line_name(sent.line), wording.figures(sent.qty), lots])
    return Ruled(f"What went in shipment {found.number}", columns, rows)


def _returns_of(found: Shipment) -> list[Return]:
    returns = Return.objects.filter(shipment_line__shipment=found, reversed_at=None)
    return list(returns.select_related("shipment_line__line__item").order_by("number"))


class BackForm(SlipForm):
    """What came back of a shipment, and why."""

    line = forms.ChoiceField(label="What")
    qty = Whole(label="How many", most=MOST_PIECES, initial="1")
    why = Words(longest=300, label="Why", required=True)
    happened_at = Moment(label="Came at", help_text="Empty: now.")


def come_back(request: HttpRequest, number: int) -> HttpResponse:
    """Take pieces of a shipment back in, to inspection."""
    here, found = posting.here_of(request), book.find_shipment(number)
    if found is None:
        return posting.not_there(here)
    form = BackForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    choices = [
        (str(s.line.number), f"{wording.line_name(s.line)}, {wording.figures(s.qty)} sent")
        for s in found.lines.all()
        if s.line.item_id
    ]
    form.fields["line"].choices = choices  # type: ignore[attr-defined] # a choice field

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        stamp = who.stamp(happened_at=typed["happened_at"], reason=typed["why"])
        returned = returning.come_back(found, int(typed["line"]), typed["qty"], why=typed["why"], stamp=stamp)
        return reverse("staff:return", args=[returned.number]), "It stands at inspection until somebody decides."

    lead = f"Shipment {found.number} to {found.order.customer.name}. What comes back is looked at first."
    back = reverse("staff:shipment", args=[found.number])
    asked = Ask("What came back", lead, "Take it to inspection", back, f"Back to shipment {found.number}")
    return ask(here, form, asked, act)


def returns(request: HttpRequest) -> HttpResponse:
    """List what came back and waits for somebody to look at it."""
    here = posting.here_of(request)
    columns = [Column("came"), Column("what"), Column("waits", figures=True), Column("why"), Column("")]
    rows = []
    for one in book.waiting_inspection():
        sent = one.shipment_line
        waits = wording.figures(one.qty - one.inspected)
        cells = [wording.on_day(one.came_at.date()), wording.line_name(sent.line), waits, one.why]
        rows.append([*cells, link("staff:return", "Inspect", one.number)])
    return posting.sheet(
        here, "staff/counter/returns.html", "counter", {"table": Ruled("Waits for inspection", columns, rows)}
    )


class InspectForm(SlipForm):
    """What inspection decided."""

    outcome = forms.ChoiceField(label="What becomes of it", choices=_OUTCOMES, widget=forms.RadioSelect)
    qty = Whole(label="How many", most=MOST_PIECES)


def inspect(request: HttpRequest, number: int) -> HttpResponse:
    """Decide what becomes of what came back: first, second, re-haft, replaced, scrap."""
    here, found = posting.here_of(request), book.find_return(number)
    if found is None:
        return posting.not_there(here)
    left = found.qty - found.inspected
    form = InspectForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), initial={"qty": left})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        returning.decide(found, typed["outcome"], typed["qty"], stamp=who.stamp())
        return reverse("staff:return", args=[found.number]), f"{typed['qty']} decided: {typed['outcome']}."

    line = found.shipment_line.line
    lead = (
        f"{wording.figures(found.qty)} × {wording.line_name(line)} of order {line.order.number}. "
        f"Why: {found.why.rstrip('.')}. {wording.figures(left)} still to be looked at."
    )
    asked = Ask(
        f"Return {found.number}",
        lead,
        "Decide",
        reverse("staff:counter_returns"),
        "What waits for inspection",
        part="Inspect",
        table=_decided(found),
        hazard="cracks",
        caution="A crack, a split cheek or burnt steel is scrap, never a second. Wear goggles when you sound it.",
    )
    return ask(here, form, asked, act)


def _decided(found: Return) -> Ruled | None:
    outcomes = list(found.outcomes.filter(reversed_at=None).select_related("by").order_by("id"))
    if not outcomes:
        return None
    columns = [Column("decided"), Column("how many", figures=True), Column("who")]
    rows = [[one.outcome, wording.figures(one.qty), one.by.name if one.by else ""] for one in outcomes]
    return Ruled("Decided so far", columns, rows)
