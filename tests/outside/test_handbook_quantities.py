"""Order quantities and lot sizes against published instances, most of them those of Snyder and Shen, Fundamentals of Supply
Chain Theory, second edition, as they ship with the open-source library stockpyl 1.0.2 (named by their numbers).
"""

import itertools

import pytest

from inventory.calc.buying.basket import cover_days, propose
from inventory.calc.buying.joint import Good, at
from inventory.calc.buying.terms import YEAR_DAYS, Price, Terms, Wanted
from inventory.calc.handbook import lot_sizes, quantities


@pytest.mark.parametrize(
    ("order", "holding", "demand", "units", "cost"),
    [
        (8, 0.225, 1300, 304.0467800264368, 68.41052550594827),  # example 3.1
        (2250, 275, 182_500, 1728.109844993551, 475230.2073732266),  # problem 3.1
    ],
)
def test_the_economic_quantity_also_as_a_basket_of_one(order, holding, demand, units, cost):
    found = quantities.economic(order, holding, demand)
    assert (found.units, found.cost) == pytest.approx((units, cost), rel=1e-6)
    cycle = at([Good(demand, holding)], order, [1])
    assert (cycle.years * demand, cycle.cost) == pytest.approx((units, cost), rel=1e-6)


def test_the_cost_of_another_quantity():
    """Example 3.1 with orders of 250."""
    assert quantities.cost(8, 0.225, 1300, 250) == pytest.approx(69.725, abs=1e-9)


def test_pencils():
    """Nahmias, Production and Operations Analysis, example 4.1 (data seen; 3,870 and 1.24 years from memory)."""
    found = quantities.economic(12, 0.005, 3120)
    assert found.units == pytest.approx(3870, abs=0.6)
    assert found.units / 3120 == pytest.approx(1.24, abs=0.005)
    goods = [Wanted("PENCIL", 1, 3120 / YEAR_DAYS, prices=(Price(1, 2),))]
    days = cover_days(goods, Terms(order_cost=1200, holding=0.25))
    assert days == YEAR_DAYS  # 453 days by the formula; the shop buys for a year at the most


@pytest.mark.parametrize(
    ("order", "share", "demand", "breaks", "units", "cost"),
    [
        (8, 0.3, 1300, ((0, 0.75), (400, 0.72), (800, 0.68)), 800, 978.6),  # example 3.5
        (2250, 0.25, 182_500, ((0, 1490), (1200, 1220), (2400, 1100)), 2400, 201251093.75),  # problem 3.12
    ],
)
def test_price_breaks_also_in_the_basket(order, share, demand, breaks, units, cost):
    found = quantities.with_breaks(order, share, demand, breaks)
    assert (found.units, found.cost) == pytest.approx((units, cost), abs=1e-4)
    if units < demand / 52:  # a basket is for a week or more
        return
    prices = tuple(Price(max(1, start), round(100 * price)) for start, price in breaks)
    wanted = Wanted("ONE", 1, demand / YEAR_DAYS, prices=prices)
    (line,) = propose([wanted], Terms(order_cost=100 * order, holding=share)).lines
    assert units <= line.units <= units * 1.01
    assert wanted.price(line.units) == prices[-1].minor


def test_backorders_and_production():
    """Example 3.8 and problem 3.22."""
    found = quantities.with_backorders(8, 0.225, 5, 1300)
    expected = (310.8125551589646, 66.92136355097325, 0.0430622009569378)
    assert (found.units, found.cost, found.short) == pytest.approx(expected, abs=1e-8)
    made = quantities.made(4, 0.08, 80, 110)
    assert (made.units, made.cost) == pytest.approx((171.2697677155351, 3.73679493197531), abs=1e-8)


def test_random_yield():
    """Examples 9.4 and 9.5."""
    lost = quantities.with_random_loss(18_500, 0.06, 75_000, mean=-15_000, sd=9_000)
    assert (lost.units, lost.cost) == pytest.approx((230246.37046881882, 12914.78222812913), abs=1e-3)
    share = quantities.with_random_share(18_500, 0.06, 75_000, mean=5 / 6, sd=0.14085904245475275)
    assert (share.units, share.cost) == pytest.approx((254460.21299998942, 13086.525239999457), abs=1e-3)


WAGNER_WHITIN = {
    "example 3.9": ((90, 120, 80, 70), 500, 2, 0.0, 1380, (210, 0, 150, 0)),
    "problem 3.27": ((150, 100, 80, 200), 120, 0.8, 0.0, 424, (150, 180, 0, 200)),
    "problem 3.29": ((730, 580, 445, 650, 880), 100, 0.1, 0.0, 423, (1310, 0, 1095, 0, 880)),
    "scmo_ww_hw_c": ((400, 500, 500, 1100, 900), 100, 0.1, (3, 1, 4, 6, 6), 4940, (400, 3000, 0, 0, 0)),
}


@pytest.mark.parametrize("name", WAGNER_WHITIN)
def test_lots_for_known_demand(name):
    demand, order, holding, price, cost, units = WAGNER_WHITIN[name]
    found = lot_sizes.cheapest(demand, order, holding, price)
    assert found.cost == pytest.approx(cost, abs=1e-6)
    assert found.units == units


def test_the_twelve_months_of_wagner_and_whitin():
    """Wagner and Whitin, Management Science 5 (1958), table 1 (data and optimum from memory; 2048 patterns tried agree)."""
    demand, orders = WW_1958
    assert lot_sizes.cheapest(demand, orders, 1).cost == pytest.approx(864)
    assert by_trying(demand, orders, 1) == pytest.approx(864)


WW_1958 = ((69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56), (85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114))


def by_trying(demand, orders, holding):
    """Return the least cost over all patterns of periods with an order."""
    best = float("inf")
    for pattern in itertools.product((False, True), repeat=len(demand) - 1):
        starts = [0, *(at for at, on in enumerate(pattern, 1) if on)]
        cost = 0.0
        for start, end in itertools.pairwise([*starts, len(demand)]):
            cost += orders[start] + sum(holding * (at - start) * demand[at] for at in range(start, end))
        best = min(best, cost)
    return best


def test_what_is_there_at_the_start_serves_the_first_demand():
    """An exercise of Winston, Operations Research (statement seen): demands 1, 1, 2, 2, K 4, h 2, one there; least cost 12."""
    assert lot_sizes.cheapest((1, 1, 2, 2), 4, 2, there=1).cost == pytest.approx(12)
