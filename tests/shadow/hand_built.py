"""Shops of a few lines, for tests whose result is worked out by hand, and managers that do what a test says."""

import functools
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from tests.shadow.drawing import draw_shop
from tests.shadow.facts import Calendar, Carrier, Facts, Pattern, Person, Step, Supply, Work
from tests.shadow.laws import Laws
from tests.shadow.mornings import simulate
from tests.shadow.past import History
from tests.shadow.plain_manager import by_order_of_promise
from tests.shadow.sight import Manager, NewRun, Seen, Sheet, Task
from tests.shadow.truths import Line, Shop, StepTruth

OPENS, SHUTS = 480, 960
WEEKDAYS = frozenset(range(5))
ANYTHING = frozenset({"fire", "wood"})


def forge(minutes: float = 6.5, **wishes: Any) -> Work:
    """Return a step at the fire."""
    return Work("fire", minutes, **wishes)


def shop_of(*routes: tuple[Step, ...], people: int | tuple[Person, ...] = 1, **wishes: Any) -> Shop:
    """Return a shop with patterns A, B, ... of these routes, no luck in it, open Monday to Friday from 8 to 4.

    Wishes name fields of Shop or of Facts; `share` is 0.65 and 100,000 blanks lie there unless they say otherwise.
    """
    patterns = tuple(Pattern("ABCDEF"[at], "blank", route) for at, route in enumerate(routes))
    known = {name: wishes.pop(name) for name in list(wishes) if name in Facts.__dataclass_fields__}
    works = [step for route in routes for step in route if isinstance(step, Work)]
    facts = Facts(
        calendar=Calendar(WEEKDAYS, OPENS, SHUTS),
        carrier=Carrier(WEEKDAYS, SHUTS),
        share=0.65,
        people=people if isinstance(people, tuple) else tuple(Person(f"P{at + 1}", ANYTHING) for at in range(people)),
        machines=tuple(sorted({machine for step in works for machine in step.machines})),
        patterns=patterns,
        supplies=(Supply("blank", 7), Supply("handle", 7)),
    )
    steps = {
        (pattern.name, at): StepTruth(step.minutes)
        for pattern in patterns
        for at, step in enumerate(pattern.route)
        if isinstance(step, Work)
    }
    shop = Shop(seed=1, weeks=4, facts=replace(facts, **known), steps=steps, stock={"blank": 100_000})
    return replace(shop, **wishes)


def tasks(*words: str) -> tuple[Task, ...]:
    """Return tasks from words like "a.0"."""
    return tuple(Task(word.partition(".")[0], int(word.partition(".")[2])) for word in words)


def runs(**blanks: int) -> tuple[NewRun, ...]:
    """Return new runs, the pattern of each by the first letter of its code: a1=10 is ten of A."""
    return tuple(NewRun(code, code[0].upper(), pieces) for code, pieces in blanks.items())


def lines(*pieces: int, pattern: str = "A", asked: int = 0) -> tuple[Line, ...]:
    """Return lines of one order."""
    return tuple(Line(1, at, "one-off", pattern, qty, asked) for at, qty in enumerate(pieces))


class Scripted:
    """Gives the sheets of a script, by day, and on other days the lists and loads of the last again."""

    def __init__(self, script: Mapping[int, Sheet]) -> None:
        self.script = script
        self.seen: list[Seen] = []
        self.last = Sheet()

    def morning(self, seen: Seen) -> Sheet:
        """Return the day's sheet."""
        self.seen.append(seen)
        if seen.day in self.script:
            self.last = replace(self.script[seen.day], runs=(), purchases=())
            return self.script[seen.day]
        return self.last

    def on(self, day: int) -> Seen:
        """Return what was seen on a day."""
        return next(seen for seen in self.seen if seen.day == day)


class Asking:
    """A manager made of a function."""

    def __init__(self, answer: Callable[[Seen], Sheet]) -> None:
        self.answer = answer

    def morning(self, seen: Seen) -> Sheet:
        """Return the function's answer."""
        return self.answer(seen)


class Noting:
    """Hands another manager's sheets on and keeps them, with what was seen."""

    def __init__(self, other: Manager) -> None:
        self.other = other
        self.noted: list[tuple[Seen, Sheet]] = []

    def morning(self, seen: Seen) -> Sheet:
        """Return the other's sheet."""
        sheet = self.other.morning(seen)
        self.noted.append((seen, sheet))
        return sheet


Lived = tuple[Shop, History, list[tuple[Seen, Sheet]]]


@functools.cache
def live(seed: int, laws: Laws) -> Lived:
    """Return a drawn shop, its history under the plain manager, and what he saw and wrote; kept for other tests."""
    shop = draw_shop(seed, laws)
    manager = Noting(by_order_of_promise(shop.facts))
    return shop, simulate(shop, manager), manager.noted


def band(number: int, chance: float, tail: float = 1e-4) -> range:
    """Return the counts of a binomial between which all but `tail` on each side lie, by its exact chances."""

    def exactly(count: int) -> float:
        logs = math.lgamma(number + 1) - math.lgamma(count + 1) - math.lgamma(number - count + 1)
        return math.exp(logs + count * math.log(chance) + (number - count) * math.log1p(-chance))

    least, below = 0, exactly(0)
    while below <= tail:
        least += 1
        below += exactly(least)
    most, above = number, exactly(number)
    while above <= tail:
        most -= 1
        above += exactly(most)
    return range(least, most + 1)
