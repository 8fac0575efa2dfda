"""How far a count may be off the book before a reason is asked for."""

from collections.abc import Mapping
from typing import Final

from inventory.calc.bottles import FULL
from inventory.calc.value_classes import OFTEN, SELDOM, SOMETIMES

PERCENT: Final[Mapping[str, int]] = {OFTEN: 1, SOMETIMES: 3, SELDOM: 5}
"""Of what the book says, either way. Source: 1, 3 and 5 in 100 as seen at supplychainmetric.com; other books say 0.2, 1
and 5 (from memory)."""

STEP: Final[Mapping[str, int]] = {"piece": 0, "nm": 1_587_500, "mg": 50_000, "ul": 50_000}
"""What the hand can tell by the item's unit: a piece exactly, a sixteenth of an inch, 50 g, 50 mL. No source: shop practice.
"""


def quarter(content: int) -> int:
    """Return the step of a tin that is read by quarters, in the unit of its content, rounded up.

    Args:
        content: of a full one, 1 or more.

    Raises:
        ValueError: a content below 1.
    """
    if content < 1:
        raise ValueError("a full one holds 1 or more")
    return -(-content // FULL)


def allowed(book: int, counted: str, step: int = 0) -> int:
    """Return how far a count may be off, either way, the limit included.

    Args:
        book: what the book says, in the item's unit, 0 or more.
        counted: how often the item is counted: often, sometimes, seldom.
        step: what the hand can tell in the same unit, 0 or more: of `STEP`, or of `quarter`.

    Returns:
        1, 3 or 5 in 100 of the book, rounded down to whole units, but never less than the step. Pieces below a hundredth
        so have to agree exactly.

    Raises:
        ValueError: a value out of range, or another word.
    """
    if book < 0 or step < 0:
        raise ValueError("the book and the step are 0 or more")
    if counted not in PERCENT:
        raise ValueError(f"counted is one of {', '.join(PERCENT)}, not {counted}")
    return max(book * PERCENT[counted] // 100, step)


def agrees(book: int, count: int, off: int) -> bool:
    """Tell whether a count is within so many units of the book, the limit included."""
    return abs(count - book) <= off
