"""Demand over days to come, in scenarios: what is known, and what is forecast drawn as events of the item's own sizes.

The forecast says how much, the history says in what lumps. A week's total is one event, or several where totals move less
from week to week than lumps of that size would: the swing between neighbouring weeks tells the size, so neither season nor
trend is taken for chance. Events come at random at the forecast's rate; a part of a week holds a part of its events, never a
part of a lump. The rate itself is uncertain, the more so the fewer events it was seen by.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from inventory.calc.reorder.streams import Floats, Ints, Sums, events, rows

SCENARIOS: Final = 2_000  # No source: the chance of 98 in 100 is then met within 0.3 points
_WIDER: Final = (1.0, 1.2, 1.4, 1.7, 2.0, 2.5, 3.0, 4.0, 6.0, 10.0)  # No source: lumps tried, in times the swing
SEEN_WEEKS: Final = 26  # No source: weeks of history a forecast's level rests on; its error is that of their mean
YEAR_WEEKS: Final = 52  # Source: the calendar
WEEK: Final = 7  # Source: the calendar
MOST_SIZES: Final = 1_024  # No source: sizes of events kept, evenly spread over all of them in rising order


@dataclass(frozen=True, slots=True)
class Demand:
    """What is wanted of an item from tomorrow on; day 1 is tomorrow, all in the item's own unit.

    known: units by day, each 0 or more, day 1 or later (asked for earlier: day 1); not part of the forecast.
    per_week: forecast of the coming weeks, 0 or more each, the first one begins tomorrow less `into_week` days; after its
        last week it begins again, so 52 of them carry a season. Empty: no forecast.
    history: weekly totals of the past, oldest first, whole units, from the item's first week on.
    into_week: days of the first forecast week that are over, 0 to 6.
    error: root mean square by which the forecast missed the sum of `horizon` weeks (1 or more) in the past, units; or None.
    sure: whether the level is taken as known without error, for checks against closed forms.
    """

    known: tuple[tuple[int, int], ...] = ()
    per_week: tuple[float, ...] = ()
    history: tuple[int, ...] = ()
    into_week: int = 0
    error: float | None = None
    horizon: int = 1
    sure: bool = False

    def __post_init__(self) -> None:
        if any(day < 1 or units < 0 for day, units in self.known):
            raise ValueError("known demand is 0 or more on day 1 or later")
        if any(not 0 <= week < float("inf") for week in self.per_week) or any(week < 0 for week in self.history):
            raise ValueError("demand of a week is 0 or more")
        if not 0 <= self.into_week < WEEK or (self.error or 0) < 0 or self.horizon < 1:
            raise ValueError("days into the week are 0 to 6, an error is 0 or more, over a week or more")

    def mean(self, days: Floats) -> Floats:
        """Return the units forecast from tomorrow until the end of each day, known demand not counted."""
        if not self.per_week:
            return np.zeros_like(days)
        so_far = _so_far(self.per_week)
        begun = self.into_week / WEEK
        weeks = days / WEEK + begun
        whole, length = so_far[-1], len(self.per_week)
        rounds = np.floor(weeks / length)
        at = np.arange(length + 1.0)
        begins = self.per_week[0] * begun
        found: Floats = rounds * whole + np.interp(weeks - rounds * length, at, so_far) - begins
        return found

    def due(self, days: Ints) -> Ints:
        """Return the units known to be wanted until the end of each day."""
        if not self.known:
            return np.zeros_like(days)
        rows_ = sorted(self.known)
        so_far = np.concatenate(([0], np.cumsum([units for _, units in rows_])))
        found: Ints = so_far[np.searchsorted([day for day, _ in rows_], days, side="right")]
        return found


@lru_cache(maxsize=16)
def _so_far(per_week: tuple[float, ...]) -> Floats:
    return np.concatenate(([0.0], np.cumsum(per_week)))


@dataclass(frozen=True, slots=True)
class Lumps:
    """Sizes of single events, units, rising; and the units by which totals swing: variance by mean of a week."""

    sizes: tuple[int, ...]
    swing: float

    @property
    def mean(self) -> float:
        """Units an event takes."""
        return sum(self.sizes) / len(self.sizes)


@lru_cache(maxsize=16)
def lumps(history: tuple[int, ...]) -> Lumps:
    """Tell in what lumps an item is taken from its weekly totals.

    Args:
        history: weekly totals, oldest first, 0 or more.

    Returns:
        Every week with demand split into whole events, one at least, the fewest splits whose sizes explain the swing.
        Without any demand: single units.

    Source: variance by mean of a compound Poisson week is the size an average unit lies in (E[S^2]/E[S], any textbook);
    half the mean square of successive differences as a variance that a slow drift does not move: von Neumann 1941 (both
    from memory).
    """
    weeks = np.asarray(history, np.float64)
    taken = weeks[weeks > 0]
    if not len(taken):
        return Lumps((1,), 1.0)
    moved = float(np.sum(np.diff(weeks) ** 2)) / 2
    held = float(np.sum(weeks[1:] + weeks[:-1])) / 2
    swing = max(1.0, moved / held) if held else float(taken.mean())
    parts = np.ones(len(taken), np.int64)
    for wide in _WIDER:
        parts = np.maximum(1, np.rint(taken / (swing * wide))).astype(np.int64)
        if float(np.sum(taken**2 / parts)) >= swing * float(np.sum(taken)):
            break
    units = taken.astype(np.int64)
    small, larger = units // parts, units % parts
    sizes = np.concatenate((np.repeat(small, parts - larger), np.repeat(small + 1, larger)))
    sizes.sort()
    if sizes[0] == sizes[-1]:
        sizes = sizes[:1]
    elif len(sizes) > MOST_SIZES:
        sizes = sizes[((np.arange(MOST_SIZES) + 0.5) * len(sizes) / MOST_SIZES).astype(np.int64)]
    return Lumps(tuple(sizes.tolist()), swing)


def level_error(history: Sequence[int], swing: float, *, error: float | None = None, weeks: int = 1) -> float:
    """Return the relative standard error of a forecast's level, 0 to 1.

    Args:
        history: weekly totals, oldest first.
        swing: variance by mean of a week's total.
        error: root mean square by which the forecast missed the sum of so many weeks in the past, or None.
        weeks: those weeks, 1 or more.

    Returns:
        The error of a mean of the last SEEN_WEEKS, or what the forecast missed the past by beyond the swing of chance where
        that is more; 1 where nothing was taken.
    """
    last = np.asarray(history[-YEAR_WEEKS:], np.float64)
    mean = float(last.mean()) if len(last) else 0.0
    if mean <= 0:
        return 1.0
    seen = swing / (mean * min(len(history), SEEN_WEEKS))
    missed = ((error or 0.0) ** 2 - swing * mean * weeks) / (mean * weeks) ** 2
    return min(1.0, float(np.sqrt(max(seen, missed))))


@dataclass(frozen=True)
class Scenarios:
    """An item's demand drawn `count` times from its own seed; the same seed, the same answer."""

    demand: Demand
    seed: int
    count: int = SCENARIOS
    lumps: Lumps = field(init=False)

    def __post_init__(self) -> None:
        if self.count < 1:
            raise ValueError("there is a scenario or more")
        object.__setattr__(self, "lumps", lumps(self.demand.history))

    @cached_property
    def _drawn(self) -> tuple[Ints, Floats, Floats, Floats, Floats, Ints]:
        picked, stream = rows(self.seed, self.count)
        asked = self.demand
        error = level_error(asked.history, self.lumps.swing, error=asked.error, weeks=asked.horizon)
        width = 0.0 if asked.sure else np.sqrt(np.log1p(error**2))
        level = np.exp(width * stream.standard_normal(self.count) - width**2 / 2)
        part, share = stream.random((2, self.count))
        return picked, level, part, stream.standard_normal(self.count), share, stream.permutation(self.count)

    @cached_property
    def _sizes(self) -> Floats:
        return np.array(self.lumps.sizes, np.float64)

    @cached_property
    def _sums(self) -> Sums:
        picked, _, _, beyond, _, _ = self._drawn
        return Sums(picked, self._sizes, beyond)

    def first(self, count: int) -> "Scenarios":
        """Return the first of these scenarios, 1 or more, as scenarios of their own."""
        return Scenarios(self.demand, self.seed, count)

    def shuffled(self, place: int) -> Ints:
        """Return the scenarios in an order of chance of their own for each place, 0 or more."""
        return np.random.default_rng([abs(self.seed), self.count, place]).permutation(self.count)

    @property
    def silent(self) -> bool:
        """Whether nothing is forecast at all."""
        return not any(self.demand.per_week)

    def even(self) -> Floats:
        """Return an even number in (0, 1) for each scenario, one from each of `count` equal parts, in rising order."""
        return (np.arange(self.count) + 0.5) / self.count

    def forecast(self, days: Floats) -> Ints:
        """Draw what is taken of the forecast until the end of each day.

        Args:
            days: days from today, 0 or more; shape (count,) or (any, count) or (any, 1).

        Returns:
            Whole units by scenario, never fewer for a later day.
        """
        picked, level, part, _, _, _ = self._drawn
        expected = self.demand.mean(days) / self.lumps.mean * level
        return self._sums.of(events(picked, expected, part))

    def undershoot(self, review: int) -> Ints:
        """Draw how far the position lies under the point when it is found there, at a look every `review` days.

        Returns:
            Whole units by scenario: an even part of what is taken between two looks, looks drawn in proportion to it.

        Source: stationary excess of a renewal process; the size-biased sum of a compound Poisson is the sum and one
        size-biased term more (both from memory, any textbook of renewal theory).
        """
        if self.silent:
            return np.zeros(self.count, np.int64)
        picked, _, part, beyond, share, order = self._drawn
        other = np.roll(picked, 1)
        sizes = self._sizes
        running = np.cumsum(sizes)
        drawn = sizes[np.searchsorted(running, self.even()[order] * running[-1])]
        expected = np.full(self.count, float(self.demand.mean(np.array(float(review)))) / self.lumps.mean)
        between = drawn + Sums(other, sizes, beyond).of(events(other, expected, part))
        return np.asarray(np.floor(between * share), np.int64)
