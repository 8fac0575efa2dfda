"""The history of a simulation: what truly happened, for the judge. Minutes and days as in the package's head."""

from dataclasses import dataclass

from tests.shadow.sight import Arrival, Count, DayDown, DayOut, Task, Timing
from tests.shadow.truths import Line


@dataclass(frozen=True, slots=True)
class LinePast:
    """A line, pieces given to it, the minute it was whole and the day the carrier took it; None where it never was."""

    line: Line
    given: int
    done: int | None
    carried: int | None


@dataclass(frozen=True, slots=True)
class RunPast:
    """A run: true pieces after each finished step, true scrap of each, and the minute it came to the shelf, if it did.

    `ended` is also set, with nothing on the shelf, where no good piece was left.
    """

    code: str
    pattern: str
    blanks: int
    opened: int
    after: tuple[int, ...]
    scrap: tuple[int, ...]
    ended: int | None


@dataclass(frozen=True, slots=True)
class Stint:
    """Unbroken work on a task: `began` to `ended`, of which the first `set_up` open minutes went into setting up."""

    task: Task
    people: tuple[str, ...]
    machines: tuple[str, ...]
    began: int
    ended: int
    set_up: int
    finished: bool


@dataclass(frozen=True, slots=True)
class Wait:
    """An oven load (`oven` true) or a cure, from when to when, with the true pieces and the share of the oven."""

    tasks: tuple[Task, ...]
    pieces: tuple[int, ...]
    share: float
    began: int
    ended: int
    oven: bool


@dataclass(frozen=True, slots=True)
class Change:
    """Tooling was changed on a machine, to `now_in` from `was_in`."""

    minute: int
    machine: str
    was_in: str
    now_in: str
    task: Task


@dataclass(frozen=True, slots=True)
class History:
    """Everything. Records are as entered by the shop (wrong counts corrected if there was time), the rest is true."""

    lines: tuple[LinePast, ...]
    runs: tuple[RunPast, ...]
    stints: tuple[Stint, ...]
    waits: tuple[Wait, ...]
    changes: tuple[Change, ...]
    counts: tuple[Count, ...]
    timings: tuple[Timing, ...]
    arrivals: tuple[Arrival, ...]
    days_out: tuple[DayOut, ...]
    days_down: tuple[DayDown, ...]
    stock: tuple[tuple[str, int], ...]
