"""The Door: what is expected, what was begun, receiving a delivery, measuring what waits, what came."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms as django_forms
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import Delivery, PurchaseOrder, PurchaseOrderLine, Supplier
from inventory.queries import deliveries, papers, rack
from inventory.services import catalogue, delivery_lines, purchase_words, purchasing, receiving
from inventory.services.delivery_lines import Paper, PaperLine, ReadLine
from inventory.services.ledger import Stamp
from shop.access.middleware import Here
from shop.access.roles import DESK, reaches
from shop.access.services import tablets
from shop.flows import delivering, purchase_letters
from shop.shared import clock, shop_row, transactions, units
from shop.staff import posting, signing, wording
from shop.staff.views import door_words, second_look
from shop.staff.views.door_forms import (
    AT_THE_LORRY,
    GOODS,
    SELDOM,
    STEEL,
    DeliveryForm,
    MeasureForm,
    NewDeliveryForm,
    data_of,
    first_lines,
    sent_lines,
)

ROOM = "door"
MOST_TO_MEASURE = 60


def door(request: HttpRequest) -> HttpResponse:
    """Show what is to come, what was begun, what waits for the tape and what came last."""
    here = posting.here_of(request)
    today = clock.local_date(clock.now(), shop_row.the_shop().zone)
    expected = [
        (
            one,
            one.late(today),
            [purchasing_words(line) for line in one.lines],
            purchase_letters.promised(one.order),
            purchase_letters.asked(one.order, today),
        )
        for one in deliveries.expected()
    ]
    facts = {
        "expected": expected,
        "drafts": deliveries.drafts(),
        "waiting": deliveries.unmeasured().count(),
        "awaited": papers.awaited(),
        "recent": deliveries.recent(),
        "desk": reaches(here.acting_role, DESK),
        "today": today,
    }
    return posting.sheet(here, "staff/door/door.html", ROOM, facts)


def purchasing_words(line: PurchaseOrderLine) -> str:
    """Write what is still to come of a line of a purchase order."""
    if line.bars is not None:
        left = line.bars - line.received_bars
        return f"{left} {'bar' if left == 1 else 'bars'} of {line.item.name}"
    return wording.counted(line.item, line.qty - line.received)


@dataclass(slots=True)
class _Page:
    """The delivery on the page: what stands in the book of it, and what has been typed."""

    delivery: Delivery | None
    order: PurchaseOrder | None
    kept: Paper
    read: Sequence[ReadLine] = field(default_factory=tuple)


def begin(request: HttpRequest) -> HttpResponse:
    """Receive a delivery without a purchase order."""
    here = posting.here_of(request)
    return _write(here, _Page(None, None, Paper([AT_THE_LORRY])))


def begin_for(request: HttpRequest, number: int) -> HttpResponse:
    """Receive a delivery against a purchase order."""
    here, order = posting.here_of(request), deliveries.order(number)
    if order is None:
        return posting.not_there(here)
    return _write(here, _Page(None, order, Paper(first_lines(order))))


def delivery(request: HttpRequest, number: int) -> HttpResponse:
    """Go on with a draft, or show what came."""
    here, found = posting.here_of(request), deliveries.by_number(number)
    if found is None:
        return posting.not_there(here)
    if found.state != Delivery.State.DRAFT and here.method != "POST":
        return _came(here, found)
    kept = delivery_lines.paper(found.draft)
    order = deliveries.order(found.order.number) if found.order else None
    page = _Page(
        found, order, kept if kept.lines else Paper(first_lines(order), kept.supplier_paper, kept.note, kept.freight)
    )
    if here.method != "POST" and kept.lines:
        who = posting.doing(here)
        with transactions.entry_point():
            page.read = delivering.look(found, stamp=who.stamp())
    return _write(here, page)


def _write(here: Here, page: _Page) -> HttpResponse:
    """Print the delivery to be filled in, or keep or book what was sent."""
    costs = bool(here.may.see_costs)
    lines = sent_lines(here.POST, page.kept.lines) if here.method == "POST" else page.kept.lines
    asked: dict[str, Any] = {"lines": lines, "order": page.order, "costs": costs, "shop": shop_row.the_shop()}
    kind = DeliveryForm if page.delivery or page.order else NewDeliveryForm
    form = kind(here.POST if here.method == "POST" else None, initial=data_of(page.kept), **asked)
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _keep_or_book(here, page, form, who), names=form.names()
        )
        if done:
            return done
    return posting.sheet(here, "staff/door/delivery.html", ROOM, _facts(here, page, form), form=form)


def _keep_or_book(here: Here, page: _Page, form: DeliveryForm, who: posting.Doing) -> tuple[str, str]:
    paper = _with_asked_line(here, form.paper())
    booking = bool(here.POST.get("who")) or here.POST.get("do") == "book"
    draft = _draft(here, page, form, paper, who)
    address = reverse("staff:delivery", args=[draft.number])
    if not booking:
        return address, f"Delivery {draft.number} is kept as typed; nothing of it counts before it is booked."
    stamp = who.stamp(happened_at=form.cleaned_data["happened_at"])
    received = delivering.book(draft, stamp=stamp, although_closed=bool(form.cleaned_data.get("although_closed")))
    return address, _booked_said(received)


def _draft(here: Here, page: _Page, form: DeliveryForm, paper: Paper, who: posting.Doing) -> Delivery:
    if page.delivery is not None:
        return receiving.save(page.delivery, paper, version=_version(here, page))
    supplier = (
        page.order.supplier
        if page.order
        else purchasing.supplier_named(form.cleaned_data["supplier"], at=who.at, by=who.by)
    )
    return receiving.start(supplier, order=page.order, typed=paper, at=who.at, by=who.by)


def _version(here: Here, page: _Page) -> int:
    """Return the version of the draft that the form was read with."""
    if here.method != "POST":
        return page.delivery.version if page.delivery else 0
    return units.plain_number(here.POST.get("version")) or 0


def _with_asked_line(here: Here, paper: Paper) -> Paper:
    asked = {"steel": STEEL, "goods": GOODS}.get(here.POST.get("do", ""))
    if asked is None:
        return paper
    return Paper([*paper.lines, PaperLine(sort=asked, measured="no")], paper.supplier_paper, paper.note, paper.freight)


def _booked_said(received: delivering.Received) -> str:
    entry = received.delivery.entry_id or 0
    said = [f"Delivery {received.delivery.number} is in the book, line {wording.figures(entry)}.", *received.said]
    orders = sorted({line.order.number for line in received.served})
    if orders:
        said.append(f"Set aside from it for order {', '.join(map(str, orders))}.")
    return " ".join(said)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the draft on the page: margin words, fields, what was read back and what is wrong."""

    number: int
    line: PaperLine
    title: str
    ordered: str
    fields: Sequence[django_forms.BoundField]
    seldom: Sequence[django_forms.BoundField]
    seldom_used: bool
    echoes: Sequence[str]
    doubts: Sequence[str]


def _facts(here: Here, page: _Page, form: DeliveryForm) -> Mapping[str, object]:
    today = clock.local_date(clock.now(), shop_row.the_shop().zone)
    supplier = page.delivery.supplier if page.delivery else page.order.supplier if page.order else None
    read = {line.number: line for line in page.read}
    rows = [_row(*row, read.get(row[0]), supplier, today) for row in form.rows()]
    masses = [mass for line in page.read if line.ready for mass in line.ready.masses_mg]
    return {
        "delivery": page.delivery,
        # A refused form is sent again with the version it was read with, so that it never writes over somebody else.
        "version": _version(here, page),
        "order": page.order,
        "supplier": supplier,
        "rows": rows,
        "heavy": door_words.heaviest(masses),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
        "suppliers": Supplier.objects.order_by("name")[:300],
        "goods": deliveries.receivable_items()[:500],
    }


def _row(
    number: int,
    line: PaperLine,
    ordered: PurchaseOrderLine | None,
    fields: Sequence[django_forms.BoundField],
    read: ReadLine | None,
    supplier: Supplier | None,
    today: Any,
) -> Row:
    title = ordered.item.name if ordered else "Steel" if line.sort == STEEL else "Goods"
    to_come = f"to come: {purchasing_words(ordered)}" if ordered else "not on an order"
    echoes = door_words.echoes(read.ready, supplier, today) if read and read.ready else []
    seldom = [bound for bound in fields if line.sort == STEEL and bound.name.split("_", 1)[1] in SELDOM]
    used = any(bound.errors or bound.value() not in (None, "") for bound in seldom)
    often = [bound for bound in fields if bound not in seldom]
    doubts = list(read.wrong.values()) if read else []
    return Row(number, line, title, to_come, often, seldom, used, echoes, doubts)


def _came(here: Here, found: Delivery) -> HttpResponse:
    lines = deliveries.lines_of(found)
    masses = [lot.bar.mass_mg or 0 for one in lines if one.line.bars for lot in one.lots]
    shown = [(one, _came_words(one), second_look.findings_of(one, here)) for one in lines]
    facts = {
        "delivery": found,
        "lines": shown,
        "order_said": _order_said(found),
        "to_measure": [bar for one in lines for bar in one.bars if not bar.measured],
        "heavy": door_words.heaviest(masses),
        "bars": [bar for one in lines for bar in one.bars],
        "claims": found.claims.select_related("line").order_by("id"),
        "photos": found.photos.order_by("id"),
        "unsized": any(second_look.unsized(one.bars) for one in lines),
    }
    return posting.sheet(here, "staff/door/came.html", ROOM, facts)


def _came_words(one: deliveries.CameLine) -> list[str]:
    line = one.line
    if not line.bars:
        return [f"{wording.counted(line.item, line.qty)}, typed as {line.typed}."]
    said = [door_words.lengths_said([bar.length_nm for bar in one.bars]) + "."]
    if line.computed_mass_mg is not None and line.scale_mass_mg is None:  # the check says the other one
        said.append(door_words.mass_said(line.computed_mass_mg, None))
    return said


def _order_said(found: Delivery) -> list[str]:
    order = deliveries.order(found.order.number) if found.order else None
    return purchase_words.said(order.lines.all()) if order else []


def measure(request: HttpRequest) -> HttpResponse:
    """Write down the lengths of bars that wait at the Door, as many as were taped."""
    here = posting.here_of(request)
    bars = list(deliveries.unmeasured()[:MOST_TO_MEASURE])
    if not bars and here.method != "POST":
        return HttpResponseRedirect(reverse("staff:door"))
    form = MeasureForm(here.POST if here.method == "POST" else None, bars=bars, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(here, form, lambda who: _measure(form, who.stamp()))
        if done:
            return done
    facts = {
        "rows": [(bar, bound, rack.heat_of(bar.lot)) for bar, bound in form.rows()],
        "slots": rack.slots().filter(kind="rack"),
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }
    return posting.sheet(here, "staff/door/measure.html", ROOM, facts, form=form)


def _measure(form: MeasureForm, stamp: Stamp) -> tuple[str, str]:
    typed = form.cleaned_data
    place = catalogue.place(typed["place"].upper()) if typed["place"] else None
    count = delivering.measure_all(form.lengths(), stamp=stamp, unit=typed["unit"] or None, place=place)
    bars = "1 bar is" if count == 1 else f"{count} bars are"
    return reverse("staff:rack"), f"{bars} measured and on the rack."
