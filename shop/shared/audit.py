"""The audit line: who changed what, written with the change and sealed into a chain afterwards.

The seal is the SHA-256 of the line before and of the line itself. It is added by a job and not by the writer: a chain
inside the writing transaction would be one hot row for the whole shop.
"""

import datetime as dt
import hashlib
import json
from collections.abc import Iterator, Mapping

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection
from django.db.models import Max
from django.db.utils import OperationalError

from shop.shared import bell, transactions
from shop.shared.models import AuditLine

_FIRST = "0" * 64
_LOCK_WAIT = "500ms"

Facts = Mapping[str, object]


def write(
    *,
    at: dt.datetime,
    by: str,
    action: str,
    subject: str,
    before: Facts | None = None,
    after: Facts | None = None,
    reason: str = "",
) -> AuditLine:
    """Write one line inside the caller's transaction, so that a change and its line stand or fall together.

    `by` is a log-in name, "key NAME" of a program, or the name of a command; `subject` is a kind and a number ("tablet 3").
    """
    transactions.assert_open()
    bell.ring_after_commit()  # whatever was changed, days given may have become less sure
    return AuditLine.objects.create(
        at=at,
        by=by[:80],
        action=action,
        subject=subject[:120],
        before=_plain(before),
        after=_plain(after),
        reason=reason[:300],
    )


def seal(limit: int = 1000) -> int:
    """Seal up to `limit` lines that have no seal yet, in id order, and return how many were sealed.

    Called outside a transaction: it opens its own, one to learn how far the chain may go and one to write.
    """
    upto = _settled_upto()
    if upto is None:
        return 0
    with transactions.entry_point():
        last = AuditLine.objects.exclude(seal="").order_by("-id").first()
        before = last.seal if last else _FIRST
        after_id = last.pk if last else 0
        lines = list(AuditLine.objects.filter(id__gt=after_id, id__lte=upto, seal="").order_by("id")[:limit])
        for done, line in enumerate(lines):
            before = _seal(before, line)
            # Another worker sealing the same lines writes the same seals; the one that comes second stops.
            if not AuditLine.objects.filter(pk=line.pk, seal="").update(seal=before):  # pragma: no cover - needs a race
                return done
        return len(lines)


def verify(*, since: dt.datetime | None = None) -> list[str]:
    """Return one sentence for each line that was altered, or that does not follow from the line before it.

    With `since` the chain is followed from the last line that was sealed before that moment.
    """
    wrong = []
    start = AuditLine.objects.filter(at__lt=since).exclude(seal="").order_by("-id").first() if since else None
    before, gap = start.seal if start else _FIRST, 0
    for line in _lines(after=start.pk if start else 0):
        if not line.seal:
            gap = gap or line.pk
            continue
        if gap:
            wrong.append(f"Audit line {gap} has no seal, though line {line.pk} after it has one.")
            gap = 0
        if line.seal != _seal(before, line):
            wrong.append(f"Audit line {line.pk} was altered, or a line before it was removed.")
        before = line.seal
    return wrong


def _lines(*, after: int) -> Iterator[AuditLine]:
    return AuditLine.objects.filter(id__gt=after).order_by("id").iterator(chunk_size=2000)


def _settled_upto() -> int | None:
    """Return the highest id below which no writer is still at work, or nothing where that cannot be told now.

    PostgreSQL gives ids out before the commit, so a lower id may become visible after a higher one. The table lock
    waits for the writers that are under way; it is released before the sealing itself. SQLite has one writer at a time.
    """
    try:
        with transactions.entry_point():
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute(f"SET LOCAL lock_timeout = '{_LOCK_WAIT}'")
                    cursor.execute("LOCK TABLE shared_auditline IN SHARE MODE")
            highest: int | None = AuditLine.objects.aggregate(highest=Max("id"))["highest"]
            return highest
    except OperationalError:
        # A long transaction is writing; the next minute tries again.
        return None


def _seal(before: str, line: AuditLine) -> str:
    facts = [
        line.pk,
        line.at.astimezone(dt.UTC).isoformat(timespec="microseconds"),
        line.by,
        line.action,
        line.subject,
        line.before,
        line.after,
        line.reason,
    ]
    text = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{before}\n{text}".encode()).hexdigest()


def _plain(facts: Facts | None) -> dict[str, object] | None:
    """Return facts as JSON values, so that what is sealed is what the database gives back."""
    if facts is None:
        return None
    plain: dict[str, object] = json.loads(json.dumps(dict(facts), cls=DjangoJSONEncoder))
    return plain
