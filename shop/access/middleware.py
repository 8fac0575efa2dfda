"""Who is here, and whether the door opens: every request passes once, what stands in no table is refused."""

import logging
import uuid
from collections.abc import Callable
from typing import cast
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.db.models import QuerySet, Subquery
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse

from shop.access import roles, sessions
from shop.access.models import Person, Tablet
from shop.access.services import tablets, tokens
from shop.shared import clock

_log = logging.getLogger("shop.access")
# Addresses that carry a key, a secret link or nothing at all: no session, no tablet, no query.
_NOBODY_HERE = ("/api/", "/feed/", "/static/", "/livez", "/readyz")
_EVEN_WITHOUT_TLS = ("/livez", "/readyz")
_FORWARDED = ("HTTP_X_FORWARDED_PROTO", "HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_HOST", "HTTP_X_FORWARDED_PORT")
_TITLES = {  # as on the pages of these problems; a test of the API compares them
    "method_not_allowed": "The address does not answer this method",
    "not_allowed": "The key may not do this",
    "https_only": "The shop answers over https only",
}


class Here(HttpRequest):
    """A request that has passed WhoIsHere; for annotations only."""

    session: SessionBase
    person: Person | None
    tablet: Tablet | None
    acting_role: str | None
    full_login: bool
    may: roles.May


class WhoIsHere:
    """Sets request.person, tablet, acting_role, full_login and may; opens or refuses the door by the table of roles."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        here = cast(Here, request)
        _believe_only_the_proxy(here)
        here.person, here.tablet, here.acting_role, here.full_login = None, None, None, False
        page = not here.path.startswith(_NOBODY_HERE)
        if settings.BEHIND_TLS and not here.is_secure() and not here.path.startswith(_EVEN_WITHOUT_TLS):
            return _plain_http_refused(here)
        if page:
            _recognise(here)
        if page and _body_of(here) > (settings.LARGEST_FORM if here.acting_role else settings.LARGEST_OF_A_STRANGER):
            return _too_large(here)
        here.may = roles.May(here.acting_role)
        response = self.get_response(here)
        if page and "Cache-Control" not in response:
            response["Cache-Control"] = "no-store"
        return response

    def process_view(self, request: HttpRequest, _view: object, _args: object, _kwargs: object) -> HttpResponse | None:
        """Refuse what the tables do not allow, before the view runs."""
        here = cast(Here, request)
        name = here.resolver_match.view_name if here.resolver_match else ""
        method = here.method or ""
        if name in roles.API and (roles.scope_of(name, method) or roles.OPEN not in roles.API[name].values()):
            return None  # behind a key the API looks at key, scope and method itself, with the same table
        least = roles.least_role(name, method)
        if least is not None and roles.reaches(here.acting_role or _tablets_own(here), least):
            return None
        response = _refused(here, name, method, least)
        response.refused_by_role = True  # type: ignore[attr-defined] # read by the test of the table
        return response


def _recognise(here: Here) -> None:
    """Find out who is here with one query for the session and one for person and tablet together."""
    at = clock.now()
    said = sessions.claim(here.session)
    token = here.COOKIES.get(settings.TABLET_COOKIE_NAME, "")
    standing = Tablet.objects.filter(token_hash=tokens.digest(token), revoked_at=None)
    if said is None:
        here.tablet = standing.first() if token else None
    else:
        person = _with_tablet(Person.objects.filter(pk=said.person_id), standing if token else None).first()
        here.tablet = _tablet_beside(person, token) if person else (standing.first() if token else None)
        role = sessions.role_under(said, person, here.tablet, at=at) if person else None
        if person is None or role is None:
            here.session.flush()
        else:
            here.person, here.acting_role, here.full_login = person, role, said.full
            if said.full and here.tablet:
                sessions.note_seen(here.session, said, at=at)
    if here.tablet:
        tablets.note_use(here.tablet, at=at)


def _with_tablet(people: QuerySet[Person], standing: QuerySet[Tablet] | None) -> QuerySet[Person]:
    if standing is None:
        return people
    return people.annotate(
        **{f"tablet_{part}": Subquery(standing.values(part)[:1]) for part in ("id", "name", "last_used_at")}
    )


def _tablet_beside(person: Person, token: str) -> Tablet | None:
    found = getattr(person, "tablet_id", None)
    if found is None:
        return None
    facts = vars(person)
    return Tablet(
        pk=found, name=facts["tablet_name"], last_used_at=facts["tablet_last_used_at"], token_hash=tokens.digest(token)
    )


def _tablets_own(here: Here) -> str | None:
    return roles.TABLET if here.tablet else None


def _refused(here: Here, name: str, method: str, least: str | None) -> HttpResponse:
    known = roles.methods_of(name)
    if least is None and known:
        return _method_refused(here, known)
    if here.path.startswith("/api/"):
        return _problem(403, "not_allowed", "This address is open to nobody.")
    if least is None:
        _log.error("the page %r stands in no table of roles and is refused to everybody", name)
        return render(here, "403.html", status=403)
    if here.full_login:
        _log.warning("%s of %s refused to %r", method, name, here.person and here.person.login)
        return render(here, "staff/access/refused.html", {"least": least}, status=403)
    return HttpResponseRedirect(_way_in(here, name))


def _way_in(here: Here, name: str) -> str:
    """Return where somebody says who they are, and then back: a tablet's name tiles first, else the log-in."""
    door = "staff:here" if here.tablet and not here.person else "staff:login"
    back = here.get_full_path() if here.method in {"GET", "HEAD"} else here.path
    opens_by_get = roles.least_role(name, "GET") is not None
    return reverse(door) + (f"?{urlencode({'next': back})}" if opens_by_get and back != "/" else "")


def _method_refused(here: Here, known: list[str]) -> HttpResponse:
    sentence = f"This address answers {', '.join(known)} only."
    response = (
        _problem(405, "method_not_allowed", sentence)
        if here.path.startswith("/api/")
        else HttpResponse(sentence + "\n", status=405, content_type="text/plain; charset=utf-8")
    )
    response["Allow"] = ", ".join(known)
    return response


def _body_of(here: Here) -> int:
    """Return how much is being sent; nothing of it is read yet, and what names no length is never read."""
    length = here.META.get("CONTENT_LENGTH") or "0"
    return int(length) if length.isascii() and length.isdecimal() and len(length) < 16 else 0


def _too_large(here: Here) -> HttpResponse:
    most = settings.LARGEST_FORM if here.acting_role else settings.LARGEST_OF_A_STRANGER
    sentence = f"More than {most // 1_000_000} MB were sent and nothing was kept; make the file smaller."
    return HttpResponse(sentence + "\n", status=413, content_type="text/plain; charset=utf-8")


def _plain_http_refused(here: Here) -> HttpResponse:
    sentence = "This address answers over https only. Nothing was done; a key sent in the open should be revoked."
    if here.path.startswith("/api/"):
        return _problem(403, "https_only", sentence)
    return HttpResponse(sentence + "\n", status=403, content_type="text/plain; charset=utf-8")


def _problem(status: int, code: str, sentence: str) -> HttpResponse:
    number = uuid.uuid4().hex
    body = {"type": f"/api/v1/problems/{code}", "title": _TITLES[code], "status": status, "detail": sentence}
    response = JsonResponse(body | {"request_id": number}, status=status, content_type="application/problem+json")
    response["Cache-Control"] = "private, no-store"
    response["X-Request-ID"] = number
    return response


def _believe_only_the_proxy(here: Here) -> None:
    """Forget forwarding headers that do not come from the named proxy; keep the client's address where they do."""
    if here.META.get("REMOTE_ADDR", "") in settings.TRUSTED_PROXIES:
        client = here.META.get("HTTP_X_FORWARDED_FOR", "").split(",")[-1].strip()
        if client:
            here.META["REMOTE_ADDR"] = client
        return
    for header in _FORWARDED:
        here.META.pop(header, None)
