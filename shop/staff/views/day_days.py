"""The Day sheet's lines about days given: what is late, what is not sure enough, what was said on the phone."""

import datetime as dt

from orders.queries import at_risk, due
from orders.queries.at_risk import Slipping
from shop.staff import wording
from shop.staff.views.day_lines import Line

LOOK_AHEAD = dt.timedelta(days=7)
LET_GO_FOR = dt.timedelta(hours=36)


def slips(today: dt.date) -> list[Line]:
    """Return the orders whose day has passed, and those whose day is not sure enough as the shop stands.

    A day that nobody has rated yet is shown where pieces are missing in the next days.
    """
    lines = []
    rated = at_risk.rated_orders()
    for row in due.until(today + LOOK_AHEAD):
        short = row.left - row.set_aside
        late = row.day < today
        if not short or (row.order.pk in rated and not late):
            continue
        passed = " The day has passed." if late else ""
        words = f"{wording.what(row.lines, owed_only=True)}, given {wording.on_day(row.day)}.{passed}"
        bold = f"Order {row.order.number}, {row.order.customer.name}:"
        address = wording.address("staff:order", row.order.number)
        lines.append(Line(wording.figures(short), "still owed", bold, words, address, "See the order"))
    return lines + [_slipping(one) for one in at_risk.slipping(today=today)]


def _slipping(one: Slipping) -> Line:
    address = wording.address("staff:order", one.order.number)
    bold = f"Order {one.order.number}, {one.order.customer.name}:"
    return Line(str(one.of_hundred), "in 100", bold, said(one), address, "Find a new day")


def said(one: Slipping) -> str:
    """Say what slips, what it waits for, and by when it is as sure as was wanted."""
    what = wording.what(one.lines, owed_only=True) or "the parcel"
    waits = f" Waits for {one.rated.holds}." if one.rated.holds else ""
    day = one.rated.sure_day
    then = f" As sure as wanted by {wording.on_day(day)}." if day else " Never as sure as wanted."
    return f"{what}, given {wording.on_day(one.day)}.{waits}{then}"


def said_on_the_phone(now: dt.datetime, today: dt.date) -> list[Line]:
    """Return what was said on the phone and ends today or tomorrow, and what was let go since yesterday."""
    lines = []
    for order in at_risk.said_until(today=today, until=today + dt.timedelta(days=1)):
        until = order.said_until or today
        words = f"{wording.what(list(order.lines.all()), owed_only=True)}. Let go after {wording.on_day(until)} unless they want it."
        bold = f"Order {order.number}, {order.customer.name}:"
        lines.append(
            Line(str(order.number), "said", bold, words, wording.address("staff:order", order.number), "Ask again")
        )
    for order in at_risk.let_go(since=now - LET_GO_FOR):
        until = order.said_until or today
        bold = f"Order {order.number}, {order.customer.name}:"
        words = f"said until {wording.on_day(until)}, nobody called; stock and place are free again."
        lines.append(
            Line(
                str(order.number), "let go", bold, words, wording.address("staff:order", order.number), "See the order"
            )
        )
    return lines
