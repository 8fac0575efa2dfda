"""How often to order from one supplier: a common cycle and whole multiples of it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Good:
    """One item: demand a year, what keeping one costs a year, and what adding it to an order costs."""

    demand: float
    holding: float
    adding: float = 0.0

    def __post_init__(self) -> None:
        if self.demand <= 0 or self.holding <= 0 or self.adding < 0:
            raise ValueError("demand and holding are above 0, adding is 0 or more")


@dataclass(frozen=True, slots=True)
class Cycle:
    """Years between orders, every how many orders each item is in, and the cost a year."""

    years: float
    multiples: tuple[int, ...]
    cost: float


def at(goods: Sequence[Good], ordering: float, multiples: Sequence[int]) -> Cycle:
    """Return the best cycle for given multiples.

    Args:
        goods: one or more.
        ordering: cost of an order whatever is in it, 0 or more.
        multiples: 1 or more for each.

    Source: joint replenishment, cost K/T + sum(k/(mT)) + T sum(h m D)/2 (any textbook).
    """
    fixed = ordering + sum(one.adding / m for one, m in zip(goods, multiples, strict=True))
    kept = sum(one.holding * one.demand * m for one, m in zip(goods, multiples, strict=True))
    return Cycle(math.sqrt(2 * fixed / kept), tuple(multiples), math.sqrt(2 * fixed * kept))


def silver(goods: Sequence[Good], ordering: float) -> Cycle:
    """Return the cycle of Silver's heuristic: the item that is cheapest to add goes into every order.

    Source: Silver, Management Science 22 (1976) 1351-1361 (from memory); checked on published instances.
    """
    first = min(range(len(goods)), key=lambda n: goods[n].adding / (goods[n].holding * goods[n].demand))
    base = goods[first]
    share = base.holding * base.demand / (ordering + base.adding) if ordering + base.adding else math.inf
    multiples = []
    for number, one in enumerate(goods):
        weighs = number != first and one.adding and math.isfinite(share)
        ideal = math.sqrt(one.adding / (one.holding * one.demand) * share) if weighs else 1.0
        multiples.append(max(1, round(ideal)))
    return at(goods, ordering, multiples)


def best(goods: Sequence[Good], ordering: float) -> Cycle:
    """Return a cycle that is never worse than Silver's: each multiple is moved by one while that helps, also two at once.

    Raises:
        ValueError: no goods.
    """
    if not goods:
        raise ValueError("a cycle needs an item")
    found = silver(goods, ordering)
    if not any(one.adding for one in goods):  # then every item in every order is the best there is
        return found
    while True:
        near = _near(found.multiples)
        better = min((at(goods, ordering, one) for one in near), key=lambda one: one.cost, default=found)
        if better.cost >= found.cost * (1 - 1e-12):
            return found
        found = better


def _near(multiples: Sequence[int]) -> list[tuple[int, ...]]:
    """Return what lies one step away in one multiple, or in two where there are few."""
    many = 2 if len(multiples) <= 12 else 1
    found = []
    for places in itertools.chain.from_iterable(
        itertools.combinations(range(len(multiples)), n + 1) for n in range(many)
    ):
        for steps in itertools.product((-1, 1), repeat=len(places)):
            moved = list(multiples)
            for place, step in zip(places, steps, strict=True):
                moved[place] += step
            if min(moved) >= 1:
                found.append(tuple(moved))
    return found
