"""Opening hours, shut days, carrier, people and machines, as the calculator takes them."""

import datetime as dt
from typing import Final
from zoneinfo import ZoneInfo

from inventory.models import OvenLoad
from inventory.queries import presence
from inventory.queries.presence import Absence
from orders.calc.dates import state
from shop.shared.hours import Hours
from shop.shared.models import Shop, ShutDays

AHEAD: Final = 400  # days; what is not sent by then is never sent


def hours(shop: Shop, first: dt.date) -> state.Hours:
    """Tell when the shop works and when parcels go."""
    shut = ShutDays.objects.filter(last__gte=first, first__lte=first + dt.timedelta(days=AHEAD))
    days = {one.first + dt.timedelta(days=number) for one in shut for number in range((one.last - one.first).days + 1)}
    return state.Hours(
        first,
        _days(shop.open_days),
        _minutes(shop.opens_at),
        _minutes(shop.closes_at),
        shop.production_percent / 100,
        frozenset(day for day in days if day >= first),
        _days(shop.carrier_days),
        _minutes(shop.carrier_by),
    )


def people(shop: Shop, open_hours: state.Hours) -> tuple[state.Person, ...]:
    """Tell of everybody who works: known days away, how often ill, and for how long by now."""
    from_to = _until(open_hours)
    found = presence.people(day=from_to[0], until=from_to[1], hours=_wall(shop, open_hours))
    return tuple(
        state.Person(one.code, _numbers(one, open_hours), _spells(one), _ill_for(one, open_hours)) for one in found
    )


def machines(shop: Shop, open_hours: state.Hours, *, at: dt.datetime) -> tuple[state.Machine, ...]:
    """Tell of every machine: known days down, how often it breaks, until when something is in it."""
    from_to = _until(open_hours)
    busy = _in_the_oven(shop, open_hours, at=at)
    found = presence.machines(day=from_to[0], until=from_to[1], hours=_wall(shop, open_hours))
    return tuple(
        state.Machine(one.code, _numbers(one, open_hours) | _not_known(one), _spells(one), busy.get(one.code, 0))
        for one in found
    )


def minute_of(moment: dt.datetime, shop: Shop, first: dt.date) -> int:
    """Give the minute of a moment, counted from midnight before the first day; 0 for what is over."""
    local = moment.astimezone(ZoneInfo(shop.zone))
    return max(0, (local.date() - first).days * state.DAY + local.hour * 60 + local.minute)


def load_ends(load: OvenLoad) -> dt.datetime:
    """Give when a load comes out as far as is known: when it soaked long enough."""
    hot = load.at_temperature_at or load.in_at + dt.timedelta(minutes=load.heat_up_minutes)
    return hot + dt.timedelta(minutes=load.soak_minutes)


def _in_the_oven(shop: Shop, open_hours: state.Hours, *, at: dt.datetime) -> dict[str, int]:
    busy: dict[str, int] = {}
    for load in OvenLoad.objects.filter(out_at=None, entry__reversed_by=None, oven__isnull=False).select_related(
        "oven"
    ):
        if load.oven is not None:
            until = minute_of(max(at, load_ends(load)), shop, open_hours.first_day)
            busy[load.oven.code] = max(busy.get(load.oven.code, 0), until)
    return busy


def _wall(shop: Shop, open_hours: state.Hours) -> Hours:
    return Hours(shop.zone, shop.closes_at, open_hours.weekdays)


def _until(open_hours: state.Hours) -> tuple[dt.date, dt.date]:
    return open_hours.first_day, open_hours.first_day + dt.timedelta(days=AHEAD)


def _numbers(one: Absence, open_hours: state.Hours) -> frozenset[int]:
    known = frozenset((day - open_hours.first_day).days for day in one.gone)
    return known - {0} if one.ill_since else known


def _not_known(one: Absence) -> frozenset[int]:
    """Give the days a machine is out whose end nobody knows: as long as the longest so far, today counted."""
    return frozenset(range(max(one.lasts) + 1)) if one.ill_since else frozenset()


def _ill_for(one: Absence, open_hours: state.Hours) -> int:
    if one.ill_since is None:
        return 0
    days = (
        (one.ill_since + dt.timedelta(days=number)) for number in range((open_hours.first_day - one.ill_since).days)
    )
    return 1 + sum(day.weekday() in open_hours.weekdays for day in days)


def _spells(one: Absence) -> state.Spells:
    return state.Spells(one.chance, one.lasts)


def _days(text: str) -> tuple[int, ...]:
    return tuple(int(day) for day in text.split(","))


def _minutes(time: dt.time) -> int:
    return time.hour * 60 + time.minute
