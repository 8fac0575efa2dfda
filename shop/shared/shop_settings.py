"""What the owner may set about the shop: as values, as they stand in the shop's row, and what no shop can have."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from shop.shared.errors import Invalid
from shop.shared.hours import CARRIER_BY, CLOSES_AT, OPEN_DAYS, OPENS_AT
from shop.shared.models import Shop

_CURRENCY = re.compile(r"[A-Z]{3}")
MOST_ADDRESS_LINES = 6
_INCH_NM = 25_400_000
_USUAL = {"opens_at": OPENS_AT, "closes_at": CLOSES_AT, "carrier_by": CARRIER_BY}
_MOST_STEP_MG = 100_000_000  # a scale that shows steps of 100 kg weighs no bars


@dataclass(frozen=True, slots=True)
class Settings:
    """What the owner may set about the shop."""

    name: str
    zone: str = "UTC"
    address: str = ""
    phone: str = ""
    email: str = ""
    currency: str = "USD"
    night_hour: int = 6
    quiet_days: tuple[int, ...] = ()
    closes_at: dt.time = CLOSES_AT
    open_days: tuple[int, ...] = OPEN_DAYS
    opens_at: dt.time = OPENS_AT
    production_percent: int = 65
    carrier_days: tuple[int, ...] = OPEN_DAYS
    carrier_by: dt.time = CARRIER_BY
    oven_alone: bool = False
    sure_one_off: int = 90
    sure_dealer: int = 95
    slips_below: int = 80
    hold_minutes: int = 15
    kerf_nm: int = 1_587_500
    scale_step_mg: int = 453_592
    tape_error_nm: int = 1_587_500
    saw_before_certificate: bool = True


def settings_of(shop: Shop) -> Settings:
    """Return the shop's settings as they stand."""
    return Settings(
        name=shop.name,
        address=shop.address,
        phone=shop.phone,
        email=shop.email,
        zone=shop.zone,
        currency=shop.currency,
        night_hour=shop.night_hour,
        quiet_days=days_of(shop.quiet_days),
        closes_at=shop.closes_at,
        open_days=days_of(shop.open_days),
        opens_at=shop.opens_at,
        production_percent=shop.production_percent,
        carrier_days=days_of(shop.carrier_days),
        carrier_by=shop.carrier_by,
        oven_alone=shop.oven_alone,
        sure_one_off=shop.sure_one_off,
        sure_dealer=shop.sure_dealer,
        slips_below=shop.slips_below,
        hold_minutes=shop.hold_minutes,
        kerf_nm=shop.kerf_nm,
        scale_step_mg=shop.scale_step_mg,
        tape_error_nm=shop.tape_error_nm,
        saw_before_certificate=shop.saw_before_certificate,
    )


def check(settings: Settings) -> None:
    """Refuse settings that no shop can have, all that is wrong at once."""
    wrong = dict(_wrong(settings))
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)


def _wrong(settings: Settings) -> list[tuple[str, str]]:
    found = []
    if not settings.name.strip() or len(settings.name) > 120:
        found.append(("name", "Name: the shop needs a name of 1 to 120 characters."))
    found += _wrong_address(settings)
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
    found += _wrong_chances(settings)
    if not 1 <= settings.hold_minutes <= 1440:
        found.append(("hold_minutes", "Hold: 1 to 1440 minutes would work."))
    if not 0 <= settings.kerf_nm <= _INCH_NM:
        found.append(("kerf", "Kerf: what one cut takes, at most an inch; 1/16 in would work."))
    if not 0 <= settings.tape_error_nm <= _INCH_NM:
        found.append(("tape_error", "Tape: how far one taped length may be off, at most an inch; 1/16 in would work."))
    if not 0 <= settings.scale_step_mg <= _MOST_STEP_MG:
        found.append(("scale_step", "Scale: the step it shows, at most 100 kg; 1 lb would work."))
    return found


def _wrong_address(settings: Settings) -> list[tuple[str, str]]:
    found = []
    if len(settings.address) > 300 or len(settings.address.splitlines()) > MOST_ADDRESS_LINES:
        found.append(("address", f"Address: at most {MOST_ADDRESS_LINES} lines and 300 characters would work."))
    if len(settings.phone) > 40 or len(settings.phone.splitlines()) > 1:
        found.append(("phone", "Phone: at most 40 characters would work."))
    if settings.email.strip():
        try:
            validate_email(settings.email.strip())
        except ValidationError:
            found.append(("email", "E-mail: an address such as forge@example.org would work."))
    return found


def _wrong_hours(settings: Settings) -> list[tuple[str, str]]:
    found = []
    for name, label, at in (
        ("opens_at", "Opens at", settings.opens_at),
        ("closes_at", "Closes at", settings.closes_at),
        ("carrier_by", "Carrier comes by", settings.carrier_by),
    ):
        if at.second or at.microsecond or at.tzinfo:
            found.append((name, f"{label}: a time in hours and minutes would work, such as {_USUAL[name]:%H:%M}."))
    if not found and settings.closes_at == dt.time(0):
        found.append(("closes_at", "Closes at: a day begins at 0:00; 23:59 would work for a shop open until midnight."))
    elif not found and settings.opens_at >= settings.closes_at:
        found.append(("opens_at", f"Opens at: a time before closing, {settings.closes_at:%H:%M}, would work."))
    for name, label, days in (
        ("open_days", "Open on", settings.open_days),
        ("carrier_days", "Carrier comes on", settings.carrier_days),
    ):
        if not days or any(not 0 <= day <= 6 for day in days):
            found.append((name, f"{label}: one day or more, from 0 for Monday to 6 for Sunday, would work."))
    return found


def _wrong_chances(settings: Settings) -> list[tuple[str, str]]:
    found = []
    if not 5 <= settings.production_percent <= 100:
        found.append(("production_percent", "Share of production: 5 to 100 in 100 would work; 65 is usual."))
    for name, label, sure in (
        ("sure_one_off", "One-off customers", settings.sure_one_off),
        ("sure_dealer", "Dealers", settings.sure_dealer),
    ):
        if not 50 <= sure <= 99:
            found.append((name, f"{label}: a chance of 50 to 99 in 100 would work."))
    least = min(settings.sure_one_off, settings.sure_dealer)
    if not 1 <= settings.slips_below <= 99:
        found.append(("slips_below", "Slips below: a chance of 1 to 99 in 100 would work."))
    elif not found and settings.slips_below > least:
        found.append(
            ("slips_below", f"Slips below: a day given would slip at once; {least}, what is wanted of it, would work.")
        )
    return found


def days_of(text: str) -> tuple[int, ...]:
    """Return the weekdays of a column."""
    return tuple(int(day) for day in text.split(",") if day)


def _days_text(days: Iterable[int]) -> str:
    return ",".join(str(day) for day in sorted(set(days)))


def columns(settings: Settings) -> Mapping[str, object]:
    """Return the settings as they are kept."""
    return {
        "name": settings.name.strip(),
        "address": settings.address.strip(),
        "phone": settings.phone.strip(),
        "email": settings.email.strip(),
        "zone": settings.zone,
        "currency": settings.currency,
        "night_hour": settings.night_hour,
        "quiet_days": _days_text(settings.quiet_days),
        "closes_at": settings.closes_at,
        "open_days": _days_text(settings.open_days),
        "opens_at": settings.opens_at,
        "production_percent": settings.production_percent,
        "carrier_days": _days_text(settings.carrier_days),
        "carrier_by": settings.carrier_by,
        "oven_alone": settings.oven_alone,
        "sure_one_off": settings.sure_one_off,
        "sure_dealer": settings.sure_dealer,
        "slips_below": settings.slips_below,
        "hold_minutes": settings.hold_minutes,
        "kerf_nm": settings.kerf_nm,
        "scale_step_mg": settings.scale_step_mg,
        "tape_error_nm": settings.tape_error_nm,
        "saw_before_certificate": settings.saw_before_certificate,
    }
