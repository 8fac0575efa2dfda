"""Reorder levels against published instances, most of them those of Snyder and Shen, Fundamentals of Supply Chain Theory,
second edition, as they ship with the open-source library stockpyl 1.0.2 and stand in its tests (named by their numbers).
"""

import math

import pytest

from inventory.calc.handbook import service_levels as service
from inventory.calc.handbook import stock_levels as levels

EXAMPLE_5_1 = {"holding": 0.225, "penalty": 7.5, "order": 8, "rate": 1300, "lead": 1 / 12, "sd": 150}
ZHENG_FEDERGRUEN = (
    (10, 6, 40, 35.022),
    (15, 10, 49, 42.698),
    (20, 14, 62, 49.173),
    (25, 19, 56, 54.262),
    (30, 23, 66, 57.819),
    (35, 28, 77, 61.215),
    (40, 33, 87, 64.512),
    (45, 37, 97, 67.776),
    (50, 42, 108, 70.975),
    (55, 47, 118, 74.149),
    (60, 52, 129, 77.306),
    (65, 56, 75, 78.518),
    (70, 62, 81, 79.037),
    (75, 67, 86, 79.554),
    (21, 15, 65, 50.406),
    (22, 16, 68, 51.632),
    (23, 17, 52, 52.757),
    (24, 18, 54, 53.518),
    (51, 43, 110, 71.611),
    (52, 44, 112, 72.246),
    (59, 51, 126, 76.679),
    (61, 52, 131, 77.929),
    (63, 54, 73, 78.287),
    (64, 55, 74, 78.402),
)
"""Mean, s, S and cost; h 1, p 9, K 64. Source: Zheng and Federgruen, Operations Research 39 (1991), table 1, by the library."""


@pytest.mark.parametrize(
    ("holding", "penalty", "mean", "sd", "periods", "units", "cost"),
    [
        (0.18, 0.7, 50, 8, 1, 56.60395592743389, 1.997605193176645),  # example 4.3
        (43, 79, 900, 60, 1, 922.7214038234755, 2718.196781782411),  # problem 4.1
        (0.18, 0.7, 50, 8, 5, 264.7668943741548, 4.466781004149578),  # example 4.4, a lead time of four periods
    ],
)
def test_newsvendor_and_base_stock_under_normal_demand(holding, penalty, mean, sd, periods, units, cost):
    found = levels.newsvendor(holding, penalty, mean, sd, periods)
    assert (found.units, found.cost) == pytest.approx((units, cost), rel=1e-6)


def test_the_newsvendor_by_price_cost_and_salvage():
    """Example 4.2; the profit is worked out by the library."""
    found = levels.profit(1, 0.3, 0.12, 50, 8)
    assert (found.units, -found.cost) == pytest.approx((56.60395592743389, 33.002394806823354), abs=1e-6)


def test_newsvendors_of_single_pieces():
    """Example 4.7, problem 4.8a and problem 4.7b."""
    found = levels.newsvendor_poisson(1, 4, 6)
    assert (found.units, found.cost) == (8, pytest.approx(3.570106945770946, abs=1e-8))
    found = levels.newsvendor_poisson(200, 270, 18)
    assert (found.units, found.cost) == (19, pytest.approx(786.0884409351115, abs=1e-8))
    table = {1: 0.25, 2: 0.05, 3: 0.1, 4: 0.2, 5: 0.15, 6: 0.1, 7: 0.1, 8: 0.05}
    found = levels.newsvendor_of(500_000, 1_000_000, table)
    assert (found.units, found.cost) == (5, pytest.approx(1_225_000))


@pytest.mark.parametrize(
    ("holding", "penalty", "order", "mean", "low", "high", "cost"),
    [(1, 4, 5, 6, 4, 10, 8.034111561471644), (40, 125, 150, 4, 2, 7, 223.5748295669688)],
)
def test_order_up_to_a_level(holding, penalty, order, mean, low, high, cost):
    """Example 4.7 with K 5, and problem 4.31."""
    found = levels.up_to(holding, penalty, order, mean)
    assert (found.low, found.high) == (low, high)
    assert found.cost == pytest.approx(cost, abs=1e-7)


@pytest.mark.parametrize(("mean", "low", "high", "cost"), ZHENG_FEDERGRUEN)
def test_the_table_of_zheng_and_federgruen(mean, low, high, cost):
    found = levels.up_to(1, 9, 64, mean)
    assert (found.low, found.high) == (low, high)
    assert found.cost == pytest.approx(cost, abs=0.00051)


def test_the_power_approximation():
    """Example 4.8."""
    found = levels.power_approximation(0.18, 0.7, 2.5, 50, 8)
    assert (found.low, found.high) == pytest.approx((40.19461695647407, 74.29017010980579), abs=1e-6)


@pytest.mark.parametrize(
    ("holding", "penalty", "order", "rate", "lead", "low", "units", "cost"),
    [(20, 150, 100, 1.5, 2, 3, 5, 107.9235806331498), (4, 28, 4, 12, 0.5, 6, 7, 28.241312842169155)],
)
def test_a_fixed_quantity_of_single_pieces(holding, penalty, order, rate, lead, low, units, cost):
    """Example 5.8 and problem 5.2."""
    found = levels.fixed_poisson(holding, penalty, order, rate, lead)
    assert (found.low, found.high) == (low, units)
    assert found.cost == pytest.approx(cost, abs=1e-7)


def test_a_fixed_quantity_under_normal_demand():
    """Example 5.1: the cost at 126.8 and 328.5; the optimum by a second way (Nelder and Mead)."""
    assert levels.fixed_cost(**EXAMPLE_5_1, point=126.8, units=328.5) == pytest.approx(78.07116250928294, abs=1e-6)
    found = levels.fixed_normal(**EXAMPLE_5_1)
    assert (found.low, found.high) == pytest.approx((126.8670642878315, 328.4491413581765), abs=1e-4)
    assert found.cost == pytest.approx(78.07114627035178, abs=1e-6)


def test_the_approximations_of_a_fixed_quantity():
    """Example 5.1; quantity first, expected inventory level, and quantity with backorders."""
    safe = levels.fixed_with_safety(**EXAMPLE_5_1)
    assert (safe.low, safe.high) == pytest.approx((190.3369965715624, 304.0467800264368), abs=1e-4)
    owed = levels.fixed_with_backorders(**EXAMPLE_5_1)
    assert (owed.low, owed.high) == pytest.approx((128.637814424271, 308.5737801203754), abs=1e-4)
    turns = levels.fixed_by_turns(**EXAMPLE_5_1)
    expected = (213.9704421358024, 318.5901810768729, 95.45114022285196)
    assert (turns.low, turns.high, turns.cost) == pytest.approx(expected, abs=1e-4)
    best = levels.fixed_normal(**EXAMPLE_5_1).cost
    for one in (safe, owed, turns):
        assert levels.fixed_cost(**EXAMPLE_5_1, point=one.low, units=one.high) >= best


def test_service_of_a_point_under_poisson_demand():
    """Hadley and Whitin's results; an event simulation of the instance agrees to 0.002 and 0.004."""
    found = service.of_point(3.0, 3, 5)
    assert found.cycles == pytest.approx(0.6472318887822313, abs=1e-9)
    assert found.filled == pytest.approx(0.8666328304219004, abs=1e-9)
    assert (found.on_hand, found.owed) == pytest.approx((3.1054328272538227, 0.10543282725382212), abs=1e-9)


def test_levels_for_both_kinds_of_service():
    """Nahmias, Production and Operations Analysis, chapter 5 (from memory: z 1.02 and R 126 for the share of demand)."""
    assert service.level_for_cycles(100, 25, 0.98) == pytest.approx(151.34372276579558, abs=1e-6)
    assert service.level_for_fill(100, 25, 0.98, 100) == pytest.approx(126, abs=0.5)
    assert service.loss_inverse(0.08) == pytest.approx(1.0212388775430155, abs=1e-6)


def test_services_counted_over_ten_cycles():
    """Lecture notes 4QA3, week 8 (seen): shortages of 45 and 10 in a demand of 1,450; printed 80 % and 96 %."""
    assert service.counted(1450, [45, 10], 10) == pytest.approx((0.8, 0.9620689655172414), abs=1e-9)


def test_the_normal_loss_table():
    """Any table of the normal loss function (four digits, from memory)."""
    table = {0: 0.3989, 0.5: 0.1978, 1: 0.0833, 1.5: 0.0293, 2: 0.0085, 2.5: 0.0020, 3: 0.0004, -1: 1.0833}
    for z, expected in table.items():
        assert service.loss(z) == pytest.approx(expected, abs=5e-5)
    assert math.isclose(service.loss_inverse(service.loss(1.3)), 1.3, abs_tol=1e-9)
