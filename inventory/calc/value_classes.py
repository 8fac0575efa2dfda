"""Which goods matter most by the value they turn over in a year, and so how often they are counted."""

from collections.abc import Mapping
from typing import Final

OFTEN, SOMETIMES, SELDOM = "often", "sometimes", "seldom"
A_SHARE: Final = 0.80
B_SHARE: Final = 0.95
"""Shares of the yearly value. Source: 80/15/5 as seen at supplychainmetric.com; other books draw the lines elsewhere."""


def classes(yearly: Mapping[str, float]) -> dict[str, str]:
    """Class goods by their yearly value.

    Args:
        yearly: value a year by name, 0 or more, in any unit.

    Returns:
        Counted often while the share of what comes before an item is below 80 in 100, sometimes below 95, else seldom;
        alike values by name. What turns over nothing is counted seldom.

    Raises:
        ValueError: a negative value.

    Source: ABC by cumulated value; that the share before the item decides is the shop's choice (books differ).
    """
    if any(value < 0 for value in yearly.values()):
        raise ValueError("a value is 0 or more")
    total = sum(yearly.values())
    found, before = {}, 0.0
    for name in sorted(yearly, key=lambda one: (-yearly[one], one)):
        share = before / total if total else 1.0
        found[name] = OFTEN if share < A_SHARE - 1e-12 else SOMETIMES if share < B_SHARE - 1e-12 else SELDOM
        if not yearly[name]:
            found[name] = SELDOM
        before += yearly[name]
    return found
