"""Pieces go out for a sample, gift, photo or show, and some come back."""

import datetime as dt

from inventory.models import Entry, Item, Place, TakeOut
from inventory.services import taking
from inventory.services.ledger import Stamp
from orders.services import reserving
from shop.shared import transactions


def take_out(
    item: Item,
    qty: int,
    why: str,
    *,
    stamp: Stamp,
    for_whom: str = "",
    due_back: dt.date | None = None,
    place: Place | None = None,
) -> TakeOut:
    """Take free pieces out of stock."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({item.pk}, at=stamp.at)
    return taking.take_out(item, qty, why, locks=locks, stamp=stamp, for_whom=for_whom, due_back=due_back, place=place)


def take_back(taken: TakeOut, qty: int, *, stamp: Stamp, to: str = "SHELF") -> Entry:
    """Bring pieces back; the lines that wait for them are served."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({taken.item_id}, at=stamp.at)
    entry = taking.take_back(taken, qty, locks=locks, stamp=stamp, to=to)
    reserving.serve_waiting(locks)
    return entry
