"""Pieces on the floor: runs opened, counted, corrected, in the oven, curing, shelved. `hands` adds the people."""

from collections.abc import Generator
from typing import Final

import simpy

from tests.shadow import fates, reading
from tests.shadow.bunches import Bunch, Job, State
from tests.shadow.facts import DAY, OVEN, WEEK, Cure, Soak
from tests.shadow.past import Change, Stint, Wait
from tests.shadow.sight import Count, InOven, NewRun, Task, Timing
from tests.shadow.stores import Stores
from tests.shadow.truths import Shop

Events = Generator[simpy.Event, None, None]
NEARLY: Final = 1e-9  # what rounding may leave of a full oven or of a whole minute


class Floor:
    """State of the shop and the moves that need no hands."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.facts = shop, shop.facts
        self.env = simpy.Environment()
        self.stores = Stores(shop)
        self.days = [day for day in range(shop.weeks * WEEK) if self.facts.calendar.is_open(day)]
        self.ill, self.broken = fates.ill(shop, self.days), fates.down(shop, self.days)
        self.bunches: dict[str, Bunch] = {}
        self.open: dict[str, Bunch] = {}
        self.orders = reading.DayOrders()
        self.out: frozenset[str] = frozenset()
        self.down: dict[str, int] = {}
        self.shuts = 0
        self.at_work: dict[str, Job] = {}
        self.held: dict[str, Job] = {}
        self.put_down: list[Job] = []  # that go on today by themselves, the longest begun first
        self.tooling = {machine: shop.tooling.get(machine, "") for machine in self.facts.machines}
        self.in_oven: InOven | None = None
        self.stints: list[Stint] = []
        self.waits: list[Wait] = []
        self.changes: list[Change] = []
        self.counts: dict[Task, Count] = {}
        self.timings: list[Timing] = []
        self.wrong: list[tuple[int, Bunch, int]] = []  # counts to be corrected, and on which day
        self._stirred = False
        for run in shop.opening:
            self._lay_out(
                Bunch(run.code, self.facts.pattern(run.pattern), run.blanks, 0, list(run.after), list(run.after))
            )

    @property
    def now(self) -> int:
        """The minute."""
        return int(self.env.now)

    def _lay_out(self, bunch: Bunch) -> None:
        self.bunches[bunch.code] = self.open[bunch.code] = bunch
        self._move_on(bunch)

    def open_run(self, run: NewRun) -> None:
        """Open a run; its blanks leave the stock."""
        reading.check_new(self.facts, run, self.bunches, self.stores.free)
        pattern = self.facts.pattern(run.pattern)
        self.stores.free[pattern.blank] -= run.blanks
        self._lay_out(Bunch(run.code, pattern, run.blanks, self.now))

    def correct_counts(self, day: int) -> None:
        """Put right the wrong counts that are due."""
        due = [one for one in self.wrong if one[0] <= day]
        self.wrong = [one for one in self.wrong if one[0] > day]
        for _, bunch, step in due:
            before = bunch.told_too_many
            bunch.correct(step)
            if bunch.state is State.GONE:
                self.stores.miscounted[bunch.pattern.name] += bunch.told_too_many - before
            for at, pieces in enumerate(bunch.told):
                old = self.counts.get(Task(bunch.code, at))
                if old:
                    came = bunch.told[at - 1] if at else bunch.blanks
                    new = Count(old.run, old.pattern, at, max(came, pieces), pieces, old.day)
                    self.counts[Task(bunch.code, at)] = new

    def _finish(self, bunch: Bunch, job: Job) -> None:
        """Note the minutes of a finished work step, count where the route says so, and move on."""
        step, name, day, pieces = job.task.step, bunch.pattern.name, self.now // DAY, bunch.pieces
        minutes, setting = job.work_done * self.facts.share, job.set_done * self.facts.share
        self.timings.append(Timing(bunch.code, name, step, bunch.pieces_told, minutes, setting, day))
        bunch.job = None
        if job.card.belief is None:
            bunch.told.append(bunch.pieces_told)
            bunch.held.append(pieces)
        else:
            good = fates.good_pieces(self.shop, bunch.code, name, step, pieces, day)
            told = good + fates.miscount(self.shop, bunch.code, step, pieces, good)
            came = max(told, bunch.pieces_told)
            self.counts[job.task] = Count(bunch.code, name, step, came, told, day)
            bunch.told.append(told)
            bunch.held.append(good)
            if told != good:
                self.wrong.append((self._later(day, self.shop.laws.corrected_after), bunch, step))
        self._move_on(bunch)

    def _later(self, day: int, open_days: int) -> int:
        for _ in range(open_days):
            day = self.facts.calendar.open_from(day + 1)
        return day

    def _move_on(self, bunch: Bunch) -> None:
        bunch.ready = None
        if bunch.pieces == 0 or bunch.step == len(bunch.pattern.route):
            bunch.state, bunch.ended = State.GONE, self.now
            del self.open[bunch.code]
            if bunch.pieces:
                self.stores.miscounted[bunch.pattern.name] += bunch.told_too_many
                self.stores.shelve(bunch.pattern.name, bunch.pieces, self.now)
        elif isinstance(bunch.card, Cure):
            bunch.state, bunch.ready = State.CURING, self.now + bunch.card.minutes
            self.env.process(self._cure(bunch, bunch.card))
        else:
            bunch.state = State.LYING

    def _pass_on(self, bunch: Bunch) -> None:
        bunch.told.append(bunch.pieces_told)
        bunch.held.append(bunch.pieces)
        self._move_on(bunch)

    def _cure(self, bunch: Bunch, card: Cure) -> Events:
        began, task = self.now, Task(bunch.code, bunch.step)
        yield self.env.timeout(card.minutes)
        self.waits.append(Wait((task,), (bunch.pieces,), 0.0, began, self.now, oven=False))
        self._pass_on(bunch)
        self._stir()

    def _fire(self) -> bool:
        """Begin the next load if all its runs lie there, somebody is here, and it ends in time."""
        loads = self.orders.loads
        while loads and not self._still_to_soak(loads[0]):
            loads.popleft()
        if not loads or self.in_oven or OVEN in self.down or len(self.out) == len(self.facts.people):
            return False
        load = self._still_to_soak(loads[0])
        if any(bunch.step != task.step for task, bunch in load):
            return False
        load = self._that_fits(load)
        cards = [bunch.card for _, bunch in load]
        minutes = max(card.heat_up + card.soak for card in cards if isinstance(card, Soak))
        if not self.facts.unattended and self.now + minutes > self.shuts:
            return False
        loads.popleft()
        self.in_oven = InOven(tuple(task for task, _ in load), self.now + minutes)
        for _, bunch in load:
            bunch.state, bunch.ready = State.IN_OVEN, self.in_oven.until
        self.env.process(self._soak(load, self.in_oven, minutes))
        return True

    def _still_to_soak(self, tasks: tuple[Task, ...]) -> list[tuple[Task, Bunch]]:
        pairs = [(task, self.bunches[task.run]) for task in tasks]
        return [(task, bunch) for task, bunch in pairs if bunch.state is not State.GONE and bunch.step <= task.step]

    def _that_fits(self, load: list[tuple[Task, Bunch]]) -> list[tuple[Task, Bunch]]:
        """Return the runs in their order as far as the oven holds them; the others are left for another sheet."""
        filled = 0.0
        for at, (_, bunch) in enumerate(load):
            filled += share_of(bunch)
            if filled > 1 + NEARLY:
                return load[:at]
        return load

    def _soak(self, load: list[tuple[Task, Bunch]], inside: InOven, minutes: int) -> Events:
        began = self.now
        yield self.env.timeout(minutes)
        pieces, filled = tuple(bunch.pieces for _, bunch in load), sum(share_of(bunch) for _, bunch in load)
        self.waits.append(Wait(inside.tasks, pieces, filled, began, self.now, oven=True))
        self.in_oven = None
        for _, bunch in load:
            self._pass_on(bunch)
        self._stir()

    def _stir(self) -> None:
        """Let what can begin in this minute begin once everything else of the minute has happened."""
        if not self._stirred:
            self._stirred = True
            self.env.process(self._settle())

    def _settle(self) -> Events:
        yield self.env.timeout(0)
        self._stirred = False
        while self.now < self.shuts and (self._set_hands() or self._fire()):
            pass

    def _set_hands(self) -> bool:
        """Let people begin one thing; say whether they did."""
        raise NotImplementedError


def share_of(bunch: Bunch) -> float:
    """Return how much of the oven a bunch fills at its next step."""
    return bunch.card.share * bunch.pieces if isinstance(bunch.card, Soak) else 0.0
