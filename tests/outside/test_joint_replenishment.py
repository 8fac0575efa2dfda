"""Joint replenishment against published instances of the supply chain literature."""

import itertools

import pytest

from inventory.calc.buying import joint
from inventory.calc.buying.joint import Good

INSTANCES = {
    # Source: "Numerical JRP example in Silver (1976)", instance silver_jrp of stockpyl 1.0.2 with the values of its tests.
    "silver": (10, (1.87, 5.27, 7.94, 8.19, 8.87), (0.2,) * 5, (1736, 656, 558, 170, 142), 0.2813771490671472,
               (1, 1, 1, 3, 3), 218.68632025498687, 218.2515857139798),
    # Source: Silver, Pyke and Peterson 1998, p. 428, instance spp_jrp of the same library.
    "spp": (40, (15,) * 4, (0.24,) * 4, (86_000, 12_500, 1_400, 3_000), 0.07617340262784976, (1, 1, 4, 3),
            2067.650840930354, 2067.650840930354),
    # Source: Snyder and Shen, Fundamentals of Supply Chain Theory, instance scmo_jrp_ex of the same library.
    "scmo": (600, (120, 840, 300), (160, 20, 50), (1, 1, 1), 3.103164454170876, (1, 3, 1), 837.8544026261366,
             837.8544026261366),
}  # fmt: skip


def goods(name: str) -> tuple[list[Good], float]:
    """Return the items of an instance and the cost of an order."""
    ordering, adding, holding, demand = INSTANCES[name][:4]
    return [Good(d, h, k) for d, h, k in zip(demand, holding, adding, strict=True)], ordering


@pytest.mark.parametrize("name", INSTANCES)
def test_silvers_heuristic_gives_the_published_cycle_and_cost(name):
    items, ordering = goods(name)
    years, multiples, cost = INSTANCES[name][4:7]
    found = joint.silver(items, ordering)
    assert found.multiples == multiples
    assert (found.years, found.cost) == pytest.approx((years, cost), rel=1e-6)


@pytest.mark.parametrize("name", INSTANCES)
def test_the_search_finds_what_trying_all_multiples_finds(name):
    """The heuristic is not the best on the first: 1, 1, 2, 3, 3 costs 218.2516 (worked out by trying all, 1 to 8)."""
    items, ordering = goods(name)
    all_of_them = min(joint.at(items, ordering, one).cost for one in itertools.product(range(1, 6), repeat=len(items)))
    assert all_of_them == pytest.approx(INSTANCES[name][7], rel=1e-6)
    assert joint.best(items, ordering).cost == pytest.approx(all_of_them, rel=1e-9)


def test_goods_that_cost_nothing_to_add_are_in_every_order_however_many_they_are():
    """All multiples 1 is then the best: a higher one only keeps more. Without any cost of ordering nothing is divided by 0."""
    many = [Good(100.0 + n, 1.0) for n in range(2_000)]
    assert set(joint.best(many, 40).multiples) == {1}
    assert joint.best([Good(10, 1.0), Good(10, 1.0, 5.0)], 0).multiples[0] == 1
