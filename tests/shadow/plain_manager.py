"""A plain manager of the shadow's own, so that a shop can be run without a calculator: queue order, plain allowance.

`runs_to_open` and `purchases` stand alone, for a manager who only plans the days or only gives dates.
"""

import math
from collections import Counter
from typing import Final

from tests.shadow.drawing import takes
from tests.shadow.facts import WEEK, Facts, Pattern, Work
from tests.shadow.nominal_day import lists_for
from tests.shadow.sight import NewRun, Purchase, Seen, Sheet

FEWEST: Final = 6  # pieces of a run; fewer are not worth the tooling
WEEKS_OVER: Final = 3.0  # weeks of last year's sales that stock and purchases cover beyond the lead


class ByOrderOfPromise:
    """Starts what is short, in queue order, with n / (1 - q); people take what can begin first, the oldest run first."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts

    def morning(self, seen: Seen) -> Sheet:
        """Return what is to be done."""
        runs = runs_to_open(self.facts, seen)
        lists, loads = lists_for(self.facts, seen, runs)
        return Sheet(runs, lists, loads, purchases=purchases(self.facts, seen))


def by_order_of_promise(facts: Facts) -> ByOrderOfPromise:
    """Return the plain manager of a shop."""
    return ByOrderOfPromise(facts)


def expected(pattern: Pattern, pieces: float, step: int) -> float:
    """Return how many of the pieces before a step come to the shelf, at the believed rates."""
    for card in pattern.route[step:]:
        if isinstance(card, Work) and card.belief:
            pieces *= card.belief[0] / sum(card.belief)
    return pieces


def runs_to_open(facts: Facts, seen: Seen) -> tuple[NewRun, ...]:
    """Return runs for what lines lack beyond the shelf and the floor, as far as blanks are there, in queue order."""
    free = Counter(seen.stock)
    covered = {one.name: float(free[one.name]) for one in facts.patterns}
    for run in seen.runs:
        covered[run.pattern] += expected(facts.pattern(run.pattern), run.pieces, len(run.after))
    short: dict[str, float] = {}
    for line in seen.owed:
        covered[line.pattern] -= line.owed
        if covered[line.pattern] < 0:
            short[line.pattern] = -covered[line.pattern]
    runs = []
    for name, pieces in short.items():
        pattern = facts.pattern(name)
        wanted = max(FEWEST, math.ceil(pieces / expected(pattern, 1, 0)))
        number = 0
        while wanted > 0 and free[pattern.blank] > 0:
            blanks = min(wanted, pattern.most, free[pattern.blank])
            runs.append(NewRun(f"{name}-{seen.day}-{number}", name, blanks))
            free[pattern.blank] -= blanks
            wanted, number = wanted - blanks, number + 1
    return tuple(runs)


def purchases(facts: Facts, seen: Seen) -> tuple[Purchase, ...]:
    """Return what to order: up to the lead and some weeks of last year's sales, and what lines and runs lack."""
    wanted = []
    for supply in facts.supplies:
        takers = {one.name: one for one in facts.patterns if takes(one, supply.item)}
        there = seen.stock.get(supply.item, 0) + sum(one.qty for one in seen.coming if one.item == supply.item)
        there -= sum(line.owed for line in seen.owed if line.pattern in takers)
        there += sum(seen.stock.get(name, 0) for name in takers)
        for run in seen.runs:
            if run.pattern in takers and _is_past(takers[run.pattern], supply.item, len(run.after)):
                there += run.pieces
        level = sum(facts.weekly[name] for name in takers) * (supply.lead / WEEK + WEEKS_OVER)
        packs = math.ceil((level - there) / supply.pack)
        if packs > 0 and level - there > level / (2 * (supply.lead / WEEK + WEEKS_OVER)):
            day = facts.calendar.open_from(seen.day + supply.lead)
            wanted.append(Purchase(supply.item, packs * supply.pack, day))
    return tuple(wanted)


def _is_past(pattern: Pattern, item: str, step: int) -> bool:
    """Say whether a run before a step has taken its pieces of an item."""
    if pattern.blank == item:
        return True
    return any(isinstance(card, Work) and card.uses == item for card in pattern.route[:step])
