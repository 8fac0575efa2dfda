"""Puts the operations of all runs into one order at mean times: the earliest that can begin goes first, by queue.

Source of the rule: non-delay dispatch by priority (Baker, Introduction to Sequencing and Scheduling, from memory), with
the people chosen who are free first. It proposes; a person moves and pins.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from orders.calc.dates.materials import NOTHING, Need, reserve
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.sizing import Start, wanted
from orders.calc.dates.state import Fire, Shop, Step
from orders.calc.dates.worktime import WorkTime, of

AT_ONCE: Final = 30.0  # minutes of work; what a line promised earlier wants within this time goes first. Shop practice
MINUTE: Final = 0.5  # closer than this, a wait is no wait


@dataclass(slots=True)
class _Going:
    """A run on its way through the plan: the step it comes to, from when on, with how many pieces at the mean."""

    number: int
    start: Start
    at: int
    ready: float
    pieces: float
    worked: float
    not_before: float = 0.0

    @property
    def step(self) -> Step | None:
        """The step it comes to, or nothing at the end."""
        steps = self.start.product.steps
        return steps[self.at] if self.at < len(steps) else None

    @property
    def key(self) -> tuple[str, int]:
        """Names the operation it comes to."""
        return self.start.code, self.step.number if self.step else 0


@dataclass(frozen=True, slots=True)
class _Turn:
    """How the next operation of a run could be done."""

    begins: float
    people: tuple[str, ...]
    why: str


@dataclass(slots=True)
class _Floor:
    """Who and what is free from when, who is known to be away, and which tooling is in which machine."""

    free: dict[str, float]
    away: Mapping[str, list[tuple[float, float]]]
    tooling: dict[str, str] = field(default_factory=dict)

    def present(self, who: str, when: float) -> float:
        """Give the first moment from which somebody is there."""
        if who not in self.away:
            return when
        for begin, end in self.away[who]:
            if begin <= when < end:
                when = end
        return when

    def finish(self, who: Iterable[str], begins: float, minutes: float) -> float:
        """Give when so many minutes are worked by all of them together."""
        ends = begins + minutes
        for begin, end in sorted({gap for one in who for gap in self.away.get(one, ())}):
            if begins <= begin < ends:
                ends += end - begin
        return ends


def minutes_of(step: Step, pieces: float) -> float:
    """Give the minutes of work of a step at the mean, without what is set up."""
    work = pieces * step.minutes + pieces * (1 - _rate(step)) * step.rework * step.rework_minutes
    return max(work, fire_minutes(step.fire, pieces)) if step.fire else work


def fire_minutes(fire: Fire, pieces: float) -> float:
    """Give the minutes until the fire has made so many pieces hot, batch after batch."""
    return math.ceil(pieces / fire.batch) * fire.minutes


def _rate(step: Step) -> float:
    return step.good / (step.good + step.bad) if step.good else 1.0


def cycles(step: Step, pieces: float) -> int:
    """Give how many loads pieces of one run need that do not fit into the oven at once."""
    return max(1, math.ceil(pieces * step.oven.share - MINUTE * step.oven.share)) if step.oven else 1


def propose(shop: Shop, *, keep: Plan | None = None) -> Plan:
    """Propose the plan.

    Args:
        shop: as it stands.
        keep: a plan whose sequence and people stay; what is not in it comes behind all of it.

    Returns:
        The plan; runs in the order of the lines that want them first.
    """
    planner = _Planner(shop, of(shop.hours, shop.horizon_days))
    if keep is not None:
        planner.repeat(keep)
    return planner.plan()


class _Planner:
    def __init__(self, shop: Shop, time: WorkTime) -> None:
        self.time = time
        self.everybody = tuple(person.code for person in shop.people)
        out = {one.code: one.out | {0} if one.ill_for else one.out for one in shop.people}
        away = {code: self._gaps(days) for code, days in out.items() if days}
        away |= {one.code: self._gaps(one.down) for one in shop.machines if one.down}
        self.now = float(time.worked[shop.now])
        self.floor = _Floor(dict.fromkeys([*self.everybody, *(one.code for one in shop.machines)], self.now), away)
        self.floor.tooling.update(shop.tooling_in)
        busy = {one.code: float(time.worked[min(one.busy, time.never)]) for one in shop.machines if one.busy}
        self.floor.free.update({code: max(self.now, until) for code, until in busy.items()})
        self.starts = tuple(wanted(shop))
        self.needs = reserve(shop, time, self.starts)
        self.left = [going for number, start in enumerate(self.starts) if (going := self._going(number, start)).step]
        self.pins = {(pin.run, pin.step): (place, pin.day) for place, pin in enumerate(shop.pins)}
        self.groups: list[tuple[Operation, ...]] = []

    def _gaps(self, days: frozenset[int]) -> list[tuple[float, float]]:
        return [(self.time.day_begins(day), self.time.day_begins(day + 1)) for day in sorted(days)]

    def _going(self, number: int, start: Start) -> _Going:
        steps = start.product.steps
        at = next((place for place, step in enumerate(steps) if step.number > start.step), len(steps))
        ready = max(self.now, float(self.time.worked[min(start.ready, self.time.never)]))
        return _Going(number, start, at, ready, float(start.pieces), start.done_minutes)

    def repeat(self, keep: Plan) -> None:
        """Put the operations of another plan first, as it had them."""
        for group in keep.groups:
            keys = [(keep.runs[one.run].code, one.step.number) for one in group]
            members = [going for key in keys for going in self.left if going.key == key]
            if members:
                turns = [self._turn(going, group[0].people) for going in members]
                begins = max(turn.begins for turn in turns)
                if begins < math.inf:
                    self._put(members, _Turn(begins, turns[0].people, turns[0].why))

    def plan(self) -> Plan:
        """Put one operation after the other until all runs are through, or nothing can begin any more."""
        while self.left:
            chosen = self._choose()
            if chosen is None:
                break
            going, turn = chosen
            self._put([going, *self._along(going, turn.begins)], turn)
        return Plan(self.starts, tuple(self.groups))

    def _choose(self) -> tuple[_Going, _Turn] | None:
        """Choose the operation that can begin first; by the queue where several can begin at once.

        A turn only ever becomes later as others take theirs, so one that was too late once is not looked at again until
        the time has come.
        """
        best, turns = math.inf, []
        for going in sorted(self.left, key=lambda one: one.not_before):
            if going.not_before > best + AT_ONCE:
                break
            turn = self._turn(going)
            if going.key not in self.pins:
                going.not_before = turn.begins
            best = min(best, turn.begins)
            turns.append((going, turn))
        ready = [one for one in turns if one[1].begins <= best + AT_ONCE]
        return min(ready, key=lambda one: self._rank(one[0])) if best < math.inf else None

    def _need(self, going: _Going) -> Need:
        return self.needs.get((going.number, going.step.number), NOTHING) if going.step else NOTHING

    def _rank(self, going: _Going) -> tuple[int, int, int]:
        if going.worked:
            return (-1, 0, going.number)
        if going.key in self.pins:
            return (0, self.pins[going.key][0], 0)
        return (1, going.start.rank, going.number)

    def _turn(self, going: _Going, people: tuple[str, ...] | None = None) -> _Turn:
        step, floor = going.step, self.floor
        assert step is not None, "a run that is through has left"
        waits = {one: floor.present(one, max(going.ready, floor.free.get(one, math.inf))) for one in step.machines}
        if people is None:
            people = going.start.by if going.worked and going.start.by else self._first_free(step, going.ready)
        if len(people) < step.people:
            return _Turn(math.inf, people, "nobody can do it")
        waits |= {one: floor.present(one, max(going.ready, floor.free[one])) for one in people}
        waits["material"] = self._need(going).when
        if going.key in self.pins:
            waits["the week sheet"] = self._by_sheet(going)
        why = max(waits, key=lambda name: waits[name], default="")
        begins = max(going.ready, waits[why]) if why else going.ready
        for one in (*step.machines, *people) if begins < math.inf else ():
            begins = floor.present(one, begins)
        return _Turn(begins, people, why if begins > going.ready + MINUTE else "")

    def _first_free(self, step: Step, ready: float) -> tuple[str, ...]:
        """Choose the people who can do a step and are free first, in the shop's order where several are."""
        floor = self.floor
        hands = [one for one in step.hands if one in floor.free] if step.hands else self.everybody
        when = {one: floor.present(one, max(ready, floor.free[one])) for one in hands}
        return tuple(sorted(hands, key=lambda one: when[one])[: step.people])

    def _by_sheet(self, going: _Going) -> float:
        """Give when the sheet lets it begin: on its day, behind what stands before it on the same machines."""
        place, day = self.pins[going.key]
        for other in self.left:
            before = self.pins.get(other.key)
            if not before or before[0] >= place or not other.step or not going.step:
                continue
            if set(other.step.machines) & set(going.step.machines):
                return math.inf
        return self.time.day_begins(day)

    def _along(self, chosen: _Going, begins: float) -> list[_Going]:
        """Give the runs that go into the oven with it: same temperature and soak, ready by then, as far as it holds."""
        step = chosen.step
        if step is None or step.oven is None or chosen.key in self.pins:
            return []
        full, found = chosen.pieces * step.oven.share, []
        for other in sorted(self.left, key=self._rank):
            oven = other.step.oven if other.step and other is not chosen else None
            fits = oven and full + other.pieces * oven.share <= 1
            if not oven or not fits or (oven.kind, oven.soak) != (step.oven.kind, step.oven.soak):
                continue
            if other.ready <= begins and self._need(other).when <= begins:
                found.append(other)
                full += other.pieces * oven.share
        return found

    def _put(self, members: list[_Going], turn: _Turn) -> None:
        step = members[0].step
        assert step is not None
        held, begins = (*step.machines, *turn.people), turn.begins
        change = (
            step.tooling
            if step.tooling and {self.floor.tooling.get(one) for one in step.machines} != {step.tooling}
            else ""
        )
        set_up = step.set_up + (step.change if change else 0.0)
        if step.tooling:
            self.floor.tooling.update(dict.fromkeys(step.machines, step.tooling))
        work = set_up + sum(max(0.0, minutes_of(one.step, one.pieces) - one.worked) for one in members if one.step)
        ends = self.floor.finish(held, begins, work)
        hot = self._out_of_oven(members, ends) if step.oven else ends
        self.floor.free.update(dict.fromkeys(turn.people, ends))
        self.floor.free.update(dict.fromkeys(step.machines, hot))
        group = []
        for going in members:
            assert going.step is not None
            need = self._need(going)
            group.append(
                Operation(going.number, going.step, turn.people, step.machines, set_up, begins, ends, need.comes, need.buys,
                          going.worked, change, turn.why, going.key in self.pins)
            )  # fmt: skip
            self._move_on(going, hot)
        self.groups.append(tuple(group))
        self.left = [one for one in self.left if one.step is not None]

    def _out_of_oven(self, members: list[_Going], ends: float) -> float:
        """Give the minute of work at which the pieces are out again, loaded by `ends`."""
        step, time = members[0].step, self.time
        assert step is not None
        assert step.oven is not None
        loads = cycles(step, members[0].pieces) if len(members) == 1 else 1
        clock = time.clock_at(ends)
        for _ in range(loads):
            clock = clock if step.oven.unattended else int(time.fits(step.oven.minutes)[min(clock, time.never)])
            clock = min(clock + step.oven.minutes, time.never)
        return float(time.worked[clock])

    def _move_on(self, going: _Going, ends: float) -> None:
        step = going.step
        assert step is not None
        if step.cure:
            clock = self.time.clock_at(ends)
            ends = max(ends, float(self.time.worked[min(clock + step.cure, self.time.never)]))
        going.ready, going.at, going.worked = ends, going.at + 1, 0.0
        going.pieces *= step.rate
        going.not_before = ends
