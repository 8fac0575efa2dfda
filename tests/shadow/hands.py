"""People at work on the floor: whose turn it is, who begins what, and what is put down in the evening."""

import math

from tests.shadow import fates, reading
from tests.shadow.bunches import Bunch, Job, State
from tests.shadow.facts import DAY, Work
from tests.shadow.floor import NEARLY, Events, Floor
from tests.shadow.past import Change, Stint
from tests.shadow.sight import Sheet, Task


class Hands(Floor):
    """The floor with people, who do strictly what their lists say."""

    def take_up(self, sheet: Sheet) -> None:
        """Make a sheet the orders of the day; what was begun by people and on machines that are here goes on first."""
        begun = [bunch.job for bunch in self.open.values() if bunch.job]
        here = [job for job in begun if not self.out & set(job.crew) and not set(self.down) & set(job.card.machines)]
        self.put_down = sorted(here, key=lambda job: (job.since, job.task))
        self.orders = reading.read(self.facts, self.bunches, sheet, {job.task for job in here})
        self._stir()

    def _set_hands(self) -> bool:
        return self._go_on() or self._begin_any()

    def _go_on(self) -> bool:
        claimed: set[str] = set()
        for job in self.put_down:
            crew = set(job.crew)
            if not crew & (claimed | set(self.at_work)) and not self.held.keys() & set(job.card.machines):
                self.put_down.remove(job)
                self._set_to(job)
                return True
            claimed |= crew
        return False

    def _begin_any(self) -> bool:
        claimed = {name for job in self.put_down for name in job.crew}
        for name in self.orders.lists:
            task = self._head(name)
            if task and self._can_begin(task, claimed):
                self._begin(task)
                return True
        return False

    def _head(self, name: str) -> Task | None:
        mine = self.orders.lists[name]
        while mine and self.bunches[mine[0].run].state is State.GONE:
            mine.popleft()
        return mine[0] if mine else None

    def _can_begin(self, task: Task, claimed: set[str]) -> bool:
        bunch, crew = self.bunches[task.run], self.orders.crews[task]
        if bunch.step != task.step or bunch.state not in {State.LYING, State.PUT_DOWN}:
            return False
        if any(
            name in self.out or name in claimed or name in self.at_work or self._head(name) != task for name in crew
        ):
            return False
        card = bunch.card
        assert isinstance(card, Work)
        if any(machine in self.held or machine in self.down for machine in card.machines):
            return False
        if bunch.job:
            return True
        served = card.uses is None or self.stores.free[card.uses] >= bunch.pieces
        return served and all(self._is_turn(machine, task) for machine in card.machines)

    def _is_turn(self, machine: str, task: Task) -> bool:
        order = self.orders.machines.get(machine)
        while order and self.bunches[order[0].run].state is State.GONE:
            order.popleft()
        return order is None or (bool(order) and order[0] == task)

    def _begin(self, task: Task) -> None:
        bunch, crew = self.bunches[task.run], self.orders.crews[task]
        for name in crew:
            self.orders.lists[name].popleft()
        if bunch.job:
            bunch.job.crew = crew
            self._set_to(bunch.job)
            return
        card = bunch.card
        assert isinstance(card, Work)
        for machine in card.machines:
            if self.orders.machines.get(machine):
                self.orders.machines[machine].popleft()
        if card.uses:
            self.stores.free[card.uses] -= bunch.pieces
        day = self.now // DAY
        minutes = fates.minutes(self.shop, task.run, bunch.pattern.name, task.step, bunch.pieces, day)
        setting = 0 if card.tooling else self._open(card.set_up)
        bunch.job = Job(task, card, crew, self.now, setting, max(1, self._open(minutes)))
        self._set_to(bunch.job)

    def _open(self, work_minutes: float) -> int:
        return math.ceil(work_minutes / self.facts.share - NEARLY)

    def _set_to(self, job: Job) -> None:
        bunch = self.bunches[job.task.run]
        bunch.state = State.IN_HAND
        wrong = [machine for machine in job.card.machines if self.tooling[machine] != job.card.tooling]
        if job.card.tooling and wrong:
            for machine in wrong:
                was, self.tooling[machine] = self.tooling[machine], job.card.tooling
                self.changes.append(Change(self.now, machine, was, job.card.tooling, job.task))
            job.set_left, job.set_done = self._open(job.card.set_up), 0
        self.at_work |= dict.fromkeys(job.crew, job)
        self.held |= dict.fromkeys(job.card.machines, job)
        self.env.process(self._work(bunch, job))

    def _work(self, bunch: Bunch, job: Job) -> Events:
        began = self.now
        minutes = min(self.shuts - began, job.set_left + job.work_left)
        yield self.env.timeout(minutes)
        setting = job.spend(minutes)
        for name in job.crew:
            del self.at_work[name]
        for machine in job.card.machines:
            del self.held[machine]
        finished = not job.set_left + job.work_left
        self.stints.append(Stint(job.task, job.crew, job.card.machines, began, self.now, setting, finished))
        if finished:
            self._finish(bunch, job)
        else:
            bunch.state = State.PUT_DOWN
        self._stir()
