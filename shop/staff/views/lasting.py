"""How long things last: every item that is reordered, and one item's run-down with what it rests on."""

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.calc.forecast import kinds
from inventory.calc.reorder.deciding import Coming
from inventory.calc.reorder.rundown import run_down
from inventory.models import Item
from inventory.queries import lead_record, shelf
from orders.queries.reorder import needs as queries
from orders.queries.reorder import proposals
from orders.queries.reorder.needs import Need
from orders.queries.reorder.proposals import Proposal
from shop.access.roles import DESK, reaches
from shop.flows import buying_words, need_words
from shop.shared import clock, shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import rundown_drawn
from shop.staff.views.counter_history import link

ROOM = "shelf"
MOST_RECORDS = 12


def lasts(request: HttpRequest) -> HttpResponse:
    """List every item that is reordered: lasts until, order by, how many, why; what ends first, first."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    at = posting.doing(here).at
    today = clock.local_date(at, shop.zone)
    found = queries.needs(at=at, every=True)
    proposed = proposals.proposals(at=at)
    many = {line.need.item.pk: buying_words.many(line) for one in proposed for line in one.lines if line.units}
    facts = {
        "due": _table("To order or make", [one for one in found if one.pressing], many, today),
        "enough": _table("Enough", [one for one in found if not one.pressing], many, today),
        "desk": reaches(here.acting_role, DESK),
        "proposed": proposed,
    }
    return posting.sheet(here, "staff/shelf/lasts.html", ROOM, facts)


def _table(name: str, found: list[Need], many: dict[int, str], today: dt.date) -> Ruled:
    columns = [Column("what"), Column("lasts until"), Column("order by"), Column("how many"), Column("why")]
    rows = [
        [
            _named(one.item),
            buying_words.lasts(one, today),
            ("make by " if one.make and not one.pressing else "") + need_words.order_by(one, today),
            many.get(one.item.pk) or (_at_least(one) if one.due else ""),
            f"{need_words.left(one)} {need_words.why(one)}",
        ]
        for one in found
    ]
    return Ruled(name, columns, rows)


def _at_least(one: Need) -> str:
    verb = "make" if one.make else "at least"
    return f"{verb} {buying_words.amount(one.item, one.decision.least)}"


def _named(item: Item) -> SafeString:
    return format_html('{} <span class="small nb">{}</span>', link("staff:item_lasts", item.name, item.code), item.code)


def item_lasts(request: HttpRequest, code: str) -> HttpResponse:
    """Draw one item's run-down and say what it rests on: forecast, lead time, what is there and what comes."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None:
        return posting.not_there(here)
    shop, at = shop_row.the_shop(), posting.doing(here).at
    today = clock.local_date(at, shop.zone)
    need = queries.need(item, at=at)
    facts: dict[str, Any] = {"item": item, "need": need, "desk": reaches(here.acting_role, DESK)}
    if need is not None:
        facts |= _facts(need, today, at, shop.currency, shop.zone, costs=bool(here.may.see_costs))
    return posting.sheet(here, "staff/shelf/item_lasts.html", ROOM, facts)


def _facts(need: Need, today: dt.date, at: dt.datetime, currency: str, zone: str, *, costs: bool) -> dict[str, Any]:
    days = rundown_drawn.days_of(need.basis.lead.mean, need.decision.last_safe_day, today)
    found = run_down(need.asked, today=today, days=days)
    proposal, line = _proposed(need, at)
    units = line.units if line else need.decision.least if need.due else 0
    ordered = None
    if units:
        ordered = run_down(need.asked, today=today, days=days, proposed=Coming(units, need.basis.lead))
    return {
        "lasts": buying_words.lasts(need, today),
        "order_by": need_words.order_by(need, today),
        "state": need_words.stands(need, today),
        "many": buying_words.many(line) if line else buying_words.amount(need.item, units) if units else "",
        "reasons": buying_words.reasons(line, currency, costs=costs) if line else "",
        "steel": buying_words.steel(line.bars, line.units) if line and line.bars else "",
        "left": need_words.left(need),
        "why": need_words.why(need, state=False),
        "learned": buying_words.learned(need),
        "asked_for": " ".join(filter(None, (_kind(need), _not_given(need, today)))),
        "lead": _lead(need),
        "drawing": rundown_drawn.drawn(need.item, found, ordered),
        "supplier": proposal.supplier if proposal else None,
        "record": _record(need.item, zone, today),
    }


def _proposed(need: Need, at: dt.datetime) -> tuple[Proposal | None, proposals.ProposedLine | None]:
    if need.make or not need.due:
        return None, None
    for one in proposals.proposals(at=at):
        for line in one.lines:
            if line.need.item.pk == need.item.pk:
                return one, line
    return None, None


def _kind(need: Need) -> str:
    found = kinds.kind(need.basis.history)
    if found is None:
        return ""
    weeks = sum(1 for one in need.basis.history if one)
    return f"Asked for in {wording.figures(weeks)} of {wording.figures(len(need.basis.history))} weeks: {found.word}."


def _not_given(need: Need, today: dt.date) -> str:
    """Say how often it was asked for and could not be given or was not taken, which counts as asked for too."""
    since = clock.at_local(today - dt.timedelta(weeks=len(need.basis.history)), 0, shop_row.the_shop().zone)
    times = need.item.refused.filter(at__gte=since, one_off=False).count()
    if not times:
        return ""
    often = "Once" if times == 1 else f"{wording.figures(times)} times"
    return f"{often} it could not be given or was not taken; that counts as asked for."


def _lead(need: Need) -> str:
    lead, verb = need.basis.lead, "make" if need.make else "come"
    if not lead.records:
        return f"It is believed to take {round(lead.mean)} days to {verb}; no record yet."
    within = lead.within(0.9)
    many = wording.figures(lead.records)
    what = "runs" if need.make else "deliveries"
    return f"It takes {round(lead.mean)} days to {verb}, {within} at most nine times in ten, from {many} {what}."


def _record(item: Item, zone: str, today: dt.date) -> Ruled | None:
    """Return what was ordered and when it came, the last first."""
    if item.supplier_id is None:
        return None
    rows = [
        one
        for one in lead_record.lines({item.supplier_id}, zone=zone).get(item.supplier_id, ())
        if one.line.item_id == item.pk
    ]
    columns = [Column("ordered"), Column("what"), Column("promised"), Column("came"), Column("days", figures=True)]
    table = []
    for one in rows[:MOST_RECORDS]:
        came = [day for day, _ in one.record.came]
        table.append(
            [
                link("staff:door_order", wording.on_day(one.record.ordered, seen=today), one.line.order.number),
                one.line.typed,
                wording.on_day(one.record.promised, seen=today) if one.record.promised else "",
                ", ".join(wording.on_day(day, seen=today) for day in came)
                or ("closed" if one.line.order.closed_at else "not yet"),
                (came[-1] - one.record.ordered).days if came else "",
            ]
        )
    return Ruled(f"Orders of {item.name}", columns, table)
