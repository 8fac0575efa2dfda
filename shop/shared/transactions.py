"""Entry points open the transaction; services assert that one is open."""

from django.db import connection, transaction


def entry_point() -> transaction.Atomic:
    """Return the outermost transaction block that a view, task or command opens around its one domain call."""
    return transaction.atomic(durable=True)


def assert_open() -> None:
    """Raise where a service that writes is called without a transaction: a programming error, never a refusal."""
    if not connection.in_atomic_block:
        raise RuntimeError("This service writes: the entry point must open a transaction around it.")
