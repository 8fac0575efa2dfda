"""Heads move a step on; those that reach the shelf serve the lines that wait for them."""

from inventory.models import Entry, Holding
from inventory.services import stepping
from inventory.services.ledger import Stamp
from orders.services import reserving
from shop.shared import transactions


def move_on(holding: Holding, qty: int, *, stamp: Stamp) -> Entry:
    """Move heads one step on along their route."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({holding.item_id}, at=stamp.at)
    entry = stepping.move_on(holding, qty, locks=locks, stamp=stamp)
    reserving.serve_waiting(locks)
    return entry
