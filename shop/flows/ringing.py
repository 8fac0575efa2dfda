"""What happens every minute, in this order; one part that fails does not keep the others from being done."""

import datetime as dt
import logging
from collections.abc import Callable, Mapping

from orders.services import promising
from shop.access.services import tidy
from shop.flows import backup, cut_answering, cut_plans, night, sweeping, untempered
from shop.flows.ship_days import asking, letting_go, rating
from shop.shared import audit, jobs, once, transactions
from shop.shared.mail import outbox

Clock = Callable[[], dt.datetime]

HANDLERS: Mapping[str, jobs.Handler] = {
    "backup": backup.nightly,
    cut_plans.JOB: cut_answering.work,
    untempered.JOB: untempered.work,
    asking.JOB: asking.work,
}

log = logging.getLogger(__name__)


def ring(now: Clock) -> list[str]:
    """Do all that is due and return the names of the parts that failed."""
    return _each(
        [
            ("sweep", lambda: sweeping.sweep(now)),
            ("let go", lambda: letting_go.sweep(now)),
            ("rating", lambda: rating.run_if_due(now)),
            ("night", lambda: night.run_if_due(now)),
            ("mail", lambda: outbox.send_due(now)),
            ("jobs", lambda: jobs.run_due(now, HANDLERS)),
            ("seal", audit.seal),
            ("tidy", lambda: _tidy(now())),
            ("heartbeat", lambda: jobs.beat(now())),
        ]
    )


def nudged(now: Clock) -> list[str]:
    """Do what somebody has just committed: jobs and messages."""
    return _each(
        [
            ("mail", lambda: outbox.send_due(now)),
            ("jobs", lambda: jobs.run_due(now, HANDLERS)),
            ("rating", lambda: rating.run_if_due(now, between=rating.BETWEEN)),
        ]
    )


def _tidy(at: dt.datetime) -> None:
    with transactions.entry_point():
        tidy.tidy(at=at)
    with transactions.entry_point():
        once.purge(at=at)
    with transactions.entry_point():
        promising.tidy(at=at)


def _each(parts: list[tuple[str, Callable[[], object]]]) -> list[str]:
    failed = []
    for name, part in parts:
        try:
            part()
        except Exception:
            log.exception("The minute's part %r failed; the next minute tries again.", name)
            failed.append(name)
    return failed
