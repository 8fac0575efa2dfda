"""Tidying what time alone has changed: holds that have lapsed, lines that wait although pieces are free."""

import datetime as dt
from collections.abc import Callable

from orders.services import reserving
from shop.shared import transactions

MOST_ROUNDS = 20  # of fifty holds each in one minute


def sweep(now: Callable[[], dt.datetime]) -> int:
    """Let go of lapsed holds and serve the waiting, one short transaction after the other; return how many changed."""
    total = 0
    for _ in range(MOST_ROUNDS):
        with transactions.entry_point():
            changed = reserving.sweep(at=now())
        total += changed
        if not changed:
            break
    return total
