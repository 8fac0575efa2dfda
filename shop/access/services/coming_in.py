"""Somebody comes in with a password, or touches a name tile."""

import datetime as dt

from shop.access.models import Person, Tablet
from shop.access.services import tries
from shop.shared import audit, transactions


def with_login(login: str) -> Person | None:
    """Return the person of a log-in name."""
    return Person.objects.filter(login=login.strip().lower()).first()


def came_in(person: Person, *, address: str, tablet: Tablet | None, at: dt.datetime) -> None:
    """Note that somebody came in with the right password, and give the tries back."""
    transactions.assert_open()
    tries.give_back(person.login, address)
    Person.objects.filter(pk=person.pk).update(last_login=at)
    where = {"address": address, "tablet": tablet.name if tablet else None}
    audit.write(at=at, by=person.login, action="came in", subject=f"person {person.pk}", after=where)


def touched(person: Person, tablet: Tablet, *, at: dt.datetime) -> None:
    """Note that somebody touched a name tile."""
    transactions.assert_open()
    audit.write(
        at=at, by=person.login, action="touched a tile", subject=f"person {person.pk}", after={"tablet": tablet.name}
    )
