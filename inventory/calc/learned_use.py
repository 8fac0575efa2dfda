"""What a piece uses up and how long it takes, learned from bottles changed, stock counted and minutes noted.

Use between two changes is taken as proportional to pieces, with the same spread for each piece: a ratio estimate with a
prior that is worth so many pieces, as the mean of a Gamma prior is drawn by Poisson counts. It assumes that what a bottle
held is gone when it is changed, that pieces use alike whatever the pattern, and that one interval tells nothing of the next.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

PRIOR_PIECES: Final = 50  # No source: what the route's own figure is worth, in pieces; the shop may change it
MANY: Final = 3  # intervals from which their own spread is told
PRIOR_RECORDS: Final = 3  # No source: what the route's own minutes are worth, in records; the shop may change it
_SECONDS_PER_MINUTE: Final = 60


@dataclass(frozen=True, slots=True)
class Interval:
    """Between two changes or counts: units used, 0 or more, and pieces made meanwhile, 0 or more."""

    used: int
    pieces: int

    def __post_init__(self) -> None:
        if self.used < 0 or self.pieces < 0:
            raise ValueError("use and pieces are 0 or more")


@dataclass(frozen=True, slots=True)
class Use:
    """Units a piece uses, the spread of that estimate in the same units, and over how many pieces and intervals."""

    each: Fraction
    spread: float
    pieces: int
    intervals: int


def learn(intervals: Sequence[Interval], prior_each: Fraction, prior_pieces: int = PRIOR_PIECES) -> Use:
    """Learn the use of one piece.

    Args:
        intervals: those that are over; one without a piece teaches nothing and is left out.
        prior_each: units a piece is believed to use, 0 or more.
        prior_pieces: what that belief is worth, pieces, 1 or more.

    Returns:
        (believed units + used) / (prior pieces + pieces); the spread from the intervals' own scatter where there are
        three or more, else the whole estimate over the root of the pieces it rests on.

    Raises:
        ValueError: a value out of range.

    Source: ratio estimator, Cochran, Sampling Techniques, chapter 6 (from memory).
    """
    if prior_each < 0 or prior_pieces < 1:
        raise ValueError("a belief is 0 or more and worth a piece or more")
    told = [one for one in intervals if one.pieces]
    pieces = sum(one.pieces for one in told)
    used = sum(one.used for one in told)
    each = (prior_each * prior_pieces + used) / (prior_pieces + pieces)
    if len(told) >= MANY:
        ratio = used / pieces
        mean = pieces / len(told)
        scatter = sum((one.used - ratio * one.pieces) ** 2 for one in told) / (len(told) - 1)
        spread = math.sqrt(scatter / len(told)) / mean
    else:
        spread = float(each) / math.sqrt(prior_pieces + pieces)
    return Use(each, spread, pieces, len(told))


def pieces_from(amount: int, use: Use) -> tuple[int, int, int] | None:
    """Give how many pieces an amount lasts for, and between which numbers that is likely.

    Args:
        amount: units, 0 or more.
        use: of one piece.

    Returns:
        Pieces, and their number at two spreads more and fewer; nothing where a piece uses nothing.
    """
    if amount < 0:
        raise ValueError("an amount is 0 or more")
    if use.each <= 0:
        return None
    most = float(use.each) - 2 * use.spread
    fewest = int(amount / (float(use.each) + 2 * use.spread))
    return int(amount / use.each), fewest, int(amount / most) if most > 0 else int(amount / use.each) * 2


@dataclass(frozen=True, slots=True)
class Record:
    """What was noted of some work: minutes by the clock, people at it, and pieces that came of it, 1 or more each."""

    minutes: int
    people: int
    pieces: int

    def __post_init__(self) -> None:
        if min(self.minutes, self.people, self.pieces) < 1:
            raise ValueError("a record tells of a minute, a person and a piece or more")

    @property
    def seconds(self) -> int:
        """The time of all its people together, seconds."""
        return self.minutes * self.people * _SECONDS_PER_MINUTE


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds of one person a piece takes, the spread from record to record in percent, and from how many records."""

    seconds_each: int
    spread_percent: int
    records: int


def pace(
    records: Sequence[Record], prior_seconds: int, prior_spread_percent: int, prior_records: int = PRIOR_RECORDS
) -> Pace:
    """Learn how long a piece takes.

    Args:
        records: what was noted; one of many pieces weighs more than one of few.
        prior_seconds: what a piece is believed to take, seconds of one person, 0 or more.
        prior_spread_percent: how far a record is believed to lie off, percent, 0 or more.
        prior_records: what that belief is worth, in records of the usual number of pieces, 1 or more.

    Returns:
        The mean weighted by pieces, whole seconds rounded half-even once. The spread is pooled of the believed one and the
        records' scatter about their own mean, so a belief that was wrong in the mean does not widen it, and one record
        alone leaves it as it was believed.

    Raises:
        ValueError: a value out of range.

    Source: weighted mean; pooled variance by degrees of freedom (from memory; any textbook of statistics).
    """
    if prior_seconds < 0 or prior_spread_percent < 0 or prior_records < 1:
        raise ValueError("a belief is 0 seconds and 0 percent or more, and worth a record or more")
    if not records:
        return Pace(prior_seconds, prior_spread_percent, 0)
    pieces, taken = sum(one.pieces for one in records), sum(one.seconds for one in records)
    worth = Fraction(prior_records * pieces, len(records))
    each = (prior_seconds * worth + taken) / (worth + pieces)
    own = Fraction(taken, pieces)
    scatter = sum(one.pieces * (Fraction(one.seconds, one.pieces) / own - 1) ** 2 for one in records)
    squares = prior_records * Fraction(prior_spread_percent, 100) ** 2 + scatter * len(records) / pieces
    spread = math.sqrt(squares / (prior_records + len(records) - 1))
    return Pace(round(each), round(100 * spread), len(records))
