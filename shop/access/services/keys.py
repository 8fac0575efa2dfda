"""Keys of programs that use the API."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import Q

from shop.access.models import ApiKey, Person
from shop.access.roles import SCOPES
from shop.access.services import tokens
from shop.access.services.people import named
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound

PREFIX = "bkn_"
_SHOWN = 12
_NOTE_USE_EVERY = dt.timedelta(minutes=1)


class UnknownKey(NotFound):
    """No key of that number."""

    code = "unknown_key"


def make(
    *, name: str, scopes: Sequence[str], at: dt.datetime, by: Person | None, expires_at: dt.datetime | None = None
) -> tuple[ApiKey, str]:
    """Make a key and return it with its text, which is shown this once: `bkn_` and 256 random bits."""
    transactions.assert_open()
    _check(name, scopes, at, expires_at)
    text = PREFIX + tokens.make(256)
    key = ApiKey.objects.create(
        name=name.strip(),
        prefix=text[:_SHOWN],
        secret_hash=tokens.digest(text),
        scopes=sorted(set(scopes)),
        made_at=at,
        made_by=by,
        expires_at=expires_at,
    )
    after = {"name": key.name, "prefix": key.prefix, "scopes": key.scopes, "expires_at": expires_at}
    audit.write(at=at, by=named(by), action="key made", subject=f"key {key.pk}", after=after)
    return key, text


def revoke(key_id: int, *, at: dt.datetime, by: Person | None) -> None:
    """Revoke a key from its next request on. Revoking again changes nothing."""
    transactions.assert_open()
    if ApiKey.objects.filter(pk=key_id, revoked_at=None).update(revoked_at=at):
        audit.write(at=at, by=named(by), action="key revoked", subject=f"key {key_id}")
    elif not ApiKey.objects.filter(pk=key_id).exists():
        raise UnknownKey(f"There is no key {key_id}. Choose one of the list.")


def find(text: str, *, at: dt.datetime) -> ApiKey | None:
    """Return the key with this text where it is valid now; one query, by the hash of the whole."""
    if not text.startswith(PREFIX) or len(text) > 100:
        return None
    key = ApiKey.objects.filter(secret_hash=tokens.digest(text), revoked_at=None).first()
    if key is None or (key.expires_at is not None and key.expires_at <= at):
        return None
    return key


def note_use(key: ApiKey, *, at: dt.datetime) -> None:
    """Note that a key was used, at most once a minute: no write in most requests."""
    if key.last_used_at is None or key.last_used_at <= at - _NOTE_USE_EVERY:
        stale = Q(last_used_at=None) | Q(last_used_at__lte=at - _NOTE_USE_EVERY)
        ApiKey.objects.filter(stale, pk=key.pk).update(last_used_at=at)


def _check(name: str, scopes: Sequence[str], at: dt.datetime, expires_at: dt.datetime | None) -> None:
    wrong = {}
    if not 1 <= len(name.strip()) <= 80:
        wrong["name"] = "Name: say which program uses the key, in 1 to 80 characters."
    unknown = sorted(set(scopes) - set(SCOPES))
    if unknown:
        wrong["scopes"] = f"May: {unknown[0]!r} is nothing a key can be allowed; {', '.join(SCOPES)} would work."
    elif not scopes:
        wrong["scopes"] = "May: tick at least one thing the key is allowed to do."
    if expires_at is not None and expires_at <= at:
        wrong["expires_at"] = "Ends: this day has passed; a later one, or none, would work."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
