"""The trace: from a tool, lot, bar, order or mill heat up to the melt and down to whoever has the pieces."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.models import Lot, Melt
from inventory.queries import balance, movements, trace
from inventory.queries.movements import Sought
from inventory.queries.trace import Node
from orders.models import ShippedLot
from orders.queries import book as order_book
from orders.queries import went_into
from shop.access.middleware import Here
from shop.shared import shop_row, units
from shop.staff import posting, wording
from shop.staff.fields import SlipForm, Words
from shop.staff.ruled import Column, Ruled
from shop.staff.views import book_lines, certificates, melts
from shop.staff.views.counter_history import link

ROOM = "book"


class TraceForm(SlipForm):
    """What is traced."""

    of = Words(
        longest=60, label="Struck on the steel, lot, bar, mill heat, certificate, delivery or order", required=True
    )


@dataclass(frozen=True, slots=True)
class Traced:
    """Lots with where they came from, what became of them and who has the pieces."""

    title: str
    lead: str
    starts: list[int]
    ups: list[trace.Kin]


def seek(request: HttpRequest) -> HttpResponse:
    """Ask what to trace, and go there where it is one thing."""
    here = posting.here_of(request)
    form = TraceForm(here.GET if "of" in here.GET else None, shop=shop_row.the_shop())
    found: list[tuple[str, str]] = []
    if form.is_bound and form.is_valid():
        found = _meant(form.cleaned_data["of"])
        if len({address for address, _ in found}) == 1:
            return HttpResponseRedirect(found[0][0])
        if not found:
            form.add_error("of", "Nothing in this book has that name; look at the letters struck on the steel again.")
    return posting.sheet(here, "staff/book/trace.html", ROOM, {"found": found}, form=form)


def _meant(text: str) -> list[tuple[str, str]]:
    """Return where a code may lead: address and words."""
    found = [
        (reverse("staff:book_lot", args=[lot.pk]), f"Lot {lot.code}, {lot.item.name}") for lot in trace.find_lots(text)
    ]
    found += [_melt(melt) for melt in trace.find_melts(text)]
    for paper in trace.find_certificates(text):
        address, words = _melt(paper.melt)
        found.append((address, f"Certificate {paper.number}{', taken back' if paper.withdrawn_at else ''}: {words}"))
    for delivery in trace.find_deliveries(text):
        named = f"Delivery {delivery.number} from {delivery.supplier.name}"
        melts = [_melt(melt) for melt in trace.melts_of_delivery(delivery)]
        found += [(address, f"{named}: {words}") for address, words in melts] or [
            (reverse("staff:delivery", args=[delivery.number]), named)
        ]
    number = units.plain_number(text)
    order = order_book.find_order(number) if number is not None else None
    if order:
        found.append((reverse("staff:book_order", args=[order.number]), f"What was sent for order {order.number}"))
    return found


def _melt(melt: Melt) -> tuple[str, str]:
    mill = f" of {melt.mill}" if melt.mill else ""
    return reverse("staff:book_melt", args=[melt.pk]), f"Mill heat {melt.heat_number}{mill}, {melt.grade}"


def lot(request: HttpRequest, number: int) -> HttpResponse:
    """Trace a lot or bar both ways."""
    here, found = posting.here_of(request), trace.find_lot(number)
    if found is None:
        return posting.not_there(here)
    named = f"Bar {found.bar.number}" if hasattr(found, "bar") else f"Lot {found.code}"
    lead = f"{found.item.name}, {_came(found)}."
    traced = Traced(named, lead, [found.pk], trace.up([found.pk]))
    lines = movements.page(Sought(lot_id=found.pk), size=30).entries
    return _sheet(here, traced, book_lines.table(lines, f"Lines about lot {found.code}"))


def melt(request: HttpRequest, number: int) -> HttpResponse:
    """Trace a mill heat down to whoever has the pieces."""
    here, found = posting.here_of(request), trace.find_melt(number)
    if found is None:
        return posting.not_there(here)
    mill = f"{found.mill}, " if found.mill else ""
    unknown = "" if found.known else " Nobody knows which melts these are."
    lead = f"{mill}{found.grade}.{unknown} Every piece of it, from the lorry to the customer."
    traced = Traced(f"Mill heat {found.heat_number}", lead, trace.lots_of_melt(found), [])
    stages = balance.of_melt(found)
    more = {
        "melt": found,
        "whole": melts.whole_shown(stages),
        "stages": melts.stages_shown(stages),
        "scale_said": melts.scale_said(balance.weighed(found)),
        "papers": certificates.listed(found),
    }
    return _sheet(here, traced, None, more)


def order(request: HttpRequest, number: int) -> HttpResponse:
    """Trace what was sent for an order back to its steel."""
    here, found = posting.here_of(request), order_book.find_order(number)
    if found is None:
        return posting.not_there(here)
    lots = sorted(order_book.lots_sent(found))
    lead = f"What was sent to {found.customer.name}, and where it came from."
    return _sheet(here, Traced(f"Order {found.number}, traced", lead, lots, trace.up(lots)), None)


def _sheet(here: Here, traced: Traced, lines: Ruled | None, more: Mapping[str, object] | None = None) -> HttpResponse:
    start = trace.roots(traced.starts, traced.ups)
    downs = trace.down(start)
    family = {*start, *(step.child for step in downs)}
    after = {*traced.starts, *(step.child for step in trace.down(traced.starts))} if traced.ups else family
    sent = order_book.shipped(family)
    taken = went_into.taken_out(after)
    at_stake = [one for one in sent if one.lot_id in after]
    facts = {
        "traced": traced,
        "tree": _tree(trace.forward(start, downs), sent, set(traced.starts)),
        "sent": _sent_table(at_stake),
        "taken": melts.taken_shown(taken),
        "given": sum(line.qty for line in taken),
        "orders": len({one.shipment_line.shipment.order_id for one in at_stake}),
        "customers": len({one.shipment_line.shipment.order.customer_id for one in at_stake}),
        "pieces": sum(one.qty for one in at_stake),
        "lines": lines,
        **(more or {}),
    }
    return posting.sheet(here, "staff/book/traced.html", ROOM, facts)


def _came(found: Lot) -> str:
    steel = f", mill heat {found.melt.heat_number}, {found.melt.grade}" if found.melt else ""
    return f"{found.entry.kind} on {wording.on_day(found.born_at.date())}{steel}"


def _tree(nodes: list[Node], sent: list[ShippedLot], marked: set[int]) -> SafeString:
    went: dict[int, list[ShippedLot]] = {}
    for one in sent:
        went.setdefault(one.lot_id, []).append(one)

    def drawn(node: Node) -> SafeString:
        below = format_html_join("", "{}", ((drawn(child),) for child in node.follows))
        inner = format_html("<ol>{}</ol>", below) if node.follows else ""
        said = _node(node, went.get(node.lot.pk, []), marked=node.lot.pk in marked)
        return format_html("<li>{}{}</li>", said, inner)

    return format_html('<ol class="tree">{}</ol>', format_html_join("", "{}", ((drawn(node),) for node in nodes)))


def _node(node: Node, went: list[ShippedLot], *, marked: bool) -> SafeString:
    found = node.lot
    code = found.bar.number if hasattr(found, "bar") else found.code
    named = link("staff:book_lot", code, found.pk)
    parts = [f"{found.item.name}"]
    undone = hasattr(found.entry, "reversed_by")
    if node.left:
        parts.append(f"{wording.amount(found.item, node.left)} here")
    if went:
        orders = sorted({one.shipment_line.shipment.order.number for one in went})
        numbers = ", ".join(map(str, orders))
        parts.append(f"{wording.figures(sum(one.qty for one in went))} sent · orders {numbers}")
    if not node.left and not went:
        parts.append("undone" if undone else "used up")
    mark = format_html("<b>{}</b>", named) if marked else named
    return format_html('<span class="code">{}</span> {}', mark, " · ".join(parts))


def _sent_table(sent: list[ShippedLot]) -> Ruled | None:
    if not sent:
        return None
    columns = [Column("order"), Column("to"), Column("what"), Column("pieces", figures=True), Column("lot")]
    rows = []
    for one in sent:
        shipment = one.shipment_line.shipment
        number = shipment.order.number
        rows.append(
            [
                link("staff:order", f"{number}", number),
                shipment.order.customer.name,
                one.lot.item.name,
                wording.figures(one.qty),
                link("staff:book_lot", one.lot.code, one.lot_id),
            ]
        )
    return Ruled("Who has the pieces", columns, rows)
