"""Items of known kinds are forecast better than by taking the last weeks again, in weeks that no choice has seen."""

import numpy as np
import pytest

from inventory.calc.forecast.choosing import FEW, NOTHING, forecasts

ITEMS, SEEN, COMING = 200, 156, 26
WEEK = np.arange(SEEN + COMING)


def steady(rng):
    return rng.poisson(rng.uniform(3, 30, (ITEMS, 1)) * np.ones(WEEK.size))


def slow(rng):
    return rng.poisson(rng.uniform(0.05, 0.5, (ITEMS, 1)) * np.ones(WEEK.size))


def lumpy(rng):
    return np.where(rng.random((ITEMS, WEEK.size)) < 0.2, rng.geometric(0.15, (ITEMS, WEEK.size)), 0)


def seasonal(rng):
    shift = rng.integers(0, 52, (ITEMS, 1))
    return rng.poisson(rng.uniform(3, 15, (ITEMS, 1)) * (1 + 0.8 * np.sin(2 * np.pi * (WEEK + shift) / 52)))


def trending(rng):
    return rng.poisson(rng.uniform(5, 15, (ITEMS, 1)) * (1 + rng.uniform(0.3, 1.5, (ITEMS, 1)) * WEEK / SEEN))


def judged(weekly, rng):
    """Return squared errors over the item's horizon, by its scale: of the choice, of the last weeks, of the plain mean."""
    horizon = rng.integers(2, 14, ITEMS)
    found = forecasts(weekly[:, :SEEN], since=np.zeros(ITEMS, int), horizon=horizon, season_start=9)
    rows = []
    for one, came, ahead in zip(found, weekly, horizon, strict=True):
        real = came[SEEN : SEEN + ahead].sum()
        scale = max(came[:SEEN].mean() * ahead, 0.1)
        told = (sum(one.per_week[:ahead]), came[SEEN - ahead : SEEN].sum(), came[:SEEN].mean() * ahead)
        rows.append([(each - real) ** 2 / scale for each in told])
    return found, np.mean(rows, axis=0)


@pytest.mark.parametrize(
    ("kind", "share"), [(steady, 0.8), (slow, 0.8), (lumpy, 0.7), (seasonal, 0.25), (trending, 0.97)]
)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_choice_misses_by_less_than_the_last_weeks_again(kind, share, seed):
    """In squared error. With few weeks in a trend the last weeks are themselves good, so little can be gained there."""
    rng = np.random.default_rng(seed)
    found, (chosen, naive, _) = judged(kind(rng), rng)
    assert chosen < share * naive
    assert all(one.method != FEW for one in found)
    assert sum(one.error <= one.naive_error for one in found if one.method != NOTHING) > 0.9 * ITEMS


@pytest.mark.parametrize(("kind", "share"), [(seasonal, 0.3), (trending, 0.5)])
def test_what_changes_is_forecast_better_than_by_its_mean(kind, share):
    rng = np.random.default_rng(11)
    _, (chosen, _, mean) = judged(kind(rng), rng)
    assert chosen < share * mean


def test_a_season_is_found_where_there_is_one_and_seldom_elsewhere():
    rng = np.random.default_rng(12)
    share = {}
    for kind in (seasonal, steady, slow, lumpy):
        found, _ = judged(kind(rng), rng)
        share[kind.__name__] = np.mean(["season" in one.method for one in found])
    assert share["seasonal"] > 0.95
    assert max(share["steady"], share["slow"], share["lumpy"]) < 0.15


def test_a_trend_is_found_where_there_is_one_and_seldom_elsewhere():
    rng = np.random.default_rng(13)
    share = {}
    for kind in (trending, steady, slow, lumpy):
        found, _ = judged(kind(rng), rng)
        share[kind.__name__] = np.mean(["trend" in one.method for one in found])
    assert share["trending"] > 0.5
    assert max(share["steady"], share["slow"], share["lumpy"]) < 0.15


def test_squares_do_not_choose_nothing_for_what_is_seldom_asked_for():
    """Three weeks in four take nothing, so nothing is the forecast of least absolute error for a week: it is not given."""
    rng = np.random.default_rng(14)
    weekly = rng.poisson(0.25, (ITEMS, SEEN))
    found = forecasts(weekly, since=np.zeros(ITEMS, int), horizon=np.ones(ITEMS, int), season_start=0)
    told = np.array([one.per_week[0] for one in found])
    assert np.abs(weekly).mean() < np.abs(weekly - 0.25).mean()
    assert told.min() > 0
    assert told.mean() == pytest.approx(0.25, rel=0.15)
