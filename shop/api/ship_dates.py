"""The days that stand as a calendar, RFC 5545: one all-day event a day given; no address, no price, no customer's name."""

import datetime as dt
import uuid
from collections.abc import Sequence
from typing import Final

import icalendar
from django.conf import settings

from orders.models import OrderLine
from orders.queries.ship_dates import Standing, standing
from shop.api import fields

MEDIA_TYPE: Final = "text/calendar; charset=utf-8"
PRODUCT: Final = "-//Bickern//Ship dates//EN"
MOST_NAMED: Final = 5
_CHAINS: Final = uuid.UUID("0a4a7f0e-5c1b-4f8a-9d5e-6f8c8f1d2b77")  # drawn once; chains of days given have ids under it
_EPOCH: Final = dt.datetime(1970, 1, 1)  # noqa: DTZ001 - a time of the shop's wall, as a zone's beginning is written


def calendar(*, shop_name: str) -> str:
    """Return the calendar of every day that stands."""
    made = icalendar.Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    for name in ("name", "x-wr-calname"):  # RFC 7986, and what was usual before it
        made.add(
            name, icalendar.vText(_plain(f"Ship dates, {shop_name}"))
        )  # bare text is not escaped under these names
    made.add("refresh-interval", dt.timedelta(hours=1), parameters={"value": "DURATION"})
    days = standing()
    for one in days:
        made.add_component(_event(one))
    if not days:
        made.add_component(_zone())
    return made.to_ical().decode()


def uid(first_given_at: dt.datetime, first_pk: int) -> str:
    """Return the id of a chain of days, the same for ever: the first of it is never changed and never taken away."""
    return str(uuid.uuid5(_CHAINS, f"{first_given_at.astimezone(dt.UTC).isoformat()} {first_pk}"))


def _event(one: Standing) -> icalendar.Event:
    event = icalendar.Event()
    event.add("uid", uid(one.first.given_at, one.first.pk))
    event.add("dtstamp", one.given_at.astimezone(dt.UTC))
    event.add("sequence", one.times)
    event.add("dtstart", one.day)
    event.add("summary", _plain(f"Send {one.order.number}: {_what(one.lines)}"))
    event.add("status", "TENTATIVE" if one.slips else "CONFIRMED")
    event.add("transp", "TRANSPARENT")  # a day to send on keeps nobody busy
    event.add("url", f"{settings.BASE_ADDRESS}/order/{one.order.number}")
    return event


def _zone() -> icalendar.Timezone:
    """Return what stands in a calendar without a day: it must hold one component (RFC 5545, 3.6), and this one shows nothing."""
    zone, standard = icalendar.Timezone(), icalendar.TimezoneStandard()
    zone.add("tzid", "UTC")
    standard.add("dtstart", _EPOCH)
    standard.add("tzoffsetfrom", dt.timedelta())
    standard.add("tzoffsetto", dt.timedelta())
    zone.add_component(standard)
    return zone


def _what(lines: Sequence[OrderLine]) -> str:
    named = [_line(line) for line in lines[:MOST_NAMED]]
    more = len(lines) - MOST_NAMED
    return ", ".join(named) + (f" and {more} more {'line' if more == 1 else 'lines'}" if more > 0 else "")


def _line(line: OrderLine) -> str:
    left = line.ordered - line.shipped - line.cancelled
    if line.item is None:
        return f"{left} x {line.words}"
    unit = fields.unit_name(line.item.unit)
    figure = fields.quantity(left, line.item.unit)
    return f"{figure} x {line.item.code}" if unit == "piece" else f"{figure} {unit} of {line.item.code}"


def _plain(text: str) -> str:
    """Return text of one line without signs that a calendar may not hold."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
