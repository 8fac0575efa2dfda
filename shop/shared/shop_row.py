"""The shop's own row: its name, its clock, its hours, its hour of mail, and who gets the night's e-mail."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction

from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound, Refusal
from shop.shared.hours import CLOSES_AT, OPEN_DAYS, Hours
from shop.shared.models import Recipient, Shop

_CURRENCY = re.compile(r"[A-Z]{3}")


class NoShop(NotFound):
    """The database holds no shop yet."""

    code = "no_shop"


class ShopExists(Refusal):
    """There is a shop already, and there is only ever one."""

    code = "shop_exists"


_INCH_NM = 25_400_000
_MOST_STEP_MG = 100_000_000  # a scale that shows steps of 100 kg weighs no bars


@dataclass(frozen=True, slots=True)
class Settings:
    """What the owner may set about the shop."""

    name: str
    zone: str = "UTC"
    currency: str = "USD"
    night_hour: int = 6
    quiet_days: tuple[int, ...] = ()
    closes_at: dt.time = CLOSES_AT
    open_days: tuple[int, ...] = OPEN_DAYS
    hold_minutes: int = 15
    kerf_nm: int = 1_587_500
    scale_step_mg: int = 453_592
    tape_error_nm: int = 1_587_500
    saw_before_certificate: bool = True


def the_shop() -> Shop:
    """Return the shop."""
    shop = Shop.objects.filter(pk=1).first()
    if shop is None:
        raise NoShop("There is no shop yet. Open the owner's link that the start prints, and name the shop there.")
    return shop


def settings_of(shop: Shop) -> Settings:
    """Return the shop's settings as they stand."""
    return Settings(
        name=shop.name,
        zone=shop.zone,
        currency=shop.currency,
        night_hour=shop.night_hour,
        quiet_days=_days(shop.quiet_days),
        closes_at=shop.closes_at,
        open_days=_days(shop.open_days),
        hold_minutes=shop.hold_minutes,
        kerf_nm=shop.kerf_nm,
        scale_step_mg=shop.scale_step_mg,
        tape_error_nm=shop.tape_error_nm,
        saw_before_certificate=shop.saw_before_certificate,
    )


def hours() -> Hours:
    """Return the shop's hours; before there is a shop, those that one begins with."""
    shop = Shop.objects.filter(pk=1).first()
    return hours_of(shop) if shop else Hours()


def hours_of(shop: Shop) -> Hours:
    """Return when a shop closes, on its own wall, and on which days."""
    return Hours(shop.zone, shop.closes_at, _days(shop.open_days))


def make(settings: Settings, *, at: dt.datetime, by: str, invented: bool = False) -> Shop:
    """Make the one shop."""
    transactions.assert_open()
    _check(settings)
    try:
        with transaction.atomic():
            shop = Shop.objects.create(pk=1, invented=invented, **_columns(settings))
    except IntegrityError as exc:
        raise ShopExists("There is a shop already. Change its settings instead of making it again.") from exc
    audit.write(at=at, by=by, action="shop made", subject="shop 1", after=_columns(settings))
    return shop


def change(
    settings: Settings, *, at: dt.datetime, by: str, recipients: Sequence[tuple[str, str]] | None = None
) -> Shop:
    """Change the shop's settings and, where they are given, who gets the night's e-mail."""
    transactions.assert_open()
    _check(settings)
    if recipients is not None:
        set_recipients(recipients, at=at, by=by)
    before, after = _columns(settings_of(the_shop())), _columns(settings)
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


def _check(settings: Settings) -> None:
    wrong = dict(_wrong(settings))
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)


def _wrong(settings: Settings) -> list[tuple[str, str]]:
    found = []
    if not settings.name.strip() or len(settings.name) > 120:
        found.append(("name", "Name: the shop needs a name of 1 to 120 characters."))
    if settings.zone not in available_timezones():
        found.append(
            ("zone", f"Zone: {settings.zone[:60]!r} is no time zone; Europe/Vienna or America/Chicago would work.")
        )
    if not _CURRENCY.fullmatch(settings.currency):
        found.append(("currency", "Currency: three capital letters such as EUR or USD would work."))
    if not 0 <= settings.night_hour <= 23:
        found.append(("night_hour", "Night hour: a full hour from 0 to 23 would work."))
    if any(not 0 <= day <= 6 for day in settings.quiet_days):
        found.append(("quiet_days", "Days without mail: days from 0 for Monday to 6 for Sunday would work."))
    found += _wrong_hours(settings)
    if not 1 <= settings.hold_minutes <= 1440:
        found.append(("hold_minutes", "Hold: 1 to 1440 minutes would work."))
    if not 0 <= settings.kerf_nm <= _INCH_NM:
        found.append(("kerf", "Kerf: what one cut takes, at most an inch; 1/16 in would work."))
    if not 0 <= settings.tape_error_nm <= _INCH_NM:
        found.append(("tape_error", "Tape: how far one taped length may be off, at most an inch; 1/16 in would work."))
    if not 0 <= settings.scale_step_mg <= _MOST_STEP_MG:
        found.append(("scale_step", "Scale: the step it shows, at most 100 kg; 1 lb would work."))
    return found


def _wrong_hours(settings: Settings) -> list[tuple[str, str]]:
    found, at = [], settings.closes_at
    if at.second or at.microsecond or at.tzinfo:
        found.append(("closes_at", "Closes at: a time in hours and minutes would work, such as 17:00."))
    elif at == dt.time(0):
        found.append(("closes_at", "Closes at: a day begins at 0:00; 23:59 would work for a shop open until midnight."))
    if not settings.open_days or any(not 0 <= day <= 6 for day in settings.open_days):
        found.append(("open_days", "Open on: one day or more, from 0 for Monday to 6 for Sunday, would work."))
    return found


def _days(text: str) -> tuple[int, ...]:
    return tuple(int(day) for day in text.split(",") if day)


def _days_text(days: Iterable[int]) -> str:
    return ",".join(str(day) for day in sorted(set(days)))


def _columns(settings: Settings) -> Mapping[str, object]:
    return {
        "name": settings.name.strip(),
        "zone": settings.zone,
        "currency": settings.currency,
        "night_hour": settings.night_hour,
        "quiet_days": _days_text(settings.quiet_days),
        "closes_at": settings.closes_at,
        "open_days": _days_text(settings.open_days),
        "hold_minutes": settings.hold_minutes,
        "kerf_nm": settings.kerf_nm,
        "scale_step_mg": settings.scale_step_mg,
        "tape_error_nm": settings.tape_error_nm,
        "saw_before_certificate": settings.saw_before_certificate,
    }
