"""The worth of each length that pieces and kerfs can take up on a bar, exactly, in whole numbers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

MOST_STEPS: Final = 8_000_000  # No source: 64 MB of whole numbers; a 6 m bar in steps of 0.001 mm fits
WORD: Final = 2**61  # No source: below it whole numbers of 64 bits cannot run over in a sum of a few


@dataclass(frozen=True, slots=True)
class Item:
    """A demand line on a bar: `step` is the piece with its kerf, units; at most `count`; `worth` of one, any sign."""

    step: int
    count: int
    worth: int


@dataclass(frozen=True, slots=True)
class Fills:
    """Reachable fills.

    Args:
        taken: sums of steps, units, rising, without the empty one; whole numbers of 64 bits.
        worth: the most the pieces of each sum can be worth; the same length.
    """

    taken: npt.NDArray[np.int64]
    worth: npt.NDArray[Any]


def reach(items: Sequence[Item], longest: int, margin: int) -> Fills | None:
    """Find every fill and the most it is worth.

    Args:
        items: the demand lines.
        longest: no fill beyond it matters, units.
        margin: the largest number the caller will add to a worth; decides how large the whole numbers must be.

    Returns:
        The fills, or None where the lengths are too fine for a table.

    Source: exact-fill knapsack over whole numbers, bounded counts by doubling (from memory, a textbook method).
    """
    items = [item for item in items if item.count > 0 and item.step <= longest]
    if not items:
        return Fills(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
    grid = math.gcd(*(item.step for item in items))
    if longest // grid >= MOST_STEPS:
        return None
    most = 1 + sum(min(item.count, longest // item.step) * abs(item.worth) for item in items)
    small = 8 * most + abs(margin) < WORD
    table: npt.NDArray[Any] = np.full(longest // grid + 1, -4 * most, dtype=np.int64 if small else object)
    table[0] = 0
    for item in items:
        _add(table, item.step // grid, min(item.count, longest // item.step), item.worth)
    reached = np.flatnonzero(table > -2 * most)[1:]
    return Fills(reached * np.int64(grid), table[reached])


def _add(table: npt.NDArray[Any], step: int, count: int, worth: int) -> None:
    """Lay 1, 2, 4 ... and the rest of `count` together: any number up to it is a sum of some of these."""
    together = 1
    while count > 0:
        taken = min(together, count)
        shift = taken * step
        better = table[:-shift] + taken * worth
        np.maximum(table[shift:], better, out=table[shift:])
        count -= taken
        together *= 2
