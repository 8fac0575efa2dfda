"""Which forecast an item gets: the one that missed its own past by least, over the weeks that matter for ordering it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.calc.forecast import judging, methods
from inventory.calc.forecast.judging import HORIZON_MOST, ORIGINS
from inventory.calc.forecast.methods import YEAR, Array, Index

LEAST: Final = 8  # origins below which nothing is chosen. No source
SEASON_WEEKS: Final = 104  # two whole years show a season
_BETTER: Final = 0.90  # a season misses by so much less than the best plain one, squared. No source
_CLEARER: Final = 0.95  # the same of a trend. No source
_REFIT: Final = 13  # weeks after which the season is learned anew while it is judged
_CHUNK: Final = 2_000  # items at a time, so that memory does not grow with the shop
_SEASONAL: Final = (0.05, 0.15)
_TRENDS: Final = ((0.05, 0.02), (0.1, 0.02))

_Method = Callable[[Array, Index], Array]
PLAIN: Final[Sequence[tuple[str, _Method]]] = (
    ("smoothing 0.1", lambda y, s: methods.smoothing(y, s, alpha=0.1)),
    ("mean", lambda y, s: methods.smoothing(y, s, alpha=0.0)),
    ("smoothing 0.2", lambda y, s: methods.smoothing(y, s, alpha=0.2)),
    ("smoothing 0.4", lambda y, s: methods.smoothing(y, s, alpha=0.4)),
    ("SBA 0.1", lambda y, s: methods.croston(y, s, alpha=0.1, factor=methods.sba_factor(0.1))),
    ("SBA 0.2", lambda y, s: methods.croston(y, s, alpha=0.2, factor=methods.sba_factor(0.2))),
    ("Croston 0.1", lambda y, s: methods.croston(y, s, alpha=0.1)),
    ("TSB 0.1 0.05", lambda y, s: methods.tsb(y, s, alpha=0.1, beta=0.05)),
    ("TSB 0.2 0.1", lambda y, s: methods.tsb(y, s, alpha=0.2, beta=0.1)),
)
DEFAULT: Final = "mean"
FEW: Final = "mean of few weeks"
NOTHING: Final = "nothing asked for"


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is likely to be asked for in each of the coming 52 weeks, in the item's unit, and how that was chosen.

    `error` and `naive_error` are root mean squares, in units, of the demand over the item's horizon, from the same weeks
    of the past; both are None where too few weeks are known to judge.
    """

    method: str
    per_week: tuple[float, ...]
    error: float | None
    naive_error: float | None
    weeks: int
    events: int

    @property
    def per_day(self) -> float:
        """Return the mean of a day over the coming 13 weeks, units."""
        return sum(self.per_week[:13]) / 91


def forecasts(
    history: npt.ArrayLike, *, since: npt.ArrayLike, horizon: npt.ArrayLike, season_start: int
) -> list[Forecast]:
    """Choose and make a forecast for each item.

    Args:
        history: items by weeks, units asked for, 0 or more; the last column is the week that ended last.
        since: first week each item was known; what stands before it is not read.
        horizon: weeks ahead that matter, lead time and review, 1 to 26; forecasts are judged by what came in them.
        season_start: week of the year of the first column, 0 to 51.

    Returns:
        One forecast an item, the same whatever items it is asked with. Judged by the squared error of the sum over the
        horizon, from up to 52 weeks of the past; absolute errors would choose "nothing" for what is seldom asked for.
        A trend needs a clearly smaller error and a year known, a season two whole years; fewer than 8 judged weeks get the
        plain mean. Time and memory are linear in the items.

    Raises:
        ValueError: shapes that do not fit, negative demand, a horizon or a first week out of range.

    Source: rolling-origin evaluation (Tashman, International Journal of Forecasting 16 (2000) 437-450, from memory).
    """
    demand = np.asarray(history)
    known, ahead = np.asarray(since, dtype=np.int64), np.asarray(horizon, dtype=np.int64)
    if demand.ndim != 2 or known.shape != ahead.shape or known.shape != demand.shape[:1]:
        raise ValueError("history is items by weeks, since and horizon one number an item")
    if demand.size and (not demand.min() >= 0 or ahead.min() < 1 or ahead.max() > HORIZON_MOST):
        raise ValueError("demand is 0 or more, a horizon 1 to 26 weeks")
    if demand.size and (known.min() < 0 or known.max() > demand.shape[1]):
        raise ValueError("the first week is one of the columns, or the one after the last")
    found: list[Forecast] = []
    for at in range(0, len(demand), _CHUNK):
        part = slice(at, at + _CHUNK)
        found += _Chunk(demand[part].astype(np.float64), known[part], ahead[part], season_start).chosen()
    return found


class _Chunk:
    """Some items at once, and the best found for each so far."""

    def __init__(self, demand: Array, since: Index, ahead: Index, start: int) -> None:
        items, self.weeks = demand.shape
        self.demand: Array = np.where(np.arange(self.weeks) >= since[:, None], demand, 0.0)
        self.since, self.ahead, self.start = since, ahead, start
        self.total = judging.running(self.demand)
        self.at, self.counts = judging.origins(self.weeks, since, ahead)
        self.there = judging.came(self.total, self.at, ahead)
        self.naive = self._missed(methods.last_weeks(self.demand, since, ahead))
        self.judged = self.counts.sum(axis=1)
        self.best = np.full((items, ORIGINS), np.nan)
        self.weekly = np.zeros((items, YEAR))
        self.names = np.full(items, DEFAULT, dtype=object)

    def _missed(self, told: Array) -> Array:
        """Return the squares of a forecast that is the same for every coming week."""
        return judging.squares(judging.after(told, self.at) * self.ahead[:, None], self.there, self.counts)

    def chosen(self) -> list[Forecast]:
        """Try everything, each kind where it may be, and give the best."""
        if self.weeks:
            self._plain()
            self._trends()
            old = np.flatnonzero(self.weeks - self.since >= SEASON_WEEKS)
            if len(old):
                self._seasons(old)
        known = np.maximum(self.weeks - self.since, 1)
        few = self.judged < LEAST
        self.weekly[few] = (self.total[:, -1] / known)[few][:, None]
        error = np.sqrt(judging.mean(self.best))
        naive = np.sqrt(judging.mean(np.where(np.isnan(self.best), np.nan, self.naive)))
        events = (self.demand > 0).sum(axis=1)
        return [
            Forecast(
                NOTHING if not events[item] else FEW if few[item] else str(self.names[item]),
                tuple(self.weekly[item].tolist()),
                None if few[item] else float(error[item]),
                None if few[item] else float(naive[item]),
                int(self.weeks - self.since[item]),
                int(events[item]),
            )
            for item in range(len(self.demand))
        ]

    def _plain(self) -> None:
        best = np.full(len(self.demand), np.inf)
        for name, method in PLAIN:
            told = method(self.demand, self.since)
            missed = self._missed(told)
            error = judging.mean(missed)
            better = error < best * (1 - 1e-9)
            best[better] = error[better]
            self._take(better, name, missed, np.repeat(np.nan_to_num(told[:, -1:]), YEAR, axis=1))

    def _trends(self) -> None:
        steps = methods.growth(YEAR)
        ahead = np.cumsum(steps)[self.ahead - 1][:, None]
        bar = judging.mean(self.best) * _CLEARER
        for alpha, beta in _TRENDS:
            level, change = methods.trend(self.demand, self.since, alpha=alpha, beta=beta)
            told = judging.after(level, self.at) * self.ahead[:, None] + judging.after(change, self.at) * ahead
            missed = judging.squares(np.maximum(told, 0.0), self.there, self.counts)
            error = judging.mean(missed)
            better = (error < bar) & (self.weeks - self.since >= YEAR)
            bar[better] = error[better]
            coming = np.maximum(np.nan_to_num(level[:, -1:]) + change[:, -1:] * steps, 0.0)
            self._take(better, f"trend, smoothing {alpha:g}", missed, coming)

    def _seasons(self, old: Index) -> None:
        """Take the season for the items it serves clearly better, judged from the same weeks of the past."""
        y, known = self.demand[old], self.since[old]
        squared = {alpha: np.full((len(old), ORIGINS), np.nan) for alpha in _SEASONAL}
        for first in range(0, ORIGINS, _REFIT):
            until = self.weeks - HORIZON_MOST - first - _REFIT  # weeks that every origin of this part has behind it
            if until < YEAR:
                break
            index = methods.season(y[:, :until], known, start=self.start)
            part = slice(first, first + _REFIT)
            counts = self.counts[old, part] & (until - known >= YEAR)[:, None]
            for alpha in _SEASONAL:
                told, _ = self._told(old, index, alpha)
                squared[alpha][:, part] = judging.squares(told[:, part], self.there[old, part], counts)
        index = methods.season(y, known, start=self.start)
        bar = np.full(len(old), np.nan)
        for alpha, missed in squared.items():
            judged = ~np.isnan(missed)
            plain = judging.mean(np.where(judged, self.best[old], np.nan)) * _BETTER
            bar = np.where(np.isnan(bar), plain, bar)
            error = judging.mean(missed)
            better = np.zeros(len(self.demand), dtype=np.bool_)
            better[old] = (judged.sum(axis=1) >= LEAST) & (error < bar)
            bar[better[old]] = error[better[old]]
            every, coming = np.full_like(self.best, np.nan), np.zeros_like(self.weekly)
            every[old] = missed
            coming[old] = self._told(old, index, alpha)[1]
            self._take(better, f"season, smoothing {alpha:g}", every, coming)

    def _told(self, old: Index, index: Array, alpha: float) -> tuple[Array, Array]:
        """Return what a season and a level tell of the horizon after each origin, and of each week of the coming year.

        The level is smoothed demand over the season smoothed alike: a week of little season cannot blow it up.
        """
        factor = index[:, (self.start + np.arange(self.weeks)) % YEAR]
        known = self.since[old]
        level = methods.smoothing(self.demand[old], known, alpha=alpha)
        level /= np.maximum(methods.smoothing(factor, known, alpha=alpha), 0.05)
        told = judging.after(level, self.at[old]) * judging.came(judging.running(factor), self.at[old], self.ahead[old])
        return told, level[:, -1:] * index[:, (self.start + self.weeks + np.arange(YEAR)) % YEAR]

    def _take(self, better: npt.NDArray[np.bool_], name: str, missed: Array, coming: Array) -> None:
        self.best[better] = missed[better]
        self.weekly[better] = coming[better]
        self.names[better] = name
