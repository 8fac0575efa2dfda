"""What stops first if nothing is bought: what runs out, and which tools cannot be finished without it."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Item
from orders.queries.reorder.needs import Need, Stands, decided, stands

MOST = 3


@dataclass(frozen=True, slots=True)
class Stop:
    """An item, the last day it lasts half the time, the tools that need it, and how it stands."""

    item: Item
    day: dt.date
    tools: Sequence[Item]
    need: Need


def first(*, at: dt.datetime) -> list[Stop]:
    """Return the bought items that run out first, at most three."""
    now = stands(at=at)
    found = []
    for one in decided(now):
        until = one.decision.lasts_until
        if not one.make and until is not None:
            found.append(Stop(one.item, until, _tools(now, one.item.pk), one))
    return sorted(found, key=lambda one: (one.day, one.item.code))[:MOST]


def _tools(now: Stands, pk: int) -> list[Item]:
    """Return the tools that an item goes into, through whatever lies between."""
    wanted, found = {pk}, set()
    for one in reversed(now.built.goes):
        if one.part in wanted:
            wanted.add(one.whole)
            if now.built.items[one.whole].kind == Item.Kind.TOOL:
                found.add(one.whole)
    return sorted((now.built.items[tool] for tool in found), key=lambda one: one.name)
