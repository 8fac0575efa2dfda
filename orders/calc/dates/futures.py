"""The futures of one question: everything that is drawn, drawn once and kept for the plans that are compared."""

from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import away, materials, streams
from orders.calc.dates.away import Away
from orders.calc.dates.chance import Law
from orders.calc.dates.state import Shop, Step
from orders.calc.dates.worktime import of

Floats = npt.NDArray[np.float64]
LOOK_AHEAD: Final = 120  # open days in which spells are drawn. No source: nobody promises a day further on


class Futures:
    """The futures of one question: everything that is drawn, drawn once and kept for the plans that are compared."""

    def __init__(self, shop: Shop, seed: int, count: int) -> None:
        self.seed, self.count = seed, count
        self.time = of(shop.hours, shop.horizon_days)
        self.arrivals, self.bought = materials.arrivals(shop, seed, count)
        self.days = min(len(self.time.opens) - 1, LOOK_AHEAD)
        self._rates: dict[tuple[str, int], Floats] = {}
        self._speeds: dict[tuple[str, int], Floats] = {}
        self._spells: dict[str, tuple[Floats, Floats]] = {}

    def rate(self, pattern: str, step: Step) -> Floats:
        """Give the rate of good pieces of a counting point, the same for all runs of a pattern."""
        key = (pattern, step.number)
        if key not in self._rates:
            self._rates[key] = streams.stream(self.seed, "rate", *key).beta(step.good, step.bad, self.count)
        return self._rates[key]

    def uniform(self, run: str, step: Step) -> Floats:
        """Give how well the pieces of a run turn out at a step."""
        return streams.stream(self.seed, "good", run, step.number).random(self.count)

    def minutes(self, pattern: str, run: str, step: Step) -> Floats | float:
        """Give the minutes for one piece."""
        factor: Floats | float = step.minutes
        if step.unsure:
            key = (pattern, step.number)
            if key not in self._speeds:
                rng = streams.stream(self.seed, "speed", *key)
                self._speeds[key] = Law("lognormal", (step.unsure,)).draw(rng, self.count)
            factor = factor * self._speeds[key]
        if step.varies:
            factor = factor * step.varies.draw(streams.stream(self.seed, "minutes", run, step.number), self.count)
        return factor

    def unrest(self, run: str, share: float) -> Floats:
        """Give the factor by which the time that a run has left is longer or shorter than by the plan; 1 on the average.

        Source: Laplace law of the logarithm, mean 1 / (1 - share²) taken out (from memory); its share was read off shadow
        shops other than those the dates are judged by.
        """
        rng = streams.stream(self.seed, "unrest", run)
        return np.exp(rng.laplace(0.0, share, self.count)) * (1 - share * share)

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
