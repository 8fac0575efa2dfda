"""What is left in a bottle that is read by quarters."""

from typing import Final

FULL: Final = 4


def content(whole: int, quarters: int) -> int:
    """Return what so many quarters hold.

    Args:
        whole: of a full bottle, in the item's unit, 0 or more.
        quarters: 0 to 4.

    Returns:
        Whole units, rounded down, so that a full bottle holds the whole and no reading makes gas.

    Raises:
        ValueError: a value out of range.

    Source: none; plain division.
    """
    if whole < 0 or not 0 <= quarters <= FULL:
        raise ValueError("a bottle holds 0 or more in 0 to 4 quarters")
    return whole * quarters // FULL
