"""The week sheet: what stands in which place of work on which day, from a shop and its plan.

A line is an operation, the steps of one run in one place on one day, a change of tooling, an oven load, or blanks to be
sawn. An operation over several days stands on each of them.

Blanks are derived, not planned: the calculator takes steel, and has no saw. A run that is still to be started needs its
blanks the open day before it begins (on the first day where there is none before); what the blanks that are sawn do not
cover, dealt out in the order the runs begin, stands in the column of the saw.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final

from orders.calc.dates import moments
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Shop
from orders.calc.dates.worktime import WorkTime, of

FORGE, GRINDER, OVEN, BENCH, SAW, DESK = PLACES = ("forge", "grinder", "oven", "bench", "saw", "desk")
WHOLE: Final = 1e-6  # a mean closer than this to a whole number of pieces is that number


@dataclass(frozen=True, slots=True)
class Book:
    """What the sheet takes from the book.

    `places` says where a step is done, by item and number of the step: an oven load stands with the oven, what is not named
    on the bench. `runs` gives the run that a batch is of, by their codes; `blanks` what an item is made from, by item, and
    `sawn` how many of these are on hand.
    """

    places: Mapping[tuple[str, int], str] = field(default_factory=dict)
    runs: Mapping[str, str] = field(default_factory=dict)
    blanks: Mapping[str, str] = field(default_factory=dict)
    sawn: Mapping[str, int] = field(default_factory=dict)


class Kind(StrEnum):
    """What a line is."""

    WORK = "work"
    TOOLING = "tooling"
    LOAD = "load"
    BLANKS = "blanks"


@dataclass(frozen=True, slots=True)
class Part:
    """A step of a run on a line: pieces are rounded, `about` where that is a mean, for the `shelf` where nobody ordered
    them; `more` are its further steps there that day, by number and name.
    """

    run: str
    item: str
    step: int
    name: str
    pieces: int
    about: bool = False
    pinned: bool = False
    planned: bool = False
    more: tuple[tuple[int, str], ...] = ()
    shelf: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the sheet.

    `begins` and `ends` are minutes by the clock from midnight before the first day: of an oven load, door shut to door
    open. `goes_on` says that it began on a day before. A change of tooling takes `minutes`, `out` is what comes out and
    `tooling` what goes in. `why` names what the first step waited for longest, `comes` the deliveries under way that are
    taken from, by number, `buys` the items that have to be bought.
    """

    kind: Kind
    place: str
    parts: tuple[Part, ...]
    begins: int
    ends: int
    people: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()
    goes_on: bool = False
    minutes: int = 0
    out: str = ""
    tooling: str = ""
    loads: int = 1
    why: str = ""
    comes: tuple[int, ...] = ()
    buys: tuple[str, ...] = ()

    @property
    def pinned(self) -> bool:
        """Say whether a part of it is pinned."""
        return any(part.pinned for part in self.parts)


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day: whether the shop is open, and the lines of each place in the order they begin."""

    date: dt.date
    open: bool
    cells: Mapping[str, tuple[Line, ...]]

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines of the day, place by place."""
        return tuple(line for place in PLACES for line in self.cells.get(place, ()))


@dataclass(frozen=True, slots=True)
class Operated:
    """An operation of the plan with its day, for those who pin: where it stands in the order of the plan.

    `group` numbers what is done together, such as an oven load; `why` names what it waited for longest.
    """

    run: str
    step: int
    name: str
    item: str
    place: str
    date: dt.date
    pinned: bool
    planned: bool
    pieces: int = 0
    people: tuple[str, ...] = ()
    why: str = ""
    group: int = 0
    shelf: bool = False


def sheet(shop: Shop, plan: Plan, book: Book, *, first: dt.date, days: int) -> tuple[SheetDay, ...]:
    """Lay a plan out by day and place.

    Args:
        shop: as it stands.
        plan: proposed for it.
        book: where steps are done, whose batches are, and blanks.
        first: day of the sheet; before the first day of the shop nothing is planned any more.
        days: 1 or more.

    Returns:
        So many days, closed ones among them.

    Raises:
        ValueError: no day.
    """
    if days < 1:
        raise ValueError("a sheet has a day or more")
    laying = _Laying(shop, plan, book)
    by_day: dict[dt.date, dict[str, list[Line]]] = defaultdict(lambda: defaultdict(list))
    for line in sorted([*laying.lines(), *laying.blanks()], key=lambda one: one.begins):
        for number, day in enumerate(laying.days(line)):
            by_day[day][line.place].append(replace(line, goes_on=number > 0))
    found = []
    for date in (first + dt.timedelta(days=number) for number in range(days)):
        cells = {place: tuple(_joined(by_day[date][place])) for place in PLACES if by_day[date][place]}
        found.append(SheetDay(date, laying.is_open(date), cells))
    return tuple(found)


def operated(shop: Shop, plan: Plan, book: Book) -> tuple[Operated, ...]:
    """Give the operations of a plan in its order, each with the day it begins.

    Args:
        shop: as it stands.
        plan: proposed for it.
        book: as for `sheet`.

    Returns:
        One for each operation; batches of one run may bring the same step twice.
    """
    laying, found = _Laying(shop, plan, book), []
    for number, group in enumerate(plan.groups):
        for one in group:
            part, date = laying.part(one), laying.date(moments.begins(laying.time, one.begins))
            found.append(
                Operated(part.run, part.step, part.name, part.item, laying.place(part.item, one.step), date, part.pinned,
                         part.planned, part.pieces, one.people, one.why, number, part.shelf)
            )  # fmt: skip
    return tuple(found)


def ahead(plan: Plan, book: Book) -> frozenset[tuple[str, int]]:
    """Give every step that a run of the plan has before it, also one it cannot reach: what can be pinned."""
    return frozenset(
        (book.runs.get(start.code) or start.code, step.number)
        for start in plan.runs
        for step in start.product.steps
        if step.number > start.step
    )


class _Laying:
    def __init__(self, shop: Shop, plan: Plan, book: Book) -> None:
        self.shop, self.plan, self.book = shop, plan, book
        self.time: WorkTime = of(shop.hours, shop.horizon_days)

    def place(self, item: str, step: Step) -> str:
        return OVEN if step.oven else self.book.places.get((item, step.number), BENCH)

    def date(self, minute: int) -> dt.date:
        return self.shop.hours.first_day + dt.timedelta(days=minute // DAY)

    def lines(self) -> Iterable[Line]:
        """Give a line for each group of the plan, with a change of tooling before it."""
        tooling = dict(self.shop.tooling_in)
        for group in self.plan.groups:
            one = group[0]
            begins = moments.begins(self.time, one.begins)
            place = self.place(self.plan.runs[one.run].product.item, one.step)
            if one.change:
                out = " and ".join(sorted({tooling[held] for held in one.machines if tooling.get(held)}))
                yield Line(Kind.TOOLING, place, (self.part(one),), begins, begins, one.people, one.machines,
                           minutes=round(one.step.change), out=out, tooling=one.change)  # fmt: skip
            if one.step.tooling:
                tooling.update(dict.fromkeys(one.machines, one.step.tooling))
            parts = tuple(map(self.part, group))
            comes = tuple(sorted({number for it in group for number in it.comes}))
            buys = tuple(dict.fromkeys(item for it in group for item in it.buys))
            line = Line(Kind.WORK, place, parts, begins, self.time.clock_at(one.ends), one.people, one.machines,
                        why=one.why, comes=comes, buys=buys)  # fmt: skip
            if one.step.oven:
                load = moments.load_of(self.time, self.plan, group)
                line = replace(line, kind=Kind.LOAD, begins=load.shut, ends=load.open, loads=load.loads)
            yield line

    def part(self, one: Operation) -> Part:
        start = self.plan.runs[one.run]
        step, mean = one.step, moments.pieces_at(start, one.step)
        pieces = round(mean)
        about = abs(mean - pieces) > WHOLE
        run, item = self.book.runs.get(start.code) or start.code, start.product.item
        return Part(run, item, step.number, step.name, pieces, about, one.pinned, start.planned, shelf=start.shelf)

    def days(self, line: Line) -> list[dt.date]:
        """Give the days a line stands on: from its first to its last, those the shop is closed on left out."""
        first, last = self.date(line.begins), self.date(max(line.begins, line.ends - 1))
        if line.kind is Kind.LOAD:
            return list(dict.fromkeys([first, self.date(line.ends)]))
        between = [first + dt.timedelta(days=number) for number in range((last - first).days + 1)]
        return [day for day in between if day in (first, last) or self.is_open(day)]

    def is_open(self, day: dt.date) -> bool:
        return day.weekday() in self.shop.hours.weekdays and day not in self.shop.hours.closed

    def blanks(self) -> Iterable[Line]:
        """Give the blanks that runs need beyond those on hand, the open day before they begin."""
        left, seen = dict(self.book.sawn), set()
        for one in self.plan.operations:
            start = self.plan.runs[one.run]
            blank = self.book.blanks.get(start.product.item)
            if not start.planned or not blank or one.run in seen:
                continue
            seen.add(one.run)
            short = max(0, start.pieces - left.get(blank, 0))
            left[blank] = max(0, left.get(blank, 0) - start.pieces)
            if short:
                at = self._before(moments.begins(self.time, one.begins) // DAY)
                part = Part(start.code, blank, 0, "blanks", short, planned=True, shelf=start.shelf)
                yield Line(Kind.BLANKS, SAW, (part,), at, at)

    def _before(self, day: int) -> int:
        """Give the minute at which the last open day before a day opens; its own where no day comes before."""
        for number in range(day - 1, -1, -1):
            if self.is_open(self.shop.hours.first_day + dt.timedelta(days=number)):
                return number * DAY + self.shop.hours.opens
        return day * DAY + self.shop.hours.opens


def _joined(lines: Iterable[Line]) -> Iterable[Line]:
    """Join the steps of a run that are done in one place on one day; pinned ones stay apart from others."""
    found: dict[object, Line] = {}
    for number, line in enumerate(lines):
        part = line.parts[0]
        key: object = (part.run, part.pinned) if line.kind is Kind.WORK else number
        found[key] = _with(found[key], line) if key in found else line
    return found.values()


def _with(line: Line, other: Line) -> Line:
    part, more = line.parts[0], other.parts[0]
    if part.step == more.step:
        part = replace(part, pieces=part.pieces + more.pieces, about=part.about or more.about)
    else:
        part = replace(part, more=(*part.more, (more.step, more.name)))
    return replace(
        line,
        parts=(part,),
        ends=max(line.ends, other.ends),
        people=tuple(dict.fromkeys((*line.people, *other.people))),
        buys=tuple(dict.fromkeys((*line.buys, *other.buys))),
        comes=tuple(sorted({*line.comes, *other.comes})),
    )
