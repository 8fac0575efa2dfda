"""Whether an item is made here in runs, and by which pattern: heads with a route, and tools that have such a head."""

from dataclasses import dataclass

from inventory.models import Item, Pattern
from inventory.queries.along import Walk
from orders.queries.shop_state.reached import reach


@dataclass(frozen=True, slots=True)
class Making:
    """How an item is made: its head, that one's pattern, and the steps of its newest route."""

    head: Item
    pattern: Pattern
    walk: Walk


def of(item: Item) -> Making | None:
    """Return how an item is made in runs; nothing where it is not."""
    if item.kind not in (Item.Kind.HEAD, Item.Kind.TOOL):
        return None
    reached = reach([item.pk], [])
    own = reached.items[item.pk]
    head = reached.head_of(own) if own.kind == Item.Kind.TOOL else own
    walk = reached.walk_of(own)
    return Making(head, head.pattern, walk) if head is not None and head.pattern is not None and walk else None
