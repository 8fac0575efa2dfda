"""What the night learns before it looks: one-off orders marked, demand, lead times and points worked out and kept."""

import datetime as dt
import logging

from orders.models import OrderLine
from orders.queries.reorder import one_offs as looking
from orders.services import learning, one_offs
from shop.access.actor import Actor
from shop.shared import transactions

log = logging.getLogger(__name__)


def learn(*, at: dt.datetime) -> list[OrderLine]:
    """Learn from the book as it stands; return the lines that count as one-off from now on.

    What cannot be learned holds up no night: pages work it out then, or go by what was known.
    """
    try:
        found = looking.suspected(at=at)
        with transactions.entry_point():
            one_offs.mark(found, at=at, by=Actor.command("night"))
        rows = learning.work_out(at=at)
        with transactions.entry_point():
            learning.keep(rows)
    except Exception:
        log.exception("Demand could not be learned; the next night tries again.")
        return []
    return found
