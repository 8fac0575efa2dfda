"""A supplier's page: how long it takes and how it keeps the days it promises, item by item and line by line."""

import datetime as dt
from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse

from inventory.calc import lead_summary
from inventory.calc.lead_summary import Summary
from inventory.models import Item, Supplier
from inventory.queries import lead_record
from inventory.queries.lead_record import Line
from shop.flows import purchase_paper
from shop.flows.night import words
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.counter_history import link

ROOM = "door"
MOST_SHOWN = 20


def supplier(request: HttpRequest, number: int) -> HttpResponse:
    """Show a supplier's record."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    found = Supplier.objects.filter(pk=number).first()
    if found is None:
        return posting.not_there(here)
    today = clock.local_date(posting.doing(here).at, shop.zone)
    lines = lead_record.told(lead_record.lines([found.pk], zone=shop.zone).get(found.pk, ()))
    facts = {
        "supplier": found,
        "said": _said(_summary(lines, today)),
        "items": _items(lines, today),
        "lines": _lines(lines, today),
        "open": found.purchase_orders.filter(closed_at=None).order_by("number"),
    }
    return posting.sheet(here, "staff/door/supplier.html", ROOM, facts)


def _summary(lines: Sequence[Line], today: dt.date) -> Summary:
    return lead_summary.summary([one.record for one in lines], today=today)


def _said(figures: Summary) -> list[str]:
    """Say a record in sentences."""
    said = []
    if figures.whole == 1:
        said.append(f"The one line that came whole took {words.count(figures.median or 0, 'day')}.")
    elif figures.median is not None:
        said.append(f"Half came within {words.count(figures.median, 'day')}, the slowest took {figures.worst}.")
    if figures.promised:
        said.append(f"{words.capital(_kept(figures))} by the day first promised.")
    if figures.whole > 1 and figures.late_median is not None and figures.late_worst is not None:
        said.append(f"Against that day half came {_off(figures.late_median)}, the worst {_off(figures.late_worst)}.")
    if figures.in_parts:
        said.append(f"{words.capital(words.count(figures.in_parts, 'line'))} came in parts.")
    if figures.waiting:
        still = "is" if figures.waiting == 1 else "are"
        oldest = f", the oldest {words.count(figures.waited, 'day')}" if figures.waited else ""
        said.append(f"{words.capital(words.count(figures.waiting, 'line'))} {still} waited for{oldest}.")
    return said


def _kept(figures: Summary) -> str:
    """Say how many were there by the day promised."""
    if figures.kept == figures.promised:
        return (
            f"all {wording.figures(figures.promised)} were there" if figures.promised > 1 else "the one line was there"
        )
    return f"{_kept_of(figures)} were there"


def _kept_of(figures: Summary) -> str:
    kept = wording.figures(figures.kept) if figures.kept else "none"
    return f"{kept} of {wording.figures(figures.promised)}"


def _off(days: int) -> str:
    if days == 0:
        return "on the day"
    return f"{words.count(abs(days), 'day')} {'late' if days > 0 else 'early'}"


def _items(lines: Sequence[Line], today: dt.date) -> Ruled:
    columns = [Column("item"), *(Column(head, figures=True) for head in ("lines", "half within", "slowest")),
               Column("by the day promised"), Column("in parts", figures=True)]  # fmt: skip
    by_item: dict[int, list[Line]] = {}
    items: dict[int, Item] = {}
    for one in lines:
        by_item.setdefault(one.line.item_id, []).append(one)
        items[one.line.item_id] = one.line.item
    rows = []
    for pk in sorted(by_item, key=lambda pk: items[pk].name):
        figures = _summary(by_item[pk], today)
        rows.append(
            [
                link("staff:item_lasts", items[pk].name, items[pk].code),
                wording.figures(figures.whole + figures.waiting),
                _days(figures.median),
                _days(figures.worst),
                _kept_of(figures) if figures.promised else "none promised",
                figures.in_parts or "",
            ]
        )
    return Ruled("Item by item", columns, rows)


def _days(days: int | None) -> str:
    return "" if days is None else f"{wording.figures(days)} {words.plural('day', days)}"


def _lines(lines: Sequence[Line], today: dt.date) -> Ruled:
    columns = [Column("order"), Column("what"), Column("ordered"), Column("first promised"), Column("came")]
    rows = [
        [
            link("staff:door_order", str(one.line.order.number), one.line.order.number),
            f"{purchase_paper.many(one.line)}: {one.line.item.name}",
            wording.on_day(one.record.ordered, seen=today),
            wording.on_day(one.record.promised, seen=today) if one.record.promised else "no day",
            _came(one, today),
        ]
        for one in lines[:MOST_SHOWN]
    ]
    return Ruled("Line by line, the last ordered first", columns, rows)


def _came(one: Line, today: dt.date) -> str:
    """Say on which days a line came, with shares where it came in parts, and what is still out."""
    record = one.record
    whole = len(record.came) == 1 and not record.open
    said = [
        f"{wording.on_day(day, seen=today)}{'' if whole else f', {_hundredths(share)} of 100'}"
        for day, share in record.came
    ]
    if record.open:
        days = (today - record.ordered).days
        said.append(f"waited for {words.count(days, 'day')}" if days else "ordered today")
    elif record.promised is not None:
        said.append(_off((record.came[-1][0] - record.promised).days))
    return "; ".join(said)


def _hundredths(share: float) -> int:
    return max(1, min(99, round(100 * share)))
