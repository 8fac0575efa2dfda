"""Forecasts by week: what must hold of every method and of the choice between them, whatever was asked for."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from inventory.calc.forecast import choosing, methods
from inventory.calc.forecast.choosing import forecasts

WEEKLY = arrays.arrays(
    np.float64,
    st.tuples(st.integers(1, 4), st.sampled_from([1, 7, 30, 70, 110])),
    elements=st.sampled_from([0.0, 0.0, 0.0, 1.0, 2.0, 5.0, 40.0]),
)
METHODS = [
    *choosing.PLAIN,
    ("SBJ", lambda y, s: methods.croston(y, s, alpha=0.1, factor=methods.sbj_factor(0.1))),
    ("trend", lambda y, s: sum(methods.trend(y, s, alpha=0.1, beta=0.05))),
    ("last weeks", lambda y, s: methods.last_weeks(y, s, np.full(len(y), 4))),
]


def chosen(history, since=0, horizon=4, start=0):
    """Return the forecasts of items that are all known as long and look as far ahead."""
    history = np.asarray(history, dtype=float)
    many = len(history)
    return forecasts(history, since=np.full(many, since), horizon=np.full(many, horizon), season_start=start)


def alike(one, other, times=1.0):
    """Two forecasts of the same method whose figures differ by a factor only."""
    assert (one.method, one.weeks, one.events) == (other.method, other.weeks, other.events)
    assert np.allclose(np.array(one.per_week) * times, other.per_week)
    assert (one.error is None) == (other.error is None)
    if one.error is not None:
        assert np.allclose([one.error * times, one.naive_error * times], [other.error, other.naive_error])


@pytest.mark.parametrize("method", [one for _, one in METHODS], ids=[name for name, _ in METHODS])
@given(weekly=WEEKLY, times=st.sampled_from([0.5, 4.0, 1024.0]))
@settings(max_examples=25)
def test_twice_the_demand_is_twice_the_forecast(method, weekly, times):
    since = np.zeros(len(weekly), dtype=np.int64)
    assert np.allclose(method(weekly * times, since), method(weekly, since) * times, equal_nan=True)


@pytest.mark.parametrize("method", [one for _, one in METHODS], ids=[name for name, _ in METHODS])
@given(weekly=WEEKLY, cut=st.integers(1, 109))
@settings(max_examples=25)
def test_no_method_looks_ahead(method, weekly, cut):
    since = np.zeros(len(weekly), dtype=np.int64)
    assert np.allclose(method(weekly[:, :cut], since), method(weekly, since)[:, :cut], equal_nan=True)


@given(weekly=WEEKLY, before=st.integers(1, 30))
@settings(max_examples=25)
def test_weeks_before_an_item_was_known_count_for_nothing(weekly, before):
    noise = np.full((len(weekly), before), 99.0)
    longer = chosen(np.concatenate([noise, weekly], axis=1), since=before, start=3)
    for one, other in zip(chosen(weekly, start=3 + before), longer, strict=True):
        alike(one, other)


@given(weekly=WEEKLY, horizon=st.integers(1, 26), times=st.sampled_from([0.25, 8.0]))
@settings(max_examples=25)
def test_another_unit_changes_the_figures_and_not_the_choice(weekly, horizon, times):
    for one, other in zip(chosen(weekly, 0, horizon), chosen(weekly * times, 0, horizon), strict=True):
        alike(one, other, times)


@given(weekly=WEEKLY, data=st.data())
@settings(max_examples=25)
def test_together_they_are_forecast_as_one_by_one(weekly, data):
    many, weeks = weekly.shape
    since = np.array([data.draw(st.integers(0, weeks)) for _ in range(many)])
    ahead = np.array([data.draw(st.integers(1, 26)) for _ in range(many)])
    together = forecasts(weekly, since=since, horizon=ahead, season_start=7)
    for at, one in enumerate(together):
        part = slice(at, at + 1)
        assert forecasts(weekly[part], since=since[part], horizon=ahead[part], season_start=7) == [one]


def test_a_season_does_not_hang_on_the_neighbours_horizon():
    """Refits lay where the longest horizon of the chunk put them: most seasonal items changed with their neighbours."""
    rng = np.random.default_rng(3)
    week = np.arange(130)
    weekly = rng.poisson(8 * (1 + 0.8 * np.sin(2 * np.pi * (week + rng.integers(0, 52, (40, 1))) / 52))).astype(float)
    ahead = rng.integers(2, 14, 40)
    together = forecasts(weekly, since=np.zeros(40, int), horizon=ahead, season_start=3)
    assert sum("season" in one.method for one in together) > 20
    for at, one in enumerate(together):
        assert chosen(weekly[at : at + 1], horizon=ahead[at], start=3) == [one]


def test_a_chunk_ends_without_a_seam(monkeypatch):
    weekly = np.random.default_rng(4).poisson(0.7, (23, 120)).astype(np.float32)
    whole = chosen(weekly)
    monkeypatch.setattr(choosing, "_CHUNK", 5)
    assert chosen(weekly) == whole


@given(weekly=WEEKLY, horizon=st.integers(1, 26))
@settings(max_examples=25)
def test_figures_are_finite_and_never_below_nothing(weekly, horizon):
    for one in chosen(weekly, 0, horizon):
        assert len(one.per_week) == 52
        assert np.isfinite(one.per_week).all()
        assert min(one.per_week) >= 0
        assert (one.error is None) == (one.naive_error is None)
        assert one.method == choosing.NOTHING or (one.error is None) == (one.method == choosing.FEW)
        assert (one.method == choosing.NOTHING) == (one.events == 0)


@pytest.mark.parametrize("weeks", [1, 20, 156])
def test_what_was_never_asked_for_is_forecast_as_nothing(weeks):
    (one,) = chosen(np.zeros((1, weeks)))
    assert (one.method, one.per_week, one.events) == (choosing.NOTHING, (0.0,) * 52, 0)


def test_no_weeks_and_no_items():
    assert chosen(np.zeros((0, 20))) == []
    (one,) = chosen(np.zeros((1, 0)))
    assert (one.method, one.weeks, sum(one.per_week)) == (choosing.NOTHING, 0, 0)


def test_few_weeks_get_their_plain_mean_and_no_error_is_stated():
    """Horizon 4: 11 weeks give 7 origins, one less than it takes; 12 are judged."""
    (few,) = chosen([[0, 3, 0, 0, 6, 0, 0, 0, 2, 0, 0]])
    assert (few.method, few.error, few.naive_error, few.weeks, few.events) == (choosing.FEW, None, None, 11, 3)
    assert few.per_week == pytest.approx([1.0] * 52)
    (enough,) = chosen([[0, 3, 0, 0, 6, 0, 0, 0, 2, 0, 0, 1]])
    assert enough.method != choosing.FEW
    assert enough.error is not None


def test_errors_are_of_the_horizons_demand_by_hand(monkeypatch):
    """Demand 0 2 0 2 ..., horizon 2: any two weeks take 2. The last two told 2, no error; the mean told 2m, m by hand."""
    weekly = np.array([[0.0, 2.0] * 8])
    monkeypatch.setattr(choosing, "PLAIN", tuple(one for one in choosing.PLAIN if one[0] == "mean"))
    (one,) = chosen(weekly, horizon=2)
    means = np.cumsum(weekly[0]) / np.arange(1, 17)
    squares = [(2 * means[at] - 2) ** 2 for at in range(14)]
    assert one.error == pytest.approx(np.mean(squares) ** 0.5)
    assert one.naive_error == pytest.approx((4 / 14) ** 0.5)  # after the first week alone it told 0


def test_an_item_that_nobody_asks_for_any_more_fades():
    weekly = np.zeros((1, 156))
    weekly[0, :90:3] = 5
    (one,) = chosen(weekly)
    assert max(one.per_week) < 0.05


def wave(years, level=20, depth=0.8):
    """Return weeks of an item that follows the year, without chance."""
    week = np.arange(round(52 * years))
    return level * (1 + depth * np.sin(2 * np.pi * week / 52))


def test_a_season_takes_two_whole_years():
    weekly = wave(2)
    (short,), (long,) = chosen(weekly[None, :103]), chosen(weekly[None, :104])
    assert "season" not in short.method
    assert long.method.startswith("season")


def test_a_season_is_told_in_its_weeks():
    (one,) = chosen(wave(3)[None, :130], start=10)
    coming = wave(4)[130:182]
    assert one.method.startswith("season")
    assert np.corrcoef(one.per_week, coming)[0, 1] > 0.98
    assert abs(sum(one.per_week) - coming.sum()) < 0.1 * coming.sum()


@given(seed=st.integers(0, 10_000))
@settings(max_examples=15)
def test_a_handful_of_sales_is_no_season(seed):
    rng = np.random.default_rng(seed)
    weekly = np.zeros((1, 156))
    weekly[0, rng.choice(156, 6, replace=False)] = 1
    index = methods.season(weekly, np.zeros(1, dtype=np.int64), start=0)
    assert index.mean() == pytest.approx(1)
    assert index.max() < 2


def test_a_steady_item_shows_no_season_and_a_season_keeps_its_place():
    """Its peak lies where it was, whatever week of the year the first column is."""
    since = np.zeros(1, dtype=np.int64)
    assert methods.season(np.full((1, 156), 7.0), since, start=5) == pytest.approx(np.ones((1, 52)))
    for start in (0, 17, 51):
        index = methods.season(wave(3)[None], since, start=start)
        assert index.argmax() == (13 + start) % 52


def test_a_trend_needs_a_year():
    weekly = np.random.default_rng(8).poisson(10 + 0.3 * np.arange(156))[None]
    (young,), (old,) = chosen(weekly[:, :51]), chosen(weekly)
    assert "trend" not in young.method
    assert old.method.startswith("trend")
    assert old.per_week[0] < old.per_week[12] < old.per_week[51]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (dict(history=[[1.0, -1.0]]), "0 or more"),
        (dict(history=[[1.0, float("nan")]]), "0 or more"),
        (dict(horizon=[0]), "1 to 26"),
        (dict(horizon=[27]), "1 to 26"),
        (dict(since=[-1]), "first week"),
        (dict(since=[3]), "first week"),
        (dict(since=[0, 0]), "one number an item"),
        (dict(history=[1.0, 2.0]), "one number an item"),
    ],
)
def test_what_does_not_fit_is_refused(changed, words):
    with pytest.raises(ValueError, match=words):
        forecasts(**(dict(history=[[1.0, 2.0]], since=[0], horizon=[4], season_start=0) | changed))


def test_a_forecast_is_a_plain_value():
    (one,) = chosen([[1.0] * 30])
    assert {type(part) for part in one.per_week} == {float}
    assert one.per_day == pytest.approx(1 / 7)
    assert dataclasses.asdict(one)["method"] == one.method
