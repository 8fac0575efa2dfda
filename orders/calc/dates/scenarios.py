"""Plays a plan through many futures: its sequence, its people, its loads stay; pieces, minutes, illness, lorries vary.

A run whose material is late in a future keeps its places for all others as if it were in time. It is followed apart from
there on: it begins each step when the plan's turn has come, it is ready and its material is there.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import sizing
from orders.calc.dates.away import Away
from orders.calc.dates.futures import Futures
from orders.calc.dates.minutes import holds
from orders.calc.dates.pieces import good_of
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Oven
from orders.calc.dates.sizing import Start
from orders.calc.dates.state import Shop
from orders.calc.dates.waits import LOAD, SHEET, Cause, Waits
from orders.calc.dates.worktime import WorkTime

__all__ = ["Futures", "Played", "play"]

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
Group = Sequence[Operation]
_Takes = tuple[int, tuple[str, ...], tuple[str, ...]]
NO_FLOOR: Final = 0.0  # minutes of work before which nothing begins anyway


@dataclass(slots=True, eq=False)
class Played:
    """What became of the runs in each future.

    `finished` minutes by the clock, a row for each run; `good` pieces; `short` the minute of work at which it was seen
    that they would not be enough, endless where they are; `waited` minutes of work by what they were waited
    for, where it was asked for, a row of futures for each run and cause.
    """

    finished: list[Whole]
    good: list[Whole]
    short: list[Floats]
    waited: dict[tuple[int, str], Floats] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class _At:
    """Where a run is in time: ready in minutes of work, and by the clock not before it is out of a cure or the oven."""

    ready: Floats
    out: Whole


@dataclass(slots=True, eq=False)
class _Run:
    """A run in all futures: as if its material were in time, as it is where that is late in some, and its pieces."""

    at: _At
    late: _At | None
    pieces: Whole
    short: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """What a group does: minutes of work, then so many loads of the oven of so many minutes each."""

    minutes: Floats
    oven: Oven | None = None
    passes: int = 0
    loads: Whole | int = 1


def play(shop: Shop, plan: Plan, futures: Futures, *, trace: frozenset[int] = frozenset()) -> Played:
    """Play a plan through all futures.

    Args:
        shop: as it stands.
        plan: whose sequence is kept.
        futures: drawn for this shop.
        trace: runs of which it is noted what they waited for.

    Returns:
        When each run is finished, and with how many good pieces.
    """
    player = _Player(shop, plan, futures, trace)
    for group in plan.groups:
        player.group(group)
    return player.played()


class _Player:
    def __init__(self, shop: Shop, plan: Plan, futures: Futures, trace: frozenset[int]) -> None:
        self.shop, self.plan, self.futures = shop, plan, futures
        self.time: WorkTime = futures.time
        busy = {one.code: float(self.time.worked[min(one.busy, self.time.never)]) for one in shop.machines if one.busy}
        self.free: dict[str, Floats] = {code: np.full(futures.count, until) for code, until in busy.items()}
        self.gaps: dict[_Takes, Away | None] = {}
        self.gaps_of: dict[tuple[_Takes, tuple[str, ...]], Away | None] = {}
        self.pins = {(pin.run, pin.step): self.time.day_begins(pin.day) for pin in shop.pins}
        self.waits = Waits(trace)
        self.runs = [self._run(max(start.ready, start.since), start.pieces) for start in plan.runs]
        self.steps_left = [sum(step.number > one.step for step in one.product.steps) for one in plan.runs]

    def _run(self, ready: int, pieces: int) -> _Run:
        count, out = self.futures.count, min(max(ready, self.shop.now), self.time.never)
        at = _At(np.full(count, self.time.worked[out]), np.full(count, out))
        return _Run(at, None, np.full(count, pieces, dtype=np.int64), np.full(count, np.inf))

    def group(self, group: Group) -> None:
        """Play one operation, or the operations of one oven load."""
        first = group[0]
        held = (*first.machines, *first.people)
        gaps, material = self._gaps(first, held), [self._material(one) for one in group]
        apart = any(material) or any(self.runs[one.run].late for one in group)
        before = gaps.copy() if gaps and apart else None
        causes = self._causes(group, held)
        start = _latest(self.runs[first.run].at.ready, causes)
        start = gaps.begin(start) if gaps else start
        work = self._work(group)
        ends, hot, out = self._finish(work, start, gaps)
        for one, items in zip(group, material, strict=True):
            run = self.runs[one.run]
            begins = _latest(start, [*items, ("", run.late.ready if run.late else NO_FLOOR)]) if apart else start
            self.waits.note(one.run, (run.late or run.at).ready, [*causes, *items], begins)
            run.late = self._apart(one, run, work, (start, begins), before) if apart else None
            run.at = self._leave(one, run.at, hot, out)
            self._see(one, (run.late or run.at).ready)
            self.steps_left[one.run] -= 1
        self.free.update(dict.fromkeys(first.people, ends))
        self.free.update(dict.fromkeys(first.machines, hot))

    def _gaps(self, one: Operation, held: tuple[str, ...]) -> Away | None:
        """Give when a step cannot go on; it moves forward only, as do the times of those who are held for it."""
        takes = (one.step.people, one.step.hands, one.machines)
        if takes not in self.gaps:
            self.gaps[takes] = self.futures.gaps(self.shop, one.step)
        if (takes, held) not in self.gaps_of:
            gaps = self.gaps[takes]
            self.gaps_of[takes, held] = gaps.copy() if gaps else None
        return self.gaps_of[takes, held]

    def _see(self, one: Operation, ends: Floats) -> None:
        """Note when a count shows that the pieces of a run are too few for the good ones that are counted on."""
        run, start = self.runs[one.run], self.plan.runs[one.run]
        if not one.step.good:
            return
        ahead = math.prod(step.rate for step in start.product.steps if step.number > one.step.number)
        seen = (run.pieces < sizing.about(start.good, ahead, self.shop.starts_sure)) & np.isinf(run.short)
        if seen.any():
            run.short = np.where(seen, ends, run.short)

    def _causes(self, group: Group, held: Sequence[str]) -> list[Cause]:
        """Give what a step takes beside its run: people and machines, the runs of its load, its day on the sheet."""
        causes: list[Cause] = [(code, self.free[code]) for code in held if code in self.free]
        causes += [(LOAD, self.runs[one.run].at.ready) for one in group if len(group) > 1]
        keys = [(self.plan.runs[one.run].code, one.step.number) for one in group] if self.pins else []
        return causes + [(SHEET, self.pins[key]) for key in keys if key in self.pins]

    def _material(self, one: Operation) -> list[Cause]:
        """Give what a step takes from deliveries that are under way or to be bought, and when that is there."""
        time, bought = self.time, self.futures.bought_since(self.plan.runs[one.run].since)
        comes = [(self.shop.coming[number].item, self.futures.arrivals[number]) for number in one.comes]
        comes += [(item, bought[item]) for item in one.buys if item in bought]
        found: list[Cause] = [(item, np.where(at < time.never, time.to_work(at), time.too_late)) for item, at in comes]
        return found + [(item, time.too_late) for item in one.buys if item not in bought]

    def _work(self, group: Group) -> _Work:
        """Give what a group does, and take the rejects out of its runs."""
        oven, first = group[0].step.oven, self.runs[group[0].run]
        loads: Whole | int = 1
        if oven and len(group) == 1:
            loads = np.maximum(1, -(-first.pieces // holds(oven)))
        minutes: Floats = np.full(self.futures.count, float(group[0].set_up))
        for one in group:
            minutes += self._minutes(one)
        passes = max(one.step.oven.minutes if one.step.oven else 0 for one in group)
        return _Work(minutes, oven, passes, loads)

    def _minutes(self, one: Operation) -> Floats:
        start, pieces = self.plan.runs[one.run], self.runs[one.run].pieces
        minutes: Floats = np.multiply(
            pieces, self.futures.minutes(start.product.pattern, start.code, one.step), dtype=np.float64
        )
        if one.step.fire:
            hot: Floats = -(-pieces // one.step.fire.batch) * np.float64(one.step.fire.minutes)
            minutes = np.maximum(minutes, hot)
        if one.worked:
            minutes = np.maximum(minutes - one.worked, 0.0)
        return minutes + self._good(one) if one.step.good else minutes

    def _good(self, one: Operation) -> Floats | float:
        """Take the rejects out; return the minutes that working over takes."""
        start, run = self.plan.runs[one.run], self.runs[one.run]
        rate = self.futures.rate(start.product.pattern, one.step)
        uniform = self.futures.uniform(start.code, one.step)
        good = good_of(run.pieces, rate, uniform)
        if not one.step.rework:
            run.pieces = good
            return 0.0
        over = good_of(run.pieces - good, np.full(len(good), one.step.rework), _next(uniform, 1))
        run.pieces = good + good_of(over, rate, _next(uniform, 2))
        return over.astype(np.float64) * float(one.step.rework_minutes)

    def _finish(self, work: _Work, start: Floats, gaps: Away | None) -> tuple[Floats, Floats, Whole | None]:
        """Give when people are through, when the machines are, and by the clock when the oven is opened."""
        ends = start + work.minutes
        ends = gaps.finish(ends) if gaps else ends
        if work.oven is None:
            return ends, ends, None
        time, clock = self.time, self.time.to_clock(ends)
        for load in range(int(np.max(work.loads))):
            shut = clock if work.oven.unattended else time.fits(work.passes)[clock]
            clock = np.where(load < work.loads, np.minimum(shut + work.passes, time.never), clock)
        return ends, np.maximum(ends, time.to_work(clock)), clock

    def _apart(
        self, one: Operation, run: _Run, work: _Work, turn: tuple[Floats, Floats], gaps: Away | None
    ) -> _At | None:
        """Give where a run is that begins later than the plan's turn in some future; nothing where none is behind."""
        start, begins = turn
        if not (begins > start).any() and (run.late is None or not (run.late.out > run.at.out).any()):
            return None
        gaps = gaps.copy() if gaps else None
        _, hot, out = self._finish(work, gaps.begin(begins.copy()) if gaps else begins, gaps)
        return self._leave(one, run.late or run.at, hot, out)

    def _leave(self, one: Operation, at: _At, hot: Floats, out: Whole | None) -> _At:
        """Give where a run is after a step: out of the oven, and through with the cure behind it."""
        there = at.out if out is None else np.maximum(at.out, out)
        if one.step.cure:
            there = np.minimum(np.maximum(self.time.to_clock(hot), there) + one.step.cure, self.time.never)
            hot = np.maximum(hot, self.time.to_work(there))
        return _At(hot, there)

    def played(self) -> Played:
        """Return what became of the runs; one that was not planned to its end is never finished."""
        finished, good = [], []
        for start, run, left in zip(self.plan.runs, self.runs, self.steps_left, strict=True):
            at = run.late or run.at
            clock = np.maximum(self.time.to_clock(at.ready), at.out)
            clock = self._moved(start, clock) if self.shop.unrest else clock
            finished.append(np.full_like(clock, self.time.never) if left else clock)
            good.append(run.pieces)
        return Played(finished, good, [run.short for run in self.runs], self.waits.minutes)

    def _moved(self, start: Start, clock: Whole) -> Whole:
        """Stretch or shorten the work a run has left by the unrest of the shop; what is never finished stays so."""
        time, since = self.time, max(self.shop.now, start.since)
        begins = float(time.worked[min(since, time.never)])
        left = (time.to_work(clock) - begins) * self.futures.unrest(start.code, self.shop.unrest)
        moved = np.maximum(time.to_clock(begins + left), since)
        return np.where(clock < time.never, moved, clock)


def _latest(ready: Floats, causes: Sequence[Cause]) -> Floats:
    """Give the latest of all, in an array of its own."""
    latest = ready.copy()
    for _, when in causes:
        np.maximum(latest, when, out=latest)
    return latest


def _next(uniform: Floats, turn: int) -> Floats:
    """Give further numbers from one: what is left below the thousandths, scaled up; 2 to the 52nd goes far enough."""
    left: Floats = np.modf(uniform * 1000.0**turn)[0]
    return left
