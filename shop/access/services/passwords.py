"""Passwords: which are accepted, and whether one fits. Slow on purpose, so never inside a transaction."""

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

from shop.access.models import Person
from shop.shared.errors import Invalid

SHORTEST = 10
LONGEST = 200

_common = CommonPasswordValidator()


def prepare(password: str, *, login: str, name: str = "") -> str:
    """Return what is kept of a new password, or refuse it."""
    if len(password) < SHORTEST:
        raise _refused(f"it has {len(password)} characters; {SHORTEST} or more would work, several words for instance")
    if len(password) > LONGEST:
        raise _refused(f"it has {len(password)} characters; up to {LONGEST} would work")
    if password.strip().casefold() in {login.strip().casefold(), name.strip().casefold()} - {""}:
        raise _refused("it is the person's own name; words that nobody would try would work")
    try:
        _common.validate(password)
    except ValidationError as exc:
        raise _refused("it is on the list of passwords that are tried first; several words would work") from exc
    return make_password(password)


def fits(person: Person | None, password: str) -> bool:
    """Return whether a password is that person's; an unknown or disabled person takes as long as a wrong password."""
    if len(password) > LONGEST:
        return False
    if person is None or not person.is_active or not person.has_usable_password():
        make_password(password)
        return False
    return check_password(password, person.password)


def _refused(why: str) -> Invalid:
    return Invalid.field("password", f"Password: {why}.")
