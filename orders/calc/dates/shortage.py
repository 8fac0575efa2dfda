"""Goods that a plan takes and that have to be bought first: what stands under the week sheet."""

import math
from collections import defaultdict
from dataclasses import dataclass

from orders.calc.dates.materials import takes
from orders.calc.dates.plan import Plan
from orders.calc.dates.state import Shop


@dataclass(frozen=True, slots=True)
class Short:
    """An item that is short, by how many pieces, and the runs that wait until it is bought."""

    item: str
    pieces: int
    runs: tuple[str, ...]


def short(shop: Shop, plan: Plan) -> tuple[Short, ...]:
    """Say which goods are short for a plan.

    Args:
        shop: as it stands.
        plan: proposed for it.

    Returns:
        Items in the order they are missed first; pieces are what the plan takes and lines want as it is, less what is
        there and coming, 1 at the least.
    """
    runs: dict[str, list[str]] = defaultdict(list)
    for one in plan.operations:
        for item in one.buys:
            runs[item].append(plan.runs[one.run].code)
    taken = takes(plan)
    found = []
    for item, waiting in runs.items():
        wanted = sum(much for _, much in taken[item]) + sum(line.pieces for line in shop.lines if line.item == item)
        there = shop.stock.get(item, 0) + sum(one.pieces for one in shop.coming if one.item == item)
        found.append(Short(item, max(1, math.ceil(wanted - there)), tuple(dict.fromkeys(waiting))))
    return tuple(found)
