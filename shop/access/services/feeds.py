"""Secret links for spreadsheets and calendars, which can send no header: one link a sheet, each revoked alone.

A link gives one thing and not the other: a dealer's sheet reads what can be promised, and no day of anybody's order. What
it gives is told by how its public part begins, which the table keeps.
"""

import datetime as dt
from enum import StrEnum

from django.conf import settings
from django.db.models import F

from shop.access.models import FeedLink, Person
from shop.access.services import tokens
from shop.access.services.people import named
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

LONGEST = dt.timedelta(days=400)
_NOBODY = "0" * 64
_CALENDARS, _SIGNS = "ics-", 12  # the public part of a table's link is as many signs alone


class Sheet(StrEnum):
    """What a link gives, by the end of its address."""

    TABLE = "availability.csv"
    CALENDAR = "ship-dates.ics"


class UnknownLink(NotFound):
    """No link of that number, or it no longer leads anywhere."""

    code = "unknown_link"


def make(
    *, name: str, at: dt.datetime, by: Person | None, expires_at: dt.datetime, sheet: Sheet = Sheet.TABLE
) -> tuple[FeedLink, str]:
    """Make a link and return it with its secret, which is shown this once."""
    transactions.assert_open()
    wrong = {}
    if not 1 <= len(name.strip()) <= 80:
        wrong["name"] = "Name: say which sheet uses the link, in 1 to 80 characters."
    if not at < expires_at <= at + LONGEST:
        wrong["expires_at"] = "Ends: a day after today and at most 400 days away would work."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    secret = tokens.make(160)
    link = FeedLink.objects.create(
        name=name.strip(),
        public_id=(_CALENDARS if sheet is Sheet.CALENDAR else "") + tokens.make(72),
        secret_hash=tokens.digest(secret),
        made_at=at,
        made_by=by,
        expires_at=expires_at,
    )
    after = {"name": link.name, "public_id": link.public_id, "expires_at": expires_at}
    audit.write(at=at, by=named(by), action="link made", subject=f"link {link.pk}", after=after)
    return link, secret


def address(link: FeedLink, secret: str) -> str:
    """Return the address that goes into the spreadsheet or the calendar."""
    return f"{settings.BASE_ADDRESS}/feed/{link.public_id}.{secret}/{sheet_of(link)}"


def sheet_of(link: FeedLink) -> Sheet:
    """Return what a link gives."""
    public_id = link.public_id
    calendar = public_id.startswith(_CALENDARS) and len(public_id) == len(_CALENDARS) + _SIGNS
    return Sheet.CALENDAR if calendar else Sheet.TABLE


def revoke(link_id: int, *, at: dt.datetime, by: Person | None) -> None:
    """Revoke a link from its next request on. Revoking again changes nothing."""
    transactions.assert_open()
    if FeedLink.objects.filter(pk=link_id, revoked_at=None).update(revoked_at=at):
        audit.write(at=at, by=named(by), action="link revoked", subject=f"link {link_id}")
    elif not FeedLink.objects.filter(pk=link_id).exists():
        raise UnknownLink(f"There is no link {link_id}. Choose one of the list.")


def find(public_id: str, secret: str, *, at: dt.datetime, sheet: Sheet = Sheet.TABLE) -> FeedLink | None:
    """Return the link where it gives this now; unknown, of another sheet, ended, revoked, wrong secret take the same steps."""
    link = FeedLink.objects.filter(public_id=public_id).first()
    fits = tokens.same(secret, link.secret_hash if link else _NOBODY)
    stands = link is not None and link.revoked_at is None and link.expires_at > at and sheet_of(link) is sheet
    return link if fits and stands else None


def note_use(link: FeedLink, *, at: dt.datetime) -> None:
    """Count one reading of the sheet."""
    FeedLink.objects.filter(pk=link.pk).update(last_used_at=at, used=F("used") + 1)
