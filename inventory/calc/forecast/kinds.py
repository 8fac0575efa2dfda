"""How an item is asked for: how often, how evenly; and which demand looks as if it would not come again."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

OFTEN: Final = 1.32
EVEN: Final = 0.49
"""Cut-offs of the mean interval and of the squared variation. Source: Syntetos, Boylan & Croston, Journal of the
Operational Research Society 56 (2005) 495-503 (values seen quoted, the paper not read)."""

LEAST: Final = 6  # other sales that it takes to say that one looks out of place. No source
TIMES: Final = 4  # so many times what three quarters of the others stay under. No source


@dataclass(frozen=True, slots=True)
class Kind:
    """Weeks from one demand to the next, the squared coefficient of variation of their sizes, and the word for it."""

    interval: float
    variation: float
    word: str


def kind(weekly: Sequence[float]) -> Kind | None:
    """Say how an item is asked for.

    Args:
        weekly: demand by week, 0 or more.

    Returns:
        The mean interval is periods over periods with demand; the variation that of the sizes, population form. Words:
        smooth, intermittent, erratic (often, sizes uneven), lumpy (seldom and uneven). Nothing without demand.
    """
    sizes = [one for one in weekly if one > 0]
    if not sizes:
        return None
    mean = sum(sizes) / len(sizes)
    variation = sum((one - mean) ** 2 for one in sizes) / len(sizes) / mean**2
    interval = len(weekly) / len(sizes)
    if interval < OFTEN:
        return Kind(interval, variation, "smooth" if variation < EVEN else "erratic")
    return Kind(interval, variation, "intermittent" if variation < EVEN else "lumpy")


def looks_one_off(quantity: float, others: Sequence[float]) -> bool:
    """Say whether a demand looks as if it would not come again, for a person to decide.

    Args:
        quantity: units asked for at once.
        others: what the item's other demands were, units.

    Returns:
        True where at least six others are known and it is more than four times what three quarters of them stay under,
        and more than any of them was.

    Source: common practice, no source.
    """
    if len(others) < LEAST:
        return False
    ordered = sorted(others)
    upper = ordered[(3 * len(ordered) - 1) // 4]
    return quantity > TIMES * upper and quantity > ordered[-1]
