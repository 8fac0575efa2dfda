"""A table typed or pasted from a spreadsheet: tab, semicolon or comma between fields, the first line names the columns."""

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shop.shared.errors import Invalid

MOST_BYTES = 10 * 1024 * 1024
MOST_ROWS = 100_000
MOST_COLUMNS = 100
MOST_FIELD = 4096
SEPARATORS = ("\t", ";", ",")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: the number of the line it begins on, and its fields by column."""

    number: int
    fields: Mapping[str, str]

    def get(self, column: str) -> str:
        """Return what was typed in a column, without the spaces around it; nothing where the column is missing."""
        return self.fields.get(column, "")


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read; every row has every column."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    def digest(self) -> str:
        """Return a fingerprint of what the table says, whatever its separators and line ends."""
        said = [list(self.columns), *([row.get(column) for column in self.columns] for row in self.rows)]
        return hashlib.sha256(json.dumps(said, ensure_ascii=True).encode()).hexdigest()[:40]


def read(given: str | bytes, *, known: Iterable[str], needed: Iterable[str]) -> Table:
    """Read a table whose columns are among the known ones, the needed ones with them."""
    text = _text(given)
    separator = _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    columns: tuple[str, ...] = ()
    rows: list[Row] = []
    number = 1
    try:
        for record in reader:
            at, number = number, reader.line_num + 1
            fields = [field.strip() for field in record]
            if not any(fields):
                continue
            if not columns:
                columns = _columns(fields, set(known), list(needed))
            else:
                rows.append(_row(at, fields, columns))
                if len(rows) > MOST_ROWS:
                    raise _wrong(f"more than {MOST_ROWS} lines are written; move in the rest as a second table")
    except csv.Error:
        raise _wrong(
            f"line {reader.line_num} has a quotation mark that is not closed; close it or take it out"
        ) from None
    if not rows:
        raise _wrong("there is a header and no line under it" if columns else "nothing is written yet")
    return Table(columns, tuple(rows))


def _text(given: str | bytes) -> str:
    size = len(given) if isinstance(given, bytes) else len(given.encode("utf-8", "surrogatepass"))
    if size > MOST_BYTES:
        raise _wrong("it is larger than 10 MB; move it in as several tables")
    try:
        text = given.decode("utf-8-sig") if isinstance(given, bytes) else given.removeprefix("\ufeff")
        text.encode()
    except UnicodeError:
        raise _wrong("it is not UTF-8 text; save it as CSV UTF-8, or copy the cells and paste them here") from None
    if "\0" in text:
        raise _wrong("it holds a sign that is no text; copy the cells and paste them here")
    return text


def _separator(text: str) -> str:
    header = next((line for line in text.splitlines() if line.strip()), "")
    return next((separator for separator in SEPARATORS if separator in header), ",")


def _columns(fields: list[str], known: set[str], needed: list[str]) -> tuple[str, ...]:
    if len(fields) > MOST_COLUMNS:
        raise _wrong(f"more than {MOST_COLUMNS} columns are named; leave out what is not needed")
    names = tuple(" ".join(field.lower().replace("_", " ").split())[:60] for field in fields)
    unknown = [name for name in names if name not in known]
    if unknown:
        raise _wrong(f"the column {unknown[0]!r} is not known; the known ones are {', '.join(sorted(known))}")
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise _wrong(f"the column {twice[0]!r} is named twice; leave one out")
    missing = [name for name in needed if name not in names]
    if missing:
        raise _wrong(f"the column {missing[0]!r} is missing in the first line; add it")
    return names


def _row(number: int, fields: list[str], columns: tuple[str, ...]) -> Row:
    while len(fields) > len(columns) and not fields[-1]:
        fields.pop()
    if len(fields) > len(columns):
        raise _wrong(f"line {number} has {len(fields)} fields and the header names {len(columns)}; put quotation marks "
                     "round a field with a separator in it")  # fmt: skip
    if any(len(field) > MOST_FIELD for field in fields):
        raise _wrong(f"line {number} has a field of more than {MOST_FIELD} characters; shorten it")
    padded = [*fields, *[""] * (len(columns) - len(fields))]
    return Row(number, dict(zip(columns, padded, strict=True)))


def _wrong(why: str) -> Invalid:
    return Invalid.field("table", f"Table: {why}.")
