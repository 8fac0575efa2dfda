"""Random tables shared by all items: a unit Poisson process, normal and even numbers, made once, rows picked by item.

An item takes rows by its own seed, so the same item always gets the same answer; one process read at a longer time, a
higher rate or a larger lead time never counts fewer, so what is asked of it moves one way only.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

ROWS: Final = 8192  # No source: rows of the tables; an item takes some of them
SIZES: Final = 32  # No source: events whose sizes are drawn one by one; the sum of further ones is taken as normal
_STEP: Final = 0.25  # No source: cells of the process up to _EVEN
_EVEN: Final = 16.0  # No source: from here on cells grow by _GROW
_GROW: Final = 1.04  # No source: a part of a cell is taken in proportion, which hides under 1 % of the spread
_LAST: Final = 2.0e6  # No source: expected events beyond which they are taken as sure
_SEED: Final = 20_261_128  # No source: any number; the same for ever

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@lru_cache(maxsize=1)
def _process() -> tuple[npt.NDArray[np.int32], Floats]:
    """Return counts up to each edge by row, and the edges."""
    edges = [step * _STEP for step in range(int(_EVEN / _STEP) + 1)]
    while edges[-1] < _LAST:
        edges.append(edges[-1] * _GROW)
    at = np.array(edges)
    draws = np.random.default_rng(_SEED).poisson(np.diff(at), (ROWS, len(at) - 1))
    counts = np.zeros((ROWS, len(at)), np.int32)
    np.cumsum(draws, axis=1, out=counts[:, 1:])
    return counts, at


@lru_cache(maxsize=1)
def _sizes() -> npt.NDArray[np.float32]:
    """Return even numbers in [0, 1) by row and event."""
    return np.random.default_rng(_SEED + 1).random((ROWS, SIZES), np.float32)


def rows(seed: int, count: int) -> tuple[Ints, np.random.Generator]:
    """Return rows for an item's scenarios, and a stream of its own for the rest."""
    stream = np.random.default_rng([_SEED, abs(seed)])
    return stream.integers(0, ROWS, count), stream


def events(picked: Ints, expected: Floats, part: Floats) -> Ints:
    """Count the events of each row until `expected` have been expected.

    Args:
        picked: rows, shape (n,).
        expected: operational time, 0 or more, shape (n,) or (days, n).
        part: even numbers in [0, 1), shape (n,); how a part of a cell is rounded.

    Returns:
        Whole numbers of the shape of `expected`, never fewer for more expected.
    """
    counts, edges = _process()
    capped = np.minimum(expected, _LAST)
    cell = (capped / _STEP).astype(np.int64)
    if capped.max(initial=0.0) >= _EVEN:
        grown = np.log(np.maximum(capped, _EVEN) / _EVEN) / np.log(_GROW) + _EVEN / _STEP
        cell = np.minimum(np.where(capped < _EVEN, cell, grown.astype(np.int64)), len(edges) - 2)
    begins = edges.take(cell)
    share = np.clip((capped - begins) / (edges.take(cell + 1) - begins), 0.0, 1.0)
    flat = cell + picked * np.int64(len(edges))
    first = counts.ravel().take(flat).astype(np.int64)
    found: Ints = first + ((counts.ravel().take(flat + 1) - first) * share + part).astype(np.int64)
    return found


@dataclass(slots=True)
class Sums:
    """Sums of the sizes of each row's events, drawn with equal chance from `sizes` (above 0, rising).

    `picked` are rows, shape (n,); `beyond` standard normal numbers, shape (n,): for events after the first SIZES.
    """

    picked: Ints
    sizes: Floats
    beyond: Floats
    _so_far: Floats | None = None
    _moments: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        self._moments = float(self.sizes.mean()), float(self.sizes.std())

    def of(self, count: Ints) -> Ints:
        """Return the whole units of so many events, shape (n,) or (days, n); never fewer for more events."""
        if self.sizes[0] == self.sizes[-1]:
            return np.asarray(np.rint(count * self.sizes[0]), np.int64)
        largest = int(count.max(initial=0))
        table = self._table(min(SIZES, largest))
        most = table.shape[1] - 1
        total = table.ravel().take(np.minimum(count, most) + np.arange(len(self.picked)) * np.int64(most + 1))
        if largest > most:
            more = np.maximum(count - most, 0)
            total = total + np.maximum(0.0, more * self._moments[0] + np.sqrt(more) * self._moments[1] * self.beyond)
        return np.asarray(np.rint(total), np.int64)

    def _table(self, most: int) -> Floats:
        """Return the sums of the first 0, 1, 2 ... events of each row, `most` of them or more."""
        if self._so_far is None or self._so_far.shape[1] <= most:
            wide = next(width for width in (8, SIZES) if width >= most)
            index = (_sizes()[self.picked, :wide] * np.float32(len(self.sizes))).astype(np.int64)
            table = np.zeros((len(self.picked), wide + 1))
            np.cumsum(self.sizes.take(np.minimum(index, len(self.sizes) - 1)), axis=1, out=table[:, 1:])
            self._so_far = table
        return self._so_far
