"""The two letters to a supplier, as text and as the same in plain HTML: the order, and the question where it is."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import escape

from inventory.models import PurchaseOrder, PurchaseOrderLine
from inventory.queries import deliveries
from shop.flows import purchase_paper
from shop.flows.night import words
from shop.flows.purchase_paper import Paper
from shop.shared import shop_row

_INK = "#1B1916"
_CELL = f"padding:6px 12px 6px 0;border-top:1px solid #BEB49F;vertical-align:top;color:{_INK}"


@dataclass(frozen=True, slots=True)
class Letter:
    """Subject, plain text and HTML that reads the same in the same order."""

    subject: str
    text: str
    html: str


def ordering(paper: Paper, *, first_sent: dt.date | None = None) -> Letter:
    """Return the letter that orders; `first_sent` says that it went out before and is no second order."""
    subject = f"Order {paper.number} from {paper.shop}"
    before = [_head(paper)]
    if first_sent is not None:
        subject += ", sent again"
        before.append(f"Sent again: it is the order of {_full(first_sent)}, not a second one.")
    after = [paper.cancelled] if paper.cancelled else []
    if paper.total:
        carriage = f", carriage {paper.freight}" if paper.freight else ""
        after.append(f"Together {paper.total}{carriage}, as far as we know your prices.")
    if paper.wanted is not None:
        after.append(f"Wanted by {_full(paper.wanted)}.")
    if paper.address:
        after.append(f"Bring it to:\n{paper.shop}\n{paper.address}")
    after += paper.papers
    if paper.note:
        after.append(paper.note)
    after.append(f"Tell us the day it will come, and name order {paper.number} on the delivery paper.")
    after += _reach(paper.reach)
    rows = [(f"{one.number}.", one.many, one.what, one.price) for one in paper.lines]
    return Letter(subject, _text(before, rows, after), _html(before, rows, after))


def where_is_it(order: PurchaseOrder) -> Letter:
    """Return the letter that asks where an order is."""
    shop = shop_row.the_shop()
    before = [
        f"{shop.name}{_invented(invented=shop.invented)}",
        f"Our order {order.number} of {_full(order.ordered_on)}.",
    ]
    day = promised(order)
    if day:
        before.append(f"{day}.")
    before.append("Of it we still wait for:")
    rows = [(f"{line.number}.", to_come(line), line.item.name, "") for line in deliveries.to_come(order)]
    after = ["Tell us on which day it will come.", *_reach(purchase_paper.reach(shop))]
    return Letter(
        f"Where is order {order.number} from {shop.name}", _text(before, rows, after), _html(before, rows, after)
    )


def promised(order: PurchaseOrder) -> str:
    """Say for which day an order was promised first and is now; else for when it is wanted; nothing where neither is."""
    if order.confirmed_on and order.first_confirmed_on and order.first_confirmed_on != order.confirmed_on:
        return f"Promised for {words.day(order.first_confirmed_on, seen=order.ordered_on)}, now {words.day(order.confirmed_on, seen=order.ordered_on)}"
    if order.confirmed_on:
        return f"Promised for {words.day(order.confirmed_on, seen=order.ordered_on)}"
    return f"Wanted for {words.day(order.wanted_on, seen=order.ordered_on)}" if order.wanted_on else ""


def meant(order: PurchaseOrder, day: dt.date) -> str:
    """Say for which day an order was promised or wanted; of one without a day, within how many days it is usually here."""
    usual = words.count((day - order.ordered_on).days, "day")
    return promised(order) or f"Ordered {words.day(order.ordered_on)}, usually here within {usual}"


def asked(order: PurchaseOrder, today: dt.date) -> str:
    """Say when the supplier was last asked where an overdue order is; nothing where nobody asked yet."""
    if order.asked_on is None:
        return ""
    return "Asked today, no day yet" if order.asked_on == today else f"Asked on {words.day(order.asked_on)}, no day yet"


def to_come(line: PurchaseOrderLine) -> str:
    """Write what of a line is still to come."""
    if line.bars is not None:
        left = max(0, line.bars - line.received_bars)
        return f"{left} {words.plural('bar', left)}"
    return words.spoken(line.item, max(0, line.qty - line.received))


def _head(paper: Paper) -> str:
    name = f"{paper.shop}{_invented(invented=paper.invented)}"
    return f"{name}\nOrder {paper.number} to {paper.supplier}, {_full(paper.ordered)}"


def _reach(said: str) -> list[str]:
    return [f"You reach us at {said}."] if said else []


def _invented(*, invented: bool) -> str:
    return ", an invented shop" if invented else ""


def _full(day: dt.date) -> str:
    return f"{words.full_day(day)} {day.year}"


def _text(before: Sequence[str], rows: Sequence[Sequence[str]], after: Sequence[str]) -> str:
    lines = [_row(row) for row in rows]
    return "\n\n".join([*before, "\n".join(lines), *after]) + "\n"


def _row(row: Sequence[str]) -> str:
    number, many, what, price = row
    return f"{number} {many}: {what}" + (f", {price}" if price else "")


def _html(before: Sequence[str], rows: Sequence[Sequence[str]], after: Sequence[str]) -> str:
    style = f"font:16px/1.5 Georgia,serif;color:{_INK}"
    cells = "".join(
        "<tr>" + "".join(f'<td style="{_CELL}">{escape(cell)}</td>' for cell in row) + "</tr>" for row in rows
    )
    table = f'<table style="border-collapse:collapse;{style}">{cells}</table>'
    said = [*map(_paragraph, before), table, *map(_paragraph, after)]
    return f'<div style="{style};background:#FFFEFA;max-width:42em;padding:12px">{"".join(said)}</div>'


def _paragraph(sentence: str) -> str:
    return f"<p>{escape(sentence).replace(chr(10), '<br>')}</p>"
