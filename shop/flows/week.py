"""The week sheet at night: pins of what is done are dropped, so that the morning's sheet holds what is ahead."""

import datetime as dt
import logging

from orders.queries import week as proposing
from orders.services import week
from shop.access.actor import Actor
from shop.shared import transactions

log = logging.getLogger(__name__)


def tidy(*, at: dt.datetime) -> int:
    """Drop pins of steps that are done; a week that cannot be worked out holds up no night, and keeps its pins."""
    try:
        if not proposing.pins():
            return 0
        found = proposing.proposed(at=at)
        with transactions.entry_point():
            return week.tidy(found.ahead, at=at, by=Actor.command("night"))
    except Exception:
        log.exception("The week sheet could not be tidied; the next night tries again.")
        return 0
