"""How an item stands, in the words of schema.org's ItemAvailability, by one published table."""

from typing import Protocol

from inventory.models import Item

VOCABULARY = "https://schema.org/"
MADE_HERE = (Item.Kind.TOOL, Item.Kind.HEAD, Item.Kind.BLANK)


class Kept(Protocol):
    """What the table looks at."""

    @property
    def kind(self) -> str: ...
    @property
    def active(self) -> bool: ...
    @property
    def reorder_point(self) -> int | None: ...


TABLE = (
    "First line that fits: no longer kept → Discontinued; can promise > 0 and not above the reorder point →"
    " LimitedAvailability; can promise > 0 → InStock; nothing to promise, made here (tool, head, blank) → BackOrder;"
    " nothing to promise, bought in → OutOfStock."
)


def state(item: Kept, can_promise: int) -> str:
    """Return the state of an item as the full address of the schema.org member; exactly one fits."""
    return VOCABULARY + _member(item, can_promise)


def _member(item: Kept, can_promise: int) -> str:
    if not item.active:
        return "Discontinued"
    if can_promise > 0:
        limited = item.reorder_point is not None and can_promise <= item.reorder_point
        return "LimitedAvailability" if limited else "InStock"
    return "BackOrder" if item.kind in MADE_HERE else "OutOfStock"
