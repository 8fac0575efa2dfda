"""Demand over a random lead time against published and exactly computed values.

chopra: Chopra and Meindl, Supply Chain Management, safety-stock chapter (inputs and answers from memory: 17,550 and 22,491).
smu: inputs from Barr, SMU POMLIB inventory simulation page; the chances are exact convolution. poissonmix: compound
distribution, own example, mixture of Poisson distributions worked out apart from this code.
"""

from itertools import accumulate

import numpy as np
import pytest

from inventory.calc import lead_times
from inventory.calc.reorder import closed
from inventory.calc.reorder.lead_demand import Demand, Scenarios
from inventory.calc.reorder.point import days_of

MIX = {5: 0.5, 7: 0.3, 10: 0.2}


def test_chopra_and_meindl_hold_22_491_for_90_in_100() -> None:
    found = closed.spread(2_500, 500, 7, 7)
    assert found.sd == pytest.approx(17_549.928774784243, abs=1e-6)
    assert found.stock(0.9) == pytest.approx(22_491.138696520975, abs=1e-3)
    assert (round(found.sd, -1), round(found.stock(0.9))) == (17_550, 22_491)


def test_two_days_of_the_inventory_simulation_page_are_convolved_exactly() -> None:
    day, lead = {0: 0.5, 1: 0.3, 2: 0.2}, {1: 0.8, 2: 0.2}
    found = closed.exact(day, lead)
    assert found == pytest.approx([0.45, 0.3, 0.218, 0.024, 0.008], abs=1e-12)
    mean = sum(units * chance for units, chance in enumerate(found))
    variance = sum(units**2 * chance for units, chance in enumerate(found)) - mean**2
    assert (mean, variance) == pytest.approx((0.84, 0.8104), abs=1e-12)
    same = closed.spread(0.7, (1.1 - 0.49) ** 0.5, 1.2, 0.16**0.5)
    assert (same.mean, same.sd**2) == pytest.approx((0.84, 0.8104), abs=1e-12)


def test_the_normal_form_is_one_unit_too_low_where_poisson_demand_meets_an_uneven_lead_time() -> None:
    found = closed.poisson(2, MIX)
    so_far = list(accumulate(found))
    mean = sum(units * chance for units, chance in enumerate(found))
    variance = sum(units**2 * chance for units, chance in enumerate(found)) - mean**2
    assert (mean, variance) == pytest.approx((13.2, 27.76), abs=1e-9)
    assert closed.least(found, 0.95) == 23
    assert (so_far[23], so_far[22]) == pytest.approx((0.954640227502777, 0.9389607420278191), abs=1e-9)
    normal = closed.spread(2, 2**0.5, 6.6, (27.76 - 13.2) ** 0.5 / 2)
    assert normal.point(0.95) == pytest.approx(21.866365229188574, abs=1e-6)


def test_the_scenarios_agree_with_the_poisson_mixture() -> None:
    drawn = Scenarios(Demand(per_week=(14.0,) * 52, sure=True), seed=5, count=8_000)
    taken = drawn.forecast(days_of(lead_times.of(MIX), drawn.even()).astype(np.float64))
    exact = np.cumsum(closed.poisson(2, MIX))
    seen = np.array([(taken <= units).mean() for units in range(40)])
    assert np.abs(seen - exact[:40]).max() < 0.016  # 1 in 1000 of a sample of 8,000: 0.0218 (Kolmogorov)
    assert float(taken.mean()) == pytest.approx(13.2, abs=0.2)


def test_the_scenarios_agree_with_a_convolution_of_lumps() -> None:
    """Events at random, 0.6 a day, of 1, 1, 2 or 8 units: each day's chances convolved over ten days."""
    sizes, per_day = (1, 1, 2, 8), 0.6
    day: dict[int, float] = {}
    events = closed.poisson(per_day, {1: 1.0})
    for count, chance in enumerate(events[:8]):
        for units, each in enumerate(closed.exact({0: 0.0, 1: 0.5, 2: 0.25, 8: 0.25}, {count: 1.0})):
            day[units] = day.get(units, 0.0) + chance * each
    exact = np.cumsum(closed.exact(day, {10: 1.0}))
    history = (1, 0, 0, 0, 1, 0, 0, 2, 0, 0, 0, 8) * 9
    drawn = Scenarios(Demand(per_week=(7 * per_day * 3,) * 52, history=history, sure=True), seed=9, count=8_000)
    assert sorted(set(drawn.lumps.sizes)) == [1, 2, 8]
    assert drawn.lumps.mean == sum(sizes) / 4
    taken = drawn.forecast(np.full(8_000, 10.0))
    seen = np.array([(taken <= units).mean() for units in range(60)])
    assert np.abs(seen - exact[:60]).max() < 0.022  # 1 in 1000 of a sample of 8,000 (Kolmogorov)
