"""The night's lines about orders not sent, goods that run dry though ordered, papers awaited, and what is dry today."""

import datetime as dt

from django.db.models import Sum

from inventory.models import Holding, Place
from inventory.queries import lasting, papers
from orders.queries.reorder.needs import Need
from shop.flows import need_words
from shop.flows.night import words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import clock

DRY_WITHIN = 7  # days within which it is said that something runs dry though enough is on order. No source
NAMED = 2
NOT_SENT = "purchase_order_not_sent"  # in the facts of a line about one
PAPERS_AFTER = 3  # days after which an awaited certificate is asked for. No source


def runs_dry(found: list[Need], *, today: dt.date) -> list[Part]:
    """Return the part "Runs dry": bought goods that end within a week though enough is on order, for somebody to ask."""
    ends = [
        one for one in found
        if not one.make and one.runs_dry is not None and (one.runs_dry - today).days < DRY_WITHIN
    ]  # fmt: skip
    if not ends:
        return []
    lines = tuple(_dry_line(one, today) for one in ends)
    said = f"{words.count(len(lines), 'thing')} {'runs' if len(lines) == 1 else 'run'} dry before the delivery"
    return [Part("dry", "Runs dry", lines, said, said)]


def _dry_line(need: Need, today: dt.date) -> Line:
    item, until = need.item, need.decision.lasts_until
    assert until is not None
    days = max(0, (until - today).days)
    orders = sorted({line.order.number for line, _ in need.position.coming})
    said = f"{need_words.left(need)} {words.capital(need_words.to_do(need))}."
    if len(orders) > 1:
        link = Link(path("staff:item_lasts", item.code, otherwise="staff:door"), "See what is to come")
    elif orders[0] in need.position.not_sent:
        link = Link(path("staff:door_order_send", orders[0], otherwise="staff:door"), "Send it")
    else:
        link = Link(path("staff:door_order", orders[0], otherwise="staff:door"), "See what is to come")
    facts = {
        "item": item.code,
        "lasts_until": until.isoformat(),
        "on_order": need.position.on_order,
        "purchase_orders": orders,
        "not_sent": sorted(need.position.not_sent),
    }
    figure = (str(days), words.plural("day", days) + " left") if days else ("0", "days left")
    return Line(*figure, f"{item.name}.", said, link, facts)


def not_sent() -> list[Line]:
    """Return a line for each order to a supplier that is written down and was never sent."""
    lines = []
    for order in lasting.not_sent():
        count = sum(1 for line in order.lines.all() if lasting.left(line))
        link = Link(path("staff:door_order_send", order.number, otherwise="staff:door"), "Send it")
        said = f"written {words.day(order.ordered_on)} and not sent."
        facts = {NOT_SENT: order.number, "supplier": order.supplier.name, "written_on": order.ordered_on.isoformat()}
        bold = f"Order {order.number}, {order.supplier.name}:"
        lines.append(Line(str(count), words.plural("line", count), bold, said, link, facts))
    return lines


def papers_awaited(*, today: dt.date, zone: str) -> list[Part]:
    """Return the part "Certificates": melts whose paper has been awaited for some days and of which steel is here."""
    lines = []
    for one in papers.awaited():
        came = one.delivery.happened_at if one.delivery else None
        days = (today - clock.local_date(came, zone)).days if came else None
        if days is not None and days < PAPERS_AFTER:
            continue
        supplier = one.delivery.supplier.name if one.delivery else "nobody known"
        figure = (str(days), words.plural("day", days)) if days is not None else ("", "")
        said = f"certificate not here; {words.count(one.bars, 'bar')} of it from {supplier}."
        link = Link(path("staff:melt_certificate", one.melt.pk, otherwise="staff:rack"), "Write it down or ask for it")
        facts = {"melt": one.melt.pk, "heat_number": one.melt.heat_number, "bars": one.bars, "days": days}
        lines.append(Line(*figure, f"{one.melt.grade.code}, mill heat {one.melt.heat_number}:", said, link, facts))
    if not lines:
        return []
    said = f"{words.count(len(lines), 'certificate')} awaited"
    if len(lines) > NAMED:
        lines = [_papers(lines)]
    return [Part("papers", "Certificates", tuple(lines), said, said)]


def _papers(lines: list[Line]) -> Line:
    """Write many awaited papers in one line."""
    heats = ", ".join(str(one.facts["heat_number"]) for one in lines)
    link = Link(path("staff:door"), "See what is awaited")
    facts = {"melts": [dict(one.facts) for one in lines]}
    return Line(str(len(lines)), "papers", "Certificates not here:", f"mill heats {heats}.", link, facts)


def dry_today(*, at: dt.datetime, today: dt.date, zone: str) -> list[Line]:
    """Return a line for each run whose glue or oil is dry today: it can be packed then."""
    ends = clock.at_local(today + dt.timedelta(days=1), 0, zone)
    begins = clock.at_local(today, 0, zone)
    held = Holding.objects.filter(
        place__kind=Place.Kind.CURE, on_hand__gt=0, lot__usable_from__gte=begins, lot__usable_from__lt=ends,
        lot__run__isnull=False,
    ).order_by("lot__usable_from")  # fmt: skip
    rows = held.values_list("lot__run__code", "item__name", "lot__usable_from").annotate(qty=Sum("on_hand"))
    lines = []
    for code, name, usable, qty in rows:
        if usable is None:
            continue
        when = "since the night" if usable <= at else f"at {words.hour(usable, zone)}"
        link = Link(path("staff:floor_pack", code, otherwise="staff:floor"), "Pack them")
        facts = {"run": code, "pieces": int(qty), "dry_at": usable.isoformat()}
        lines.append(
            Line(words.grouped(int(qty)), "dry", f"Run {code}, {name}:", f"dry {when}; can be packed.", link, facts)
        )
    return lines
