"""How long a supplier takes to bring an item, in calendar days, learned from orders and deliveries.

An order line that came in parts counts with each part's share of the quantity on the day it came; what has not come yet
tells that it takes longer than it has been waited for. What is expected next is the records themselves, those of the
supplier's other items as support, and a smooth spread around what is believed, worth a few records.
"""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

DEFAULT_DAYS: Final = 14  # No source: believed where neither item nor supplier has a lead time written down
PRIOR_MEAN: Final = 1.0  # No source: what the belief is worth for the usual days, in records
PRIOR_WIDTH: Final = 1.0  # No source: what it is worth for their spread
SMOOTH_RECORDS: Final = 20.0  # No source: what the smooth spread is worth beside the records it is drawn through
PRIOR_SPREAD: Final = 0.25  # No source: how far an order is believed to lie off, as a share of the usual days
SUPPORT_EACH: Final = 0.5  # No source: what a record of another item of the supplier is worth
SUPPORT_MOST: Final = 4.0  # No source: what all of those are worth together at most
LONGEST_DAYS: Final = 730  # No source: two years; nothing is expected later
_ROUNDS: Final = 30  # No source: rounds after which what waits has settled well below one in a million
_HALF: Final = 0.5  # Source: the middle of a whole day
_FREEDOM: Final = 3.0  # No source: degrees of freedom without any record; how far its tail reaches
_TIMES: Final = 4  # No source: nothing takes longer than so many times the longest seen or believed
_SMALLEST: Final = 1e-6  # No source: chances below it are dropped

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Record:
    """One order line: ordered when, promised for when, and which share of it came on which day, together 1 at most."""

    ordered: dt.date
    promised: dt.date | None = None
    came: tuple[tuple[dt.date, float], ...] = ()

    def __post_init__(self) -> None:
        shares = [share for _, share in self.came]
        if any(share <= 0 for share in shares) or sum(shares) > 1 + 1e-9:
            raise ValueError("shares that came are above 0 and together 1 at most")
        if any(day < self.ordered for day, _ in self.came):
            raise ValueError("nothing comes before it is ordered")

    @property
    def open(self) -> float:
        """The share that has not come yet."""
        left = 1 - sum(share for _, share in self.came)
        return left if left > 1e-9 else 0.0


@dataclass(frozen=True, slots=True)
class LeadTime:
    """Days and their chances, rising days, chances together 1; the mean in days; own records it rests on (whole lines)."""

    days: tuple[int, ...]
    chances: tuple[float, ...]
    mean: float
    records: int = 0

    def __post_init__(self) -> None:
        if not self.days or len(self.days) != len(self.chances):
            raise ValueError("a lead time has a day or more, each with its chance")
        if self.days[0] < 0 or any(a >= b for a, b in zip(self.days, self.days[1:], strict=False)):
            raise ValueError("days are 0 or more and rise")
        if min(self.chances) < 0 or abs(sum(self.chances) - 1) > 1e-6:
            raise ValueError("chances are 0 or more and together 1")

    def by(self, days: int) -> float:
        """Return the chance that it takes so many days at most."""
        return min(1.0, sum(chance for day, chance in zip(self.days, self.chances, strict=True) if day <= days))

    def within(self, chance: float) -> int:
        """Return the fewest days within which it comes with at least this chance, 0 to 1."""
        so_far = 0.0
        for day, each in zip(self.days, self.chances, strict=True):
            so_far += each
            if so_far >= chance - 1e-9:
                return day
        return self.days[-1]


@dataclass(frozen=True, slots=True)
class Kept:
    """Promised against actual: mean days late (below 0: early), standard deviation in days, lines it rests on."""

    bias: float
    spread: float
    records: int


def fixed(days: int) -> LeadTime:
    """Return a lead time of exactly so many days, 0 or more."""
    return LeadTime((days,), (1.0,), float(days))


def of(chances: dict[int, float], *, records: int = 0) -> LeadTime:
    """Return a lead time from chances by day; they are brought to 1 together, and tiny ones dropped.

    Raises:
        ValueError: nothing above 0.
    """
    whole = sum(chances.values())
    kept = {day: chance / whole for day, chance in sorted(chances.items()) if whole > 0 and chance / whole > _SMALLEST}
    if not kept:
        raise ValueError("a lead time has a day with a chance above 0")
    left = sum(kept.values())
    mean = sum(day * chance for day, chance in kept.items()) / left
    return LeadTime(tuple(kept), tuple(chance / left for chance in kept.values()), mean, records)


def learn(own: Sequence[Record], others: Sequence[Record], *, written: int | None, today: dt.date) -> LeadTime:
    """Learn the lead time of an item from a supplier.

    Args:
        own: order lines of the item at the supplier, also those still open.
        others: order lines of the supplier's other items.
        written: lead time believed, calendar days, 0 or more, or None where nobody wrote one down.
        today: the shop's day; what is open has been waited for until its evening.

    Returns:
        The chances of each number of days for the next order: each own record with weight 1, those of other items
        SUPPORT_EACH and SUPPORT_MOST together, and a smooth spread worth SMOOTH_RECORDS, for the longest of few records is
        not the longest there is. It is drawn through the records and the belief, which is worth PRIOR_MEAN records for the
        usual days and PRIOR_WIDTH for their spread; without any record it stands alone. What is open moves its weight to
        the days beyond those waited (self-consistent estimate); where it has waited longer than anything known, evenly to
        the days up to as long again.

    Raises:
        ValueError: `written` below 0.

    Source: the smooth spread is the posterior predictive of a lognormal under its conjugate prior, Student's t of the log
    (any textbook of Bayesian statistics), with more degrees of freedom while records are few; beside the records it is that
    of a Dirichlet process with right-censored records: Ferguson 1973; Susarla and Van Ryzin
    1976; self-consistency: Efron 1967 (all from memory). Weights: no source, shop practice.
    """
    if written is not None and written < 0:
        raise ValueError("a lead time is 0 days or more")
    came, waits = _told(own, 1.0, today)
    each = min(SUPPORT_EACH, SUPPORT_MOST / len(others)) if others else 0.0
    support, support_waits = _told(others, each, today)
    believed = DEFAULT_DAYS if written is None else written
    return _predict(believed, came + support, waits + support_waits, sum(1 for one in own if one.came and not one.open))


def given_not_come(lead: LeadTime, waited: int) -> LeadTime:
    """Return the rest of the time from today, 1 day or more, of an order that has not come on the day it waits for.

    Args:
        lead: days from order to arrival.
        waited: whole days since it was ordered, 0 or more.

    Returns:
        Days from today. Where it has been waited for longer than any day with a chance, every day up to as long again, or
        to the usual lead time where that is longer, is as likely (no source: nothing is known then).

    Raises:
        ValueError: waited below 0.
    """
    if waited < 0:
        raise ValueError("an order waits 0 days or more")
    rest = {day - waited: chance for day, chance in zip(lead.days, lead.chances, strict=True) if day > waited}
    if sum(rest.values()) <= _SMALLEST:
        longest = min(LONGEST_DAYS, max(1, round(lead.mean), waited))
        rest = dict.fromkeys(range(1, longest + 1), 1.0)
    return of(rest, records=lead.records)


def kept(records: Iterable[Record]) -> Kept | None:
    """Set the days promised beside the days it came, lines weighted alike; None where no promised line has come.

    Source: mean and standard deviation, a part of a line by its share.
    """
    slips = [(float((day - one.promised).days), share) for one in records if one.promised for day, share in one.came]
    lines = sum(1 for one in records if one.promised and one.came) if isinstance(records, Sequence) else len(slips)
    if not slips:
        return None
    whole = sum(share for _, share in slips)
    bias = sum(days * share for days, share in slips) / whole
    return Kept(bias, math.sqrt(sum(share * (days - bias) ** 2 for days, share in slips) / whole), lines)


def rest_of(
    lead: LeadTime, records: Sequence[Record], *, ordered: dt.date, promised: dt.date | None, today: dt.date
) -> LeadTime:
    """Return the days from today, 1 or more, until an open order comes.

    Args:
        lead: of the item, for an order nothing was promised for.
        records: of the supplier, to learn how its promises are kept.
        ordered: when; not after today.
        promised: the day it was confirmed for last, or None.
        today: the shop's day.

    Returns:
        With a promised day: that day, moved as the supplier's promises were (early or late, a record each beside a
        belief worth PRIOR_MEAN that it is kept). Else the lead time given that it has not come.

    Raises:
        ValueError: ordered after today, or promised before it was ordered.
    """
    waited = (today - ordered).days
    if promised is None:
        return given_not_come(lead, waited)
    length = (promised - ordered).days
    if length < 0:
        raise ValueError("a day is promised from the order on")
    told = [
        (max(0, length + (day - one.promised).days), share)
        for one in records
        if one.promised
        for day, share in one.came
    ]
    return given_not_come(_predict(length, told, [], lead.records), waited)


def _told(
    records: Sequence[Record], each: float, today: dt.date
) -> tuple[list[tuple[int, float]], list[tuple[int, float]]]:
    """Return days with weight: of what came, and waited of what is open."""
    came = [((day - one.ordered).days, each * share) for one in records for day, share in one.came]
    waits = [(max(0, (today - one.ordered).days), each * one.open) for one in records if one.open]
    return came, waits


def _predict(believed: int, came: list[tuple[int, float]], waits: list[tuple[int, float]], records: int) -> LeadTime:
    """Mix records and a smooth spread; `waits` are weights of which only is known that they take longer."""
    worth = sum(weight for _, weight in came)
    longest = max([believed, *(day for day, _ in came)])
    longest = min(LONGEST_DAYS, max([_TIMES * max(1, longest), *(2 * day + 1 for day, _ in waits)]))
    fixed_part = SMOOTH_RECORDS * _smooth(believed, came, worth, longest)
    for day, weight in came:
        fixed_part[min(day, longest)] += weight
    chances = fixed_part / fixed_part.sum()
    for _ in range(_ROUNDS if waits else 0):
        moved = fixed_part.copy()
        for day, weight in waits:
            later = chances[day + 1 :]
            if later.sum() > _SMALLEST:
                moved[day + 1 :] += weight * later / later.sum()
            else:
                moved[day + 1 :] += weight / max(1, len(later))
        chances = moved / moved.sum()
    return of({int(day): float(chances[day]) for day in np.flatnonzero(chances > _SMALLEST)}, records=records)


def _smooth(believed: int, came: list[tuple[int, float]], worth: float, longest: int) -> Floats:
    """Return a smooth shape over whole days 0..longest: Student's t of the log of days, as mean and width are learned."""
    shape = np.zeros(longest + 1)
    if not believed and not any(day for day, _ in came):
        shape[0] = 1.0
        return shape
    logs = [(math.log(day + _HALF), weight) for day, weight in came]
    middle = math.log(believed + _HALF)
    own = sum(log * weight for log, weight in logs) / worth if worth else middle
    mean = (PRIOR_MEAN * middle + worth * own) / (PRIOR_MEAN + worth)
    squares = PRIOR_WIDTH * PRIOR_SPREAD**2 + sum(weight * (log - own) ** 2 for log, weight in logs)
    squares += PRIOR_MEAN * worth / (PRIOR_MEAN + worth) * (own - middle) ** 2
    freedom = _FREEDOM + worth
    scale = math.sqrt(squares / (PRIOR_WIDTH + worth) * (1 + 1 / (PRIOR_MEAN + worth)))
    days = np.arange(longest + 1) + _HALF
    shape = (1 + ((np.log(days) - mean) / scale) ** 2 / freedom) ** (-(freedom + 1) / 2) / days
    return np.asarray(shape / shape.sum(), np.float64)
