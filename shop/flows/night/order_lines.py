"""The night's lines about orders: which slip, which go out today, which phone holds end."""

import datetime as dt
from collections.abc import Sequence

from orders.models import Hold, Order, OrderLine
from orders.queries import at_risk, due
from orders.queries.at_risk import Slipping
from orders.queries.due import Due
from orders.services import ordering
from shop.flows.night import goods_lines, words
from shop.flows.night.body import Line, Link, Part, path
from shop.shared import clock


def slipping_and_today(*, at: dt.datetime, today: dt.date, zone: str, arriving: list[Line]) -> list[Part]:
    """Return the part "Slips" and the part "Today", each only where it has lines."""
    given = due.until(today)
    late = [_slip_line(row, today) for row in given if row.day < today]
    slips = late + [_unsure_line(one) for one in at_risk.slipping(today=today)]
    out = [row for row in given if row.day == today]
    ends = clock.at_local(today + dt.timedelta(days=1), 0, zone)
    holds = list(due.lapsing_phone_holds(after=at, until=ends))
    parts = []
    if slips:
        said = f"{words.count(len(slips), 'order')} {'slips' if len(slips) == 1 else 'slip'}"
        parts.append(Part("slips", "Slips", tuple(slips), said, _slips_counted(len(late), len(slips) - len(late))))
    spoken = at_risk.said_until(today=today, until=today)
    lines = [_out_line(row) for row in out] + arriving + [_hold_line(hold, zone) for hold in holds]
    lines += [_said_line(order) for order in spoken]
    dry = goods_lines.dry_today(at=at, today=today, zone=zone)
    lines += dry
    if lines:
        said, counted = _today_said(len(out), len(arriving), len(holds) + len(spoken), len(dry))
        parts.append(Part("today", "Today", tuple(lines), said, counted))
    gone = at_risk.let_go(since=at - dt.timedelta(days=1))
    if gone:
        said = f"{words.count(len(gone), 'order')} said on the phone let go"
        parts.append(Part("let_go", "Let go", tuple(_gone_line(order) for order in gone), said, said))
    return parts


def _slips_counted(late: int, unsure: int) -> str:
    said = [f"{words.count(late, 'order')} past the day given"] if late else []
    said += [f"{words.count(unsure, 'day')} given not sure enough"] if unsure else []
    return " and ".join(said)


def _today_said(out: int, arriving: int, holds: int, dry: int) -> tuple[str, str]:
    both = []
    if out:
        both.append((f"{words.count(out, 'order')} to send today", f"{words.count(out, 'order')} to send"))
    if arriving:
        comes = f"{words.count(arriving, 'delivery')} to come"
        both.append((f"{comes} today", comes))
    if holds:
        ends = f"{words.count(holds, 'phone hold')} {'ends' if holds == 1 else 'end'}"
        both.append((f"{ends} today", ends))
    if dry:
        both.append((f"{words.count(dry, 'run')} dry today", f"{words.count(dry, 'run')} dry"))
    return both[0][0], ", ".join(counted for _, counted in both)


def _slip_line(row: Due, today: dt.date) -> Line:
    days = (today - row.day).days
    figure = str(days), words.plural("day", days) + " late"
    said = f"{_what(row)}, given {words.day(row.day)}. {_stands(row)}"
    return _order_line(row, figure, said, Link(path("staff:order", row.order.number), "Find a new day"))


def _unsure_line(one: Slipping) -> Line:
    what = ", ".join(_named(one.lines))
    waits = f" Waits for {one.rated.holds}." if one.rated.holds else ""
    sure = one.rated.sure_day
    then = f" As sure as wanted by {words.day(sure)}." if sure else " Never as sure as wanted."
    facts = {
        "order": one.order.number,
        "customer": one.order.customer.name,
        "day": one.day.isoformat(),
        "chance_ppm": one.rated.chance_ppm,
        "before_ppm": one.rated.before_ppm,
        "sure_day": sure.isoformat() if sure else None,
    }
    bold = f"Order {one.order.number}, {one.order.customer.name}:"
    said = f"{what or 'the parcel'}, given {words.day(one.day)}.{waits}{then}"
    link = Link(path("staff:order", one.order.number), "Find a new day")
    return Line(str(one.of_hundred), "in 100", bold, said, link, facts)


def _said_line(order: Order) -> Line:
    link = Link(path("staff:order", order.number), "See the order")
    bold = f"Order {order.number}, {order.customer.name}:"
    facts = {"order": order.number, "until": order.said_until.isoformat() if order.said_until else None}
    return Line("said", "on the phone", bold, "until today; then stock and place are free for others.", link, facts)


def _gone_line(order: Order) -> Line:
    said = f"said on the phone until {words.day(order.said_until)}, " if order.said_until else ""
    link = Link(path("staff:order", order.number), "See the order")
    bold = f"Order {order.number}, {order.customer.name}:"
    return Line(
        "let", "go", bold, f"{said}nobody called; stock and place are free again.", link, {"order": order.number}
    )


def _named(lines: Sequence[OrderLine]) -> list[str]:
    """Name the pieces still owed of the first three lines."""
    return [
        f"{line.ordered - line.shipped - line.cancelled} × {line.item.name if line.item else line.words[:60]}"
        for line in lines[:3]
    ]


def _out_line(row: Due) -> Line:
    figure = words.grouped(row.left), "to send"
    link = Link(path("staff:order", row.order.number), "See the order")
    if row.left == row.set_aside and not _unpaid(row):
        link = Link(path("staff:order_send", row.order.number), "Pack and send")
    return _order_line(row, figure, f"{_what(row)}, given for today. {_stands(row)}", link)


def _order_line(row: Due, figure: tuple[str, str], said: str, link: Link) -> Line:
    facts = {
        "order": row.order.number,
        "customer": row.order.customer.name,
        "day": row.day.isoformat(),
        "left": row.left,
        "set_aside": row.set_aside,
    }
    return Line(*figure, f"Order {row.order.number}, {row.order.customer.name}:", said, link, facts)


def _what(row: Due) -> str:
    named = _named(row.lines)
    more = [f"{len(row.lines) - 3} more lines"] if len(row.lines) > 3 else []
    return ", ".join(named + more)


def _stands(row: Due) -> str:
    """Say what holds the order up, or that nothing does."""
    to_make = sum(line.waiting for line in row.lines if line.item is None)
    short = row.left - row.set_aside - to_make
    said = []
    if to_make:
        said.append(f"{words.capital(words.count(to_make, 'piece'))} made to order, not done yet.")
    if short:
        aside = f"{row.set_aside} set aside" if row.set_aside else "none set aside"
        said.append(f"{words.capital(words.count(short, 'piece'))} not there yet, {aside}.")
    if _unpaid(row):
        said.append("Goes only when paid, and money is still owed.")
    return " ".join(said) or "All of it is set aside."


def _unpaid(row: Due) -> bool:
    return row.order.send_when_paid and ordering.total_minor(row.order) > row.order.received_minor


def _hold_line(hold: Hold, zone: str) -> Line:
    figure, unit = words.quantity(hold.item, hold.qty)
    said = f"put by for {hold.name} until {words.hour(hold.until, zone)} today; then free for anybody."
    facts = {"hold": hold.pk, "item": hold.item.code, "qty": hold.qty, "until": hold.until.isoformat()}
    return Line(figure, unit, f"{hold.item.name},", said, Link(path("staff:hold", hold.pk), "See the hold"), facts)
