"""Which forecast an item gets: the one that missed its own past by least, over the weeks that matter for ordering it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.calc.forecast import methods
from inventory.calc.forecast.methods import YEAR, Array, Index

ORIGINS: Final = 52  # weeks looked back from each of which a forecast is judged
LEAST: Final = 8  # origins below which nothing is chosen. No source
SEASON_WEEKS: Final = 104  # two whole years show a season
_BETTER: Final = 0.90  # a season has to miss by so much less than the best plain one, squared. No source
_REFIT: Final = 13  # weeks after which the season is learned anew while it is judged
_CHUNK: Final = 2_000  # items at a time, so that memory does not grow with the shop
_SEASONAL: Final = (0.05, 0.15)

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

    `error` and `naive_error` are root mean squares, in units, of the demand over the item's horizon; both are None where
    too few weeks are known to judge.
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
        since: first week each item was known.
        horizon: weeks ahead that matter, lead time and review, 1 to 26; forecasts are judged by what came in them.
        season_start: week of the year of the first column, 0 to 51.

    Returns:
        One forecast an item. Judged by the squared error of the sum over the horizon, from up to 52 weeks of the past;
        absolute errors would choose "nothing" for what is seldom asked for. A season needs two whole years and a
        clearly smaller error; fewer than 8 judged weeks get the plain mean. Time and memory are linear in the items.

    Raises:
        ValueError: shapes that do not fit, negative demand, or a horizon out of range.

    Source: rolling-origin evaluation (Tashman, International Journal of Forecasting 16 (2000) 437-450, from memory).
    """
    demand = np.asarray(history)
    known, ahead = np.asarray(since, dtype=np.int64), np.asarray(horizon, dtype=np.int64)
    if demand.ndim != 2 or known.shape != ahead.shape or known.shape != demand.shape[:1]:
        raise ValueError("history is items by weeks, since and horizon one number an item")
    if demand.size and (demand.min() < 0 or ahead.min() < 1 or ahead.max() > 26):
        raise ValueError("demand is 0 or more, a horizon 1 to 26 weeks")
    found: list[Forecast] = []
    for at in range(0, len(demand), _CHUNK):
        part = slice(at, at + _CHUNK)
        found += _chunk(demand[part].astype(np.float64), known[part], ahead[part], season_start)
    return found


def _chunk(demand: Array, since: Index, ahead: Index, start: int) -> list[Forecast]:
    items, weeks = demand.shape
    demand = np.where(np.arange(weeks) >= since[:, None], demand, 0.0)
    came = np.cumsum(np.concatenate([np.zeros((items, 1)), demand], axis=1), axis=1)
    naive, judged = _missed(methods.last_weeks(demand, since, ahead), came, since, ahead)
    best = np.full(items, np.inf)
    level = np.zeros(items)
    name = np.full(items, 0)
    for at, (_, method) in enumerate(PLAIN):
        after = method(demand, since)
        missed, _ = _missed(after, came, since, ahead)
        better = missed < best * (1 - 1e-9)
        best, level = np.where(better, missed, best), np.where(better, after[:, -1], level)
        name = np.where(better, at, name)
    names = [PLAIN[int(one)][0] for one in name]
    weekly = np.repeat(np.nan_to_num(level)[:, None], YEAR, axis=1)
    old = np.flatnonzero((weeks - since >= SEASON_WEEKS) & (judged >= LEAST))
    if len(old):
        _try_season(demand, since, ahead, came, start, old, best, weekly, names)
    few = (judged < LEAST) | ~np.isfinite(best)
    mean = came[:, -1] / np.maximum(weeks - since, 1)
    weekly[few] = mean[few][:, None]
    events = (demand > 0).sum(axis=1)
    return [
        Forecast(
            NOTHING if not events[at] else FEW if few[at] else names[at],
            tuple(float(one) for one in weekly[at]),
            None if few[at] else float(np.sqrt(best[at])),
            None if few[at] else float(np.sqrt(naive[at])),
            int(weeks - since[at]),
            int(events[at]),
        )
        for at in range(items)
    ]


def _missed(after: Array, came: Array, since: Index, ahead: Index) -> tuple[Array, Index]:
    """Return the mean squared error of the sums over the horizon, and over how many origins."""
    items, weeks = after.shape
    row = np.arange(items)
    total, many = np.zeros(items), np.zeros(items, dtype=np.int64)
    for back in range(ORIGINS):
        at = weeks - 1 - ahead - back  # the week after which it is forecast
        counts = at >= since
        safe = np.maximum(at, 0)
        told = after[row, safe] * ahead
        there = came[row, np.minimum(safe + 1 + ahead, weeks)] - came[row, safe + 1]
        told = np.where(np.isnan(told), 0.0, told)  # before the first demand nothing is forecast
        total += np.where(counts, (told - there) ** 2, 0.0)
        many += counts
    return np.where(many > 0, total / np.maximum(many, 1), np.inf), many


def _try_season(
    demand: Array, since: Index, ahead: Index, came: Array, start: int, old: Index, best: Array, weekly: Array,
    names: list[str],
) -> None:  # fmt: skip
    """Take the season for the items that it serves clearly better; it is learned only from weeks before each origin."""
    weeks = demand.shape[1]
    y, known, far = demand[old], since[old], ahead[old]
    row = np.arange(len(old))
    for alpha in _SEASONAL:
        total, many = np.zeros(len(old)), np.zeros(len(old))
        for first in range(0, ORIGINS, _REFIT):
            until = weeks - int(far.max()) - first - _REFIT  # weeks that every origin of this part has behind it
            if until < YEAR:
                continue
            index = methods.season(y[:, :until], known, start=start)
            factor = index[:, (start + np.arange(weeks)) % YEAR]
            summed = np.cumsum(np.concatenate([np.zeros((len(old), 1)), factor], axis=1), axis=1)
            level = methods.smoothing(y / np.maximum(factor, 0.05), known, alpha=alpha)
            for back in range(first, first + _REFIT):
                at = weeks - 1 - far - back
                counts = at >= known
                safe = np.maximum(at, 0)
                told = level[row, safe] * (summed[row, safe + 1 + far] - summed[row, safe + 1])
                there = came[old, safe + 1 + far] - came[old, safe + 1]
                total += np.where(counts, (told - there) ** 2, 0.0)
                many += counts
        missed = np.where(many >= LEAST, total / np.maximum(many, 1), np.inf)
        index = methods.season(y, known, start=start)
        factor = index[:, (start + np.arange(weeks)) % YEAR]
        level = methods.smoothing(y / np.maximum(factor, 0.05), known, alpha=alpha)[:, -1]
        coming = level[:, None] * index[:, (start + weeks + np.arange(YEAR)) % YEAR]
        for at, item in enumerate(old):
            bar = best[item] if names[item].startswith("season") else best[item] * _BETTER
            if missed[at] < bar:
                best[item], names[item] = missed[at], f"season, smoothing {alpha:g}"
                weekly[item] = coming[at]
