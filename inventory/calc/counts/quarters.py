"""Part tins and bottles, read by quarters."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc.bottles import FULL

WORDS: Final = ("empty", "1/4", "1/2", "3/4", "full")
"""A tin by its quarters, 0 to 4."""


@dataclass(frozen=True, slots=True)
class Tins:
    """Full ones, and the quarters of those that are not: 0 to 3 each. 1 tin and a half is `Tins(1, (2,))`."""

    full: int
    parts: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.full < 0 or any(not 0 <= one < FULL for one in self.parts):
            raise ValueError("full tins are 0 or more, a part tin has 0 to 3 quarters")

    @property
    def quarters(self) -> int:
        """All quarters together."""
        return FULL * self.full + sum(self.parts)


def units(tins: Tins, content: int) -> int:
    """Return what stands there.

    Args:
        tins: what was read.
        content: of a full one in the item's unit, 0 or more.

    Returns:
        Whole units, rounded down once for all tins together, so that four quarters are one tin to the unit.

    Raises:
        ValueError: a content below 0.

    Source: none; plain division, as of gas bottles.
    """
    if content < 0:
        raise ValueError("a full one holds 0 or more")
    return content * tins.quarters // FULL


def read(words: Sequence[str]) -> Tins:
    """Return what tins are by one word each: full, 3/4, 1/2, 1/4, empty.

    Raises:
        ValueError: another word.
    """
    found = [_quarters(word) for word in words]
    return Tins(found.count(FULL), tuple(one for one in found if one < FULL))


def like(amount: int, content: int) -> Tins:
    """Return the tins an amount would fill, the last to the nearest quarter: how the book's figure is shown.

    Args:
        amount: in the item's unit, 0 or more.
        content: of a full one, 1 or more.

    Returns:
        Full tins and one part tin at most; an amount just between two quarters is shown as the greater.

    Raises:
        ValueError: a value out of range.
    """
    if amount < 0 or content < 1:
        raise ValueError("an amount is 0 or more, a full tin holds 1 or more")
    full, part = divmod((2 * FULL * amount + content) // (2 * content), FULL)
    return Tins(full, (part,) if part else ())


def _quarters(word: str) -> int:
    if word not in WORDS:
        raise ValueError(f"a tin is one of {', '.join(reversed(WORDS))}, not {word}")
    return WORDS.index(word)
