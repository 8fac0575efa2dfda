"""What runs wait for, future by future: the last thing that was not there yet when a step could have begun."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Cause = tuple[str, Floats | float]
AWAY: Final = "people and machines away"
LOAD: Final = "the rest of the load"
SHEET: Final = "the week sheet"


@dataclass(slots=True, eq=False)
class Waits:
    """Minutes of work that runs have waited, by run and cause; only the runs asked for are looked at."""

    asked: frozenset[int]
    minutes: dict[tuple[int, str], Floats] = field(default_factory=dict)

    def note(self, run: int, ready: Floats, causes: Sequence[Cause], begins: Floats) -> None:
        """Note what a run waits for before a step.

        Args:
            run: its number in the plan.
            ready: minutes of work from which it could go on.
            causes: what else it takes, and from when that is there; the last one counts for the whole wait.
            begins: when it goes on; what is left of the wait, somebody or something was away.
        """
        if run not in self.asked:
            return
        there = np.stack([ready, *(np.broadcast_to(when, ready.shape) for _, when in causes)])
        last, top = there.argmax(axis=0), there.max(axis=0)
        for place, (what, _) in enumerate(causes, 1):
            self._add(run, what, np.where(last == place, top - ready, 0.0))
        self._add(run, AWAY, begins - top)

    def _add(self, run: int, what: str, wait: Floats) -> None:
        if wait.any():
            key = (run, what)
            self.minutes[key] = self.minutes[key] + wait if key in self.minutes else wait
