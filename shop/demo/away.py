"""The demo's calendar: who was ill and when, a machine that broke, a leave and two holidays that lie ahead."""

import datetime as dt
import random
from collections.abc import Sequence

from inventory.models import Machine
from inventory.services import presence
from inventory.services.presence import Spell
from shop.access.models import Person
from shop.demo.opening import Stage
from shop.flows import changing_settings
from shop.shared import shop_row

HANDS = ("ines", "marek", "joss")
DAYS_ILL = (1, 1, 2, 3)
EVERY = 25  # open days from one illness to the next, roughly; no source: made up
Gone = dict[dt.date, tuple[str, int]]


def drawn(seed: int, open_dates: Sequence[dt.date]) -> Gone:
    """Draw on which of the open days who falls ill and for how long; the dice are its own, the weeks keep theirs."""
    dice = random.Random(seed)
    days = open_dates[2:-5]
    chosen = dice.sample(days, min(len(days), 1 + len(days) // EVERY))
    return {day: (dice.choice(HANDS), dice.choice(DAYS_ILL)) for day in sorted(chosen)}


def note(stage: Stage, gone: Gone, *, today: dt.date, at: dt.datetime, breaks: bool) -> None:
    """Note who falls ill this morning, and the press on the day it breaks."""
    if today in gone:
        who, days = gone[today]
        _ill(stage, who, today, days, at)
    if breaks:
        machine = Machine.objects.get(code="PRESS")
        spell = Spell(today, today + dt.timedelta(days=1), why="a seal leaked")
        presence.down(machine, spell, today=today, hours=shop_row.hours(at), at=at, by=stage.by)


def look_ahead(stage: Stage, *, today: dt.date, at: dt.datetime) -> None:
    """Note who is out today, a leave that is planned, and two holidays."""
    _ill(stage, "joss", today, 3, at)
    monday = today + dt.timedelta(days=21 - today.weekday())
    leave = Spell(monday, monday + dt.timedelta(days=4), planned=True)
    marek = Person.objects.get(login="marek")
    presence.out(marek, leave, today=today, hours=shop_row.hours(at), at=at, by=stage.by)
    by = stage.by.label
    fair = monday + dt.timedelta(days=11)
    changing_settings.shut(fair, fair, "fair day", at=at, by=by)
    rest = monday + dt.timedelta(days=49)
    changing_settings.shut(rest, rest + dt.timedelta(days=4), "works holiday", at=at, by=by)


def _ill(stage: Stage, who: str, today: dt.date, days: int, at: dt.datetime) -> None:
    person, last = Person.objects.get(login=who), today + dt.timedelta(days=days - 1)
    presence.out(person, Spell(today, last), today=today, hours=shop_row.hours(at), at=at, by=stage.by)
