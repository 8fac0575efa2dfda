"""Who is asking: a program with a key of this shop in the Authorization header, and never a cookie."""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication
from rest_framework.permissions import BasePermission

from shop.access import roles
from shop.access.models import ApiKey
from shop.access.services import keys
from shop.api.refusals import NotAllowed, Unauthenticated
from shop.shared import clock

_BEARER = re.compile(r"[Bb][Ee][Aa][Rr][Ee][Rr] +([\x21-\x7e]{1,120}) *")


@dataclass(frozen=True, slots=True)
class Client:
    """A program that was let in."""

    key: ApiKey

    is_authenticated = True

    @property
    def name(self) -> str:
        """Return how the book names this client: by the shown part of its key."""
        return f"key {self.key.prefix}"


def client(request: HttpRequest, *, at: dt.datetime) -> Client:
    """Return the client of a request, or refuse it."""
    header = request.META.get("HTTP_AUTHORIZATION", "")
    if not header:
        raise Unauthenticated("Send a key of this shop as Authorization: Bearer bkn_….")
    match = _BEARER.fullmatch(header)
    found = keys.find(match.group(1), at=at) if match else None
    if found is None:
        raise Unauthenticated("This key is not known, has ended or was revoked; ask the shop for another.")
    keys.note_use(found, at=at)
    return Client(found)


def check_scope(who: Client, url_name: str, method: str) -> None:
    """Refuse what the table of scopes does not give this key; an address without a line is given to nobody."""
    needed = roles.scope_of(url_name, method)
    if needed == roles.ANY_KEY:
        return
    if needed is None or needed not in who.key.scopes:
        raise NotAllowed(
            f"This key may not do this; it needs the scope {needed}." if needed else "No key may do this.",
            facts={"needed_scope": needed} if needed else {},
        )


class KeyAuthentication(BaseAuthentication):
    """The same look-up for a view that the framework dispatches itself."""

    def authenticate(self, request: Any) -> tuple[Client, ApiKey] | None:
        """Return the client and its key; nobody where no key was sent."""
        if not request.META.get("HTTP_AUTHORIZATION"):
            return None
        found = client(request, at=clock.now())
        return found, found.key

    def authenticate_header(self, request: Any) -> str:
        """Return what a 401 asks for."""
        return 'Bearer realm="bickern"'


class HasScope(BasePermission):
    """Default deny: only what the table of scopes gives the key at this address."""

    def has_permission(self, request: Any, view: Any) -> bool:
        """Tell whether the key may."""
        match = request.resolver_match
        if not isinstance(request.user, Client) or match is None:
            return False
        check_scope(request.user, match.view_name, "GET" if request.method == "HEAD" else request.method)
        return True


class KeyScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How the description names the key."""

    target_class = "shop.api.keys.KeyAuthentication"
    name = "key"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Return the scheme."""
        return {"type": "http", "scheme": "bearer", "bearerFormat": "bkn_…"}
