"""The Counter: the order book, taking an order, one order with its history."""

import datetime as dt
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.models import OWN_SOURCE, Customer, Order, OrderLine
from orders.queries import availability, book, margins, releases, short
from orders.queries.book import Row
from orders.services import ordering, windows
from shop.access.middleware import Here
from shop.flows import ordering as at_the_counter
from shop.shared import clock, files, shop_row
from shop.shared.units import money
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.templatetags.shop_tags import fractions
from shop.staff.views import counter_history, notices, order_days
from shop.staff.views.asked import promised
from shop.staff.views.asked_forms import AskForm
from shop.staff.views.counter_forms import LINES, FindForm, OrderSlip

ROOM = "counter"


@dataclass(frozen=True, slots=True)
class Said:
    """One order in the list, in words."""

    number: int
    customer: str
    what: str
    day: str
    stands: str
    address: str


def counter(request: HttpRequest) -> HttpResponse:
    """List the open orders; find one by number, customer or reference."""
    here = posting.here_of(request)
    form = FindForm(here.GET, shop=shop_row.the_shop())
    typed = form.cleaned_data if form.is_valid() else {}
    today = clock.local_date(posting.doing(here).at, shop_row.the_shop().zone)
    page = book.page(find=typed.get("find", ""), closed=bool(typed.get("every")), before=typed.get("before"))
    facts = {
        "orders": [_said(row, today) for row in page.rows],
        "older": page.older,
        "find": typed.get("find", ""),
        "every": typed.get("every"),
        "ask": AskForm(shop=shop_row.the_shop()),
        **promised(here),
        "short": len(short.several()),
        "returns": len(book.waiting_inspection()),
    }
    return posting.sheet(here, "staff/counter/counter.html", ROOM, facts, form=form)


def _said(row: Row, today: dt.date) -> Said:
    begins = row.order.not_before
    waits = f", not before {wording.on_day(begins)}" if begins and begins > today and row.owed else ""
    return Said(
        number=row.order.number,
        customer=row.order.customer.name,
        what=wording.what(row.lines, owed_only=row.order.closed_at is None),
        day=", ".join(wording.on_day(day, seen=today) for day in row.days) or "none",
        stands=wording.stands(row.owed, row.set_aside, row.to_make, sum(line.shipped for line in row.lines)) + waits,
        address=reverse("staff:order", args=[row.order.number]),
    )


def take(request: HttpRequest) -> HttpResponse:
    """Take an order on one slip; "Look first" says what can be promised and books nothing."""
    here = posting.here_of(request)
    shop = shop_row.the_shop()
    form = OrderSlip(*posting.sent(here), shop=shop)
    looking = "look" in here.POST
    if here.method == "POST" and form.is_valid() and not looking:
        with files.only_if_booked(form.cleaned_data["made_file"], book.names_file):
            done = posting.book(here, form, lambda who: _take(form, who), names=form.names())
        if done:
            return done
    now = posting.doing(here).at
    promised = availability.of(None, at=now)
    facts = {
        "promised": [one for one in promised if one.item.kind != "bar"],
        "customers": Customer.objects.filter(active=True).order_by("name", "id")[:500],
        "rows": _rows(form, {one.item.pk: one for one in promised}),
        "looked": looking,
        "more": any(form[f"{part}_{n}"].value() for n in range(3, LINES) for part in ("item", "qty", "price")),
    }
    return posting.sheet(here, "staff/counter/take.html", ROOM, facts, form=form)


def _take(form: OrderSlip, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    order = at_the_counter.take(typed["buyer"], typed["wanted"], form.terms(), at=who.at, by=who.by)
    row = book.rows([order])[0]
    said = f"Order {order.number} is taken: {wording.stands(row.owed, row.set_aside, row.to_make, 0)}."
    return reverse("staff:order", args=[order.number]), said


def _rows(form: OrderSlip, promised: dict[int, availability.Availability]) -> list[dict[str, object]]:
    """Return the lines of the slip, each with what can be promised of its item."""
    rows: list[dict[str, object]] = []
    typed = getattr(form, "cleaned_data", {})
    for number, row in enumerate(form.rows()):
        item = typed.get(f"item_{number}")
        echo = ""
        if item and item.pk in promised:
            one = promised[item.pk]
            more = f" ({one.parts} of them from parts)" if one.parts else ""
            echo = f"{item.name}: {one.there} there · {one.spoken_for} spoken for · can promise {one.can_promise}{more}"
            if item.retail_minor is not None:
                echo += f" · list price {money(item.retail_minor, form.shop.currency)}"
        rows.append({**row, "echo": echo, "later": number > 0})
    return rows


def order(request: HttpRequest, number: int) -> HttpResponse:
    """Show an order: what, how far it is, to where, the day given, money, what was sent, what happened."""
    here = posting.here_of(request)
    found = book.find_order(number)
    if found is None:
        return posting.not_there(here)
    row = book.rows([found])[0]
    facts = {
        "order": found,
        "row": row,
        "lines": _lines(here, row),
        "stands": wording.stands(row.owed, row.set_aside, row.to_make, sum(line.shipped for line in row.lines)),
        "stamps": counter_history.stamps(found, row),
        "shipments": book.shipments_of(found),
        "happened": counter_history.table(found, sees_money=here.may.see_costs),
        "can_send": found.closed_at is None and found.source != OWN_SOURCE and (row.set_aside or row.to_make),
        "to_start": _to_start(found),
        "margins": _margins(found) if here.may.see_margins else None,
        **_money(found),
        **_window(here, row),
        "release": releases.of_order(found),
        "days": order_days.days_of(found),
        "spoken": order_days.spoken(found),
        **(notices.told_of(found, at=posting.doing(here).at) if here.may.see_addresses else {}),
    }
    return posting.sheet(here, "staff/counter/order.html", ROOM, facts)


def _window(here: Here, row: Row) -> dict[str, object]:
    found, today = row.order, clock.local_date(posting.doing(here).at, shop_row.the_shop().zone)
    is_open = found.closed_at is None
    return {
        "window": wording.window(found),
        "window_begins": is_open and found.not_before is not None and today < found.not_before,
        "window_over": is_open and found.not_after is not None and found.not_after < today,
        "day_outside": is_open and row.day is not None and not windows.holds(found, row.day),
    }


def _to_start(found: Order) -> list[tuple[OrderLine, str, int]]:
    """Return the lines made to order for which no run was begun, each with the head of its nearest pattern."""
    lines = found.lines.filter(item=None, pattern__isnull=False, runs=None).order_by("number")
    starts = []
    for line in lines.select_related("pattern"):
        head = line.pattern.items.filter(kind="head", active=True).order_by("code").first() if line.pattern else None
        left = line.ordered - line.cancelled - line.shipped
        if head is not None and left:
            starts.append((line, head.code, left))
    return starts


def _margins(found: Order) -> Ruled | None:
    """Return what is left of each line that was sent over its material; for the owner alone."""
    currency = shop_row.the_shop().currency
    rows = [
        [
            wording.line_name(one.line),
            wording.figures(one.pieces),
            money(one.sold, currency),
            money(one.material, currency) if one.material is not None else "not known",
            money(one.left, currency) if one.left is not None else "",
        ]
        for one in margins.of_order(found)
    ]
    columns = [Column("line"), *(Column(head, figures=True) for head in ("sent", "sold for", "material", "left"))]
    return Ruled(f"What is left of order {found.number} over its material", columns, rows) if rows else None


def _money(found: Order) -> dict[str, object]:
    total = ordering.total_minor(found)
    owed = total - found.received_minor
    waits = found.start_when_deposit and found.received_minor < found.deposit_minor
    return {
        "total": total,
        "owed_money": owed,
        "deposit_waits": waits,
        "pay_first": found.send_when_paid and owed > 0 and found.closed_at is None,
    }


def _lines(here: Here, row: Row) -> Ruled:
    prices = here.may.see_costs
    columns = [
        Column("what"),
        Column("ordered", figures=True),
        Column("sent", figures=True),
        Column("set aside", figures=True),
        Column("still owed", figures=True),
    ]
    columns += [Column("agreed for one", figures=True)] if prices else []
    columns += [Column("")] if prices and row.order.closed_at is None else []
    return Ruled(f"Lines of order {row.order.number}", columns, [_cells(here, row, n) for n in range(len(row.lines))])


def _name(line: OrderLine) -> SafeString | str:
    name = f"{line.number}. {wording.line_name(line)}"
    name += ", goes whole" if line.whole else ""
    if line.item is not None:
        return name
    shown = fractions(f"{name} (made to order)")
    if not line.file:
        return shown
    file = counter_history.link("staff:order_file", line.file_name, line.order.number, line.number)
    return format_html("{}: {}", shown, file)


def _cells(here: Here, row: Row, place: int) -> list[object]:
    line = row.lines[place]
    cells: list[object] = [
        _name(line),
        wording.figures(line.ordered - line.cancelled),
        wording.figures(line.shipped) if line.shipped else "",
        wording.figures(line.reserved) if line.reserved else "",
        wording.figures(line.waiting) if line.waiting else "",
    ]
    if here.may.see_costs:
        cells.append(money(line.price_minor, shop_row.the_shop().currency))
        if row.order.closed_at is None:
            cells.append(counter_history.link("staff:order_line", "Change", row.order.number, line.number))
    return cells
