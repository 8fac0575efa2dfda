"""Who is away and what is down from a day on, and what the days noted so far teach about how often that happens."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Min, Q

from inventory.models import Away, Entry, Machine, MachineDown
from shop.access.models import Person
from shop.shared.hours import Hours

WATCHED: Final = 730  # days back that teach
ILL_BELIEVED: Final = (1, 99)  # spells begun, open days without: two or three a year. No source
BROKE_BELIEVED: Final = (1, 199)  # No source
ILL_LASTS: Final = (1, 1, 2, 3)  # open days of a spell. No source
BROKE_LASTS: Final = (1, 1, 2)  # No source


@dataclass(frozen=True, slots=True)
class Absence:
    """One person or machine, by code: known days gone from the day asked on, spells of the past, and one that goes on.

    `gone` are days of the calendar; `ill_since` the first day of a spell whose end nobody knows. `chance` for each open day
    that a spell begins, `lasts` open days of spells, what is believed among them.
    """

    code: str
    gone: frozenset[dt.date]
    ill_since: dt.date | None
    chance: float
    lasts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Spell:
    first: dt.date
    last: dt.date | None
    unforeseen: bool


def workers() -> list[Person]:
    """Return who works in the shop: those with a name tile; where nobody has one, everybody."""
    active = Person.objects.filter(is_active=True).order_by("pk")
    return list(active.filter(on_tablet=True)) or list(active)


def people(*, day: dt.date, until: dt.date, hours: Hours) -> list[Absence]:
    """Return everybody who works, as they are from a day on until another, both included."""
    rows = Away.objects.filter(first__gte=day - dt.timedelta(days=WATCHED)).order_by("first", "pk")
    spells: dict[int, list[_Spell]] = {}
    for one in rows:
        spells.setdefault(one.person_id, []).append(_Spell(one.first, one.last, one.ill))
    watched = _watched(day, hours)
    return [
        _absence(one.login, spells.get(one.pk, []), day, until, hours, watched, ILL_BELIEVED, ILL_LASTS, bool(spells))
        for one in workers()
    ]


def machines(*, day: dt.date, until: dt.date, hours: Hours) -> list[Absence]:
    """Return every machine in use, likewise."""
    rows = MachineDown.objects.filter(first__gte=day - dt.timedelta(days=WATCHED)).order_by("first", "pk")
    spells: dict[int, list[_Spell]] = {}
    for one in rows:
        spells.setdefault(one.machine_id, []).append(_Spell(one.first, one.last, one.broke))
    watched = _watched(day, hours)
    return [
        _absence(
            one.code, spells.get(one.pk, []), day, until, hours, watched, BROKE_BELIEVED, BROKE_LASTS, bool(spells)
        )
        for one in Machine.objects.filter(active=True).order_by("code")
    ]


def _absence(
    code: str,
    spells: Sequence[_Spell],
    day: dt.date,
    until: dt.date,
    hours: Hours,
    watched: int,
    believed: tuple[int, int],
    lasts: tuple[int, ...],
    noted: bool,  # noqa: FBT001 - whether the shop notes such days at all
) -> Absence:
    gone: set[dt.date] = set()
    since = None
    for one in spells:
        if one.last is None and one.first <= day:
            since = one.first
            gone.add(day)
        elif one.last is None:
            gone.add(one.first)
        else:
            gone |= set(_days(max(one.first, day), min(one.last, until)))
    over = [one for one in spells if one.unforeseen and one.last is not None and one.last < day]
    counted = [max(1, _open(one.first, one.last, hours)) for one in over if one.last is not None]
    begun = len([one for one in spells if one.unforeseen and one.first < day])
    well = max(0, watched - sum(counted)) if noted else 0
    chance = (believed[0] + begun) / (sum(believed) + begun + well)
    return Absence(code, frozenset(gone), since, chance, (*lasts, *counted))


def _days(first: dt.date, last: dt.date) -> Iterable[dt.date]:
    return (first + dt.timedelta(days=number) for number in range((last - first).days + 1))


def _open(first: dt.date, last: dt.date, hours: Hours) -> int:
    return sum(hours.closing_on(day) is not None for day in _days(first, last))


def _watched(day: dt.date, hours: Hours) -> int:
    """Count the open days that the book knows, of the last two years."""
    begun = Entry.objects.filter(~Q(kind=Entry.Kind.MOVE_IN)).aggregate(first=Min("happened_at"))["first"]
    if begun is None:
        return 0
    first = max(begun.date(), day - dt.timedelta(days=WATCHED))
    return _open(first, day - dt.timedelta(days=1), hours)
