"""Pieces that go along the shop together, and the job that people have begun on them."""

from dataclasses import dataclass, field
from enum import Enum

from tests.shadow.facts import Pattern, Step, Work
from tests.shadow.past import RunPast
from tests.shadow.sight import Begun, OpenRun, Task


class State(Enum):
    """Where a bunch is between two steps or in one."""

    LYING = "lies before its next step"
    IN_HAND = "is worked on"
    PUT_DOWN = "was begun, nobody is at it"
    IN_OVEN = "is in the oven"
    CURING = "cures"
    GONE = "is on the shelf, or nothing is left of it"


@dataclass(slots=True)
class Job:
    """A work step begun on a bunch. Minutes are open minutes, whole."""

    task: Task
    card: Work
    crew: tuple[str, ...]
    since: int
    set_left: int
    work_left: int
    set_done: int = 0
    work_done: int = 0

    def spend(self, minutes: int) -> int:
        """Let minutes of the crew go into it, setting up first; return how many went into that."""
        setting = min(minutes, self.set_left)
        self.set_left -= setting
        self.set_done += setting
        self.work_left -= minutes - setting
        self.work_done += minutes - setting
        return setting

    def begun(self, share: float) -> Begun:
        """Return what a manager sees of it, in work minutes."""
        done, setting, left = self.work_done * share, self.set_done * share, self.set_left * share
        return Begun(self.task.step, self.crew, self.since, done, setting, left)


@dataclass(slots=True)
class Bunch:
    """A run on the floor: true pieces after each step (`held`) and the pieces as counted (`told`)."""

    code: str
    pattern: Pattern
    blanks: int
    opened: int
    held: list[int] = field(default_factory=list)
    told: list[int] = field(default_factory=list)
    state: State = State.LYING
    job: Job | None = None
    ready: int | None = None
    ended: int | None = None

    @property
    def step(self) -> int:
        """The number of the next step."""
        return len(self.held)

    @property
    def card(self) -> Step:
        """The next step."""
        return self.pattern.route[len(self.held)]

    @property
    def pieces(self) -> int:
        """True pieces that come to the next step."""
        return self.held[-1] if self.held else self.blanks

    @property
    def pieces_told(self) -> int:
        """Pieces that come to the next step, as counted."""
        return self.told[-1] if self.told else self.blanks

    def correct(self, step: int) -> None:
        """Put right what is told of a count, and of the steps behind it that took its figure over."""
        self.told[step] = self.held[step]
        for at in range(step + 1, len(self.told)):
            card = self.pattern.route[at]
            if isinstance(card, Work) and card.belief is not None:
                return
            self.told[at] = self.held[at]

    @property
    def told_too_many(self) -> int:
        """Pieces told more than there are, after the last finished step."""
        return self.told[-1] - self.held[-1] if self.held else 0

    def seen(self, share: float) -> OpenRun:
        """Return what a manager sees of it."""
        begun = self.job.begun(share) if self.job else None
        return OpenRun(
            self.code,
            self.pattern.name,
            self.blanks,
            tuple(self.told),
            self.pieces_told,
            begun,
            self.ready,
        )

    def past(self) -> RunPast:
        """Return what truly became of it."""
        came = (self.blanks, *self.held)
        scrap = tuple(before - after for before, after in zip(came, self.held, strict=False))
        return RunPast(
            self.code,
            self.pattern.name,
            self.blanks,
            self.opened,
            tuple(self.held),
            scrap,
            self.ended,
        )
