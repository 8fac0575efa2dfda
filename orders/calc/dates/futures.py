"""The futures of one question: all that is drawn comes from its streams, and what runs share is drawn once."""

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import away, materials, streams
from orders.calc.dates.away import Away
from orders.calc.dates.chance import Law
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Shop
from orders.calc.dates.worktime import of

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Key = tuple[str, str, int]
Drawn = dict[Key, Floats]
LOOK_AHEAD: Final = 120  # open days in which spells are drawn. No source: nobody promises a day further on


class Futures:
    """The futures of one question, made for a shop.

    `drawn` keeps what was drawn for runs and patterns, for the futures of shops that differ in other things only; it takes
    room, and a single pass is quicker without.
    """

    def __init__(self, shop: Shop, seed: int, count: int, *, drawn: Drawn | None = None) -> None:
        self.seed, self.count, self.drawn = seed, count, drawn
        self.time = of(shop.hours, shop.horizon_days)
        self.arrivals, self.bought = materials.arrivals(shop, seed, count)
        self.days = min(len(self.time.opens) - 1, LOOK_AHEAD)
        self._shared: Drawn = {}
        self._spells: dict[str, tuple[Floats, Floats]] = {}

    def bought_since(self, minute: int) -> dict[str, Whole]:
        """Give when items come that are ordered on the day of a minute by the clock, not today; as late as today's."""
        later, never = minute // DAY * DAY, self.time.never
        return {item: np.minimum(at + later, never) for item, at in self.bought.items()} if later else self.bought

    def rate(self, pattern: str, step: Step) -> Floats:
        """Give the rate of good pieces of a counting point, the same for all runs of a pattern."""
        return self._once(
            self._shared, ("rate", pattern, step.number), lambda rng: rng.beta(step.good, step.bad, self.count)
        )

    def uniform(self, run: str, step: Step) -> Floats:
        """Give how well the pieces of a run turn out at a step."""
        return self._once(self.drawn, ("good", run, step.number), lambda rng: rng.random(self.count))

    def minutes(self, pattern: str, run: str, step: Step) -> Floats | float:
        """Give the minutes for one piece."""
        factor: Floats | float = step.minutes
        if step.unsure:
            law = Law("lognormal", (step.unsure,))
            key = ("speed", pattern, step.number)
            factor = factor * self._once(self._shared, key, lambda rng: law.draw(rng, self.count))
        if step.varies:
            varies = step.varies
            key = ("minutes", run, step.number)
            factor = factor * self._once(self.drawn, key, lambda rng: varies.draw(rng, self.count))
        return factor

    def unrest(self, run: str, share: float) -> Floats:
        """Give the factor by which the time that a run has left is longer or shorter than by the plan; 1 on the average.

        Source: Laplace law of the logarithm, mean 1 / (1 - share²) taken out (from memory); its share was read off shadow
        shops other than those the dates are judged by.
        """
        key, mean = ("unrest", run, 0), 1 / (1 - share * share)
        return self._once(self.drawn, key, lambda rng: np.exp(rng.laplace(0.0, share, self.count)) / mean)

    def _once(self, kept: Drawn | None, key: Key, draw: Callable[[np.random.Generator], Floats]) -> Floats:
        what, *which = key
        if kept is None:
            return draw(streams.stream(self.seed, what, *which))
        if key not in kept:
            kept[key] = draw(streams.stream(self.seed, what, *which))
        return kept[key]

    def gaps(self, shop: Shop, step: Step) -> Away | None:
        """Give when a step cannot go on: a machine of it is down, or too few of those who can do it are there.

        The plan is made anew each morning, so what one person would have done somebody else does who can.
        """
        hands = (step.hands or tuple(one.code for one in shop.people)) if step.people else ()
        for one in shop.people:
            if one.code in hands and one.code not in self._spells:
                self._spells[one.code] = away.spells(
                    self.time, one.out, one.ill, self.seed, one.code, self.count, since=one.ill_for, days=self.days
                )
        for thing in shop.machines:
            if thing.code in step.machines and thing.code not in self._spells:
                self._spells[thing.code] = away.spells(
                    self.time, thing.down, thing.breaks, self.seed, thing.code, self.count, days=self.days
                )
        rows = [self._spells[code] for code in step.machines if code in self._spells]
        people = [self._spells[code] for code in hands if code in self._spells]
        if people and step.people == len(people):
            rows += people
        elif people:
            rows.append(away.too_few(people, len(people) - step.people))
        return away.together(rows, self.count)
