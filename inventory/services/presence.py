"""Who is out and which machine is down, from when until when: noted, ended, planned ahead.

Spells of one kind that overlap are joined into one; illness and breakdowns also over days the shop is shut, so that one
illness noted day by day is one. What is said last about the end holds. Spells of different kinds keep their own days: a
planned leave stays noted while somebody falls ill, and the days away are those of all the spells together.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from inventory.models import Away, Machine, MachineDown
from shop.access.actor import Actor
from shop.access.models import Person
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, NotFound, Refusal
from shop.shared.hours import Hours

BACK, AHEAD = dt.timedelta(days=366), dt.timedelta(days=731)  # how far from today a spell may begin or end
_LONGEST_SHUT = 30  # days of a shutdown over which an illness is still the same one
_WORDS = 80
_DAY = dt.timedelta(days=1)
T = TypeVar("T", Away, MachineDown)


class AlreadyNoted(Refusal):
    """It is noted already that somebody is out today, or that a machine is down."""

    code = "already_noted"


class OverAlready(Refusal):
    """The days that are to be ended are over."""

    code = "over_already"


@dataclass(frozen=True, slots=True)
class Spell:
    """Days that somebody is out or a machine is down, both included.

    Without a last day nobody knows yet. `planned` is a leave or a service: it was foreseen and has a last day.
    """

    first: dt.date
    last: dt.date | None
    planned: bool = False
    why: str = ""

    @property
    def facts(self) -> dict[str, object]:
        """Return the spell as the audit line keeps it."""
        return {"first": self.first, "last": self.last, "planned": self.planned, "why": self.why}


def out(person: Person, spell: Spell, *, today: dt.date, hours: Hours, at: dt.datetime, by: Actor) -> Away:
    """Note that somebody is out."""
    held = _held(person)
    _check(spell, today, "illness")
    there = list(Away.objects.filter(person=held, ill=not spell.planned).order_by("first", "pk"))
    whole, joined = _joined(spell, there, hours)
    Away.objects.filter(pk__in=[one.pk for one in joined]).delete()
    made = Away.objects.create(
        person=held, first=whole.first, last=whole.last, ill=not whole.planned, why=whole.why, noted_at=at, by=by.person
    )
    _write("out noted", _about(held), _facts(joined), whole.facts, at, by)
    return made


def out_today(person: Person, *, today: dt.date, hours: Hours, at: dt.datetime, by: Actor) -> Away:
    """Note by one touch that somebody is out today; refused where it is noted already, so that nothing is shortened."""
    for one in Away.objects.filter(person=_held(person), first__lte=today):
        if one.last is None or one.last >= today:
            raise AlreadyNoted(
                f"{person.name} is noted out already, {until(one.last)}; write another last day instead."
            )
    return out(person, Spell(today, today), today=today, hours=hours, at=at, by=by)


def back(away_id: int, *, today: dt.date, at: dt.datetime, by: Actor) -> Away:
    """Note that somebody is back today, or will not be out as planned; return the spell as it stood."""
    transactions.assert_open()
    person = Person.objects.select_for_update().filter(away=away_id).first()
    found = Away.objects.filter(pk=away_id).first()
    if person is None or found is None:
        raise NotFound(f"There is no note {away_id} that somebody is out; choose one that is listed.")
    last = _last_of(found, today, f"{person.name} is back already")
    rows = Away.objects.filter(pk=found.pk)
    if last is None:
        rows.delete()
    else:
        rows.update(last=last)
    _write("back noted", _about(person), _facts([found]), {"last": last}, at, by)
    return found


def down(machine: Machine, spell: Spell, *, today: dt.date, hours: Hours, at: dt.datetime, by: Actor) -> MachineDown:
    """Note that a machine is down."""
    held = _held_machine(machine)
    _check(spell, today, "breakdown")
    there = list(MachineDown.objects.filter(machine=held, broke=not spell.planned).order_by("first", "pk"))
    whole, joined = _joined(spell, there, hours)
    MachineDown.objects.filter(pk__in=[one.pk for one in joined]).delete()
    made = MachineDown.objects.create(
        machine=held, first=whole.first, last=whole.last, broke=not whole.planned, why=whole.why, noted_at=at, by=by.person
    )  # fmt: skip
    _write("machine down noted", f"machine {held.code}", _facts(joined), whole.facts, at, by)
    return made


def down_now(machine: Machine, *, today: dt.date, hours: Hours, at: dt.datetime, by: Actor) -> MachineDown:
    """Note by one touch that a machine is down and nobody knows yet until when; refused where that is noted already."""
    for one in MachineDown.objects.filter(machine=_held_machine(machine), first__lte=today):
        if one.last is None or one.last >= today:
            raise AlreadyNoted(
                f"{machine.name}: noted down already, {until(one.last)}; write another last day instead."
            )
    return down(machine, Spell(today, None), today=today, hours=hours, at=at, by=by)


def runs_again(down_id: int, *, today: dt.date, at: dt.datetime, by: Actor) -> MachineDown:
    """Note that a machine runs again today, or will not be down as planned; return the spell as it stood."""
    transactions.assert_open()
    machine = Machine.objects.select_for_update().filter(down=down_id).first()
    found = MachineDown.objects.filter(pk=down_id).first()
    if machine is None or found is None:
        raise NotFound(f"There is no note {down_id} that a machine is down; choose one that is listed.")
    last = _last_of(found, today, f"{machine.name} runs again already")
    rows = MachineDown.objects.filter(pk=found.pk)
    if last is None:
        rows.delete()
    else:
        rows.update(last=last)
    _write("machine runs again", f"machine {machine.code}", _facts([found]), {"last": last}, at, by)
    return found


def until(last: dt.date | None) -> str:
    """Say until when a spell is noted."""
    return f"until {last}" if last else "nobody knows until when"


def _held(person: Person) -> Person:
    transactions.assert_open()
    held = Person.objects.select_for_update().get(pk=person.pk)
    if not held.is_active:
        raise Invalid.field("who", f"Who: {held.name} does not come in any more; choose somebody who does.")
    return held


def _held_machine(machine: Machine) -> Machine:
    transactions.assert_open()
    held = Machine.objects.select_for_update().get(pk=machine.pk)
    if not held.active:
        raise Invalid.field("machine", f"Machine: {held.name} is not in use any more; choose one that is.")
    return held


def _check(spell: Spell, today: dt.date, unforeseen: str) -> None:
    wrong = {}
    if not today - BACK <= spell.first <= today + AHEAD:
        wrong["first"] = f"First day: one from {today - BACK} to {today + AHEAD} would work."
    elif spell.first > today and not spell.planned:
        wrong["first"] = f"First day: {unforeseen} begins today, {today}, or before; what lies ahead is planned."
    if spell.last is None and spell.planned:
        wrong["last"] = (
            "Last day: what is planned has one; write it, or note that nobody knows yet from its first day on."
        )
    elif spell.last is not None and spell.last < spell.first:
        wrong["last"] = f"Last day: it comes before the first; {spell.first} or later would work."
    elif spell.last is not None and spell.last > today + AHEAD:
        wrong["last"] = f"Last day: one up to {today + AHEAD} would work."
    if len(spell.why) > _WORDS:
        wrong["why"] = f"Why: {len(spell.why)} characters; up to {_WORDS} would work."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)


def _joined(spell: Spell, there: Sequence[T], hours: Hours) -> tuple[Spell, list[T]]:
    """Return a spell with those of its kind that it meets, as one, and the rows it takes the place of."""
    met: list[T] = [one for one in there if _meet(spell, one, hours)]
    last = spell.last
    for one in met:
        # Only what begins after the end that is said now may reach further; on its own days the last word holds.
        if last is not None and one.first > last:
            last = one.last
    first = min([spell.first, *(one.first for one in met)])
    why = spell.why.strip() or next((one.why for one in reversed(met) if one.why), "")
    return Spell(first, last, spell.planned, why), met


def _meet(spell: Spell, other: Away | MachineDown, hours: Hours) -> bool:
    end, begin = (spell.last, other.first) if spell.first <= other.first else (other.last, spell.first)
    if end is None or begin <= end:
        return True
    between = (begin - end).days - 1
    if spell.planned or between > _LONGEST_SHUT:
        return False
    return not any(hours.is_open_on(end + number * _DAY) for number in range(1, between + 1))


def _last_of(found: Away | MachineDown, today: dt.date, said: str) -> dt.date | None:
    """Return the last day of a spell that ends before today; nothing where no day of it is left."""
    if found.last is not None and found.last < today:
        raise OverAlready(f"{said}: the last day was {found.last}, and nothing is left to end.")
    return today - _DAY if found.first < today else None


def _facts(rows: Sequence[Away | MachineDown]) -> dict[str, object] | None:
    spells = [{"first": one.first, "last": one.last, "why": one.why} for one in rows]
    return {"spells": spells} if spells else None


def _about(person: Person) -> str:
    return f"person {person.pk}"


def _write(
    action: str, subject: str, before: dict[str, object] | None, after: dict[str, object], at: dt.datetime, by: Actor
) -> None:
    audit.write(at=at, by=by.label, action=action, subject=subject, before=before, after=after)
