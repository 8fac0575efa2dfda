"""From morning to morning: the shop opens, the manager is asked, the day runs; at the end stands the history."""

from tests.shadow.facts import DAY, WEEK
from tests.shadow.hands import Hands
from tests.shadow.past import History
from tests.shadow.sight import DayDown, DayOut, Manager, Seen
from tests.shadow.truths import Shop


class Mornings(Hands):
    """The whole shop."""

    def __init__(self, shop: Shop, manager: Manager) -> None:
        super().__init__(shop)
        self.manager = manager
        self.days_out: list[DayOut] = []
        self.days_down: list[DayDown] = []

    def run(self) -> History:
        """Let all weeks pass. The manager is asked between two events, so what he raises comes out as it is."""
        for number, day in enumerate(self.days):
            self._pass_until(day * DAY + self.facts.calendar.opens)
            self._open_up(day)
            sheet = self.manager.morning(self._look(day, number))
            self.stores.order(day, sheet.purchases)
            for run in sheet.runs:
                self.open_run(run)
            self.stores.serve_all(self.now)
            self.take_up(sheet)
        self._pass_until(self.shop.weeks * WEEK * DAY)
        return History(
            lines=self.stores.lines(),
            runs=tuple(bunch.past() for bunch in self.bunches.values()),
            stints=tuple(self.stints),
            waits=tuple(self.waits),
            changes=tuple(self.changes),
            counts=tuple(self.counts.values()),
            timings=tuple(self.timings),
            arrivals=tuple(self.stores.arrivals),
            days_out=tuple(self.days_out),
            days_down=tuple(self.days_down),
            stock=tuple(sorted(self.stores.free.items())),
        )

    def _pass_until(self, minute: int) -> None:
        """Let everything happen up to a minute, and in it."""
        self.env.timeout(minute - self.now)
        while self.env.peek() <= minute:
            self.env.step()

    def _open_up(self, day: int) -> None:
        self.shuts = day * DAY + self.facts.calendar.shuts
        on_leave = {person.name for person in self.facts.people if day in person.leave}
        self.out = frozenset(self.ill[day] | on_leave)
        self.down = self.broken[day]
        self.days_out += [DayOut(name, day) for name in sorted(self.ill[day] - on_leave)]
        self.days_down += [DayDown(machine, day) for machine in sorted(self.down)]
        self.stores.receive(day)
        self.correct_counts(day)
        self.stores.ask(day)

    def _look(self, day: int, number: int) -> Seen:
        return Seen(
            day=day,
            minute=self.now,
            open_days=number,
            stock=self.stores.told(),
            runs=tuple(bunch.seen(self.facts.share) for bunch in self.open.values()),
            out=self.out,
            down=dict(self.down),
            tooling=dict(self.tooling),
            oven=self.in_oven,
            coming=tuple(one.coming for one in self.stores.coming),
            owed=self.stores.owed(),
            counts=tuple(self.counts.values()),
            timings=tuple(self.timings),
            arrivals=tuple(self.stores.arrivals),
            days_out=tuple(self.days_out),
            days_down=tuple(self.days_down),
        )


def simulate(shop: Shop, manager: Manager) -> History:
    """Let a shop run under a manager.

    Args:
        shop: drawn by `draw_shop` or put together by hand.
        manager: asked every open morning.

    Returns:
        What happened. The same shop and a manager that answers the same give the same history.

    Raises:
        ValueError: a sheet asks for what cannot be done; the message says what.
    """
    return Mornings(shop, manager).run()
