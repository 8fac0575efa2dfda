"""The owner's letter of the week: losses, days kept, steel wasted, money in stock; in the form of a night's result."""

import datetime as dt

from orders.queries import week_figures
from orders.queries.reorder import needs
from shop.flows import buying_words
from shop.flows.night import headline, words
from shop.flows.night.body import VERSION, Body, Line, Link, Part, path
from shop.shared import shop_row, units

KIND = "week"
MOST = 5  # causes that are named


def compute(*, at: dt.datetime, today: dt.date) -> Body:
    """Work out the letter about the seven days that ended yesterday; writes nothing."""
    shop = shop_row.the_shop()
    first, since = week_figures.week_of(today, shop.zone)
    yesterday = today - dt.timedelta(days=1)
    parts = [
        *_losses(since, shop.currency),
        *_missing(since, shop.currency),
        *_days(first, yesterday, shop.zone),
        *_waste(since),
        *_money(at, shop.currency),
    ]
    return {
        "version": VERSION,
        "shop": {"name": shop.name, "zone": shop.zone, "invented": shop.invented},
        "local_date": today.isoformat(),
        "computed_at": at.isoformat(),
        "late": False,
        "night_hour": shop.night_hour,
        "news": bool(parts),
        "headline": words.capital("; ".join(part.said for part in parts[: headline.MOST_PIECES]))
        if parts
        else "A quiet week",
        "lead": f"The week from {words.day(first)} to {words.day(yesterday)}.",
        "book": {"found": [], "lines": 0},
        "parts": [part.as_json() for part in parts],
    }


def _losses(since: dt.datetime, currency: str) -> list[Part]:
    found = week_figures.losses(since=since)
    if not found:
        return []
    lines = []
    for one in found[:MOST]:
        so_far = f", {units.money(one.cost, currency)} so far" if one.cost else ""
        facts = {
            "pattern": one.pattern.code,
            "point": one.point,
            "cause": one.cause,
            "pieces": one.pieces,
            "cost": one.cost,
        }
        link = Link(path("staff:floor_rejects", otherwise="staff:floor"), "See the charts")
        said = f"{one.cause} at {one.point}{so_far}."
        lines.append(
            Line(
                words.grouped(one.pieces), words.plural("piece", one.pieces), f"{one.pattern.name}:", said, link, facts
            )
        )
    rest = found[MOST:]
    if rest:
        pieces = sum(one.pieces for one in rest)
        cost = sum(one.cost for one in rest)
        link = Link(path("staff:floor_rejects", otherwise="staff:floor"), "See all of them")
        said = f"for {words.count(len(rest), 'other cause')}, {units.money(cost, currency)}."
        lines.append(
            Line(
                words.grouped(pieces),
                words.plural("piece", pieces),
                "More",
                said,
                link,
                {"pieces": pieces, "cost": cost},
            )
        )
    pieces, cost = sum(one.pieces for one in found), sum(one.cost for one in found)
    said = f"{words.count(pieces, 'piece')} lost" + (f" for {units.money(cost, currency)}" if cost else "")
    return [Part("losses", "Lost", tuple(lines), said, said)]


def _missing(since: dt.datetime, currency: str) -> list[Part]:
    """Say what counts found missing, what it had cost where that is known."""
    found = week_figures.missing(since=since)
    if not found:
        return []
    lines = []
    for one in found[:MOST]:
        lost = f", {units.money(one.cost, currency)}" if one.cost else ""
        link = Link(path("staff:item", one.item.code, otherwise="staff:shelf"), "See the item")
        facts = {"item": one.item.code, "quantity": one.qty, "cost": one.cost}
        lines.append(
            Line(*words.quantity(one.item, one.qty), f"{one.item.name}:", f"missing when counted{lost}.", link, facts)
        )
    cost = sum(one.cost for one in found)
    if len(found) > MOST:
        link = Link(path("staff:counts", otherwise="staff:shelf"), "See the counts")
        more = len(found) - MOST
        lines.append(Line(str(more), "more", "things", "were missing when counted.", link, {"more": more}))
    said = f"{words.count(len(found), 'thing')} missing when counted" + (
        f", {units.money(cost, currency)}" if cost else ""
    )
    return [Part("missing", "Missing", tuple(lines), said, said)]


def _days(first: dt.date, last: dt.date, zone: str) -> list[Part]:
    found = week_figures.days_kept(first=first, last=last, zone=zone)
    if not found.given:
        return []
    link = Link(path("staff:counter_record", otherwise="staff:counter"), "See the record")
    said = f"{found.kept} of {words.grouped(found.given)} {words.plural('day', found.given)} given {'was' if found.kept == 1 else 'were'} kept"
    late = found.given - found.kept
    then = (
        "All that was given for the week went out in time."
        if not late
        else f"{words.capital(words.count(late, 'order'))} went later or not at all."
    )
    line = Line(
        f"{found.kept}", f"of {found.given}", "Days kept.", then, link, {"given": found.given, "kept": found.kept}
    )
    return [Part("kept", "Days", (line,), said, said)]


def _waste(since: dt.datetime) -> list[Part]:
    found = week_figures.waste(since=since)
    if not found.sawn:
        return []
    link = Link(path("staff:rack"), "See the Rack")
    said = f"{found.of_hundred:.1f} of 100 of the steel sawn was lost"
    facts = {"sawn_nm": found.sawn, "lost_nm": found.lost}
    line = Line(f"{found.of_hundred:.1f}", "of 100", "Steel sawn", "became kerf, trim and scrap ends.", link, facts)
    return [Part("waste", "Steel", (line,), said, said)]


def _money(at: dt.datetime, currency: str) -> list[Part]:
    found = week_figures.stock()
    if not found.total:
        return []
    by_kind = ", ".join(
        f"{words.plural(kind, 2)} {units.money(value, currency)}"
        for kind, value in sorted(found.by_kind.items(), key=lambda one: -one[1])
    )
    unknown = (
        f" {words.capital(words.count(found.unknown, 'lot'))} without a known cost not counted."
        if found.unknown
        else ""
    )
    link = Link(path("staff:lasts", otherwise="staff:shelf"), "See how long it lasts")
    amount = units.money(found.total, currency)
    lines = [
        Line(
            "",
            "",
            f"{amount} in stock,",
            f"at what the material cost: {by_kind}.{unknown}",
            link,
            {"minor": found.total, **found.by_kind},
        )
    ]
    for one in week_figures.idle(needs.needs(at=at, every=True)):
        item = one.item
        link = Link(path("staff:item_lasts", item.code, otherwise="staff:shelf"), "See the run-down")
        lines.append(
            Line(
                "",
                "",
                f"{item.name}:",
                f"more than a year of it is here, {buying_words.amount(item, one.need.position.free)}.",
                link,
                {"item": item.code},
            )
        )
    return [Part("money", "Stock", tuple(lines), f"{amount} in stock", f"{amount} in stock")]
