"""The lines about customers who have to be told that a day will not be kept, who have not answered, whose money goes back."""

import datetime as dt

from orders.models import Notice
from orders.queries import notices
from orders.queries.notices import ToTell
from shop.flows.night import words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import clock


def told(*, at: dt.datetime, today: dt.date, zone: str) -> list[Part]:
    """Return the part "Tell", where it has lines; `today` is the shop's own day."""
    slips, awaited, owed = notices.to_tell(today=today), notices.awaited(), notices.to_refund()
    lines = [_tell_line(row, today) for row in slips]
    lines += [_refund_line(one, at, zone) for one in owed]
    lines += [_await_line(one, at, zone) for one in awaited]
    if not lines:
        return []
    counts = (
        (len(slips), "customer", "to tell"),
        (len(owed), "refund", "to give"),
        (len(awaited), "answer", "awaited"),
    )
    said = [f"{words.count(number, thing)} {rest}" for number, thing, rest in counts if number]
    return [Part("tell", "Tell", tuple(lines), said[0], ", ".join(said))]


def _tell_line(row: ToTell, today: dt.date) -> Line:
    days = abs((today - row.promise.day).days)
    unit = words.plural("day", days) + (" over" if row.over else " to go")
    day = words.day(row.promise.day)
    why = f" Held up by {row.holds.rstrip('.')}." if row.holds else ""
    said = f"given {day}, which {'is over' if row.over else 'may not be kept'}; not told yet.{why}"
    link = Link(path("staff:order_notice", row.order.number), "Tell them")
    facts = {"order": row.order.number, "day": row.promise.day.isoformat(), "since": row.since.isoformat()}
    return Line(str(days), unit, _order(row.order.number, row.order.customer.name), said, link, facts)


def _await_line(one: Notice, at: dt.datetime, zone: str) -> Line:
    figure, unit = _since(one.told_at, at, zone, "told")
    about = f"of a new day, {words.day(one.new_day)}" if one.new_day else "that no day is known"
    said = f"told {one.how} {about}. No answer yet, and none is taken for one."
    link = Link(path("staff:order_notice_answer", one.order.number, one.pk), "Note the answer")
    return Line(
        figure, unit, _order(one.order.number, one.order.customer.name), said, link, {"order": one.order.number}
    )


def _refund_line(one: Notice, at: dt.datetime, zone: str) -> Line:
    figure, unit = _since(one.answered_at or one.told_at, at, zone, "cancelled")
    said = "cancelled after a day that was not kept; money received is to go back."
    link = Link(path("staff:order_notice_refund", one.order.number, one.pk), "Note the refund")
    return Line(
        figure, unit, _order(one.order.number, one.order.customer.name), said, link, {"order": one.order.number}
    )


def _since(then: dt.datetime, at: dt.datetime, zone: str, verb: str) -> tuple[str, str]:
    days = (clock.local_date(at, zone) - clock.local_date(then, zone)).days
    return str(days), f"{words.plural('day', days)} since {verb}"


def _order(number: int, customer: str) -> str:
    return f"Order {number}, {customer}:"
