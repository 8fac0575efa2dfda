"""Forecasts of one week's demand after each week, for many items at once.

Every function takes demand as an array of items by weeks and `since`, the first week in which each item was known, and
returns the mean of a coming week as it would have been forecast after each week; NaN where that is not defined yet.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.int64]
YEAR: Final = 52  # weeks of the season's round; the 53rd of a long year counts as the first of the next
DAMPED: Final = 0.99  # of a week's change carries on into the next. No source: a year on, three fifths are left
_WINDOW: Final = 2  # weeks to either side that a week's season is read from
_BELIEVED: Final = 4.0  # sales' worth of believing that there is no season. No source


def size_and_interval(demand: Array, since: Index, *, alpha: float, beta: float | None = None) -> tuple[Array, Array]:
    """Return Croston's two averages after each week: the size of a demand, and the weeks from one to the next.

    Args:
        demand: items by weeks, 0 or more.
        since: first week of each item.
        alpha: smoothing of the size, 0 to 1.
        beta: smoothing of the interval; alpha without it.

    Returns:
        Both items by weeks. They start with the first size and the first interval, counted from the item's first week,
        change only in weeks with demand, and are not defined before the first.

    Source: Croston, Operational Research Quarterly 23 (1972) 289-303 (from memory); start as R's forecast::croston.
    """
    gap = alpha if beta is None else beta
    items, weeks = demand.shape
    size, interval = np.full(items, np.nan), np.full(items, np.nan)
    waited = np.zeros(items)
    sizes, intervals = np.empty_like(demand), np.empty_like(demand)
    for week in range(weeks):
        known = since <= week
        waited = np.where(known, waited + 1, 0)
        now = demand[:, week]
        some = known & (now > 0)
        first = some & np.isnan(size)
        later = some & ~first
        size = np.where(first, now, np.where(later, alpha * now + (1 - alpha) * size, size))
        interval = np.where(first, waited, np.where(later, gap * waited + (1 - gap) * interval, interval))
        waited = np.where(some, 0, waited)
        sizes[:, week], intervals[:, week] = size, interval
    return sizes, intervals


def croston(demand: Array, since: Index, *, alpha: float, beta: float | None = None, factor: float = 1.0) -> Array:
    """Return Croston's forecast: size over interval, both smoothed only when there is demand.

    Args:
        demand: items by weeks, 0 or more.
        since: first week of each item.
        alpha: smoothing of the size, 0 to 1.
        beta: smoothing of the interval; alpha without it.
        factor: 1 for Croston's own; see `sba_factor` and `sbj_factor`, which take the smoothing of the interval.

    Returns:
        Items by weeks, not defined before the first demand. It does not fall while nothing is asked for.
    """
    sizes, intervals = size_and_interval(demand, since, alpha=alpha, beta=beta)
    return factor * sizes / intervals


def sba_factor(beta: float) -> float:
    """Return what Croston's forecast is multiplied by to be without bias, by the smoothing of the interval.

    Source: Syntetos & Boylan, International Journal of Forecasting 21 (2005) 303-314 (from memory).
    """
    return 1 - beta / 2


def sbj_factor(beta: float) -> float:
    """Return the factor of Shale, Boylan and Johnston, for demand that comes as a Poisson stream.

    Source: Shale, Boylan & Johnston, Journal of the Operational Research Society 57 (2006) 588-592 (from memory).
    """
    return 1 - beta / (2 - beta)


def tsb(
    demand: Array,
    since: Index,
    *,
    alpha: float,
    beta: float,
    start_size: float | None = None,
    start_chance: float | None = None,
) -> Array:
    """Return the forecast of Teunter, Syntetos and Babai: the chance of demand is smoothed every week, so it fades.

    Args:
        demand: items by weeks, 0 or more.
        since: first week of each item.
        alpha: smoothing of the size, 0 to 1.
        beta: smoothing of the chance, 0 to 1.
        start_size: what the size starts with; the first size without it.
        start_chance: what the chance starts with, before the first week; without it the first week's own indicator.

    Returns:
        Items by weeks; not defined before the first demand, unless a size to start with is given. Libraries start it
        differently: with the first size and the first week's indicator, or with the averages of a first stretch.

    Source: Teunter, Syntetos & Babai, European Journal of Operational Research 214 (2011) 606-615 (from memory).
    """
    items, weeks = demand.shape
    size = np.full(items, np.nan if start_size is None else start_size)
    chance = np.full(items, np.nan if start_chance is None else start_chance)
    found = np.empty_like(demand)
    asked = np.zeros(items, dtype=np.bool_)
    if start_size is None:
        size = first_size(demand, since)
    else:
        asked[:] = True
    for week in range(weeks):
        known = since <= week
        now = demand[:, week]
        some = known & (now > 0)
        begun = known & np.isnan(chance)
        fresh = np.where(some, 1.0, 0.0)
        chance = np.where(begun, fresh, np.where(known, chance + beta * (fresh - chance), chance))
        size = np.where(some, size + alpha * (now - size), size)
        asked |= some
        found[:, week] = np.where(known & asked, chance * size, np.nan)
    return found


def first_size(demand: Array, since: Index) -> Array:
    """Return the first demand of each item since it was known; NaN where there was none."""
    some = (demand > 0) & (np.arange(demand.shape[1]) >= since[:, None])
    at = some.argmax(axis=1)
    size = demand[np.arange(len(demand)), at]
    return np.where(some.any(axis=1), size, np.nan)


def smoothing(demand: Array, since: Index, *, alpha: float) -> Array:
    """Return simple exponential smoothing. It starts as the plain mean and becomes smoothing as soon as that weighs less.

    Source: simple exponential smoothing (any textbook); the start is the mean of what is known, so that an item of few
    weeks is not held to its first.
    """
    level = np.full(len(demand), np.nan)
    seen = np.zeros(len(demand))
    found = np.empty_like(demand)
    for week in range(demand.shape[1]):
        known = since <= week
        seen = np.where(known, seen + 1, seen)
        weight = np.maximum(alpha, 1 / np.maximum(seen, 1))
        level = np.where(
            known, np.where(np.isnan(level), demand[:, week], level + weight * (demand[:, week] - level)), level
        )
        found[:, week] = level
    return found


def trend(demand: Array, since: Index, *, alpha: float, beta: float) -> tuple[Array, Array]:
    """Return the level and the change a week of a trend that dies away, after each week; see `growth` for what follows.

    Args:
        demand: items by weeks, 0 or more.
        since: first week of each item.
        alpha: smoothing of the level, 0 to 1; it starts as the plain mean, as in `smoothing`.
        beta: smoothing of the change, 0 to 1; it starts with none.

    Source: damped trend, Gardner & McKenzie, Management Science 31 (1985) 1237-1246 (from memory).
    """
    items = len(demand)
    level, change, seen = np.full(items, np.nan), np.zeros(items), np.zeros(items)
    levels, changes = np.empty_like(demand), np.zeros_like(demand)
    for week in range(demand.shape[1]):
        known = since <= week
        seen = np.where(known, seen + 1, seen)
        weight = np.maximum(alpha, 1 / np.maximum(seen, 1))
        before = np.where(np.isnan(level), demand[:, week], level + DAMPED * change)
        fresh = np.where(known, before + weight * (demand[:, week] - before), np.nan)
        moved = np.where(np.isnan(level), 0.0, fresh - level)
        change = np.where(known, beta * moved + (1 - beta) * DAMPED * change, 0.0)
        level = fresh
        levels[:, week], changes[:, week] = level, change
    return levels, changes


def growth(many: int) -> Array:
    """Return by how many of its first week's changes each coming week lies above the level, one to so many weeks on."""
    return np.cumsum(DAMPED ** np.arange(1, many + 1))


def last_weeks(demand: Array, since: Index, many: Index) -> Array:
    """Return the mean of the last weeks, so many for each item and fewer where it is younger: the naive forecast."""
    total = np.cumsum(np.concatenate([np.zeros((len(demand), 1)), demand], axis=1), axis=1)
    week = np.arange(1, demand.shape[1] + 1)
    begins = np.maximum(since[:, None], week - many[:, None])
    counted = week - begins
    sums = total[:, 1:] - np.take_along_axis(total, np.minimum(begins, demand.shape[1]), axis=1)
    return np.where(counted > 0, sums / np.maximum(counted, 1), np.nan)


def season(demand: Array, since: Index, *, start: int) -> Array:
    """Return what each week of the year is worth, items by 52, 1 on the average.

    Args:
        demand: items by weeks.
        since: first week of each item.
        start: week of the year of the first column, 0 to 51.

    A week is read with the two to either side, in all years together, and is drawn towards 1 by a few sales' worth, so
    that a handful of sales is no season.

    Source: ratio to the mean with shrinkage; no source for the window and the weight.
    """
    items, weeks = demand.shape
    known = np.arange(weeks) >= since[:, None]
    sold = np.where(known, demand, 0.0)
    of_year = (start + np.arange(weeks)) % YEAR
    came, stood = np.zeros((items, YEAR)), np.zeros((items, YEAR))
    for week in range(YEAR):
        columns = of_year == week
        came[:, week] = sold[:, columns].sum(axis=1)
        stood[:, week] = known[:, columns].sum(axis=1)
    shifts = range(-_WINDOW, _WINDOW + 1)
    came = sum((np.roll(came, by, axis=1) for by in shifts), np.zeros_like(came))
    stood = sum((np.roll(stood, by, axis=1) for by in shifts), np.zeros_like(stood))
    mean = sold.sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    some = (sold > 0).sum(axis=1)
    sale = sold.sum(axis=1) / np.maximum(some, 1)
    belief = (_BELIEVED * sale)[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        found = (came + belief) / (stood * mean[:, None] + belief)
    found = np.where(np.isfinite(found), found, 1.0)
    return np.asarray(found / found.mean(axis=1, keepdims=True))
