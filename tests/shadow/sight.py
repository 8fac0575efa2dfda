"""What a manager sees on an open morning (Seen) and what he writes for the day (Sheet)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol


class Task(NamedTuple):
    """Step number `step` of the run `run`."""

    run: str
    step: int


@dataclass(frozen=True, slots=True)
class Count:
    """Pieces were counted after a step: `entered` came to it, `good` went on. `day` is the day of the count.

    A wrong count stands here as it was entered until it is corrected; then the right figures take its place.
    """

    run: str
    pattern: str
    step: int
    entered: int
    good: int
    day: int


@dataclass(frozen=True, slots=True)
class Timing:
    """A work step that is finished: work minutes on its pieces (all of them together) and work minutes of setting up."""

    run: str
    pattern: str
    step: int
    pieces: int
    minutes: float
    set_up: float
    day: int


@dataclass(frozen=True, slots=True)
class Arrival:
    """A delivery that came: `good` of `qty` went into stock. `late` = days after the promised day, the day itself 0."""

    item: str
    qty: int
    good: int
    ordered: int
    promised: int
    came: int

    @property
    def late(self) -> int:
        """Days late; counts the days until the shop was open to take it."""
        return self.came - self.promised


@dataclass(frozen=True, slots=True)
class DayOut:
    """A person was ill on an open day. Agreed leave stands in Facts and not here."""

    person: str
    day: int


@dataclass(frozen=True, slots=True)
class DayDown:
    """A machine, or the oven, was down on an open day."""

    machine: str
    day: int


@dataclass(frozen=True, slots=True)
class Begun:
    """A work step that was begun and is not finished.

    Attributes:
        step: its number.
        people: who works on it.
        since: the minute it was first begun.
        minutes: work minutes on its pieces so far.
        set_up: work minutes of setting up so far, since the tooling of it was last changed.
        set_up_left: work minutes of setting up still to come, if nobody changes the tooling until then.
    """

    step: int
    people: tuple[str, ...]
    since: int
    minutes: float
    set_up: float
    set_up_left: float


@dataclass(frozen=True, slots=True)
class OpenRun:
    """A run on the floor, as counted.

    Attributes:
        blanks: pieces started.
        after: `after[k]` pieces after step k, for every finished step; its length is the number of the next step.
        pieces: that come to the next step: the last of `after`, or blanks.
        begun: the next step, where it is work that was begun.
        ready: the minute until which it is in the oven or cures, else None; then it lies there for step len(after) + 1.
    """

    code: str
    pattern: str
    blanks: int
    after: tuple[int, ...]
    pieces: int
    begun: Begun | None = None
    ready: int | None = None


@dataclass(frozen=True, slots=True)
class InOven:
    """What is in the oven and until which minute."""

    tasks: tuple[Task, ...]
    until: int


@dataclass(frozen=True, slots=True)
class Coming:
    """A purchase that has not come: the day it was ordered and the day promised."""

    item: str
    qty: int
    ordered: int
    promised: int


@dataclass(frozen=True, slots=True)
class Owed:
    """A line that is not whole yet, `owed` pieces short of `qty`; the difference is set aside for it."""

    order: int
    number: int
    kind: str
    pattern: str
    qty: int
    owed: int
    asked: int


@dataclass(frozen=True, slots=True)
class Seen:
    """The shop on an open morning, at the minute it opens, before work.

    Attributes:
        day, minute: now.
        open_days: open days before this one, since day 0.
        stock: free pieces of every item as counted: set aside for no line, taken by no run.
        runs: that are not on the shelf, in the order they were opened.
        out: people who are not here today, ill or on leave; how long somebody will be ill is not known.
        down: machines that are down today, with the first open day on which each works again.
        tooling: the set that is in on each machine; empty where none is.
        oven: what is in it, or None.
        coming: purchases outstanding.
        owed: lines not whole, in the order promised. Lines asked for this morning stand at the end with `asked == day`;
            they take from the shelf after the manager has spoken, so their `owed` is their `qty`.
        counts, timings, arrivals, days_out, days_down: the records from day 0 on, oldest first.
    """

    day: int
    minute: int
    open_days: int
    stock: Mapping[str, int]
    runs: tuple[OpenRun, ...]
    out: frozenset[str]
    down: Mapping[str, int]
    tooling: Mapping[str, str]
    oven: InOven | None
    coming: tuple[Coming, ...]
    owed: tuple[Owed, ...]
    counts: tuple[Count, ...]
    timings: tuple[Timing, ...]
    arrivals: tuple[Arrival, ...]
    days_out: tuple[DayOut, ...]
    days_down: tuple[DayDown, ...]


@dataclass(frozen=True, slots=True)
class NewRun:
    """Open a run under a code never used before; its blanks leave the stock at once and must be there."""

    code: str
    pattern: str
    blanks: int


@dataclass(frozen=True, slots=True)
class Purchase:
    """Order pieces of an item for a day not sooner than its supplier's lead allows."""

    item: str
    qty: int
    promised: int


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the manager wants done; it replaces the sheet of the day before, only runs and purchases last.

    Attributes:
        runs: to open now.
        lists: per person, tasks in the order they are to be done. Where two wait for one machine, the person who stands
            earlier in this mapping has it.
        loads: of the oven, in order, each the tasks that go in together.
        machines: optional: for a machine named here, the order in which tasks may begin on it.
        purchases: to order now.
    """

    runs: tuple[NewRun, ...] = ()
    lists: Mapping[str, tuple[Task, ...]] = field(default_factory=dict)
    loads: tuple[tuple[Task, ...], ...] = ()
    machines: Mapping[str, tuple[Task, ...]] = field(default_factory=dict)
    purchases: tuple[Purchase, ...] = ()


class Manager(Protocol):
    """Asked once every open morning. The same object may be asked by one simulation only, if it keeps notes."""

    def morning(self, seen: Seen) -> Sheet:
        """Return what is to be done."""
        ...
