"""What pieces cost as they go through the shop: first in, first out, to the minor unit, with nothing created or lost.

The cost of a lot goes on to what was made of it. Losses that are part of the work are borne by the good pieces; those beyond
are kept apart, so that a bad week does not make good hammers dear.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc.shares import share


@dataclass(frozen=True, slots=True)
class Layer:
    """So many units that came together, 0 or more, and what they cost in all, minor units, 0 or more."""

    qty: int
    cost: int

    def __post_init__(self) -> None:
        if self.qty < 0 or self.cost < 0 or (self.cost and not self.qty):
            raise ValueError("units and their cost are 0 or more, and nothing costs nothing")


@dataclass(frozen=True, slots=True)
class Taken:
    """What a take cost, minor units, and the layers that are left, the oldest first."""

    cost: int
    left: Sequence[Layer]


def take(layers: Sequence[Layer], qty: int) -> Taken:
    """Take units, the oldest first.

    Args:
        layers: what is there, the oldest first.
        qty: units taken, 0 to all of them.

    Returns:
        Their cost and what is left; a layer that is parted keeps the rest of its cost to the minor unit.

    Raises:
        ValueError: more than there is.

    Source: first in, first out, IAS 2.27 (number from memory).
    """
    if not 0 <= qty <= sum(layer.qty for layer in layers):
        raise ValueError("no more can be taken than there is")
    cost, left = 0, []
    for layer in layers:
        now = min(qty, layer.qty)
        qty -= now
        if now == layer.qty:
            cost += layer.cost
            continue
        part, rest = share(layer.cost, [now, layer.qty - now])
        cost += part
        left.append(Layer(layer.qty - now, rest))
    return Taken(cost, left)


@dataclass(frozen=True, slots=True)
class Borne:
    """Where the cost of a run went, minor units: to the good pieces, and to rejects beyond the usual."""

    good: int
    apart: int


def after_losses(cost: int, started: int, good: int, usual: int) -> Borne:
    """Say what the good pieces of a run cost.

    Args:
        cost: of all that was started, up to where rejects were found, minor units.
        started: pieces, 1 or more.
        good: pieces that came off well, 0 to all.
        usual: rejects that are part of the work, 0 or more.

    Returns:
        What good pieces bear, the usual rejects' cost among it, and what is kept apart: each reject beyond the usual at
        the cost of a started piece. Both come to the cost.

    Raises:
        ValueError: a value out of range.

    Source: normal spoilage is borne by good units and abnormal spoilage is a loss, as in Horngren, Cost Accounting (from
        memory); IAS 2.16(a) (number from memory).
    """
    if started < 1 or not 0 <= good <= started or usual < 0 or cost < 0:
        raise ValueError("one piece or more is started, and no more are good than that")
    beyond = max(0, started - good - usual) if good else started
    apart = share(cost, [beyond, started - beyond])[0] if beyond < started else cost
    return Borne(cost - apart, apart)


def per_piece(cost: int, pieces: int) -> list[int]:
    """Split a cost over pieces so that it comes out to the minor unit.

    Args:
        cost: minor units, 0 or more.
        pieces: 1 or more.

    Returns:
        One cost a piece, unlike by one minor unit at the most.
    """
    return share(cost, [1] * pieces)
