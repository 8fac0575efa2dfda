"""CSV for spreadsheets: RFC 4180, and nothing in a cell that a spreadsheet would run or turn into a date."""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from decimal import Decimal

MEDIA_TYPE = "text/csv; charset=utf-8; header=present"
_LEADS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_AFTER_SEPARATOR = re.compile(r"[;,\t\"'|\r\n][\s\u00a0]*[=+\-@\uff1d\uff0b\uff0d\uff20]")
_LINES = re.compile(r"[\r\n\t\x00-\x1f\x7f]+")

Cell = str | int | Decimal | dt.datetime | dt.date | None


def write(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return a table as CSV with a header line, CRLF line ends and as many fields on every line."""
    lines = [",".join(header)]
    for row in rows:
        if len(row) != len(header):
            raise ValueError(f"a row has {len(row)} cells under {len(header)} headings")
        lines.append(",".join(map(cell, row)))
    return "\r\n".join(lines) + "\r\n"


def cell(value: Cell) -> str:
    """Return one cell: numbers bare, text always in quotes and without what a spreadsheet takes for a formula."""
    if value is None:
        return ""
    if isinstance(value, str):
        return '"' + harmless(value).replace('"', '""') + '"'
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def harmless(text: str) -> str:
    """Return text that no spreadsheet runs: a leading sign gets an apostrophe, line ends and tabs become spaces."""
    one_line = _LINES.sub(" ", text)
    start = text.lstrip(" \u00a0\u200b\ufeff")
    if text.startswith(_LEADS) or start.startswith(_LEADS) or _AFTER_SEPARATOR.search(text):
        return "'" + one_line
    return one_line
