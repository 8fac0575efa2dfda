"""What to order today, supplier by supplier: each proposal leads to the written order, filled in, to be changed and sent."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import PurchaseOrder
from inventory.queries import lasting
from orders.queries.reorder import proposals as queries
from orders.queries.reorder import stops
from orders.queries.reorder.proposals import Proposal, ProposedLine
from shop.flows import buying_words, need_words
from shop.flows.night import words
from shop.shared import clock, shop_row, units
from shop.staff import posting, wording

ROOM = "door"


@dataclass(frozen=True, slots=True)
class Shown:
    """One line of a proposal as it is printed."""

    many: str
    unit: str
    name: str
    code: str
    words: str
    value: str


@dataclass(frozen=True, slots=True)
class Written:
    """An order that is written and not sent, as it is printed."""

    number: int
    count: int
    unit: str
    supplier: str
    words: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One supplier's proposal as it is printed."""

    name: str
    lines: list[Shown]
    total: str
    notes: list[str]
    address: str


def to_order(request: HttpRequest) -> HttpResponse:
    """Show today's proposals."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    at = posting.doing(here).at
    today = clock.local_date(at, shop.zone)
    found = queries.proposals(at=at)
    facts = {
        "written": [_written(order) for order in lasting.not_sent()],
        "sheets": [_sheet(one, today, shop.currency) for one in found],
        "stops": _stops(at, today),
        "money": units.money(shop.spend_minor, shop.currency) if shop.spend_minor is not None else "",
    }
    return posting.sheet(here, "staff/door/to_order.html", ROOM, facts)


def _written(order: PurchaseOrder) -> Written:
    count = sum(1 for line in order.lines.all() if lasting.left(line))
    said = f"written {words.day(order.ordered_on)} and not sent. The supplier does not know of it; its goods count as on order."
    return Written(order.number, count, words.plural("line", count), order.supplier.name, said)


def _sheet(one: Proposal, today: dt.date, currency: str) -> Sheet:
    total = ""
    if one.value:
        total = f"About {units.money(one.value, currency)}"
        total += (
            f" and carriage of {units.money(one.freight, currency)}."
            if one.freight
            else ", carriage free or not noted."
        )
    name = one.supplier.name if one.supplier else "No supplier yet"
    return Sheet(
        name,
        [_line(line, today, currency) for line in one.lines],
        total,
        buying_words.notes(one, currency),
        _address(one),
    )


def _line(line: ProposedLine, today: dt.date, currency: str) -> Shown:
    need, item = line.need, line.need.item
    many, _, unit = buying_words.many(line).partition(" ")
    ends = f"Lasts until {buying_words.lasts(need, today)}."
    none = "" if line.units else "Cannot be bought now."
    said = [ends, need_words.left(need), none, buying_words.reasons(line, currency)]
    if line.bars:
        said.append(buying_words.steel(line.bars, line.units))
    value = units.money(line.value, currency) if line.value else ""
    return Shown(many, unit, item.name, item.code, " ".join(one for one in said if one), value)


def _address(one: Proposal) -> str:
    """Lead to the written order with everything filled in; nowhere where nothing can be bought."""
    if not one.bought:
        return ""
    filled: dict[str, str] = {"supplier": one.supplier.name} if one.supplier else {}
    for n, line in enumerate(one.bought):
        item = line.need.item
        if line.bars and item.grade and item.section:
            filled |= {f"item_{n}": item.grade.code, f"shape_{n}": item.section.shape, f"size_{n}": item.section.typed}
        else:
            filled[f"item_{n}"] = item.code
        filled[f"qty_{n}"] = line.typed
    return f"{reverse('staff:door_order_new')}?{urlencode(filled)}"


def _stops(at: dt.datetime, today: dt.date) -> Sequence[str]:
    """Say what stops first if nothing is bought."""
    return [
        words.capital(f"{one.item.name} lasts until {wording.on_day(one.day) if one.day > today else 'today'}")
        + (f"; then {_named([tool.name for tool in one.tools])} cannot be finished." if one.tools else ".")
        + _on_its_way(one)
        for one in stops.first(at=at)
    ]


def _on_its_way(one: stops.Stop) -> str:
    said = need_words.on_its_way(one.need)
    return f" On its way: {said}." if said else ""


def _named(names: Sequence[str]) -> str:
    most = 4
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more" if len(names) > most else shown
