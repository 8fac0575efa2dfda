"""Sharing a whole into parts that sum to it exactly, and how far a weight is off."""

from collections.abc import Sequence
from fractions import Fraction


def share(whole: int, weights: Sequence[int]) -> list[int]:
    """Share a whole number by weights, by largest remainder, so that the parts sum to the whole.

    Args:
        whole: what is shared, any unit; 0 or more.
        weights: what each part weighs, 0 or more each; where all are 0 the parts are equal.

    Returns:
        One whole number per weight, each within one unit of its exact share; of equal remainders the first gets more.

    Raises:
        ValueError: nothing to share among, or a negative number.
    """
    if not weights or whole < 0 or min(weights) < 0:
        raise ValueError("a whole of 0 or more is shared among weights of 0 or more")
    scale = list(weights) if any(weights) else [1] * len(weights)
    total = sum(scale)
    parts = [whole * weight // total for weight in scale]
    remainders = [whole * weight % total for weight in scale]
    for index in sorted(range(len(scale)), key=lambda i: -remainders[i])[: whole - sum(parts)]:
        parts[index] += 1
    return parts


def difference_ppm(measured: int, computed: int) -> int | None:
    """How far a measured mass is off the computed one.

    Args:
        measured: mg; 0 or more.
        computed: mg; 0 or more.

    Returns:
        Parts per million of the computed mass, rounded half-even, negative where less was measured; nothing where the
        computed mass is 0.
    """
    if not computed:
        return None
    return round(Fraction((measured - computed) * 1_000_000, computed))
