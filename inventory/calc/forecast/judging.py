"""What forecasts of the past missed by: the demand of the weeks that matter, as told before and as it came."""

from typing import Final

import numpy as np
import numpy.typing as npt

from inventory.calc.forecast.methods import Array, Index

Flags = npt.NDArray[np.bool_]
ORIGINS: Final = 52  # weeks looked back from each of which a forecast is judged
HORIZON_MOST: Final = 26


def running(demand: Array) -> Array:
    """Return running totals with a column of 0 before the first: the sum of weeks a to b-1 is [b] - [a]."""
    return np.cumsum(np.concatenate([np.zeros((len(demand), 1)), demand], axis=1), axis=1)


def origins(weeks: int, since: Index, ahead: Index) -> tuple[Index, Flags]:
    """Return the last week known at each origin, items by 52 and the latest first, and whether the item was known then.

    The latest origin lies so far back that all weeks of its horizon have come.
    """
    at = weeks - 1 - ahead[:, None] - np.arange(ORIGINS)
    return np.maximum(at, 0), at >= since[:, None]


def after(told: Array, at: Index) -> Array:
    """Return what was told at each origin; nothing where no week is known."""
    if not told.shape[1]:
        return np.full(at.shape, np.nan)
    return np.take_along_axis(told, at, axis=1)


def came(total: Array, at: Index, ahead: Index) -> Array:
    """Return the demand of the horizon after each origin, of running totals."""
    weeks = total.shape[1] - 1
    first = np.minimum(at + 1, weeks)
    last = np.minimum(first + ahead[:, None], weeks)
    return np.take_along_axis(total, last, axis=1) - np.take_along_axis(total, first, axis=1)


def squares(told: Array, there: Array, counts: Flags) -> Array:
    """Return the squared error at each origin, NaN where there is none. What was not defined yet told nothing, 0."""
    return np.where(counts, (np.nan_to_num(told) - there) ** 2, np.nan)


def mean(squared: Array) -> Array:
    """Return the mean over an item's origins; infinite where it has none."""
    many = (~np.isnan(squared)).sum(axis=1)
    return np.where(many > 0, np.nansum(squared, axis=1) / np.maximum(many, 1), np.inf)
