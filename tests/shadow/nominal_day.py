"""Lists for one day, made by playing it through at the minutes of the cards: whatever can begin first, begins.

Made for the plain manager. It knows no luck: it looks at cards, not at truths.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from tests.shadow.facts import DAY, OVEN, Facts, Pattern, Soak, Work
from tests.shadow.sight import NewRun, OpenRun, Seen, Task

OVER: Final = 90  # minutes planned beyond the end of the day, for work that goes faster than the card says
NEVER: Final = 10**9


@dataclass(slots=True)
class Part:
    """A run in the played day: its next step, pieces, from when it lies there."""

    code: str
    pattern: Pattern
    step: int
    pieces: int
    since: float


class NominalDay:
    """One day, played."""

    def __init__(self, facts: Facts, seen: Seen, new: tuple[NewRun, ...]) -> None:
        self.facts, self.seen = facts, seen
        self.shuts = seen.day * DAY + facts.calendar.shuts
        self.end = self.shuts + OVER
        here = [person for person in facts.people if person.name not in seen.out]
        self.people: dict[str, float] = {person.name: seen.minute for person in here}
        self.able = {
            bench: [person.name for person in here if bench in person.benches]
            for bench in {step.bench for one in facts.patterns for step in one.route if isinstance(step, Work)}
        }
        self.machines: dict[str, float] = {one: NEVER if one in seen.down else seen.minute for one in facts.machines}
        self.oven: float = NEVER if OVEN in seen.down else (seen.oven.until if seen.oven else seen.minute)
        self.tooling = dict(seen.tooling)
        self.stock = dict(seen.stock)
        self.lists: dict[str, list[Task]] = {name: [] for name in self.people}
        self.loads: list[tuple[Task, ...]] = []
        self.parts: list[Part] = []
        for run in seen.runs:
            self._lay(run)
        for one in new:
            self.parts.append(Part(one.code, facts.pattern(one.pattern), 0, one.blanks, seen.minute))

    def _lay(self, run: OpenRun) -> None:
        pattern, step, since = self.facts.pattern(run.pattern), len(run.after), float(self.seen.minute)
        if run.ready is not None:
            step, since = step + 1, max(since, run.ready)
        part = Part(run.code, pattern, step, run.pieces, since)
        begun, card = run.begun, pattern.route[step] if step < len(pattern.route) else None
        if begun and isinstance(card, Work):
            if set(begun.people) & set(self.seen.out) or set(card.machines) & set(self.seen.down):
                return  # rests until they are back
            left = max(10.0, card.minutes * run.pieces - begun.minutes) + begun.set_up_left
            part.since = self._occupy(begun.people, card, self.seen.minute, left)
            part.step += 1
        self.parts.append(part)

    def _occupy(self, crew: tuple[str, ...], card: Work, start: float, work: float) -> float:
        end = start + work / self.facts.share
        self.people |= dict.fromkeys(crew, end)
        for machine in card.machines:
            self.machines[machine] = end
            self.tooling[machine] = card.tooling or self.tooling[machine]
        return end

    def play(self) -> None:
        """Begin one thing after the other until nothing more begins today."""
        while True:
            best: tuple[float, int] | None = None
            for at, part in enumerate(self.parts):
                start = self._start(part)
                if start < self.end and (best is None or start < best[0]):
                    best = (start, at)
            if best is None:
                return
            self._begin(self.parts[best[1]], best[0])

    def _start(self, part: Part) -> float:
        while part.step < len(part.pattern.route):
            card = part.pattern.route[part.step]
            if isinstance(card, Work):
                return self._work_start(part, card)
            if isinstance(card, Soak):
                start = max(part.since, self.oven)
                late = start + card.heat_up + card.soak > self.shuts and not self.facts.unattended
                return NEVER if late or start >= self.shuts or not self.people else start
            part.since, part.step = part.since + card.minutes, part.step + 1
        return NEVER

    def _work_start(self, part: Part, card: Work) -> float:
        able = self.able[card.bench]
        if len(able) < card.people or (card.uses and self.stock.get(card.uses, 0) < part.pieces):
            return NEVER
        free = sorted(self.people[name] for name in able)[card.people - 1]
        return max(free, part.since, *(self.machines[machine] for machine in card.machines), 0)

    def _begin(self, part: Part, start: float) -> None:
        card, task = part.pattern.route[part.step], Task(part.code, part.step)
        if isinstance(card, Work):
            crew = self._crew(card, start)
            changed = not card.tooling or any(self.tooling[machine] != card.tooling for machine in card.machines)
            part.since = self._occupy(crew, card, start, card.minutes * part.pieces + card.set_up * changed)
            part.step += 1
            for name in crew:
                self.lists[name].append(task)
            if card.uses:
                self.stock[card.uses] -= part.pieces
        elif isinstance(card, Soak):
            self._load(card, start)

    def _crew(self, card: Work, start: float) -> tuple[str, ...]:
        """Return those who are free by then, the one who knows fewest benches first."""
        knows = {person.name: len(person.benches) for person in self.facts.people}
        ready = [name for name in self.able[card.bench] if self.people[name] <= start]
        return tuple(sorted(ready, key=lambda name: (knows[name], name))[: card.people])

    def _load(self, card: Soak, start: float) -> None:
        load, filled = [], 0.0
        for part in self.parts:
            other = part.pattern.route[part.step] if part.step < len(part.pattern.route) else None
            same = isinstance(other, Soak) and (other.temperature, other.soak) == (card.temperature, card.soak)
            if same and part.since <= start and isinstance(other, Soak) and filled + other.share * part.pieces <= 1:
                filled += other.share * part.pieces
                load.append(part)
        self.oven = start + card.heat_up + card.soak
        self.loads.append(tuple(Task(part.code, part.step) for part in load))
        for part in load:
            part.step, part.since = part.step + 1, self.oven


Lists = Mapping[str, tuple[Task, ...]]


def lists_for(facts: Facts, seen: Seen, new: tuple[NewRun, ...]) -> tuple[Lists, tuple[tuple[Task, ...], ...]]:
    """Return everybody's list and the loads of the oven for a day."""
    day = NominalDay(facts, seen, new)
    day.play()
    return {name: tuple(tasks) for name, tasks in day.lists.items()}, tuple(day.loads)
