"""How the database goes about the statements of a piece of code: what it reads by an index and what it reads whole."""

import re
from collections.abc import Callable
from typing import Any

from django.db import connection

Statement = tuple[str, Any]
READ_WHOLE = re.compile(r"(?:SCAN|Seq Scan on) \"?((?:inventory|orders)_\w+)")


def statements(action: Callable[[], object]) -> list[Statement]:
    """Return every statement that the action sends, with what is bound in it."""
    said: list[Statement] = []

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        said.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        action()
    return said


def plan(sql: str, params: Any) -> list[str]:
    """Return the lines of the database's plan for a statement."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
            return [row[3] for row in cursor.fetchall()]
        cursor.execute(f"EXPLAIN (COSTS OFF) {sql}", params)
        return [row[0] for row in cursor.fetchall()]


def read_whole(said: list[Statement], growing: set[str]) -> list[str]:
    """Return the statements that read one of the growing tables from end to end, each with its plan."""
    found = []
    for sql, params in dict(said).items():
        if not sql.startswith(("SELECT", "WITH", "\nWITH")):
            continue
        lines = plan(sql, params)
        tables = {match for line in lines for match in READ_WHOLE.findall(line)}
        if tables & growing:
            found.append("\n".join([sql[:400], *lines]))
    return found
