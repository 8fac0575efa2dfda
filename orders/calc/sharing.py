"""Who gets how many of an item of which less is there than its open lines want: two rules; the third is a hand.

Both rules give out all there is, as far as it is wanted. A line that goes whole gets all it wants or nothing; only what
no other line can use gathers at the first of them, as in the book, where such a line gathers what comes.
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.calc.shares import share

NO_DAY = dt.date.max


@dataclass(frozen=True, slots=True)
class Claim:
    """One line that wants pieces: `wants` is what it still wants in all, `place` its place in the queue."""

    line: int
    wants: int
    place: int
    day: dt.date | None = None
    whole: bool = False

    def __post_init__(self) -> None:
        if self.wants < 1:
            raise ValueError("a claim wants one piece or more")

    @property
    def rank(self) -> tuple[dt.date, int]:
        """Return what it is served by: the day given, lines without one last, then the place in the queue."""
        return self.day or NO_DAY, self.place


Shares = dict[int, int]
"""Line to pieces; every claim's line is in it, with 0 where it gets none."""


def by_date(claims: Sequence[Claim], there: int) -> Shares:
    """Share by the day given: the earliest day first, then the place in the queue.

    Args:
        claims: the lines, each named once; in any order.
        there: pieces to be shared; 0 or more.

    Returns:
        The pieces of each line; they come to the smaller of what is there and what is wanted.

    Raises:
        ValueError: a line named twice, or fewer than no pieces.

    Source: none; shop practice.
    """
    shares, left = _begin(claims, there), there
    for claim in sorted(claims, key=lambda one: one.rank):
        take = min(left, claim.wants)
        if claim.whole and take < claim.wants:
            continue
        shares[claim.line] = take
        left -= take
    return _gather(claims, shares, left)


def proportional(claims: Sequence[Claim], there: int) -> Shares:
    """Share in proportion to what is wanted, by the largest remainder; of equal remainders the earlier line gets more.

    The lines that go whole take part as one: out of what they get together they are filled in the order of the day
    given, each in full or not at all; what they cannot use is shared among the other lines.

    Args:
        claims: the lines, each named once; in any order.
        there: pieces to be shared; 0 or more.

    Returns:
        The pieces of each line; they come to the smaller of what is there and what is wanted.

    Raises:
        ValueError: a line named twice, or fewer than no pieces.

    Source: the largest remainder is Hamilton's method of apportionment (1792); how lines that go whole take part is
    shop practice, no source.
    """
    shares = _begin(claims, there)
    ranked = sorted(claims, key=lambda one: one.rank)
    whole, parted = [one for one in ranked if one.whole], [one for one in ranked if not one.whole]
    there = min(there, sum(one.wants for one in claims))
    if whole and there:
        together = sum(one.wants for one in whole)
        pool, _ = share(there, [together, sum(one.wants for one in parted)])
        shares |= _in_full(whole, pool)
    left = there - sum(shares.values())
    given = min(left, sum(one.wants for one in parted))
    if given:
        parts = share(given, [one.wants for one in parted])
        shares |= {one.line: part for one, part in zip(parted, parts, strict=True)}
    left -= given
    still = [one for one in whole if not shares[one.line]]
    filled = _in_full(still, left)
    return _gather(claims, shares | filled, left - sum(filled.values()))


def moved(claims: Sequence[Claim], has: Mapping[int, int], shares: Mapping[int, int]) -> dict[int, int]:
    """Return how many more (or fewer, negative) each line has after sharing; lines that stay as they are left out."""
    changes = {claim.line: shares.get(claim.line, 0) - has.get(claim.line, 0) for claim in claims}
    return {line: change for line, change in changes.items() if change}


def _begin(claims: Sequence[Claim], there: int) -> Shares:
    shares = {claim.line: 0 for claim in claims}
    if len(shares) != len(claims) or there < 0:
        raise ValueError("each line is named once, and 0 or more pieces are shared")
    return shares


def _in_full(whole: Sequence[Claim], pool: int) -> Shares:
    filled: Shares = {}
    for one in whole:
        if one.wants <= pool:
            filled[one.line] = one.wants
            pool -= one.wants
    return filled


def _gather(claims: Sequence[Claim], shares: Shares, left: int) -> Shares:
    """Let what is left gather at the first lines that are short: after the rules above those go whole."""
    for claim in sorted(claims, key=lambda one: one.rank):
        take = min(left, claim.wants - shares[claim.line])
        shares[claim.line] += take
        left -= take
    return shares
