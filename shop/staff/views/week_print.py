"""How small the week is printed so that it stands on one page of A4 across, and how many lines of a cell are named there.

Millimetres as measured on pages that Chromium printed with the widest of the fonts in the stack.
"""

from collections.abc import Sequence
from dataclasses import dataclass

PAGE_MM = 139.0  # between the heads of the places and the foot
WIDTH_MM = 257.0  # of all places
EMPTY_MM = 17.0  # of a place in which nothing stands that week


@dataclass(frozen=True, slots=True)
class Size:
    """A size of print: height of a line, around each entry, around a day, a day at the least; width of a sign."""

    name: str
    line: float
    entry: float
    day: float
    least: float
    sign: float


SIZES = (
    Size("", 3.75, 1.3, 2.6, 16.0, 1.65),
    Size("full", 2.95, 1.15, 1.8, 9.0, 1.4),
    Size("fuller", 2.45, 1.05, 1.8, 8.0, 1.22),
    Size("fullest", 2.15, 0.95, 1.6, 7.5, 1.06),
)

Rows = Sequence[Sequence[Sequence[int]]]  # signs of each entry, by day and place


def fit(rows: Rows) -> tuple[str, int | None]:
    """Return the size in which all days stand on one page, and how many entries of a cell are named, where not all."""
    most = max((len(cell) for row in rows for cell in row), default=0)
    for size in SIZES:
        if _height(rows, size, most) <= PAGE_MM:
            return size.name, None
    named = next((number for number in range(most - 1, 0, -1) if _height(rows, SIZES[-1], number) <= PAGE_MM), 1)
    return SIZES[-1].name, named


def _height(rows: Rows, size: Size, most: int) -> float:
    places = range(max((len(row) for row in rows), default=0))
    empty = sum(not any(row[place] for row in rows) for place in places)
    width = (WIDTH_MM - EMPTY_MM * empty) / max(1, len(places) - empty)
    signs = max(1, int(width / size.sign))
    return sum(max(size.least, *(_cell(cell, size, signs, most) for cell in row)) for row in rows)


def _cell(cell: Sequence[int], size: Size, signs: int, most: int) -> float:
    lines = [-(-max(1, length) // signs) for length in cell[:most]]
    lines += [1] if len(cell) > most else []
    return size.day + sum(number * size.line + size.entry for number in lines)
