"""Shared tablets: enrolled once by the owner, then a name tile says who is at it."""

import datetime as dt

from django.db.models import Q

from shop.access.models import Person, Tablet
from shop.access.services import tokens
from shop.access.services.people import named
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

_NOTE_USE_EVERY = dt.timedelta(minutes=1)


class UnknownTablet(NotFound):
    """No such tablet, or it was revoked."""

    code = "unknown_tablet"


class NoSuchTile(NotFound):
    """Nobody with a tile has that number."""

    code = "no_such_tile"


def enrol(name: str, *, at: dt.datetime, by: Person) -> tuple[Tablet, str]:
    """Enrol a device and return it with the token its cookie carries; the token is never shown again."""
    transactions.assert_open()
    name = name.strip()
    if not 1 <= len(name) <= 60:
        raise Invalid.field("name", "Name: say where the tablet hangs, in 1 to 60 characters.")
    token = tokens.make(256)
    tablet = Tablet.objects.create(name=name, token_hash=tokens.digest(token), enrolled_at=at, enrolled_by=by)
    audit.write(at=at, by=named(by), action="tablet enrolled", subject=f"tablet {tablet.pk}", after={"name": name})
    return tablet, token


def revoke(tablet_id: int, *, at: dt.datetime, by: Person) -> None:
    """Revoke a tablet; it shows the log-in page from its next request on. Revoking again changes nothing."""
    transactions.assert_open()
    if Tablet.objects.filter(pk=tablet_id, revoked_at=None).update(revoked_at=at):
        audit.write(at=at, by=named(by), action="tablet revoked", subject=f"tablet {tablet_id}")
    elif not Tablet.objects.filter(pk=tablet_id).exists():
        raise UnknownTablet(f"There is no tablet {tablet_id}. Choose one of the list.")


def tiles() -> list[Person]:
    """Return those whose names stand on the tablets, in the order of their names."""
    return list(Person.objects.filter(is_active=True, on_tablet=True).order_by("name", "id"))


def tile(person_id: int) -> Person:
    """Return the person whose tile was touched."""
    person = Person.objects.filter(pk=person_id, is_active=True, on_tablet=True).first()
    if person is None:
        raise NoSuchTile("Nobody of that name is on the tablets any more. Touch another name.")
    return person


def note_use(tablet: Tablet, *, at: dt.datetime) -> None:
    """Note that a tablet was used, at most once a minute."""
    if tablet.last_used_at is None or tablet.last_used_at <= at - _NOTE_USE_EVERY:
        stale = Q(last_used_at=None) | Q(last_used_at__lte=at - _NOTE_USE_EVERY)
        Tablet.objects.filter(stale, pk=tablet.pk).update(last_used_at=at)
