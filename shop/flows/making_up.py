"""Making tools up from their free parts at the bench; what comes of it serves the lines that wait."""

from inventory.models import Entry, Item, Lot
from inventory.services import allocating, making
from inventory.services.ledger import Stamp
from orders.services import reserving
from shop.shared import transactions
from shop.shared.errors import Invalid

MOST_TOOLS = 100_000


def make_up(tool: Item, qty: int, *, stamp: Stamp) -> tuple[Entry, list[Lot]]:
    """Book free parts out and so many tools in, oldest lots first, and serve those who wait for the tools."""
    transactions.assert_open()
    if not 1 <= qty <= MOST_TOOLS:
        raise Invalid.field("qty", f"Make up 1 to {MOST_TOOLS}, not {qty}.")
    locks = reserving.lock_and_tidy({tool.pk}, at=stamp.at)
    recipe = allocating.recipe_of(tool.pk)
    if not recipe:
        raise Invalid.field("qty", f"{tool.code} has no recipe; say first what it is made up from.")
    _, made = allocating.can_take(tool.pk, recipe)
    if qty > made:
        raise Invalid.field(
            "qty", f"The free parts make {made} of {tool.code}, not {qty}; make up fewer, or let parts go first."
        )
    picks = making.free_picks(recipe, qty)
    entry, lots = making.make_up(tool, qty, picks, recipe=recipe, locks=locks, stamp=stamp)
    reserving.serve_waiting(locks)
    return entry, lots
