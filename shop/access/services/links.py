"""The one-time link that makes the owner of an empty shop; there is no default account."""

import datetime as dt
from dataclasses import dataclass

from django.conf import settings

from shop.access.models import OneTimeLink, Person, Role
from shop.access.services import people, tokens
from shop.shared import audit, shop_row, shop_settings, transactions
from shop.shared.errors import NotFound, Refusal
from shop.shared.models import Shop

LASTS = dt.timedelta(hours=24)
_OWNER = "owner"


class LinkGone(NotFound):
    """The link was used, has ended, or never was."""

    code = "link_gone"


class OwnerExists(Refusal):
    """The shop has an owner already."""

    code = "owner_exists"


@dataclass(frozen=True, slots=True)
class NewOwner:
    """Who the owner is, and the shop's name and zone where it has none yet."""

    name: str
    login: str
    password_kept: str
    shop_name: str = ""
    zone: str = "UTC"


def make_owner_link(*, at: dt.datetime) -> str:
    """Return a new link's address; the links made before it no longer work."""
    transactions.assert_open()
    if people.an_owner_exists():
        raise OwnerExists("The shop has an owner already. Log in as the owner and make other people there.")
    OneTimeLink.objects.filter(purpose=_OWNER, used_at=None).update(used_at=at)
    token = tokens.make(256)
    link = OneTimeLink.objects.create(purpose=_OWNER, token_hash=tokens.digest(token), expires_at=at + LASTS)
    audit.write(at=at, by=people.COMMAND, action="owner link made", subject=f"one-time link {link.pk}")
    return f"{settings.BASE_ADDRESS}/start/{token}"


def look_at(token: str, *, at: dt.datetime) -> OneTimeLink:
    """Return the link where it still works; looking does not use it up."""
    link = OneTimeLink.objects.filter(
        purpose=_OWNER, token_hash=tokens.digest(token), used_at=None, expires_at__gt=at
    ).first()
    if link is None:
        raise LinkGone("This link was used, or is older than a day. `manage.py owner_link` prints a new one.")
    return link


def make_owner(token: str, new: NewOwner, *, at: dt.datetime) -> Person:
    """Use the link up: make the owner, and the shop where there is none. A refusal leaves the link usable."""
    transactions.assert_open()
    link = look_at(token, at=at)
    # The one request that turns the row goes on; a second one at the same moment changes no row.
    if not OneTimeLink.objects.filter(pk=link.pk, used_at=None, expires_at__gt=at).update(used_at=at):
        raise LinkGone(
            "This link was used just now. Log in with what was typed there."
        )  # pragma: no cover - needs a race
    if people.an_owner_exists():
        raise OwnerExists("The shop has an owner already. Log in as the owner and make other people there.")
    if not Shop.objects.filter(pk=1).exists():
        shop_row.make(shop_settings.Settings(name=new.shop_name, zone=new.zone), at=at, by=new.login)
    owner = people.make(
        login=new.login,
        particulars=people.Particulars(new.name, Role.OWNER),
        password_kept=new.password_kept,
        at=at,
        by=None,
    )
    OneTimeLink.objects.filter(pk=link.pk).update(person=owner)
    return owner
