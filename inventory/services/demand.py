"""What was asked for and could not be given: the forecast needs it as much as what was sold."""

import datetime as dt

from inventory.models import RefusedDemand
from shop.shared import transactions

ASKER_LENGTH = 80  # characters kept of who asked


def note_refused(item_id: int, qty: int, *, available: int, at: dt.datetime, asked_by: str) -> RefusedDemand:
    """Write down a refusal for want of stock."""
    transactions.assert_open()
    return RefusedDemand.objects.create(
        item_id=item_id, qty=qty, available=available, at=at, asked_by=asked_by[:ASKER_LENGTH]
    )


def strike_out(asked_by: str) -> int:
    """Drop the refusals of one asker, because it was taken after all; return how many there were."""
    transactions.assert_open()
    return RefusedDemand.objects.filter(asked_by=asked_by[:ASKER_LENGTH]).delete()[0]
