"""One view of the book for an answer that takes several queries: nothing that others commit meanwhile shows in it."""

import contextlib
from collections.abc import Iterator

from django.db import DatabaseError, connection


@contextlib.contextmanager
def snapshot() -> Iterator[None]:
    """Read inside one snapshot. On SQLite a deferred transaction is enough and never waits for the one writer."""
    if connection.in_atomic_block:
        yield  # a test, or a caller that has a transaction of its own
        return
    begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY" if connection.vendor == "postgresql" else "BEGIN DEFERRED"
    with connection.cursor() as cursor:
        cursor.execute(begin)
    try:
        yield
    finally:
        try:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
        except DatabaseError:
            connection.close()
