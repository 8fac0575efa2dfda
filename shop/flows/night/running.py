"""When the night's check is due, what it finds, and how it is kept: at most once a local day, before any mail."""

import datetime as dt
import logging
from collections.abc import Callable, Sequence

from inventory.models import Entry
from inventory.services import closing
from orders.models import OrderLine
from shop.flows import checking, learning
from shop.flows import week as week_sheet
from shop.flows.night import (
    floor_lines,
    goods_lines,
    headline,
    letter,
    notice_lines,
    order_lines,
    stock_lines,
    weekly,
    words,
)
from shop.flows.night.body import VERSION, Body, Line, Link, Part, path
from shop.shared import clock, jobs, shop_row, shop_settings, transactions
from shop.shared.mail import outbox
from shop.shared.models import NightResult, Shop

KIND = "night"
BACKUP = "backup"
SUNDAY = 6  # the night that reads the whole book; the others read from the last close on
LATE_AFTER = dt.timedelta(minutes=15)
MOST_FOUND = 10  # sentences about the book in one message; the Book page has them all

log = logging.getLogger(__name__)


def due(at: dt.datetime) -> dt.date | None:
    """Return the local day whose check is to be run now, or nothing; days that were slept through are not made up."""
    shop = Shop.objects.filter(pk=1).first()
    today = day_reached(at, hour=shop.night_hour, zone=shop.zone) if shop else None
    return None if today is None or NightResult.objects.filter(local_date=today).exists() else today


def day_reached(at: dt.datetime, *, hour: int, zone: str) -> dt.date | None:
    """Return the local day whose hour has been reached, or nothing before that hour."""
    today = clock.local_date(at, zone)
    return today if at >= clock.at_local(today, hour, zone) else None


def run_if_due(now: Callable[[], dt.datetime]) -> NightResult | None:
    """Work out and keep the day's result with its messages, where it is due; whoever comes second writes nothing."""
    at = now()
    today = due(at)
    if today is None:
        return None
    late = _is_late(at, today)
    one_offs = learning.learn(at=at)
    body = compute(at=at, today=today, late=late, one_offs=one_offs)
    week = weekly.compute(at=at, today=today) if today.weekday() == shop_row.the_shop().weekly_day else None
    if week is not None:
        body = {**body, "week": week}
    quiet = today.weekday() in shop_settings.settings_of(shop_row.the_shop()).quiet_days
    with transactions.entry_point():
        result, made = NightResult.objects.get_or_create(
            local_date=today, defaults={"computed_at": at, "late": late, "body": body}
        )
        if not made:
            return None
        for recipient in [] if quiet else shop_row.active_recipients():
            _write(KIND, letter.for_person(body, recipient.parts), recipient.email, today, at)
        if week is not None:
            for recipient in shop_row.active_recipients():
                if recipient.weekly:
                    _write(weekly.KIND, week, recipient.email, today, at)
        jobs.add(BACKUP, today.isoformat(), at)
    if not body["book"]["found"]:
        _close_month(at)
    week_sheet.tidy(at=at)
    return result


def _write(kind: str, body: Body, email: str, today: dt.date, at: dt.datetime) -> None:
    said = letter.render(body)
    outbox.write(
        kind=kind, local_date=today, recipient=email, subject=said.subject, text=said.text, html=said.html, at=at
    )


def _close_month(at: dt.datetime) -> None:
    """Close the month that is over, so that the next nights read from there; a book that differs stays open."""
    zone = shop_row.the_shop().zone
    month = closing.due(at=at, zone=zone)
    if month is None:
        return
    try:
        with transactions.entry_point():
            closing.close_month(month, at=at, zone=zone)
    except Exception:
        log.exception("The month %s could not be closed; the next night tries again.", month)


def latest() -> NightResult | None:
    """Return the last result, for the Day sheet and the API."""
    return NightResult.objects.order_by("-local_date").first()


def compute(*, at: dt.datetime, today: dt.date, late: bool = False, one_offs: Sequence[OrderLine] = ()) -> Body:
    """Work out what there is to say on a day, as the book stands at an instant; writes nothing."""
    shop = shop_row.the_shop()
    arriving = [*stock_lines.arriving(today=today)]
    found = _book(whole=today.weekday() == SUNDAY)
    parts = [
        *_book_part(found),
        *floor_lines.untempered(at=at, hours=shop_row.hours_of(shop, at)),
        *floor_lines.rejects(at=at),
        *stock_lines.order_and_make(at=at, today=today),
        *stock_lines.one_offs(one_offs),
        *order_lines.slipping_and_today(at=at, today=today, zone=shop.zone, arriving=arriving),
        *goods_lines.papers_awaited(today=today, zone=shop.zone),
        *notice_lines.told(at=at, today=today, zone=shop.zone),
        *stock_lines.late_deliveries(today=today),
        *_not_done(at, today),
    ]
    parts.sort(key=lambda part: headline.place(part, today))
    return {
        "version": VERSION,
        "shop": {"name": shop.name, "zone": shop.zone, "invented": shop.invented},
        "local_date": today.isoformat(),
        "computed_at": at.isoformat(),
        "late": late,
        "night_hour": shop.night_hour,
        "news": bool(parts),
        "headline": headline.subject(parts),
        "lead": headline.lead(parts, balanced=not found),
        "book": {"found": found, "lines": Entry.objects.count()},
        "parts": [part.as_json() for part in parts],
    }


def _is_late(at: dt.datetime, today: dt.date) -> bool:
    """Say whether the hour was missed; a shop on its first day has missed nothing."""
    shop = shop_row.the_shop()
    return at > clock.at_local(today, shop.night_hour, shop.zone) + LATE_AFTER and NightResult.objects.exists()


def _book(*, whole: bool) -> list[str]:
    """Return what the check of the book found, from the last close on or from the first movement.

    A check that breaks off is a finding too, and holds up no message.
    """
    try:
        return checking.check_book(whole=whole)
    except Exception:
        log.exception("The check of the book could not be finished.")
        return ["The check of the book could not be finished; the worker's log says why."]


def _book_part(found: list[str]) -> list[Part]:
    if not found:
        return []
    link = Link(path("staff:book"), "Open the Book")
    lines = [Line("", "", "", sentence, link, {"sentence": sentence}) for sentence in found[:MOST_FOUND]]
    if len(found) > MOST_FOUND:
        more = len(found) - MOST_FOUND
        lines.append(Line(words.grouped(more), "more", "differences", "stand in the Book.", link, {"more": more}))
    said = "the book does not balance"
    return [Part("book", "Book", tuple(lines), said, said)]


def _not_done(at: dt.datetime, today: dt.date) -> list[Part]:
    """Return the part about mail and copies that should have been made and were not."""
    link = Link(path("staff:settings"), "See the settings")
    lines = [Line("", "", "Mail:", said, link, {"mail": said}) for said in outbox.not_sent(before=today)]
    lines += [
        Line("", "", "Copy of the book:", f"not made on {job.dedupe}. {job.last_error}", link, {"copy": job.dedupe})
        for job in jobs.given_up(BACKUP, since=at - dt.timedelta(days=2))
    ]
    if not lines:
        return []
    said = "something was not done in the night"
    return [Part("not_done", "Not done", tuple(lines), said, said)]
