"""The Day sheet's lines about releases: what opens today, what is open, what closed with pieces left."""

import datetime as dt

from orders.queries import releases
from orders.queries.releases import Standing
from shop.staff import wording
from shop.staff.views.day_lines import Line


def lines(now: dt.datetime, until: dt.datetime, zone: str) -> list[Line]:
    """Return the releases that open before a moment or are open, and those that closed and still keep pieces."""
    return [_line(row, zone) for row in releases.to_look_at(at=now, until=until)]


def _line(row: Standing, zone: str) -> Line:
    made = row.release
    if row.state == releases.TO_COME:
        said = f"opens at {wording.at_moment(made.opens_at, zone)}."
    elif row.state == releases.CLOSED and made.closes_at is not None:
        said = f"closed at {wording.at_moment(made.closes_at, zone)}: end it, and the rest goes to those who wait."
    else:
        closes = f" until {wording.at_moment(made.closes_at, zone)}" if made.closes_at else ""
        said = f"open{closes}, {wording.figures(row.taken)} taken."
    waits = f" {wording.figures(row.waits)} still to come." if row.waits else ""
    unit = "set aside"
    bold = f"{row.item.name} for the release {made.name},"
    address = wording.address("staff:release", made.pk)
    return Line(wording.figures(row.left), unit, bold, said + waits, address, "See the release")
