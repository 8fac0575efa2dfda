"""Forecasts of intermittent demand against published vectors, the output of R, and other implementations."""

import numpy as np
import pytest

from inventory.calc.forecast import kinds, methods

TWENTY_FOUR = (0, 0, 3, 0, 4, 0, 0, 0, 2, 0, 5, 0, 0, 1, 0, 0, 0, 0, 3, 0, 2, 0, 0, 4)
TEN = (0, 0, 3, 0, 4, 0, 0, 0, 2, 0)
PBS = (
    1, 1, 1, 0, 0, 1, 3, 1, 1, 1, 1, 1, 2, 1, 1, 0, 0, 2, 0, 0, 1, 2, 0, 1, 0, 0, 1, 1, 1, 1, 0, 0, 2, 1,
    0, 0, 0, 1, 0, 3, 3, 2, 4, 1, 1, 3, 3, 1, 0, 4, 1, 3, 0, 1, 2, 5, 14, 2, 0, 0, 3, 6, 2, 2, 2, 5, 1, 6,
    3, 3, 2, 0, 1, 1, 0, 0, 0, 1, 4, 12, 4, 0, 7, 0, 2, 1, 4, 1, 3, 1, 0, 6, 9, 3, 1, 3, 1, 7, 1, 3, 3, 3,
    5, 6, 10, 5, 1, 3, 1, 1, 1, 2, 1, 3, 7, 11, 10, 5, 5, 2, 2, 1, 0, 3, 6, 5, 8, 9, 1, 1, 0, 0, 0, 1, 2, 2,
    0, 0, 0, 0, 1, 0, 0, 0, 2, 1, 1, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 3, 0, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
)  # fmt: skip
"""Monthly scripts of one item, 1991-07 to 2008-06. Source: the open data set PBS_dataset.csv as shipped with sktime."""


def after(method, demand, **facts):
    """Return the forecast after each period of one series."""
    return method(np.array([demand], dtype=float), np.zeros(1, dtype=np.int64), **facts)[0]


def averages(demand, **facts):
    """Return Croston's size and interval after the last period of one series."""
    found = methods.size_and_interval(np.array([demand], dtype=float), np.zeros(1, dtype=np.int64), **facts)
    return tuple(one[0, -1] for one in found)


@pytest.mark.parametrize(
    ("alpha", "size", "interval", "croston", "sba", "sbj"),
    [
        (0.1, 2.9895150999999998, 3.0122949, 0.9924377258016802, 0.9428158395115962, None),
        (0.2, 2.9859327999999996, 3.0271871999999997, 0.9863720353997268, 0.8877348318597542, 0.876775142577535),
        (0.3, 3.0131337, 3.0270962999999997, 0.9953874609142762, 0.8460793417771347, 0.819730850164698),
    ],
)
def test_croston_sba_and_sbj_after_24_periods(alpha, size, interval, croston, sba, sbj):
    """Source: alpha 0.1 is what statsforecast 2.1.1 gives (CrostonClassic, CrostonSBA); the others by a second recursion."""
    assert averages(TWENTY_FOUR, alpha=alpha) == pytest.approx((size, interval), abs=1e-9)
    assert after(methods.croston, TWENTY_FOUR, alpha=alpha)[-1] == pytest.approx(croston, abs=1e-9)
    corrected = after(methods.croston, TWENTY_FOUR, alpha=alpha, factor=methods.sba_factor(alpha))[-1]
    assert corrected == pytest.approx(sba, abs=1e-9)
    if sbj is not None:
        poisson = after(methods.croston, TWENTY_FOUR, alpha=alpha, factor=methods.sbj_factor(alpha))[-1]
        assert poisson == pytest.approx(sbj, abs=1e-9)


def test_the_vector_of_ten():
    """Source: test vectors of the open-source library intermittent-forecast, its tests of Croston; size 0.5, interval 0.2."""
    found = after(methods.croston, TEN, alpha=0.5, beta=0.2)
    assert np.isnan(found[:2]).all()
    published = np.array([1, 1, 1.25, 1.25, 1.25, 1.25, 0.904605, 0.904605])
    assert found[2:] == pytest.approx(published, abs=1e-5)
    for factor, expected in ((methods.sba_factor(0.2), 0.9), (methods.sbj_factor(0.2), 1 - 0.2 / 1.8)):
        corrected = after(methods.croston, TEN, alpha=0.5, beta=0.2, factor=factor)
        assert corrected[2:] == pytest.approx(published * expected, abs=1e-5)


def test_the_correction_goes_by_the_smoothing_of_the_interval():
    """Size 0.5 and interval 0.2 give 0.9, not the 0.75 that the size's constant would."""
    plain = after(methods.croston, TEN, alpha=0.5, beta=0.2)[-1]
    corrected = after(methods.croston, TEN, alpha=0.5, beta=0.2, factor=methods.sba_factor(0.2))[-1]
    assert corrected == pytest.approx(plain * 0.9)
    assert methods.sba_factor(0.5) == 0.75


def test_nothing_is_defined_before_the_first_demand():
    """TSB fades only from there on, unless it was told a size and a chance to start with."""
    for method, facts in ((methods.croston, dict(alpha=0.1)), (methods.tsb, dict(alpha=0.1, beta=0.1))):
        found = after(method, TEN, **facts)
        assert np.isnan(found[:2]).all()
        assert not np.isnan(found[2:]).any()
        assert np.isnan(after(method, [0] * 10, **facts)).all()


def test_tsb_started_as_the_library_starts_it():
    """Source: the same library's tests of TSB, size 0.3, chance 0.1, started at size 3 and chance one third."""
    found = after(methods.tsb, TEN, alpha=0.3, beta=0.1, start_size=3, start_chance=1 / 3)
    published = [0.9, 0.81, 1.029, 0.9261, 1.246839, 1.1221551, 1.0099396, 0.9089456, 1.0123723, 0.9111351]
    assert found == pytest.approx(published, abs=1e-6)


@pytest.mark.parametrize(
    ("alpha", "beta", "expected"), [(0.1, 0.1, 1.00828880), (0.2, 0.1, 1.00708058), (0.3, 0.05, 0.74190002)]
)
def test_tsb_after_24_periods(alpha, beta, expected):
    """Source: statsforecast 2.1.1, whose size starts at the first size and whose chance at the first period's indicator."""
    assert after(methods.tsb, TWENTY_FOUR, alpha=alpha, beta=beta)[-1] == pytest.approx(expected, abs=1e-8)


@pytest.mark.parametrize(("alpha", "expected"), [(0.1, 0.8688921), (0.5, 0.6754646), (0.05, 1.405808)])
def test_croston_as_r_gives_it(alpha, expected):
    """Source: output of R's forecast::croston, as it stands in the tests of sktime."""
    assert (len(PBS), sum(PBS), sum(one > 0 for one in PBS)) == (204, 331, 114)
    assert after(methods.croston, PBS, alpha=alpha)[-1] == pytest.approx(expected, abs=1e-5)


def test_a_published_figure_that_does_not_follow_its_own_recursion():
    """A web article prints 12.5 / 3.2 = 3.9 for this series; its own recursion gives 11.4 / 3.1."""
    series = (0, 0, 10, 0, 0, 20, 0, 0, 0, 15)
    assert averages(series, alpha=0.1) == pytest.approx((11.4, 3.1), abs=1e-9)
    assert after(methods.croston, series, alpha=0.1)[-1] == pytest.approx(3.6774193548387095, abs=1e-9)


def test_croston_does_not_fall_while_nothing_is_asked_for_and_tsb_does():
    long = (*TWENTY_FOUR, *(0 for _ in range(60)))
    assert after(methods.croston, long, alpha=0.1)[-1] == after(methods.croston, TWENTY_FOUR, alpha=0.1)[-1]
    assert after(methods.tsb, long, alpha=0.1, beta=0.1)[-1] < 0.01


def test_the_kind_of_the_24_periods():
    """Source of the cut-offs 1.32 and 0.49: Syntetos, Boylan & Croston 2005, seen quoted."""
    found = kinds.kind(TWENTY_FOUR)
    assert (found.interval, found.word) == (3.0, "intermittent")
    assert found.variation == pytest.approx(1 / 6, abs=1e-9)
