"""Once only: the same key gives the same answer and no second effect.

The key's row is inserted first, in the transaction of the effect, so that the unique index decides a race: a second
request waits on that row until the first has committed and then repeats its answer, or, where the first was rolled
back, takes the row itself. The action runs in a savepoint: a refusal undoes what the action did and is stored as the
answer; anything else that goes wrong takes the key down with the transaction, so that the next try is a first try.
"""

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from django.db import OperationalError, connection, transaction

from shop.shared import transactions
from shop.shared.errors import Refusal
from shop.shared.models import RequestKey

KEPT_DAYS = 30
"""A tablet may be away for a week and a program for a holiday; after this a key is forgotten."""

RETRY_SECONDS = 2
REPLAYED = "Idempotency-Replayed"


@dataclass(frozen=True, slots=True)
class Answer:
    """What the first request was told: status, body as text and the headers that belong to it."""

    status: int
    body: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)


class KeyUsedForSomethingElse(Refusal):
    """The request key belongs to another request."""

    code = "request_key_reused"
    status = 422


class StillRunning(Refusal):
    """The first request with this key has not finished."""

    code = "request_still_running"
    status = 409


def run(
    *,
    client: str,
    method: str,
    path: str,
    key: str,
    fingerprint: str,
    at: dt.datetime,
    action: Callable[[], Answer],
    refused: Callable[[Refusal], Answer] | None = None,
) -> Answer:
    """Carry out an action once for a key, or repeat what it answered.

    Without `refused` a refusal passes through: the caller's transaction ends and the key stays free, as a page needs
    whose person corrects the form and sends it again. With it the refusal is kept as the answer for this key.
    """
    transactions.assert_open()
    composite = {"client": client, "method": method, "path": path, "key": key}
    row = _take(composite, fingerprint, at)
    if row.status is not None:
        return _repeat(row, fingerprint)
    answer = _carry_out(action, refused)
    RequestKey.objects.filter(pk=row.pk).update(status=answer.status, body=answer.body, headers=dict(answer.headers))
    return answer


def purge(*, at: dt.datetime) -> int:
    """Forget the keys older than the published 30 days; return how many."""
    transactions.assert_open()
    return RequestKey.objects.filter(created_at__lt=at - dt.timedelta(days=KEPT_DAYS)).delete()[0]


def _take(composite: dict[str, str], fingerprint: str, at: dt.datetime) -> RequestKey:
    # A committed row always has a status, because it is set in the transaction that inserts the row. A row found
    # without one is therefore the row inserted just now, and this request is the first.
    row = RequestKey(**composite, fingerprint=fingerprint, created_at=at)
    try:
        RequestKey.objects.bulk_create([row], ignore_conflicts=True)
    except OperationalError as problem:
        if connection.vendor == "postgresql" and getattr(problem.__cause__, "sqlstate", "") == "55P03":
            raise StillRunning(
                "The first request with this key is still being worked on; send the same request again in a moment.",
                facts={"retry_after_seconds": RETRY_SECONDS},
            ) from None
        raise
    return RequestKey.objects.get(**composite)


def _repeat(row: RequestKey, fingerprint: str) -> Answer:
    if row.fingerprint != fingerprint:
        raise KeyUsedForSomethingElse(
            "This request key was used before for a request with another content; a new request needs a new key."
        )
    assert row.status is not None
    return replace(Answer(row.status, row.body), headers={**row.headers, REPLAYED: "true"})


def _carry_out(action: Callable[[], Answer], refused: Callable[[Refusal], Answer] | None) -> Answer:
    if refused is None:
        return action()
    try:
        with transaction.atomic():
            return action()
    except Refusal as refusal:
        return refused(refusal)
