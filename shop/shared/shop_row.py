"""The shop's own row: its name, its clock, its hours, its hour of mail, and who gets the night's e-mail."""

import datetime as dt
from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction

from shop.shared import audit, clock, shut_days, transactions
from shop.shared.errors import Invalid, NotFound, Refusal
from shop.shared.hours import Hours
from shop.shared.models import Recipient, Shop
from shop.shared.shop_settings import Settings, check, columns, days_of, settings_of

SHUT_BACK, SHUT_AHEAD = dt.timedelta(days=14), dt.timedelta(days=400)  # how far hours know the days the shop is shut


class NoShop(NotFound):
    """The database holds no shop yet."""

    code = "no_shop"


class ShopExists(Refusal):
    """There is a shop already, and there is only ever one."""

    code = "shop_exists"


def the_shop() -> Shop:
    """Return the shop."""
    shop = Shop.objects.filter(pk=1).first()
    if shop is None:
        raise NoShop("There is no shop yet. Open the owner's link that the start prints, and name the shop there.")
    return shop


def hours(at: dt.datetime | None = None) -> Hours:
    """Return the shop's hours around a moment, now where none is named; before there is a shop, those one begins with."""
    shop = Shop.objects.filter(pk=1).first()
    return hours_of(shop, at) if shop else Hours()


def hours_of(shop: Shop, at: dt.datetime | None = None) -> Hours:
    """Return when a shop is open, on its own wall, with the days it is shut around a moment."""
    today = clock.local_date(at or clock.now(), shop.zone)
    shut = shut_days.between(today - SHUT_BACK, today + SHUT_AHEAD)
    return Hours(shop.zone, shop.closes_at, days_of(shop.open_days), shop.opens_at, shut)


def make(settings: Settings, *, at: dt.datetime, by: str, invented: bool = False) -> Shop:
    """Make the one shop."""
    transactions.assert_open()
    check(settings)
    try:
        with transaction.atomic():
            shop = Shop.objects.create(pk=1, invented=invented, **columns(settings))
    except IntegrityError as exc:
        raise ShopExists("There is a shop already. Change its settings instead of making it again.") from exc
    audit.write(at=at, by=by, action="shop made", subject="shop 1", after=columns(settings))
    return shop


def change(
    settings: Settings, *, at: dt.datetime, by: str, recipients: Sequence[tuple[str, str]] | None = None
) -> Shop:
    """Change the shop's settings and, where they are given, who gets the night's e-mail."""
    transactions.assert_open()
    check(settings)
    if recipients is not None:
        set_recipients(recipients, at=at, by=by)
    before, after = columns(settings_of(the_shop())), columns(settings)
    if before != after:
        Shop.objects.filter(pk=1).update(**after)
        audit.write(at=at, by=by, action="shop settings changed", subject="shop 1", before=before, after=after)
    return the_shop()


def set_recipients(wanted: Sequence[tuple[str, str]], *, at: dt.datetime, by: str) -> list[Recipient]:
    """Let exactly these people (name, address) get the night's e-mail; the others stay in the table, switched off."""
    transactions.assert_open()
    people = {_address(email): name.strip() for name, email in wanted}
    before = dict(Recipient.objects.filter(active=True).order_by("id").values_list("email", "name"))
    if before == people:
        return active_recipients()
    Recipient.objects.exclude(email__in=people).update(active=False)
    for email, name in people.items():
        Recipient.objects.update_or_create(email=email, defaults={"name": name, "active": True})
    audit.write(at=at, by=by, action="recipients changed", subject="shop 1", before=before, after=people)
    return active_recipients()


def active_recipients() -> list[Recipient]:
    """Return those who get the night's e-mail."""
    return list(Recipient.objects.filter(active=True).order_by("id"))


def _address(email: str) -> str:
    try:
        validate_email(email.strip())
    except ValidationError as exc:
        raise Invalid.field(
            "recipients", f"Recipients: {email.strip()!r} is no e-mail address; name@example.org would work."
        ) from exc
    return email.strip().lower()
