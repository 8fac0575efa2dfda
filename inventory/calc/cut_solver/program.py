"""A linear or whole-number program, handed to HiGHS."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import highspy
import numpy as np
from highspy._core import _Highs as Highs  # the class around it prints a banner on standard output

from inventory.calc.cut_solver.clock import Clock

FREE: Final = highspy.kHighsInf
LARGE: Final = 2_000  # No source: variables
NO_TIME: Final = 0.02  # No source: seconds below which HiGHS is not started


@dataclass(frozen=True, slots=True)
class Found:
    """What HiGHS says: values by variable (None: no solution), a bound on the objective, no solution can exist."""

    values: Sequence[float] | None
    bound: float
    impossible: bool


@dataclass(slots=True)
class Program:
    """Rows and variables as they are written down, to be minimised."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    index: list[int] = field(default_factory=list)
    factor: list[float] = field(default_factory=list)

    def variable(self, low: float, high: float, *, cost: float = 0, whole: bool = True) -> int:
        """Add a variable; give its number."""
        self.cost.append(cost)
        self.low.append(low)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, low: float, high: float, terms: Mapping[int, float]) -> None:
        """Ask that a weighted sum lies between two numbers."""
        self.row_low.append(low)
        self.row_high.append(high)
        self.starts.append(len(self.index))
        self.index += terms.keys()
        self.factor += terms.values()

    def solve(self, clock: Clock, seed: int, *, step: float = 1, start: Mapping[int, float] | None = None) -> Found:
        """Solve.

        Args:
            clock: time to stop.
            seed: for HiGHS.
            step: between values the objective can have; the search ends when less than that is open.
            start: values of a solution, variables left out are 0.

        Returns:
            The best solution found and the bound shown.
        """
        if clock.left() < NO_TIME:
            return Found(None, -FREE, impossible=False)
        highs = quiet(seed)
        self._load(highs)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", 0.9 * step)
        if len(self.cost) > LARGE:
            highs.setOptionValue("presolve", "off")  # it does not look at the clock, and takes most of a minute
        if start is not None:
            given = np.array([start.get(i, 0.0) for i in range(len(self.cost))])
            highs.setSolution(len(given), np.arange(len(given), dtype=np.int32), given)
        highs.setOptionValue("time_limit", clock.left())
        highs.run()
        return _read(highs)

    def _load(self, highs: Highs) -> None:
        n, none = len(self.cost), np.zeros(0, dtype=np.int32)
        highs.addCols(n, np.array(self.cost), np.array(self.low), np.array(self.high), 0, none, none, np.zeros(0))
        kinds = np.array([1 if whole else 0 for whole in self.whole], dtype=np.uint8)
        highs.changeColsIntegrality(n, np.arange(n, dtype=np.int32), kinds)
        highs.addRows(
            len(self.starts),
            np.array(self.row_low, dtype=float),
            np.array(self.row_high, dtype=float),
            len(self.index),
            np.array(self.starts, dtype=np.int32),
            np.array(self.index, dtype=np.int32),
            np.array(self.factor, dtype=float),
        )


def quiet(seed: int) -> Highs:
    """Give a HiGHS that prints nothing and works on one thread, so that it always does the same."""
    highs = Highs()
    for name, value in (("output_flag", False), ("threads", 1), ("random_seed", seed % 2**31)):
        highs.setOptionValue(name, value)
    return highs


def _read(highs: Highs) -> Found:
    status = highs.getModelStatus()
    if status in {highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible}:
        return Found(None, FREE, impossible=True)
    info = highs.getInfo()
    found = info.primal_solution_status == 2  # a feasible point, by the library's own manual
    return Found(list(highs.getSolution().col_value) if found else None, info.mip_dual_bound, impossible=False)
