"""People of the shop: made, changed, let go; rows are never deleted, the book names them."""

import datetime as dt
import re
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import IntegrityError, transaction

from shop.access.models import Person, Role
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound, Refusal

_LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{0,39}")
COMMAND = "command line"


class UnknownPerson(NotFound):
    """Nobody of that number or name."""

    code = "unknown_person"


class LastOwner(Refusal):
    """The shop would be left without an owner who can log in."""

    code = "last_owner"


@dataclass(frozen=True, slots=True)
class Particulars:
    """What is written down about a person."""

    name: str
    role: str
    on_tablet: bool = True
    is_active: bool = True


def named(by: Person | None) -> str:
    """Return how the audit line names whoever acts; nobody is the command line."""
    return by.login if by else COMMAND


def find(person_id: int) -> Person:
    """Return a person."""
    person = Person.objects.filter(pk=person_id).first()
    if person is None:
        raise UnknownPerson(f"There is no person {person_id}. Choose one of the list of people.")
    return person


def make(
    *,
    login: str,
    particulars: Particulars,
    at: dt.datetime,
    by: Person | None,
    password_kept: str | None = None,
) -> Person:
    """Make a person; without a kept password (see passwords.prepare) one who is only a name tile on a tablet."""
    transactions.assert_open()
    login = login.strip().lower()
    wrong = dict(_wrong(particulars))
    if not _LOGIN.fullmatch(login):
        wrong["login"] = "Log-in: small letters, figures, dot, dash, up to 40 of them and no blank, would work."
    if particulars.role == Role.OWNER and password_kept is None:
        wrong["password"] = "Password: an owner needs one; 10 or more characters would work."  # noqa: S105 - a sentence
    _refuse(wrong)
    try:
        with transaction.atomic():
            person = Person.objects.create(
                login=login, password=password_kept or make_password(None), **_columns(particulars)
            )
    except IntegrityError as exc:
        raise Invalid.field("login", f"Log-in: {login} is somebody already; add a letter to tell them apart.") from exc
    audit.write(
        at=at,
        by=named(by),
        action="person made",
        subject=f"person {person.pk}",
        after={"login": login, "password": password_kept is not None, **_columns(particulars)},
    )
    return person


def change(person: Person, particulars: Particulars, *, at: dt.datetime, by: Person | None) -> Person:
    """Change a person's name, role, tile, or whether they may come in at all; it holds from their next request."""
    transactions.assert_open()
    person = _locked(person)
    wrong = dict(_wrong(particulars))
    if particulars.role == Role.OWNER and not person.has_usable_password():
        wrong["role"] = "Role: an owner needs a password; set one first."
    _refuse(wrong)
    before, after = _columns(_particulars(person)), _columns(particulars)
    if before == after:
        return person
    Person.objects.filter(pk=person.pk).update(**after)
    if before["role"] == Role.OWNER and not an_owner_exists():
        raise LastOwner("This is the last owner who can log in. Make somebody else an owner first.")
    audit.write(at=at, by=named(by), action="person changed", subject=f"person {person.pk}", before=before, after=after)
    return find(person.pk)


def set_password(person: Person, password_kept: str, *, at: dt.datetime, by: Person | None) -> None:
    """Set a password that passwords.prepare accepted; sessions begun with the old one end at their next request."""
    transactions.assert_open()
    Person.objects.filter(pk=person.pk).update(password=password_kept)
    audit.write(at=at, by=named(by), action="password set", subject=f"person {person.pk}")


def an_owner_exists() -> bool:
    """Return whether somebody can come in as the owner."""
    return any(owner.has_usable_password() for owner in Person.objects.filter(role=Role.OWNER, is_active=True))


def _locked(person: Person) -> Person:
    # All people who are owners, in id order: two owners who let each other go at the same moment must not both succeed.
    list(Person.objects.select_for_update().filter(role=Role.OWNER).order_by("id").values_list("id", flat=True))
    return find(person.pk)


def _particulars(person: Person) -> Particulars:
    return Particulars(person.name, person.role, on_tablet=person.on_tablet, is_active=person.is_active)


def _columns(particulars: Particulars) -> dict[str, str | bool]:
    return {
        "name": particulars.name.strip(),
        "role": particulars.role,
        "on_tablet": particulars.on_tablet,
        "is_active": particulars.is_active,
    }


def _wrong(particulars: Particulars) -> list[tuple[str, str]]:
    found = []
    if not particulars.name.strip() or len(particulars.name) > 60:
        found.append(("name", "Name: 1 to 60 characters would work, as everybody says it in the shop."))
    if particulars.role not in Role.values:
        found.append(("role", "Role: hand, desk or owner would work."))
    return found


def _refuse(wrong: dict[str, str]) -> None:
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
