"""How many to look at: of 144 handles, or of the lines of the book."""

import math
from typing import Final

CONFIDENCE: Final = 0.95


def look_at(share: float, confidence: float = CONFIDENCE) -> int:
    """Return how many have to be seen, all of them good, to be sure that at least this share of very many is good.

    Args:
        share: above 0 and below 1.
        confidence: above 0 and below 1.

    Returns:
        The smallest number, 1 or more.

    Raises:
        ValueError: a value out of range.

    Source: share ** n <= 1 - confidence (any textbook).
    """
    if not 0 < share < 1 or not 0 < confidence < 1:
        raise ValueError("a share and a confidence are above 0 and below 1")
    many = max(1, math.ceil(math.log(1 - confidence) / math.log(share)))
    while many > 1 and share ** (many - 1) <= 1 - confidence:
        many -= 1
    while share**many > 1 - confidence:
        many += 1
    return many


def look_at_of(lot: int, bad: int, confidence: float = CONFIDENCE) -> int:
    """Return how many of a lot have to be seen, all of them good, to be sure that fewer than `bad` of it are bad.

    Args:
        lot: pieces delivered, 1 or more.
        bad: how many would be too many, 1 to the lot.
        confidence: above 0 and below 1.

    Returns:
        1 to the lot. 25 of 144 handles, where 15 bad ones are too many.

    Raises:
        ValueError: a value out of range.

    Source: hypergeometric chance of seeing none (any textbook).
    """
    if not 1 <= bad <= lot or not 0 < confidence < 1:
        raise ValueError("bad ones are 1 to the lot, a confidence above 0 and below 1")
    low, high = 1, lot - bad + 1
    while low < high:
        middle = (low + high) // 2
        none_seen = math.comb(lot - bad, middle) / math.comb(lot, middle)
        low, high = (low, middle) if none_seen <= 1 - confidence else (middle + 1, high)
    return low


def accepted(seen: int, most: int, share: float) -> float:
    """Return the chance that a delivery passes when it is taken with up to `most` bad among `seen`.

    Args:
        seen: looked at, 0 or more.
        most: bad ones it is still taken with, 0 or more.
        share: of all that are bad, 0 to 1.

    Returns:
        0 to 1.

    Raises:
        ValueError: a value out of range.

    Source: binomial operating characteristic of a sampling plan (any textbook).
    """
    if seen < 0 or most < 0 or not 0 <= share <= 1:
        raise ValueError("pieces are 0 or more, a share 0 to 1")
    chances = (math.comb(seen, k) * share**k * (1 - share) ** (seen - k) for k in range(min(most, seen) + 1))
    return min(1.0, math.fsum(chances))


def accepted_of(lot: int, bad: int, seen: int, most: int) -> float:
    """Return the same for a lot of pieces of which so many are bad.

    Args:
        lot: pieces, 1 or more.
        bad: of them, 0 to the lot.
        seen: looked at, 0 to the lot.
        most: bad ones it is still taken with, 0 or more.

    Raises:
        ValueError: a value out of range.

    Source: hypergeometric operating characteristic (any textbook).
    """
    if lot < 1 or not 0 <= bad <= lot or not 0 <= seen <= lot or most < 0:
        raise ValueError("a lot is of 1 or more; bad ones and those seen are 0 to the lot")
    ways = sum(math.comb(bad, k) * math.comb(lot - bad, seen - k) for k in range(min(most, seen, bad) + 1))
    return ways / math.comb(lot, seen)
