"""How pages say who is out and what is down, and until when."""

import datetime as dt

from inventory.models import Away, MachineDown
from inventory.queries import absences
from shop.staff import wording
from shop.staff.views.day_lines import Line

_PEOPLE = ("is out", "is on leave", "will be out")
_MACHINES = ("is down", "is in service", "will be down")

_ENDS = {True: ("Is back", "Will be here"), False: ("Runs again", "Will run")}


def whose(one: Away | MachineDown) -> int:
    """Return the key of the person or the machine a spell is of."""
    return one.person_id if isinstance(one, Away) else one.machine_id


def name_of(one: Away | MachineDown) -> str:
    """Name the person, or the machine as a sentence begins with it."""
    if isinstance(one, Away):
        return one.person.name
    return one.machine.name[:1].upper() + one.machine.name[1:]


def line(one: Away | MachineDown, today: dt.date) -> Line:
    """Write a spell as a line: its days, or those so far, then who and until when, then why."""
    days = ((one.last or max(today, one.first)) - one.first).days + 1
    since = f"Since {wording.on_day(one.first)}." if one.first < today else ""
    why = f"{one.why}." if one.why and one.why[-1] not in ".?" else one.why
    person = isinstance(one, Away)
    do = _ENDS[person][one.first > today]
    unit = f"{'day' if days == 1 else 'days'}{'' if one.last else ' so far'}"
    return Line(wording.figures(days), unit, f"{_sentence(one, today)}.", f"{since} {why}".strip(), do=do)


def said(one: Away | MachineDown, today: dt.date) -> str:
    """Say what was noted."""
    return f"Noted: {_sentence(one, today)}."


def ended(one: Away | MachineDown, today: dt.date) -> str:
    """Say what was ended, from the spell as it stood before."""
    if isinstance(one, Away):
        return f"{name_of(one)} {'is back' if one.first <= today else 'will be here'}."
    return f"{name_of(one)} {'runs again' if one.first <= today else 'will run'}."


def on_the_day(today: dt.date) -> list[Line]:
    """Return who is out and what is down today, for the Day sheet."""
    noted: list[tuple[Away | MachineDown, str]] = [(one, "staff:out") for one in absences.away(today)]
    noted += [(one, "staff:down") for one in absences.down(today)]
    lines = []
    for one, page in noted:
        if one.first > today:
            continue
        made = line(one, today)
        lines.append(Line(made.figure, made.unit, made.bold, made.words, wording.address(page), made.do))
    return lines


def _sentence(one: Away | MachineDown, today: dt.date) -> str:
    unforeseen, planned, ahead = _PEOPLE if isinstance(one, Away) else _MACHINES
    foreseen = not one.ill if isinstance(one, Away) else not one.broke
    if one.first > today:
        days = wording.on_day(one.first)
        days = days if one.last == one.first or one.last is None else f"{days} to {wording.on_day(one.last)}"
        return f"{name_of(one)} {ahead} {days}"
    if one.last is None:
        until = "nobody knows yet until when"
        return f"{name_of(one)} {unforeseen}, {until}"
    until = "today" if one.last == today else f"until {wording.on_day(one.last)}"
    return f"{name_of(one)} {planned if foreseen else unforeseen} {until}"
