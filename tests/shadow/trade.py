"""What is asked of a shop: so much that it is busy, as drawn, in orders that come at random."""

from typing import Final

from tests.shadow.facts import WEEK, Calendar, Facts, Pattern, Person, Soak, Step, Work
from tests.shadow.streams import stream
from tests.shadow.truths import Line

DEALERS: Final = 0.35  # share of the orders
ONE_OFF: Final = (1, 4)  # pieces of a line, both ends included
DEALER: Final = (5, 30)
LINES: Final = (0.7, 0.2, 0.1)  # chances that an order has 1, 2, 3 lines, of different patterns
BUSY: Final = (0.5, 0.75)  # share of the scarcest resource's minutes that is asked for
SOME_RUN: Final = 12  # pieces of a run among which its set-ups are shared, for this reckoning
LOSS: Final = 1.15  # pieces started for one that is sold
OVEN_FILL: Final = 0.4  # how full loads are on average, for this reckoning
PIECES_AN_ORDER: Final = (1 - DEALERS) * sum(ONE_OFF) / 2 + DEALERS * sum(DEALER) / 2  # per line


def pieces_a_week(
    seed: int, calendar: Calendar, share: float, people: tuple[Person, ...], patterns: tuple[Pattern, ...]
) -> dict[str, float]:
    """Draw the pieces of each pattern that are asked for in a week, so that the scarcest resource is as busy as drawn."""
    luck = stream(seed, "weekly")
    parts = luck.dirichlet([3.0] * len(patterns))
    open_minutes = (calendar.shuts - calendar.opens) * len(calendar.weekdays)
    need: dict[str, float] = {"people": 0.0}
    for part, pattern in zip(parts, patterns, strict=True):
        for step in pattern.route:
            for what, minutes in _minutes(step, share).items():
                need[what] = need.get(what, 0.0) + float(part) * LOSS * minutes
    has = {what: float(open_minutes) for what in need} | {"people": open_minutes * len(people) * 0.95}
    scarcest = max(need[what] / has[what] for what in need)
    pieces = float(luck.uniform(*BUSY)) / scarcest
    return {pattern.name: pieces * float(part) for part, pattern in zip(parts, patterns, strict=True)}


def _minutes(step: Step, share: float) -> dict[str, float]:
    """Return the open minutes a piece takes of people, of each machine, of the oven."""
    if isinstance(step, Work):
        minutes = (step.minutes + step.set_up / SOME_RUN) / share
        return {"people": minutes * step.people} | dict.fromkeys(step.machines, minutes)
    if isinstance(step, Soak):
        return {"oven": (step.soak + step.heat_up) * step.share / OVEN_FILL}
    return {}


def draw_lines(seed: int, facts: Facts, weeks: int) -> tuple[Line, ...]:
    """Draw the orders of all weeks: Poisson by the week, on any of its days, seen on the next open morning."""
    names = [pattern.name for pattern in facts.patterns]
    total = sum(facts.weekly.values())
    parts = [facts.weekly[name] / total for name in names]
    lines_an_order = sum(min(len(names), at + 1) * chance for at, chance in enumerate(LINES))
    rate = total / (PIECES_AN_ORDER * lines_an_order)
    asked: list[Line] = []
    for week in range(weeks):
        luck = stream(seed, "orders", week)
        days = sorted(int(day) for day in luck.integers(0, WEEK, size=luck.poisson(rate)))
        for number, day in enumerate(days):
            morning = facts.calendar.open_from(week * WEEK + day)
            dealer = luck.random() < DEALERS
            several = min(len(names), 1 + int(luck.choice(len(LINES), p=LINES)))
            for at, name in enumerate(luck.choice(names, size=several, replace=False, p=parts)):
                least, most = DEALER if dealer else ONE_OFF
                qty = int(luck.integers(least, most + 1))
                kind = "dealer" if dealer else "one-off"
                asked.append(Line(week * 1_000 + number, at, kind, str(name), qty, morning))
    last = weeks * WEEK
    return tuple(line for line in sorted(asked, key=lambda line: line.asked) if line.asked < last)
