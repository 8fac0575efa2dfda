"""What a session holds: who came in, how, and since when. Sessions live in the database, so they can be ended there."""

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.utils.crypto import constant_time_compare

from shop.access.models import Person, Tablet
from shop.access.roles import capped

IDLE_ON_TABLET = dt.timedelta(minutes=10)
_STEP = dt.timedelta(seconds=30)
_PERSON, _TABLET, _MARK, _SINCE, _SEEN = "person", "tablet", "mark", "since", "seen"


@dataclass(frozen=True, slots=True)
class Claim:
    """What the session says, not yet held against the database."""

    person_id: int
    tablet_id: int | None  # set where a name tile was touched: the session is worth something on that tablet only
    mark: str  # of the password at log-in; empty for a name tile
    since: dt.datetime
    seen: dt.datetime

    @property
    def full(self) -> bool:
        """Return whether it began with a password."""
        return bool(self.mark)


def begin_full(session: SessionBase, person: Person, *, at: dt.datetime) -> None:
    """Begin a session with a password: a new key, nothing kept from whoever was here before."""
    _begin(session, {_PERSON: person.pk, _MARK: person.get_session_auth_hash()}, at)


def begin_tile(session: SessionBase, person: Person, tablet: Tablet, *, at: dt.datetime) -> None:
    """Begin a session with a touch of a name tile."""
    _begin(session, {_PERSON: person.pk, _TABLET: tablet.pk}, at)


def claim(session: SessionBase) -> Claim | None:
    """Return what the session says, or nothing where nobody came in."""
    try:
        return Claim(
            person_id=int(session[_PERSON]),
            tablet_id=session.get(_TABLET),
            mark=session.get(_MARK, ""),
            since=dt.datetime.fromisoformat(session[_SINCE]),
            seen=dt.datetime.fromisoformat(session[_SEEN]),
        )
    except KeyError:
        return None


def role_under(said: Claim, person: Person, tablet: Tablet | None, *, at: dt.datetime) -> str | None:
    """Return the role the claim gives now, or nothing where the session has ended."""
    if not person.is_active or at - said.since >= dt.timedelta(seconds=settings.SESSION_COOKIE_AGE):
        return None
    if not said.full:
        on_it = tablet is not None and tablet.pk == said.tablet_id and person.on_tablet
        return capped(person.role) if on_it else None
    if tablet is not None and at - said.seen >= IDLE_ON_TABLET:
        return None
    return person.role if _mark_fits(said.mark, person) else None


def note_seen(session: SessionBase, said: Claim, *, at: dt.datetime) -> None:
    """Remember that somebody with a password is still at the tablet; written at most twice a minute."""
    if at - said.seen >= _STEP:
        session[_SEEN] = at.isoformat()


def _begin(session: SessionBase, facts: dict[str, object], at: dt.datetime) -> None:
    session.flush()
    session.update({**facts, _SINCE: at.isoformat(), _SEEN: at.isoformat()})


def _mark_fits(mark: str, person: Person) -> bool:
    marks = [person.get_session_auth_hash(), *person.get_session_auth_fallback_hash()]
    return any(constant_time_compare(mark, known) for known in marks)
