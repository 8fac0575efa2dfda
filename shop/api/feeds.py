"""The table for a spreadsheet, the calendar of ship dates by a secret link: neither can send a header, so the secret stands
in the address.

In the table is only what a customer may know: no cost, customer, mill heat or supplier; in the calendar no name, address or
price. A wrong, ended or revoked link is 404 after the same steps as a right one, and so is one that gives the other; a
failure has an empty body, because a sheet would take any text for figures.
"""

import contextlib
import datetime as dt
import logging
import re

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse

from shop.access.services import feeds
from shop.access.services.feeds import Sheet
from shop.api import availability, etags, ship_dates
from shop.api.snapshots import snapshot
from shop.shared import clock, csvs
from shop.shared.shop_row import the_shop

_log = logging.getLogger("bickern.feed")
_ADDRESS = re.compile(r"([A-Za-z0-9_-]{1,16})\.([A-Za-z0-9_-]{1,64})/(availability\.csv|ship-dates\.ics)")


def table(request: HttpRequest, rest: str) -> HttpResponse:
    """Return what can be promised as CSV, or the days that stand as a calendar."""
    try:
        response = _table(request, rest)
    except Exception:  # noqa: BLE001 - the edge: a sheet must never be given an error page for figures
        _log.exception("a feed failed")
        response = HttpResponse(status=503, headers={"Retry-After": "60"})
    response["Cache-Control"] = "private, no-cache"
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    # The framework notes the address of every refused request in its log, and this one holds a secret.
    response._has_been_logged = True  # type: ignore[attr-defined]  # noqa: SLF001
    return response


def _table(request: HttpRequest, rest: str) -> HttpResponse:
    at = clock.now()
    match = _ADDRESS.fullmatch(rest)
    public_id, secret, ends = match.groups() if match else ("", "", Sheet.TABLE)
    sheet = Sheet(ends)
    link = feeds.find(public_id, secret, at=at, sheet=sheet)
    if link is None or request.GET:
        return HttpResponse(status=404, content_type="text/plain")
    with snapshot():
        text, media = _text(sheet, at)
    with contextlib.suppress(OperationalError):  # a count is not worth a refusal
        feeds.note_use(link, at=at)
    etag = etags.of_bytes(text)
    if etags.not_modified(request, etag):
        return HttpResponse(status=304, headers={"ETag": etag})
    return HttpResponse(text, content_type=media, headers={"ETag": etag})


def _text(sheet: Sheet, at: dt.datetime) -> tuple[str, str]:
    if sheet is Sheet.CALENDAR:
        return ship_dates.calendar(shop_name=the_shop().name), ship_dates.MEDIA_TYPE
    return availability.table(availability.everything(at=at)), csvs.MEDIA_TYPE
