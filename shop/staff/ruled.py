"""A ruled table as data; the template part prints it once with every role and label it needs."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, and whether it holds figures."""

    head: str
    figures: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands under one head; `text` may be safe HTML made with format_html."""

    text: object
    column: Column

    @property
    def shown(self) -> bool:
        """Say whether anything stands here; nought does, nothing does not."""
        return self.text is not None and self.text != ""


@dataclass(frozen=True, slots=True)
class Ruled:
    """A table of lines. The first cell of a line names the line.

    `bare` is for lines of the book, whose last two columns are who and the number of the line.
    """

    caption: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[object]]
    total: Sequence[object] = ()
    bare: bool = False

    @property
    def lines(self) -> list[list[Cell]]:
        """Return the rows with each cell under its column."""
        return [self._under(row) for row in self.rows]

    @property
    def total_line(self) -> list[Cell]:
        """Return the total with each cell under its column, or nothing."""
        return self._under(self.total) if self.total else []

    def _under(self, row: Sequence[object]) -> list[Cell]:
        return [Cell(text, column) for text, column in zip(row, self.columns, strict=True)]
