"""Loads the invented shop: two years that end yesterday, by calls of the services at their own moments."""

import datetime as dt
import random
from collections.abc import Callable
from dataclasses import dataclass

from inventory.services import catalogue, grade_book
from inventory.services.ledger import Stamp
from shop.access.actor import Actor
from shop.access.roles import SCOPES
from shop.access.services import keys, passwords, people
from shop.access.services.people import Particulars
from shop.demo import away, buying, firms, forge, opening, selling, steel, stores, weeks
from shop.demo.day import Day
from shop.demo.opening import Stage
from shop.flows import learning
from shop.shared import clock, shop_row, shop_settings, transactions
from shop.shared.errors import Refusal
from shop.shared.models import Shop

NAME = "Harrow Fen Toolworks"
ZONE = "America/New_York"
SHOP = shop_settings.Settings(
    name=NAME,
    address="7 Sluice Lane (invented)\nHarrow Fen",
    phone="555 0142",
    email="office@harrow-fen.example",
    zone=ZONE,
)
DENSE_DAYS = 42  # the last weeks are made up day by day, what lies before on three days a week
SEED = 1847


class NotEmpty(Refusal):
    """There is a shop in the database already."""

    code = "not_empty"


@dataclass(frozen=True, slots=True)
class Login:
    """A log-in of the demo, made at install."""

    login: str
    role: str
    password: str


@dataclass(frozen=True, slots=True)
class Loaded:
    """What the loader hands to whoever started it: shown once, kept nowhere."""

    logins: list[Login]
    key: str


def load(*, now: dt.datetime, new_password: Callable[[], str], days: int, say: Callable[[str], None] = print) -> Loaded:
    """Load the demo into an empty database."""
    with transactions.entry_point():
        if Shop.objects.exists():
            raise NotEmpty("There is a shop in this data folder already; start with --data and an empty folder.")
    by = Actor.command("demo")
    today = clock.local_date(now, ZONE)
    first = today - dt.timedelta(days=days)
    say(f"Making up {days} days of {NAME} ...")
    with transactions.entry_point():
        shop_row.make(SHOP, at=now, by=by.label, invented=True)
        shop_row.set_recipients([("Hale", "hale@harrow-fen.example")], at=now, by=by.label)
        catalogue.ensure_places()
        grade_book.seed()
    loaded = _people(now, new_password)
    stage = Stage(random.Random(SEED), by)
    with transactions.entry_point():
        at = _moment(first, 7, 0)
        opening.set_up(stage, at=at)
        forge.set_up(stage, at=at)
        opening.move_in(stage, stamp=Stamp(at=at, by=by, reason="stood in the shop when the book began"))
        forge.open_runs(stage, at=at)
    dates = [first + dt.timedelta(days=number) for number in range(days)]
    dense_from = today - dt.timedelta(days=DENSE_DAYS)
    open_dates = [date for date in dates if date.weekday() < 5 and (date >= dense_from or date.weekday() in (0, 2, 4))]
    gone, breaks = away.drawn(SEED, open_dates), open_dates[len(open_dates) // 2]
    for date in open_dates:
        with transactions.entry_point():
            away.note(stage, gone, today=date, at=_moment(date, 7, 40), breaks=date == breaks)
            day = _day(stage, date, (date - first).days, last=date == open_dates[-1], sparse=date < dense_from)
        for wish in selling.wishes(stage, day):
            selling.take(stage, wish, ask=not day.sparse)
        with transactions.entry_point():
            weeks.send_what_is_due(stage, day)
    steel.plan_cuts(stage, at=_moment(open_dates[-1], 17, 40))
    with transactions.entry_point():
        away.look_ahead(stage, today=today, at=now)
        stores.note(stage, today=today, at=now)
        stores.begin_a_count(stage, at=now)
    learning.learn(at=now)
    selling.rate(now)
    return loaded


def _day(stage: Stage, date: dt.date, number: int, *, last: bool, sparse: bool) -> Day:
    buying.take_in(stage, today=date, at=_moment(date, 8, 30))
    steel.post(stage, today=date, at=_moment(date, 11, 20))
    if date.weekday() in ((0, 2, 4) if sparse else (0, 2, 3)):
        steel.saw(stage, at=_moment(date, 10, 5))
    day = Day(date, number, lambda hour, minute: _moment(date, hour, minute), last, sparse)
    weeks.live(stage, day)
    if date.weekday() in ((0, 2) if sparse else (0, 3)):
        buying.order_what_is_low(stage, today=date, at=_moment(date, 17, 30))
    return day


def _moment(date: dt.date, hour: int, minute: int) -> dt.datetime:
    return clock.at_local(date, hour, ZONE) + dt.timedelta(minutes=minute)


def _people(at: dt.datetime, new_password: Callable[[], str]) -> Loaded:
    logins = []
    for name, login, role, on_tablet in firms.PEOPLE:
        password = new_password() if role != "hand" else None
        kept = passwords.prepare(password, login=login, name=name) if password else None
        with transactions.entry_point():
            people.make(login=login, particulars=Particulars(name, role, on_tablet), at=at, by=None, password_kept=kept)
        if password:
            logins.append(Login(login, role, password))
    with transactions.entry_point():
        _, text = keys.make(name="demo web shop", scopes=list(SCOPES), at=at, by=None)
    return Loaded(logins, text)
