"""Puts the operations of all runs into one order at mean times: the earliest that can begin goes first, by queue.

Source of the rule: non-delay dispatch by priority (Baker, Introduction to Sequencing and Scheduling, from memory), with
the people chosen who are free first. It proposes; a person moves and pins.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from orders.calc.dates.floor import Floor, Going, Turn
from orders.calc.dates.materials import NOTHING, Need, reserve
from orders.calc.dates.minutes import SAME, loads, minutes_of
from orders.calc.dates.plan import Operation, Plan
from orders.calc.dates.route import Step
from orders.calc.dates.sizing import Start, wanted
from orders.calc.dates.state import Shop
from orders.calc.dates.waits import SHEET
from orders.calc.dates.worktime import WorkTime, of

AT_ONCE: Final = 30.0  # minutes of work; what an earlier promise wants within this time goes first. No source
MINUTE: Final = 0.5  # closer than this, a wait is no wait


def propose(shop: Shop, *, keep: Plan | None = None, since: Mapping[str, int] | None = None) -> Plan:
    """Propose the plan.

    Args:
        shop: as it stands.
        keep: a plan whose sequence, people and sizes of runs stay; what is not in it comes behind all of it.
        since: by code of runs, the minute by the clock before which nothing of them is begun or bought.

    Returns:
        The plan; runs in the order of the lines that want them first.
    """
    starts = [replace(one, since=(since or {}).get(one.code, 0)) for one in wanted(shop, keep.runs if keep else ())]
    planner = _Planner(shop, of(shop.hours, shop.horizon_days), starts)
    if keep is not None:
        planner.repeat(keep)
    return planner.plan()


class _Planner:
    def __init__(self, shop: Shop, time: WorkTime, starts: Sequence[Start]) -> None:
        self.time = time
        everybody = tuple(person.code for person in shop.people)
        self.hands: dict[tuple[str, ...], tuple[str, ...]] = {(): everybody}
        out = {one.code: one.out | {0} if one.ill_for else one.out for one in shop.people}
        away = {code: self._gaps(days) for code, days in out.items() if days}
        away |= {one.code: self._gaps(one.down) for one in shop.machines if one.down}
        self.now = float(time.worked[shop.now])
        self.floor = Floor(dict.fromkeys([*everybody, *(one.code for one in shop.machines)], self.now), away,
                           dict(shop.tooling_in))  # fmt: skip
        busy = {one.code: float(time.worked[min(one.busy, time.never)]) for one in shop.machines}
        self.floor.free.update({code: max(self.now, until) for code, until in busy.items()})
        self.starts = tuple(starts)
        self.needs = reserve(shop, time, self.starts)
        self.left = [going for number, start in enumerate(self.starts) if (going := self._going(number, start)).step]
        self.pins = {(pin.run, pin.step): (place, time.day_begins(pin.day)) for place, pin in enumerate(shop.pins)}
        self.in_order = True
        self.groups: list[tuple[Operation, ...]] = []

    def _gaps(self, days: frozenset[int]) -> list[tuple[float, float]]:
        return [(self.time.day_begins(day), self.time.day_begins(day + 1)) for day in sorted(days)]

    def _going(self, number: int, start: Start) -> Going:
        steps = start.product.steps
        at = next((place for place, step in enumerate(steps) if step.number > start.step), len(steps))
        ready = max(self.now, float(self.time.worked[min(max(start.ready, start.since), self.time.never)]))
        return Going(number, start, at, ready, float(start.pieces), start.done_minutes)

    def repeat(self, keep: Plan) -> None:
        """Put the operations of another plan first, as it had them."""
        for group in keep.groups:
            keys = {(keep.runs[one.run].code, one.step.number) for one in group}
            members = [going for going in self.left if going.key in keys]
            if members:
                people = group[0].people if all(one in self.floor.free for one in group[0].people) else None
                turns = [self._turn(going, people) for going in members]
                last = max(turns, key=lambda turn: turn.begins)
                if last.begins < math.inf:
                    self._put(members, last)

    def plan(self) -> Plan:
        """Put one operation after the other until all runs are through, or nothing can begin any more."""
        while self.left:
            chosen = self._choose()
            if (
                chosen is None and self.pins
            ):  # what stands first on the sheet may never come; the rest does not wait for it
                self.in_order = False
                chosen = self._choose()
                self.in_order = True
            if chosen is None:
                break
            going, turn = chosen
            self._put([going, *self._along(going, turn.begins)], turn)
        return Plan(self.starts, tuple(self.groups))

    def _choose(self) -> tuple[Going, Turn] | None:
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
            if turn.begins <= best + AT_ONCE:
                best = min(best, turn.begins)
                turns.append((going, turn))
        ready = [one for one in turns if one[1].begins <= best + AT_ONCE]
        return min(ready, key=lambda one: self._rank(one[0])) if best < math.inf else None

    def _need(self, going: Going) -> Need:
        return self.needs.get((going.number, going.key[1]), NOTHING)

    def _rank(self, going: Going) -> tuple[int, int, int]:
        if going.worked:
            return (-1, 0, going.number)
        pin = self.pins.get(going.key)
        return (1, going.start.rank, going.number) if pin is None else (0, pin[0], 0)

    def _turn(self, going: Going, people: tuple[str, ...] | None = None) -> Turn:
        step, floor, ready = going.step, self.floor, going.ready
        assert step is not None, "a run that is through has left"
        if people is None:
            goes_on = going.worked and all(one in floor.free for one in going.start.by)
            people = going.start.by if goes_on and going.start.by else self._first_free(step, ready)
        if len(people) < step.people or not self._fits(step):
            return Turn(math.inf, people, "nobody can do it")
        begins, why = ready, ""
        for one in (*step.machines, *people):
            when = floor.free_from(one, ready)
            if when > begins:
                begins, why = when, one
        need = self._need(going)
        if need.when > begins:
            begins, why = need.when, need.last
        if going.key in self.pins and (when := self._by_sheet(going)) > begins:
            begins, why = when, SHEET
        if begins < math.inf and floor.away:
            begins = floor.all_present((*step.machines, *people), begins)
        return Turn(begins, people, why if begins > ready + MINUTE else "")

    def _fits(self, step: Step) -> bool:
        """Say whether a load that somebody has to wait for passes within a day."""
        hours = self.time.hours
        return step.oven is None or step.oven.unattended or step.oven.minutes <= hours.closes - hours.opens

    def _first_free(self, step: Step, ready: float) -> tuple[str, ...]:
        """Choose the people who can do a step and are free first, in the shop's order where several are."""
        if step.hands not in self.hands:
            self.hands[step.hands] = tuple(one for one in step.hands if one in self.floor.free)
        hands, free_from = self.hands[step.hands], self.floor.free_from
        if step.people == 1 and hands:
            return (min(hands, key=lambda one: free_from(one, ready)),)
        return tuple(sorted(hands, key=lambda one: free_from(one, ready))[: step.people])

    def _by_sheet(self, going: Going, beside: Sequence[Going] = ()) -> float:
        """Give when the sheet lets it begin: on its day, behind what stands before it on the same machines.

        What it goes into the oven beside is no step before it; what that goes on to is.
        """
        pin = self.pins.get(going.key)
        if pin is None:
            return 0.0
        step = going.step
        assert step is not None
        for other in self.left if self.in_order else ():
            if other is going:
                continue
            for later in other.start.product.steps[other.at + (other in beside) :]:
                before = self.pins.get((other.start.code, later.number))
                if before and before[0] < pin[0] and set(later.machines) & set(step.machines):
                    return math.inf
        return pin[1]

    def _along(self, chosen: Going, begins: float) -> list[Going]:
        """Give the runs that go into the oven with it: same oven, temperature and soak, ready by then, as far as it holds."""
        step = chosen.step
        if step is None or step.oven is None:
            return []
        full = chosen.pieces * step.oven.share
        found: list[Going] = []
        for other in sorted(self.left, key=self._rank):
            if other is chosen or other.step is None or other.step.oven is None or other.ready > begins:
                continue
            oven = other.step.oven
            alike = (oven.kind, oven.soak, oven.unattended, other.step.machines)
            fits = full + other.pieces * oven.share <= 1 + SAME
            if not fits or alike != (step.oven.kind, step.oven.soak, step.oven.unattended, step.machines):
                continue
            there = max(self._need(other).when, self._by_sheet(other, [chosen, *found]))
            if there <= begins and self._fits(other.step):
                found.append(other)
                full += other.pieces * oven.share
        return found

    def _put(self, members: Sequence[Going], turn: Turn) -> None:
        step, floor = members[0].step, self.floor
        assert step is not None
        held, begins = (*step.machines, *turn.people), turn.begins
        change = "" if floor.is_in(step) else step.tooling
        set_up = step.set_up + (step.change if change else 0.0)
        if step.tooling:
            floor.tooling.update(dict.fromkeys(step.machines, step.tooling))
        work = set_up + sum(max(0.0, minutes_of(one.step, one.pieces) - one.worked) for one in members if one.step)
        ends = floor.finish(held, begins, work)
        hot = self._out_of_oven(members, ends) if step.oven else ends
        floor.free.update(dict.fromkeys(turn.people, ends))
        floor.free.update(dict.fromkeys(step.machines, hot))
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

    def _out_of_oven(self, members: Iterable[Going], ends: float) -> float:
        """Give the minute of work at which the pieces are out again, loaded by `ends`."""
        ovens = [(one.step.oven, one.pieces) for one in members if one.step and one.step.oven]
        minutes, time = max(oven.minutes for oven, _ in ovens), self.time
        clock = time.clock_at(ends)
        for _ in range(loads(*ovens[0]) if len(ovens) == 1 else 1):
            clock = clock if ovens[0][0].unattended else int(time.fits(minutes)[clock])
            clock = min(clock + minutes, time.never)
        return float(time.worked[clock])

    def _move_on(self, going: Going, ends: float) -> None:
        step = going.step
        assert step is not None
        if step.cure:
            clock = self.time.clock_at(ends)
            ends = max(ends, float(self.time.worked[min(clock + step.cure, self.time.never)]))
        going.ready, going.worked, going.not_before = ends, 0.0, ends
        going.pieces *= step.rate
        going.comes_to(going.at + 1)
