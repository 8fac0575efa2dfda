"""How days given were kept: against the chance that was stated of each, by customers, and beside a plain rule of thumb.

A promise is graded once its day is over, sent or not; one whose day is still to come is left out even where it was sent
early, for those sent early come in before those that will be late. Chances are graded against what was stated of the very
day, not against the chance that was wanted: whole days over-cover. Orders that were cancelled are no promises any more and
are left out by whoever asks.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median
from typing import Final

import numpy as np

from orders.calc import record_measures
from orders.calc.dates import streams

EDGES: Final = (0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 1.0)  # of stated chances; no source: half, and what is usually wanted
POINTS: Final = 0.02  # No source: two points off is still what was said
RESAMPLES: Final = 2_000  # Efron and Tibshirani 1993 ask for a thousand or more for percentiles, from memory
MOST_AT_ONCE: Final = 2_000_000  # draws of clusters held in memory
ENDS: Final = (0.025, 0.975)  # nineteen times in twenty
PIT_BINS: Final = 10
PIT_LIMIT: Final = 21.666  # chi-square, 9 degrees of freedom, 99 %; any table
PIT_ENOUGH: Final = 50  # five a bin, Cochran 1954, from memory


@dataclass(frozen=True, slots=True)
class Promise:
    """A day that was given, in days counted from any day, and what became of it.

    `curve` holds days upwards with the share of futures sent by the end of each; the day given is one of them, and where
    no more is known the day before it. `wanted` is the chance that was asked for. `sent` is nothing where it is open at the
    end of the record. Promises of one `cluster` share their luck: a week, a shop. `plain` is the day the rule of thumb
    would have given.
    """

    asked: int
    day: int
    curve: tuple[tuple[int, float], ...]
    sent: int | None
    cluster: str
    wanted: float = 0.9
    kind: str = ""
    made_to_order: bool = False
    plain: int | None = None

    def __post_init__(self) -> None:
        days, shares = [day for day, _ in self.curve], [share for _, share in self.curve]
        if self.day not in days or days != sorted(set(days)) or shares != sorted(shares):
            raise ValueError("a curve rises from day to day, the day given among them")
        if shares[0] < 0 or shares[-1] > 1 or not 0 < self.wanted < 1:
            raise ValueError("chances lie between 0 and 1")
        if self.day < self.asked or (self.sent is not None and self.sent < self.asked):
            raise ValueError("nothing is promised for, or sent on, a day before it was asked for")

    @property
    def stated(self) -> float:
        """The chance that was stated of the day given."""
        return dict(self.curve)[self.day]


@dataclass(frozen=True, slots=True)
class Missed:
    """Days between the day given and the day sent; those still `open` are late by one day more than is known."""

    late: int
    late_days: float
    most_late: int
    early: int
    early_days: float
    open: int


@dataclass(frozen=True, slots=True)
class Figures:
    """What became of some promises.

    `share` is the interval of the kept share, `off` that of kept less stated, from resampled clusters; nothing where there
    are fewer than two. `lead_mean` and `lead_median` are days from asked to given, `loss` the mean pinball loss in days.
    """

    of: int
    kept: int
    clusters: int
    share: tuple[float, float] | None
    stated: float | None
    off: tuple[float, float] | None
    missed: Missed
    lead_mean: float
    lead_median: float
    loss: float


@dataclass(frozen=True, slots=True)
class Bin:
    """Promises of which about the same was stated: from `least` on, under `most`.

    Were they independent, `band` is where the kept ones lie ninety-nine times in a hundred, and `proof` how many would
    show that the chance is true within two points.
    """

    least: float
    most: float
    of: int
    kept: int
    stated: float
    band: tuple[int, int]
    proof: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class Spread:
    """Where the days sent fell on their curves, in ten equal parts; `uneven` beyond the limit: the curves are wrong.

    Nothing is said of fewer than fifty. Promises that share their luck are uneven sooner than the limit says.
    """

    counts: tuple[int, ...]
    uneven: float | None
    limit: float = PIT_LIMIT


@dataclass(frozen=True, slots=True)
class Record:
    """All of it; `to_come` promises have their day still before them. `beside` is the same for both rules, ours first."""

    all: Figures | None
    kinds: tuple[tuple[str, Figures], ...]
    made_to_order: Figures | None
    from_stock: Figures | None
    bins: tuple[Bin, ...]
    spread: Spread
    beside: tuple[Figures, Figures] | None
    to_come: int


def record(promises: Sequence[Promise], *, last: int, seed: int) -> Record:
    """Say how promises were kept.

    Args:
        promises: that were given.
        last: the last day of which it is known what was sent.
        seed: of what is drawn: clusters, and the places of whole days on their curves.

    Returns:
        The record; the same for the same promises in the same order.
    """
    over = [one for one in promises if one.day <= last]
    both = [one for one in over if one.plain is not None and one.plain <= last]
    grading = _Grading(last, seed)
    kinds = sorted({one.kind for one in over})
    return Record(
        grading.ours(over),
        tuple((kind, found) for kind in kinds if (found := grading.ours([one for one in over if one.kind == kind]))),
        grading.ours([one for one in over if one.made_to_order]),
        grading.ours([one for one in over if not one.made_to_order]),
        tuple(grading.bins(over)),
        grading.spread(over),
        (grading.figures(both, _given), grading.figures(both, _plain)) if both else None,
        len(promises) - len(over),
    )


def _given(one: Promise) -> int:
    return one.day


def _plain(one: Promise) -> int:
    assert one.plain is not None
    return one.plain


@dataclass(frozen=True, slots=True)
class _Grading:
    last: int
    seed: int

    def came(self, one: Promise) -> int:
        """Give the day sent; of an open one the first day that is not known."""
        return self.last + 1 if one.sent is None or one.sent > self.last else one.sent

    def ours(self, promises: Sequence[Promise]) -> Figures | None:
        return self.figures(promises, _given) if promises else None

    def figures(self, promises: Sequence[Promise], rule: Callable[[Promise], int]) -> Figures:
        days = [(rule(one), self.came(one)) for one in promises]
        kept = [came <= day for day, came in days]
        stated = [one.stated for one in promises] if rule is _given else None
        clusters = [one.cluster for one in promises]
        leads = [day - one.asked for one, (day, _) in zip(promises, days, strict=True)]
        loss = fmean(
            record_measures.pinball(one.wanted, *day) for one, day in zip(promises, days, strict=True)
        )  # fmt: skip
        off = [was - said for was, said in zip(kept, stated, strict=True)] if stated else None
        return Figures(
            len(days), sum(kept), len(set(clusters)), self._interval(kept, clusters), fmean(stated) if stated else None,
            self._interval(off, clusters) if off else None, self._missed(days), fmean(leads), float(median(leads)), loss,
        )  # fmt: skip

    def _missed(self, days: Sequence[tuple[int, int]]) -> Missed:
        late = [came - day for day, came in days if came > day]
        early = [day - came for day, came in days if came < day]
        still = sum(came > self.last for _, came in days)
        return Missed(len(late), fmean(late or [0]), max(late, default=0), len(early), fmean(early or [0]), still)

    def _interval(self, values: Sequence[float], clusters: Sequence[str]) -> tuple[float, float] | None:
        """Give the percentile interval of a mean over resampled clusters.

        Source: cluster bootstrap (Davison and Hinkley 1997, from memory); too narrow for fewer than about thirty clusters.
        """
        names = {name: at for at, name in enumerate(dict.fromkeys(clusters))}
        if len(names) < 2:
            return None
        which = [names[name] for name in clusters]
        total, count = np.bincount(which, weights=values), np.bincount(which).astype(np.float64)
        rng, even = streams.stream(self.seed, "clusters"), np.full(len(names), 1 / len(names))
        parts = -(-RESAMPLES * len(names) // MOST_AT_ONCE)
        drawn = (rng.multinomial(len(names), even, size=RESAMPLES // parts) for _ in range(parts))
        means = np.concatenate([(times @ total) / (times @ count) for times in drawn])
        low, high = np.quantile(means, ENDS)
        return float(low), float(high)

    def bins(self, promises: Sequence[Promise]) -> list[Bin]:
        found = []
        for least, most in pairwise(EDGES):
            mine = [one for one in promises if least <= one.stated < most or one.stated == most == EDGES[-1]]
            if mine:
                stated, kept = fmean(one.stated for one in mine), sum(self.came(one) <= one.day for one in mine)
                proof = record_measures.proving(len(mine), stated - POINTS, stated + POINTS)
                found.append(Bin(least, most, len(mine), kept, stated, record_measures.band(len(mine), stated), proof))
        return found

    def spread(self, promises: Sequence[Promise]) -> Spread:
        """Place each day sent on its curve.

        Source: randomised probability integral transform, Czado, Gneiting and Held 2009 (from memory). Days between those of
        the curve, and days after the record, are one part of it, so that the places stay even where the curve is right.
        """
        uniform = streams.stream(self.seed, "places").random(len(promises))
        places = np.zeros(PIT_BINS, dtype=np.int64)
        for one, part in zip(promises, uniform, strict=True):
            low, high = self._part(one)
            places[min(PIT_BINS - 1, int((low + part * (high - low)) * PIT_BINS))] += 1
        enough = len(promises) >= PIT_ENOUGH
        return Spread(tuple(places.tolist()), record_measures.unevenness(places.tolist()) if enough else None)

    def _part(self, one: Promise) -> tuple[float, float]:
        """Give the part of its curve in which the day sent lies."""
        low = 0.0
        for day, share in one.curve:
            if day > self.last:
                break
            if self.came(one) <= day:
                return low, share
            low = share
        return low, 1.0
