"""Reading many tables as they stood at one moment, while others go on writing."""

import contextlib
from collections.abc import Iterator

from django.db import connection, transaction


@contextlib.contextmanager
def one_moment() -> Iterator[None]:
    """Let every read inside the block see the database of one moment, and keep no writer waiting.

    Inside a transaction that is open already it reads what that transaction sees.
    """
    if connection.in_atomic_block:
        yield
        return
    with _deferred(), transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


@contextlib.contextmanager
def _deferred() -> Iterator[None]:
    # Transactions here take SQLite's one write lock when they begin; one that only reads must not.
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()  # which is what sets the mode
    usual, connection.transaction_mode = connection.transaction_mode, "DEFERRED"  # type: ignore[attr-defined]
    try:
        yield
    finally:
        connection.transaction_mode = usual  # type: ignore[attr-defined]
