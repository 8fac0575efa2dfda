"""Work that must be done after a commit: a row written with the change, claimed later by exactly one worker.

Handlers are called outside any transaction, open their own, and may be called again for the same row when a worker
dies between its effect and the note that it is done: each must bear being repeated.
"""

import datetime as dt
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Q, QuerySet

from shop.shared import bell, transactions
from shop.shared.models import Job

STALE = dt.timedelta(minutes=10)  # a claim so old belongs to a worker that died
MAX_ATTEMPTS = 8
FIRST_WAIT = dt.timedelta(minutes=1)
LONGEST_WAIT = dt.timedelta(hours=1)
LAST_ERROR_CHARACTERS = 2000
HEARTBEAT = "heartbeat"

Payload = dict[str, Any]
Clock = Callable[[], dt.datetime]
Handler = Callable[[Payload, dt.datetime], None]

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Done:
    """How many jobs one round carried out, put off and gave up."""

    done: int = 0
    put_off: int = 0
    given_up: int = 0

    def __add__(self, other: "Done") -> "Done":
        return Done(self.done + other.done, self.put_off + other.put_off, self.given_up + other.given_up)


def add(kind: str, dedupe: str, due_at: dt.datetime, payload: Payload | None = None) -> None:
    """Write a job with the caller's change; one that is there already under the same kind and key stays as it is."""
    transactions.assert_open()
    Job.objects.bulk_create(
        [Job(kind=kind, dedupe=dedupe, due_at=due_at, payload=payload or {})], ignore_conflicts=True
    )
    bell.ring_after_commit()


def run_due(clock: Clock, handlers: Mapping[str, Handler]) -> Done:
    """Carry out every job that is due and has a handler, each claimed by this worker alone."""
    total = Done()
    while job := claim(clock(), list(handlers)):
        total += _carry_out(job, handlers[job.kind], clock)
    return total


def claim(at: dt.datetime, kinds: list[str]) -> Job | None:
    """Take the job that has been due longest, or nothing; two workers never take the same one."""
    free = Q(claimed_at=None) | Q(claimed_at__lt=at - STALE)
    due = Job.objects.filter(free, kind__in=kinds, done_at=None, given_up_at=None, due_at__lte=at)
    for job_id in due.order_by("due_at", "id").values_list("id", flat=True)[:50]:
        if due.filter(pk=job_id).update(claimed_at=at, attempts=F("attempts") + 1):
            return Job.objects.get(pk=job_id)
    return None


def given_up(kind: str, *, since: dt.datetime) -> list[Job]:
    """List the jobs of a kind that were given up since an instant, the latest first."""
    return list(Job.objects.filter(kind=kind, given_up_at__gt=since).order_by("-given_up_at", "-id")[:20])


def beat(at: dt.datetime) -> None:
    """Note that the timetable rang; a page can then say when it last did."""
    if not Job.objects.filter(kind=HEARTBEAT, dedupe="ring").update(done_at=at):
        Job.objects.bulk_create([Job(kind=HEARTBEAT, dedupe="ring", due_at=at, done_at=at)], ignore_conflicts=True)


def last_beat() -> dt.datetime | None:
    """Return when the timetable last rang."""
    return Job.objects.filter(kind=HEARTBEAT, dedupe="ring").values_list("done_at", flat=True).first()


def wait_before(attempt: int) -> dt.timedelta:
    """Return the pause after so many tries: 1, 2, 4 ... minutes, an hour at the most."""
    doubled: int = 2 ** min(attempt - 1, 10)
    return min(LONGEST_WAIT, FIRST_WAIT * doubled)


def _carry_out(job: Job, handler: Handler, clock: Clock) -> Done:
    if job.attempts > MAX_ATTEMPTS:  # its worker died each time before it could say why
        return _fail(job, job.last_error or "The worker ended while it was at this job.", clock())
    try:
        handler(job.payload, clock())
    except Exception as exc:
        log.exception("Job %s %s failed.", job.kind, job.dedupe)
        return _fail(job, f"{type(exc).__name__}: {exc}", clock())
    return Done(done=_mine(job).update(done_at=clock(), claimed_at=None))


def _fail(job: Job, why: str, at: dt.datetime) -> Done:
    changes: dict[str, object] = {"claimed_at": None, "last_error": why[:LAST_ERROR_CHARACTERS]}
    if job.attempts >= MAX_ATTEMPTS:
        return Done(given_up=_mine(job).update(given_up_at=at, **changes))
    return Done(put_off=_mine(job).update(due_at=at + wait_before(job.attempts), **changes))


def _mine(job: Job) -> "QuerySet[Job]":
    """Select the row only while this worker's claim on it still stands."""
    return Job.objects.filter(pk=job.pk, claimed_at=job.claimed_at, done_at=None, given_up_at=None)
