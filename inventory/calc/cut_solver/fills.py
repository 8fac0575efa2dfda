"""Which fills of a bar can be made of pieces, and the most each is worth: one table for bars of every length."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from inventory.calc.cut_solver.clock import Clock

MOST_CELLS: Final = 60_000_000  # No source: 60 MB of yes and no, and seconds of work
NEVER: Final = -(2**62)  # No source: below every worth, and twice it would not fit 64 bits
Numbers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Fills:
    """Worth of every fill that can be made.

    Args:
        grid: units of the case between fills.
        worth: by fill over the grid; below NEVER / 2 where no pieces make that fill.
        shifts: fills laid one after the other: (kind, pieces, fill over the grid).
        taken: for each shift, where laying it made the fill worth more.
    """

    grid: int
    worth: Numbers
    shifts: Sequence[tuple[int, int, int]]
    taken: Sequence[npt.NDArray[np.bool_]]

    def counts(self, at: int, kinds: int) -> tuple[int, ...]:
        """Give the pieces that make the fill of index `at` worth most."""
        row = [0] * kinds
        for (kind, pieces, shift), taken in zip(reversed(self.shifts), reversed(self.taken), strict=True):
            if at >= shift and taken[at - shift]:
                row[kind] += pieces
                at -= shift
        return tuple(row)


def table_fits(steps: Sequence[int], counts: Sequence[int], longest: int) -> bool:
    """Say whether the table is of a size to work with.

    Args:
        steps: of the kinds, units.
        counts: of the kinds.
        longest: the largest fill wanted, units.

    Returns:
        True where it is.
    """
    grid = math.gcd(*steps) or 1
    shifts = sum(min(count, longest // step).bit_length() for step, count in zip(steps, counts, strict=True))
    return (longest // grid + 1) * max(1, shifts) <= MOST_CELLS


def fill(
    steps: Sequence[int], counts: Sequence[int], worths: Sequence[int], longest: int, clock: Clock | None = None
) -> Fills | None:
    """Find the most that every fill can be worth.

    Args:
        steps: of the kinds, units; 1 or more.
        counts: at most so many of each.
        worths: of one piece of each, any sign; their sums over a bar within 2 ** 60.
        longest: the largest fill wanted, units.
        clock: give up when time is up.

    Returns:
        The table, or None where time ran out.

    Source: exact-fill knapsack with bounded counts by doubling (from memory, a textbook method).
    """
    grid = math.gcd(*steps) or 1
    worth: Numbers = np.full(longest // grid + 1, NEVER, dtype=np.int64)
    worth[0] = 0
    shifts: list[tuple[int, int, int]] = []
    taken: list[npt.NDArray[Any]] = []
    for kind, (step, count, value) in enumerate(zip(steps, counts, worths, strict=True)):
        left, together = min(count, longest // step), 1
        while left > 0:
            if clock and clock.up():
                return None
            pieces = min(together, left)
            shift = pieces * step // grid
            more = worth[:-shift] + pieces * value
            better = more > worth[shift:]
            np.copyto(worth[shift:], more, where=better)
            shifts.append((kind, pieces, shift))
            taken.append(better)
            left, together = left - pieces, 2 * together
    return Fills(grid, worth, shifts, taken)
