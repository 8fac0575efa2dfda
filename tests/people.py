"""Makers of people, tablets and keys for tests; they go through the services."""

from django.conf import settings
from django.test import Client

from shop.access.models import ApiKey, Person, Tablet
from shop.access.services import keys, passwords, people, tablets
from shop.shared import clock, shop_row
from shop.shared.models import Shop
from shop.shared.transactions import entry_point

PASSWORD = "tongs above the slack tub"


def make_shop(name: str = "Test Forge") -> Shop:
    """Make the shop where there is none yet."""
    existing = Shop.objects.filter(pk=1).first()
    if existing:
        return existing
    with entry_point():
        return shop_row.make(shop_row.Settings(name=name), at=clock.now(), by="test")


def make_person(role: str = "hand", login: str = "", password: str | None = PASSWORD, **more: bool) -> Person:
    """Make somebody; by default with a password."""
    login = login or f"{role}{Person.objects.count() + 1}"
    kept = passwords.prepare(password, login=login) if password else None
    with entry_point():
        return people.make(
            login=login,
            particulars=people.Particulars(login.capitalize(), role, **more),
            password_kept=kept,
            at=clock.now(),
            by=None,
        )


def log_in(client: Client, person: Person, password: str = PASSWORD) -> Client:
    """Log somebody in through the page."""
    answer = client.post("/login", {"login": person.login, "password": password})
    assert answer.status_code == 302, answer.content.decode()
    return client


def client_of(role: str) -> Client:
    """Return a browser in which a new person of that role has logged in."""
    return log_in(Client(), make_person(role))


def make_tablet(client: Client, name: str = "by the hammer", owner: Person | None = None) -> Tablet:
    """Enrol the client's browser as a tablet."""
    by = owner or make_person("owner")
    with entry_point():
        tablet, token = tablets.enrol(name, at=clock.now(), by=by)
    client.cookies[settings.TABLET_COOKIE_NAME] = token
    return tablet


def touch(client: Client, person: Person) -> Client:
    """Touch a name tile."""
    answer = client.post("/here", {"who": person.pk})
    assert answer.status_code == 302, answer.content.decode()
    return client


def make_key(*scopes: str, name: str = "test program") -> tuple[ApiKey, str]:
    """Make a key of the API and return it with its text."""
    with entry_point():
        return keys.make(name=name, scopes=scopes, at=clock.now(), by=None)
