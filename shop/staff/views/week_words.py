"""How the week sheet speaks: a line in its cell, who does it, what it waits for."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from inventory.models import Item, Machine
from orders.calc.dates.sheet import Kind, Line, Part
from orders.calc.dates.state import DAY
from orders.calc.dates.waits import AWAY, SHEET
from orders.queries.week import Proposed
from orders.services import week
from shop.access.models import Person
from shop.staff import wording

Key = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Named:
    """A run on a line, and its page where it has one."""

    code: str
    address: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A line as it is printed: `lead` and the runs are bold; `pick` is where it is chosen to be moved."""

    lead: str
    runs: tuple[Named, ...]
    words: str
    notes: str
    pick: str = ""
    chosen: bool = False
    pinned: bool = False


class Words:
    """Says lines of a proposed week in the shop's words; names are read once."""

    def __init__(self, found: Proposed) -> None:
        self.first_day = found.stated.first_day
        self.runs = set(found.book.runs.values()) - {""}
        self.coming = found.stated.shop.coming
        self.people: Mapping[str, str] = dict(Person.objects.values_list("login", "name"))
        self.machines: Mapping[str, str] = dict(Machine.objects.values_list("code", "name"))
        codes = {one.item for one in self.coming} | set(found.stated.shop.buys_from) | set(found.stated.shop.stock)
        self.items: Mapping[str, str] = dict(Item.objects.filter(code__in=codes).values_list("code", "name"))

    def shown(
        self, line: Line, *, chosen: frozenset[Key] = frozenset(), pick: Mapping[str, str] | None = None
    ) -> Shown:
        """Say a line; `pick` holds what the address of a page with a chosen line keeps, where it can be chosen."""
        part = line.parts[0]
        runs = tuple(self._named(one) for one in line.parts)
        keys = {(one.run, one.step) for one in line.parts}
        marked = bool(keys & chosen) and line.kind in (Kind.WORK, Kind.LOAD)
        to = "?" + urlencode({**pick, "line": f"{part.run}/{part.step}"}) if pick is not None else ""
        if line.kind is Kind.TOOLING:
            lead = f"Tooling {line.out} to {line.tooling}" if line.out else f"Tooling {line.tooling} in"
            return Shown(lead, (), f"{line.minutes} min", "")
        if line.kind is Kind.BLANKS:
            return Shown(
                f"{part.item}", (), f"{wording.figures(part.pieces)} {'blank' if part.pieces == 1 else 'blanks'}", ""
            )
        if line.kind is Kind.LOAD:
            qty = _qty(sum(one.pieces for one in line.parts), about=any(one.about for one in line.parts))
            loads = f", {line.loads} loads" if line.loads > 1 else ""
            words = f"{part.name} {qty}{loads}, {self.clock(line.begins)} to {self.clock(line.ends, than=line.begins)}"
            return Shown("Load", runs, words, self.notes(line), to, marked, line.pinned)
        names = ", ".join((part.name, *(name for _, name in part.more)))
        words = f"{names}, {_qty(part.pieces, about=part.about)}{_to_start(part)}"
        return Shown("", runs, words, self.notes(line), to, marked, line.pinned)

    def page_of(self, run: str, item: str) -> str:
        """Return the page of a run; of one that is still to be started the page where that is done."""
        if run in self.runs:
            return wording.address("staff:floor_run", run)
        if "+" not in run:
            return wording.address("staff:item", item)
        code = run.rpartition("+")[0]
        return start_address(code, for_shelf=run.startswith(week.for_shelf_of(code)))

    def _named(self, part: Part) -> Named:
        code = part.run.rpartition("+")[0] if part.planned and "+" in part.run else part.run
        return Named(code, self.page_of(part.run, part.item))

    def notes(self, line: Line) -> str:
        """Say who does it, that it goes on, and which goods it waits for."""
        said = [self.names(line.people)] if line.people else []
        said += ["goes on"] if line.goes_on else []
        said += [f"{self.items.get(item, item)} to be bought" for item in line.buys]
        coming = {(self.coming[number].item, self.coming[number].day) for number in line.comes}
        for item, day in sorted(coming):
            late = "late, was due" if day < 0 else "due"
            date = wording.on_day(self.first_day + dt.timedelta(days=day))
            said.append(f"{self.items.get(item, item)} {late} {date}")
        return ", ".join(said)

    def names(self, logins: Sequence[str]) -> str:
        """Name people."""
        return ", ".join(self.people.get(one, one) for one in logins)

    def why(self, why: str) -> str:
        """Say what an operation waited for longest; nothing where it waited for nothing."""
        if not why:
            return ""
        if why == SHEET:
            return "waits for its day on the sheet"
        if why == AWAY:
            return "waits for those who are away"
        name = self.people.get(why)
        if name is not None:
            return f"waits until {name} is free"
        return f"waits for {self.machines.get(why) or self.items.get(why, why)}"

    def clock(self, minute: int, *, than: int | None = None) -> str:
        """Write a minute as a time of day, with its day where that is another than that of `than`."""
        day, rest = divmod(minute, DAY)
        said = f"{rest // 60}:{rest % 60:02}"
        if than is None or than // DAY == day:
            return said
        return f"{wording.on_day(self.first_day + dt.timedelta(days=day))} {said}"


def start_address(item: str, *, for_shelf: bool) -> str:
    """Return where a run of an item is started, for orders or filled in with what the shelf wants."""
    asked = {"item": item, "for": "shelf"} if for_shelf else {"item": item}
    return f"{wording.address('staff:floor_start')}?{urlencode(asked)}"


def _to_start(part: Part) -> str:
    if not part.planned:
        return ""
    return ", to start for the shelf" if part.shelf else ", to start"


def _qty(pieces: int, *, about: bool) -> str:
    return f"about {wording.figures(pieces)}" if about else wording.figures(pieces)
