"""Column generation: the linear program over all cuts, solved by adding the cuts that pay."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc.cut_solver import bounds, pricing
from inventory.calc.cut_solver.bounds import Worths
from inventory.calc.cut_solver.clock import Clock
from inventory.calc.cut_solver.master import Master, Solved

PAYS: Final = 1e-6  # No source: a cut cheaper than that by its duals is no better than HiGHS's own tolerance
MORE: Final = 12  # No source: cuts beside the best of each group
DEARER: Final = 4  # No source: how often missing pieces are made dearer
LACKING: Final = 1e-6  # No source: pieces


@dataclass(slots=True)
class Outcome:
    """How far it came.

    Args:
        solved: the last solution; None where there is none.
        worths: duals of the best bound; None where there is none.
        least: of each group by these duals, over their scale.
        total: the bound, goal units over the scale.
        done: no cut pays any more.
    """

    solved: Solved | None = None
    worths: Worths | None = None
    least: Sequence[int] = ()
    total: int = 0
    done: bool = False

    @property
    def goal(self) -> int | None:
        """The bound in whole goal units."""
        return None if self.worths is None else -(-self.total // self.worths.scale)

    @property
    def impossible(self) -> bool:
        """Whether pieces cannot be had within the limits, at any price tried."""
        return self.done and self.solved is not None and self.solved.lacking > LACKING

    def better(self, worths: Worths, total: int) -> bool:
        """Say whether a bound is better than that so far."""
        return self.worths is None or total * self.worths.scale > self.total * worths.scale


def run(master: Master, clock: Clock, *, enough: int | None = None, rounds: int = 10**6) -> Outcome:
    """Add cuts until none pays.

    Args:
        master: the program; it keeps the cuts.
        clock: time to stop.
        enough: a bound in goal units that needs no more.
        rounds: most times to price.

    Returns:
        The outcome; its bound holds even if time ran out.
    """
    outcome, dearer = Outcome(), 0
    for _ in range(rounds):
        solved = master.solve(clock)
        if solved is None:
            return outcome
        outcome.solved = solved
        worths = bounds.whole(master.ask, master.limits, solved.slots, solved.dues, solved.lines)
        priced = None if worths is None else pricing.price(master.ask, worths, clock, MORE)
        if worths is None or priced is None:
            return outcome
        total = bounds.total(master.ask, master.limits, worths, priced.least)
        if outcome.better(worths, total):
            outcome.worths, outcome.least, outcome.total = worths, priced.least, total
        if enough is not None and outcome.goal is not None and outcome.goal >= enough:
            return outcome
        pays = -PAYS * worths.scale
        group_duals = solved.groups
        new = [cut for value, cut in priced.cuts if value - group_duals[cut[0]] * worths.scale < pays]
        if not master.add(new):
            if solved.lacking <= LACKING or dearer == DEARER:
                outcome.done = True
                return outcome
            dearer += 1
            master.dearer()
    return outcome
