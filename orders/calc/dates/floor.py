"""The floor while a plan is made: runs on their way, who and what is free from when, who is away, which tooling is in."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start


@dataclass(slots=True, eq=False)
class Going:
    """A run on its way through the plan: the step it comes to, from when on, with how many pieces at the mean.

    `key` names the operation it comes to; `not_before` is when it could begin at the soonest as it was last looked at.
    """

    number: int
    start: Start
    at: int
    ready: float
    pieces: float
    worked: float
    not_before: float = 0.0
    step: Step | None = None
    key: tuple[str, int] = ("", 0)

    def __post_init__(self) -> None:
        self.comes_to(self.at)

    def comes_to(self, at: int) -> None:
        """Go to a step of the route, or to its end, where there is no step and the key has number 0."""
        steps = self.start.product.steps
        self.at, self.step = at, steps[at] if at < len(steps) else None
        self.key = (self.start.code, self.step.number if self.step else 0)


@dataclass(frozen=True, slots=True)
class Turn:
    """How the next operation of a run could be done, and what it waits for longest."""

    begins: float
    people: tuple[str, ...]
    why: str


@dataclass(slots=True)
class Floor:
    """Who and what is free from when, who is known to be away, and which tooling is in which machine."""

    free: dict[str, float]
    away: Mapping[str, list[tuple[float, float]]]
    tooling: dict[str, str] = field(default_factory=dict)

    def present(self, who: str, when: float) -> float:
        """Give the first moment from which somebody is there."""
        for begin, end in self.away.get(who, ()):
            if begin <= when < end:
                when = end
        return when

    def free_from(self, who: str, when: float) -> float:
        """Give the first moment from a time on at which somebody is free and there; endless for who is not in the shop."""
        free = self.free.get(who, math.inf)
        when = max(free, when)
        return self.present(who, when) if who in self.away else when

    def all_present(self, who: Iterable[str], when: float) -> float:
        """Give the first moment from which all of them are there at once."""
        away = [one for one in who if one in self.away]
        while True:
            later = max((self.present(one, when) for one in away), default=when)
            if later <= when:
                return when
            when = later

    def finish(self, who: Iterable[str], begins: float, minutes: float) -> float:
        """Give when so many minutes are worked by all of them together."""
        ends = begins + minutes
        for begin, end in sorted({gap for one in who for gap in self.away.get(one, ())}):
            if begins <= begin < ends:
                ends += end - begin
        return ends

    def is_in(self, step: Step) -> bool:
        """Say whether the tooling a step needs is in its machines, or it needs none."""
        held = step.machines
        return not step.tooling or (bool(held) and all(self.tooling.get(one) == step.tooling for one in held))
