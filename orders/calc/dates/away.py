"""People who are ill and machines that are down: when work cannot go on, in minutes of work, future by future."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from orders.calc.dates import streams
from orders.calc.dates.state import Spells
from orders.calc.dates.worktime import WorkTime

Floats = npt.NDArray[np.float64]
MOST_SPELLS = 40  # No source: more in a year than any forge would put up with


def spells(
    time: WorkTime,
    known: frozenset[int],
    law: Spells,
    seed: int,
    who: str,
    count: int,
    *,
    since: int = 0,
    days: int | None = None,
) -> tuple[Floats, Floats]:
    """Draw when somebody is away.

    Args:
        time: of the shop.
        known: days from 0 on which he is away for certain.
        law: how often and how long besides.
        seed: of the question.
        who: names the stream.
        count: futures.
        since: open days of a spell that goes on, today counted; 0 where none does.
        days: open days to look ahead, all of them where None; spells that begin later are not drawn.

    Returns:
        Beginnings and ends in minutes of work, row by spell, column by future, beginnings in order. Spells begin when a
        day opens, from the second open day on, and last whole open days.
    """
    begins, ends = _certain(time, known, count)
    rng, lasts, work = streams.stream(seed, "away", who), np.array(sorted(law.lasts)), time.day_work
    there = np.zeros((1, count))
    if since:
        still = lasts[lasts >= since] if lasts[-1] >= since else np.array([since])
        there = _one_of(still, rng.random((1, count))) - since + 1.0
        begins, ends = np.concatenate([begins, 0 * there]), np.concatenate([ends, there * work])
    if law.chance:
        days = len(time.opens) - 1 if days is None else days
        rows = min(MOST_SPELLS, 2 + int(2 * days * law.chance + 4 * np.sqrt(days * law.chance)))
        gaps = rng.geometric(law.chance, (rows, count)) - 1.0
        long = _one_of(lasts, rng.random((rows, count)))
        begin = np.cumsum(gaps, axis=0) + np.cumsum(np.concatenate([np.maximum(there, 1.0), long[:-1]]), axis=0)
        begins, ends = np.concatenate([begins, begin * work]), np.concatenate([ends, (begin + long) * work])
    return begins, ends


def _one_of(values: npt.NDArray[np.int64], uniform: Floats) -> Floats:
    found: Floats = values[(uniform * len(values)).astype(np.int64)].astype(np.float64)
    return found


def _certain(time: WorkTime, known: frozenset[int], count: int) -> tuple[Floats, Floats]:
    days = sorted(day for day in known if 0 <= day < time.days)
    at = np.array([time.day_begins(day) for day in days]).reshape(-1, 1)
    to = np.array([time.day_begins(day + 1) for day in days]).reshape(-1, 1)
    return np.repeat(at, count, axis=1), np.repeat(to, count, axis=1)


@dataclass(slots=True, eq=False)
class Away:
    """Spells of all that an operation holds, as one row of gaps that do not overlap; moves forward only."""

    begins: Floats
    ends: Floats
    at: npt.NDArray[np.int64]
    next_one: Floats

    def copy(self) -> "Away":
        """Give one that goes on from here by itself."""
        return Away(self.begins, self.ends, self.at.copy(), self.next_one.copy())

    def begin(self, start: Floats) -> Floats:
        """Move starts that fall into a spell to its end; the array is changed."""
        while len(hit := np.flatnonzero(start >= self.next_one)):
            start[hit] = np.maximum(start[hit], self.ends[self.at[hit], hit])
            self._on(hit)
        return start

    def finish(self, end: Floats) -> Floats:
        """Move ends by the spells that begin before them; the array is changed."""
        while len(hit := np.flatnonzero(end > self.next_one)):
            end[hit] += self.ends[self.at[hit], hit] - self.begins[self.at[hit], hit]
            self._on(hit)
        return end

    def _on(self, hit: npt.NDArray[np.int64]) -> None:
        self.at[hit] += 1
        self.next_one[hit] = self.begins[self.at[hit], hit]


def too_few(rows: Sequence[tuple[Floats, Floats]], most_away: int) -> tuple[Floats, Floats]:
    """Give when more than so many of several people are away at once.

    Args:
        rows: spells of each of them, as `spells` gives them; those of one person do not overlap.
        most_away: 0 or more; with so many away the work still goes on.

    Returns:
        Spells in the same form; many of no length.
    """
    when = np.concatenate([part for begin, end in rows for part in (begin, end)])
    change = np.concatenate([sign * np.ones(begin.shape, np.int64) for begin, _ in rows for sign in (1, -1)])
    order = np.argsort(when, axis=0, kind="stable")
    when = np.take_along_axis(when, order, 0)
    away_now = np.cumsum(np.take_along_axis(change, order, 0), axis=0)
    blocked = away_now[:-1] > most_away
    return when[:-1], np.where(blocked, when[1:], when[:-1])


def together(rows: Sequence[tuple[Floats, Floats]], count: int) -> Away | None:
    """Put the spells of several together; nothing where there are none."""
    begins = np.concatenate([np.zeros((0, count)), *(begin for begin, _ in rows)])
    if not len(begins):
        return None
    ends = np.concatenate([end for _, end in rows])
    order = np.argsort(begins, axis=0, kind="stable")
    begins, ends = np.take_along_axis(begins, order, 0), np.take_along_axis(ends, order, 0)
    reach = np.maximum.accumulate(ends, axis=0)
    begins = begins.copy()
    begins[1:] = np.maximum(begins[1:], reach[:-1])
    ends = np.maximum(ends, begins)
    begins = np.concatenate([begins, np.full((1, count), np.inf)])
    return Away(
        begins, np.concatenate([ends, np.full((1, count), np.inf)]), np.zeros(count, np.int64), begins[0].copy()
    )
