"""Who may do what: the table of roles against the URL conf, and every door knocked at in every role."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import NoReverseMatch, URLPattern, URLResolver, get_resolver, reverse

from shop.access import roles
from tests.people import client_of, make_key, make_person, make_shop, make_tablet, touch

pytestmark = pytest.mark.daily("sqlite")

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")
# Tried in turn for the parts of an address; none of them names anything in the test database.
TRIED = (
    "nothing-of-that-name",
    "nothing",
    "X9Z9",
    "Z99",
    "987654",
    "2001-02-03",
    "00000000-0000-4000-8000-000000000000",
)


@dataclass(frozen=True)
class Door:
    """One address of the service."""

    name: str
    address: str


def _walk(patterns: list[Any], spaces: tuple[str, ...] = (), parts: tuple[str, ...] = ()) -> Iterator[Door]:
    for pattern in patterns:
        found = (*parts, *pattern.pattern.regex.groupindex)
        if isinstance(pattern, URLResolver):
            yield from _walk(
                pattern.url_patterns, (*spaces, *([pattern.namespace] if pattern.namespace else [])), found
            )
        elif isinstance(pattern, URLPattern):
            name = ":".join((*spaces, pattern.name)) if pattern.name else ""
            yield Door(name, _address(name, found) if name else str(pattern.pattern))


def _address(name: str, parts: tuple[str, ...]) -> str:
    for values in itertools.product(TRIED, repeat=len(parts)):
        try:
            return reverse(name, kwargs=dict(zip(parts, values, strict=True)))
        except NoReverseMatch:
            continue
    raise AssertionError(f"none of {TRIED} makes an address of {name}: add a value that does")


def doors() -> list[Door]:
    """Return every address of the URL conf."""
    return list(_walk(get_resolver().url_patterns))


def test_every_address_has_a_name() -> None:
    assert [door.address for door in doors() if not door.name] == []


def test_every_address_stands_in_exactly_one_table() -> None:
    names = {door.name for door in doors()}
    assert names - set(roles.PAGES) - set(roles.API) == set()
    assert set(roles.PAGES) & set(roles.API) == set()


def test_every_line_of_the_tables_has_its_address() -> None:
    names = {door.name for door in doors()}
    assert (set(roles.PAGES) | set(roles.API)) - names == set()


def test_every_role_and_scope_in_the_tables_exists() -> None:
    least = {role for line in roles.PAGES.values() for role in line.values()}
    assert least <= {roles.ANYONE, roles.TABLET, roles.HAND, roles.DESK, roles.OWNER}
    scopes = {scope for line in roles.API.values() for scope in line.values()}
    assert scopes <= {*roles.SCOPES, roles.OPEN, roles.ANY_KEY}


def test_no_page_is_open_to_anyone_but_those_that_let_people_in() -> None:
    free = {name for name, line in roles.PAGES.items() if roles.ANYONE in line.values()}
    feeds = {name for name in free if name.startswith("feed")}  # these ask for the secret in their address
    assert free - feeds == {"livez", "staff:login", "staff:logout", "staff:start"} | (free & {"readyz"})


def _knock(client: Client, door: Door, method: str, **headers: str) -> Any:
    return client.generic(method, door.address, b"", content_type="application/json", headers=headers)


def _client(role: str) -> Client:
    if role == roles.ANYONE:
        return Client(raise_request_exception=False)
    if role == roles.TABLET:
        client = Client(raise_request_exception=False)
        make_tablet(client)
        return client
    client = client_of(role)
    client.raise_request_exception = False
    return client


@pytest.mark.django_db
@pytest.mark.parametrize("role", [roles.ANYONE, roles.TABLET, roles.HAND, roles.DESK, roles.OWNER])
def test_each_role_is_let_in_or_refused_at_each_door_as_the_table_says(role: str) -> None:
    make_shop()
    client, wrong = _client(role), []
    knocked = 0
    for door in doors():
        for method, least in roles.PAGES.get(door.name, {}).items():
            if door.name == "staff:logout":
                continue  # knocked at by a test of its own; it would end the session of this walk
            knocked += 1
            answer = _knock(client, door, method)
            refused = getattr(answer, "refused_by_role", False)
            if refused == roles.reaches(role, least):
                wrong.append(f"{method} {door.address}: needs {least}, {'refused' if refused else 'let in'}")
            if answer.status_code >= 500:
                wrong.append(f"{method} {door.address}: answered {answer.status_code}")
            if refused and answer.status_code not in {302, 403}:
                wrong.append(f"{method} {door.address}: refused with {answer.status_code}")
    assert wrong == []
    assert knocked > 20


@pytest.mark.django_db
def test_a_touched_tile_opens_what_a_hand_may_do_and_no_more_even_for_the_owner() -> None:
    make_shop()
    owner, client = make_person("owner"), Client(raise_request_exception=False)
    make_tablet(client, owner=owner)
    touch(client, owner)
    for door in doors():
        for method, least in roles.PAGES.get(door.name, {}).items():
            if door.name in {"staff:logout", "staff:here", "staff:start"}:
                continue
            answer = _knock(client, door, method)
            assert getattr(answer, "refused_by_role", False) != roles.reaches(roles.HAND, least), (method, door)


@pytest.mark.django_db
def test_a_method_that_stands_in_no_line_is_refused_at_every_page() -> None:
    make_shop()
    client = client_of("owner")
    for door in doors():
        if door.name in roles.PAGES:
            for method in {*METHODS, "TRACE", "OPTIONS", "BREW"} - set(roles.PAGES[door.name]):
                answer = _knock(client, door, method)
                assert answer.status_code == 405, (method, door)
                assert set(answer["Allow"].split(", ")) >= set(roles.PAGES[door.name])


@pytest.mark.django_db
def test_a_page_missing_from_the_table_is_refused_to_the_owner_too(monkeypatch: pytest.MonkeyPatch) -> None:
    make_shop()
    client = client_of("owner")
    assert client.get("/people").status_code == 200
    monkeypatch.delitem(roles.PAGES, "staff:people")
    answer = client.get("/people")
    assert answer.status_code == 403
    assert b"not open to you" in answer.content


@pytest.mark.django_db
def test_each_api_address_asks_for_its_scope() -> None:
    make_shop()
    client, wrong = Client(raise_request_exception=False), []
    everything = make_key(*roles.SCOPES)[1]
    for door in doors():
        for method, scope in roles.API.get(door.name, {}).items():
            where = f"{method} {door.address}"
            bare = _knock(client, door, method).status_code
            if scope == roles.OPEN:
                wrong += [where] if bare in {401, 403} else []
                continue
            wrong += [f"{where}: {bare} without a key"] if bare != 401 else []
            full = _knock(client, door, method, authorization=f"Bearer {everything}").status_code
            wrong += [f"{where}: {full} with every scope"] if full in {401, 403, 405} or full >= 500 else []
            if scope != roles.ANY_KEY:
                without = make_key(*(set(roles.SCOPES) - {scope}))[1]
                lacking = _knock(client, door, method, authorization=f"Bearer {without}").status_code
                wrong += [f"{where}: {lacking} without the scope {scope}"] if lacking != 403 else []
        for method in set(METHODS) - set(roles.API.get(door.name, {})) if door.name in roles.API else ():
            answer = _knock(client, door, method, authorization=f"Bearer {everything}")
            wrong += [f"{method} {door.address}: {answer.status_code}"] if answer.status_code != 405 else []
    assert wrong == []


@pytest.mark.django_db
def test_a_browser_session_opens_nothing_of_the_api() -> None:
    make_shop()
    client = client_of("owner")
    for door in doors():
        for method, scope in roles.API.get(door.name, {}).items():
            if scope != roles.OPEN:
                assert _knock(client, door, method).status_code == 401, (method, door)


@pytest.mark.django_db
@pytest.mark.parametrize(("role", "sees"), [("hand", False), ("desk", True), ("owner", True)])
def test_costs_and_addresses_are_for_the_desk_and_the_owner(role: str, sees: bool) -> None:
    make_shop()
    answer = client_of(role).get("/my-password")
    request = answer.wsgi_request
    assert roles.may(request, "see_costs") is sees
    assert roles.may(request, "see_addresses") is sees
    assert request.may.see_costs is sees
    with pytest.raises(AttributeError):
        _ = request.may.see_everything
