"""What the owner may set about the shop: as values, as they stand in the shop's row, and what no shop can have."""

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from zoneinfo import available_timezones

from shop.shared.errors import Invalid
from shop.shared.hours import CLOSES_AT, OPEN_DAYS
from shop.shared.models import Shop

_CURRENCY = re.compile(r"[A-Z]{3}")
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


def settings_of(shop: Shop) -> Settings:
    """Return the shop's settings as they stand."""
    return Settings(
        name=shop.name,
        zone=shop.zone,
        currency=shop.currency,
        night_hour=shop.night_hour,
        quiet_days=days_of(shop.quiet_days),
        closes_at=shop.closes_at,
        open_days=days_of(shop.open_days),
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


def days_of(text: str) -> tuple[int, ...]:
    """Return the weekdays of a column."""
    return tuple(int(day) for day in text.split(",") if day)


def _days_text(days: Iterable[int]) -> str:
    return ",".join(str(day) for day in sorted(set(days)))


def columns(settings: Settings) -> Mapping[str, object]:
    """Return the settings as they are kept."""
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
