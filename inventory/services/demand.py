"""What was asked for and could not be given: the forecast needs it as much as what was sold."""

import datetime as dt

from inventory.models import Item, RefusedDemand
from shop.shared import transactions


def note_refused(item: Item, qty: int, *, available: int, at: dt.datetime, asked_by: str) -> RefusedDemand:
    """Write down a refusal for want of stock."""
    transactions.assert_open()
    return RefusedDemand.objects.create(item=item, qty=qty, available=available, at=at, asked_by=asked_by[:80])
