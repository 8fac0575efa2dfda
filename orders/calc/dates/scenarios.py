"""Plays a plan through many futures: its sequence, its people, its loads stay; pieces, minutes, illness, lorries vary.

In a future in which a run's material is late, that run is late by as much and the others keep their places.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from orders.calc.dates import away, materials, sizing, streams
from orders.calc.dates.away import Away
from orders.calc.dates.chance import Law
from orders.calc.dates.dispatch import cycles
from orders.calc.dates.pieces import good_of
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.state import Shop, Step
from orders.calc.dates.worktime import WorkTime, of

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
LOOK_AHEAD: Final = 120  # open days in which spells are drawn; what takes longer is not promised to a day


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


@dataclass(slots=True, eq=False)
class _Run:
    """A run in all futures: ready in minutes of work as if its material were in time, behind that by `late`, pieces."""

    ready: Floats
    late: Floats | float
    pieces: Whole
    short: Floats


class Futures:
    """The futures of one question: everything that is drawn, drawn once and kept for the plans that are compared."""

    def __init__(self, shop: Shop, seed: int, count: int) -> None:
        self.seed, self.count = seed, count
        self.time = of(shop.hours, shop.horizon_days)
        self.arrivals, self.bought = materials.arrivals(shop, seed, count)
        self.days = min(len(self.time.open_days), LOOK_AHEAD)
        self._rates: dict[tuple[str, int], Floats] = {}
        self._speeds: dict[tuple[str, int], Floats] = {}
        self._spells: dict[str, tuple[Floats, Floats]] = {}

    def rate(self, pattern: str, step: Step) -> Floats:
        """Give the rate of good pieces of a counting point, the same for all runs of a pattern."""
        key = (pattern, step.number)
        if key not in self._rates:
            self._rates[key] = streams.stream(self.seed, "rate", *key).beta(step.good, step.bad, self.count)
        return self._rates[key]

    def uniform(self, run: str, step: Step) -> Floats:
        """Give how well the pieces of a run turn out at a step."""
        return streams.stream(self.seed, "good", run, step.number).random(self.count)

    def minutes(self, pattern: str, run: str, step: Step) -> Floats | float:
        """Give the minutes for one piece."""
        factor: Floats | float = step.minutes
        if step.unsure:
            key = (pattern, step.number)
            if key not in self._speeds:
                rng = streams.stream(self.seed, "speed", *key)
                self._speeds[key] = Law("lognormal", (step.unsure,)).draw(rng, self.count)
            factor = factor * self._speeds[key]
        if step.varies:
            factor = factor * step.varies.draw(streams.stream(self.seed, "minutes", run, step.number), self.count)
        return factor

    def gaps(self, shop: Shop, step: Step) -> Away | None:
        """Give when a step cannot go on: a machine of it is down, or too few of those who can do it are there."""
        hands = step.hands or tuple(one.code for one in shop.people)
        for one in shop.people:
            if one.code in hands and step.people and one.code not in self._spells:
                self._spells[one.code] = away.spells(
                    self.time, one.out, one.ill, self.seed, one.code, self.count, since=one.ill_for, days=self.days
                )
        for thing in shop.machines:
            if thing.code in step.machines and thing.code not in self._spells:
                self._spells[thing.code] = away.spells(
                    self.time, thing.down, thing.breaks, self.seed, thing.code, self.count, days=self.days
                )
        rows = [self._spells[code] for code in step.machines if code in self._spells]
        people = [self._spells[code] for code in hands if code in self._spells] if step.people else []
        if step.people == len(people):
            rows += people
        elif people:
            rows.append(away.too_few(people, len(people) - step.people))
        return away.together(rows, self.count)


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
        self.shop, self.plan, self.futures, self.trace = shop, plan, futures, trace
        self.time: WorkTime = futures.time
        self.now = float(self.time.worked[shop.now])
        busy = {one.code: float(self.time.worked[min(one.busy, self.time.never)]) for one in shop.machines if one.busy}
        self.free: dict[str, Floats] = {code: np.full(futures.count, until) for code, until in busy.items()}
        self.gaps: dict[tuple[str, ...], Away | None] = {}
        self.waited: dict[tuple[int, str], Floats] = {}
        self.runs = [self._run(start.ready, start.pieces) for start in plan.runs]
        self.steps_left = [sum(step.number > one.step for step in one.product.steps) for one in plan.runs]

    def _run(self, ready: int, pieces: int) -> _Run:
        count = self.futures.count
        begins = max(self.now, float(self.time.worked[min(ready, self.time.never)]))
        return _Run(np.full(count, begins), 0.0, np.full(count, pieces, dtype=np.int64), np.full(count, np.inf))

    def group(self, group: Sequence[Operation]) -> None:
        """Play one operation, or the operations of one oven load."""
        first = group[0]
        held = (*first.machines, *first.people)
        ready = self._ready(group)
        start = ready
        for code in held:
            if code in self.free:
                start = np.maximum(start, self.free[code])
        start = start.copy() if start is ready else start
        hands = (*first.machines, str(first.step.people), *first.step.hands)
        if hands not in self.gaps:
            self.gaps[hands] = self.futures.gaps(self.shop, first.step)
        gaps = self.gaps[hands]
        start = gaps.begin(start) if gaps else start
        self._note(group, start)
        work = self._work(group)
        ends = start + work
        ends = gaps.finish(ends) if gaps else ends
        hot = self._out_of_oven(first, group, ends) if first.step.oven else ends
        self.free.update(dict.fromkeys(first.people, ends))
        self.free.update(dict.fromkeys(first.machines, hot))
        for one in group:
            self._move_on(one, start, hot)

    def _ready(self, group: Sequence[Operation]) -> Floats:
        ready = self.runs[group[0].run].ready
        for one in group[1:]:
            ready = np.maximum(ready, self.runs[one.run].ready)
        pinned = [one.begins for one in group if one.pinned]
        if pinned:
            ready = np.maximum(ready, max(pinned))
        return ready

    def _work(self, group: Sequence[Operation]) -> Floats:
        work: Floats = np.full(self.futures.count, float(group[0].set_up))
        for one in group:
            start, pieces = self.plan.runs[one.run], self.runs[one.run].pieces
            each = self.futures.minutes(start.product.pattern, start.code, one.step)
            minutes = pieces * each
            if one.step.fire:
                fire = one.step.fire
                minutes = np.maximum(minutes, np.ceil(pieces / fire.batch) * fire.minutes)
            work += np.maximum(minutes - one.worked, 0.0) if one.worked else minutes
            if one.step.good:
                work += self._good(one)
        return work

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

    def _out_of_oven(self, first: Operation, group: Sequence[Operation], ends: Floats) -> Floats:
        oven = first.step.oven
        assert oven is not None
        clock = self.time.to_clock(ends)
        for _ in range(cycles(first.step, self.plan.runs[first.run].pieces) if len(group) == 1 else 1):
            clock = clock if oven.unattended else self.time.fits(oven.minutes)[clock]
            clock = np.minimum(clock + oven.minutes, self.time.never)
        return self.time.to_work(clock)

    def _move_on(self, one: Operation, start: Floats, ends: Floats) -> None:
        run = self.runs[one.run]
        comes = [self.futures.arrivals[number] for number in one.comes]
        comes += [self.futures.bought[item] for item in one.buys if item in self.futures.bought]
        for minute in comes:
            run.late = np.maximum(run.late, self.time.to_work(minute) - start)
        if any(item not in self.futures.bought for item in one.buys):
            run.late = np.full(len(start), np.inf)
        if one.step.good:
            enough = self._enough(one)
            seen = (run.pieces < enough) & np.isinf(run.short)
            run.short = np.where(seen, ends + run.late, run.short) if seen.any() else run.short
        if one.step.cure:
            clock = np.minimum(self.time.to_clock(ends) + one.step.cure, self.time.never)
            ends = np.maximum(ends, self.time.to_work(clock))
        run.ready = ends
        self.steps_left[one.run] -= 1

    def _enough(self, one: Operation) -> int:
        """Give how many pieces behind a step are enough for the good ones that are counted on."""
        start = self.plan.runs[one.run]
        ahead = [step.rate for step in start.product.steps if step.number > one.step.number]
        return sizing.about(start.good, math.prod(ahead), self.shop.starts_sure)

    def _note(self, group: Sequence[Operation], start: Floats) -> None:
        for one in group:
            if one.run in self.trace:
                key = (one.run, one.why or "people and machines away")
                wait = start - self.runs[one.run].ready
                self.waited[key] = self.waited[key] + wait if key in self.waited else wait

    def played(self) -> Played:
        """Return what became of the runs; one that was not planned to its end is never finished."""
        finished, good = [], []
        for run, left in zip(self.runs, self.steps_left, strict=True):
            clock = self.time.to_clock(run.ready + run.late)
            finished.append(np.full_like(clock, self.time.never) if left else clock)
            good.append(run.pieces)
        return Played(finished, good, [run.short for run in self.runs], self.waited)


def _next(uniform: Floats, turn: int) -> Floats:
    """Give further numbers from one: what is left below the thousandths, scaled up; 2 to the 52nd goes far enough."""
    left: Floats = np.modf(uniform * 1000.0**turn)[0]
    return left
