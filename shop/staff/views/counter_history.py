"""What happened to an order, as plain dated lines, and the stamps of what has happened so far."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.models import Order
from orders.queries import book
from orders.queries.book import Row
from shop.access.models import Person
from shop.shared import shop_row
from shop.shared.clock import local_date
from shop.shared.models import AuditLine
from shop.shared.units import money
from shop.staff import wording
from shop.staff.ruled import Column, Ruled
from shop.staff.templatetags.shop_tags import fractions
from shop.staff.views import order_days

_HIDDEN_FROM_HANDS = ("price changed",)
_SAID_ELSEWHERE = ("day given",)  # the day itself says more
_MOST = 200


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing that happened to an order."""

    at: dt.datetime
    said: str
    who: str


def link(name: str, words: str, *args: object) -> SafeString:
    """Return a link for a cell of a table, or the bare words where there is no such page."""
    address = wording.address(name, *args)
    shown = fractions(words)
    return format_html('<a href="{}">{}</a>', address, shown) if address else shown


def stamps(order: Order, row: Row) -> list[tuple[str, dt.date]]:
    """Return what is stamped on an order: taken, set aside, sent, each with its day."""
    zone = shop_row.the_shop().zone
    found = [("taken", local_date(order.taken_at, zone))]
    aside = [line.allocation.made_at for line in row.lines if line.reserved and line.allocation]
    if aside and row.owed == row.set_aside:
        found.append(("set aside", local_date(max(aside), zone)))
    sent = [s for s in book.shipments_of(order) if s.reversed_at is None]
    found += [("sent", local_date(s.sent_at, zone)) for s in sent]
    return found


def table(order: Order, *, sees_money: bool) -> Ruled:
    """Return the history of an order, the first thing first."""
    zone = shop_row.the_shop().zone
    names = dict(Person.objects.values_list("login", "name"))
    happened = [*_written(order, names, sees_money=sees_money), *_days(order)]
    if sees_money:
        happened += _money(order)
    happened.sort(key=lambda one: one.at)
    columns = [Column("happened"), Column("what"), Column("who")]
    rows = [[wording.at_moment(one.at, zone), one.said, one.who] for one in happened]
    return Ruled(f"What happened to order {order.number}", columns, rows)


def _written(order: Order, names: dict[str, str], *, sees_money: bool) -> list[Happened]:
    lines = AuditLine.objects.filter(subject=f"order {order.number}").exclude(action__in=_SAID_ELSEWHERE)
    lines = lines.order_by("id")[:_MOST]
    return [
        Happened(line.at, _sentence(line, sees_money=sees_money), names.get(line.by, line.by))
        for line in lines
        if sees_money or line.action not in _HIDDEN_FROM_HANDS
    ]


def _sentence(line: AuditLine, *, sees_money: bool) -> str:
    after, before = line.after or {}, line.before or {}
    number = f"line {after['line']}" if "line" in after else ""
    qty = after.get("qty", "")
    because = f" {line.reason}" if line.reason else ""
    if line.action == "quantity changed":
        return f"{number.capitalize()} is for {after['ordered']} now, was {before['ordered']}."
    if line.action == "price changed" and sees_money:
        currency = shop_row.the_shop().currency
        now, was = money(after["price_minor"], currency), money(before["price_minor"], currency)
        return f"{number.capitalize()} is agreed at {now} for one now, was {was}."
    plain = _plainly(line.action, after, number, because)
    if plain:
        return plain
    if line.action == "order taken":
        held = f", out of hold {after['from_hold']}" if "from_hold" in after else ""
        held = f", out of release {after['release']}" if "release" in after else held
        return f"Taken with {after.get('lines', '')} {'line' if after.get('lines') == 1 else 'lines'}{held}."
    if line.action == "order changed":
        return f"Changed: {', '.join(_changed(before, after))}."
    words = {"cancelled": "cancelled", "set aside": "set aside", "let go": "let go", "line added": "added"}
    said = " ".join(str(part) for part in (qty, "of" if qty and number else "", number) if part)
    verb = words.get(line.action, line.action)
    return f"{said} {verb}.".strip().capitalize() + because


def _plainly(action: str, after: dict[str, Any], number: str, because: str) -> str:
    """Return the sentence of what needs no figures of money, or nothing."""
    if action == "sent":
        early = ", before its window" if after.get("before_window") else ""
        return f"Sent, shipment {after.get('shipment', '')}{early}."
    if action == "moved in the queue":
        return f"Moved in the queue {_where(after)}.{because}"
    if action == "said on the phone":
        return f"Said on the phone, kept until {wording.on_day(dt.date.fromisoformat(after['until']))}."
    if action == "taken under the minimum":
        return "Taken although it comes to less than this customer’s orders come to."
    if action == "shared":
        moved = int(after.get("moved", 0))
        way = "given to" if moved > 0 else "taken from"
        return f"{abs(moved)} {way} {number} when there were too few for all, shared {after.get('rule', '')}."
    return ""


def _where(after: dict[str, Any]) -> str:
    return f"before order {after['before']}" if after.get("before") else "behind all"


def _changed(before: dict[str, object], after: dict[str, object]) -> list[str]:
    names = {
        "ship_to": "the address",
        "reference": "their reference",
        "gift": "gift or not",
        "gift_note": "the note for the gift",
        "note": "the note",
        "carriage_minor": "carriage",
        "deposit_minor": "the deposit",
        "start_when_deposit": "whether the start waits for the deposit",
        "send_when_paid": "whether it goes only when paid",
        "not_before": "the first day of the window",
        "not_after": "the last day of the window",
    }
    return [names.get(name, name) for name in after if before.get(name) != after[name]] or ["nothing"]


def _days(order: Order) -> list[Happened]:
    said = []
    for promise in book.days_given(order):
        anew = " anew" if promise.supersedes_id else ""
        of = f" for line {promise.line.number}" if promise.line else ""
        why = f" Why: {promise.reason}" if promise.reason else ""
        words = f"Day given{anew}{of}: {wording.on_day(promise.day)}, {order_days.come_to(promise)}.{why}"
        said.append(Happened(promise.given_at, words, promise.by.name if promise.by else ""))
    return said


def _money(order: Order) -> list[Happened]:
    currency = shop_row.the_shop().currency
    said = []
    for line in order.money.select_related("by").order_by("id"):
        way = "received" if line.amount_minor > 0 else "given back"
        how = f", {line.how}" if line.how else ""
        words = f"{money(abs(line.amount_minor), currency)} {way}{how}."
        said.append(Happened(line.at, words, line.by.name if line.by else ""))
    return said
