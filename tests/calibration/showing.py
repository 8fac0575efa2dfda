"""What a manager of a shadow shop sees, told to the date calculator; it learns only from what was counted."""

import datetime as dt
import math
from collections import defaultdict

from orders.calc.dates.chance import Law
from orders.calc.dates.route import Oven, Product, Step
from orders.calc.dates.state import (
    DAY,
    Batch,
    Coming,
    Hours,
    Line,
    Machine,
    Person,
    Shop,
    Spells,
    Supplier,
)
from tests.shadow import OVEN, Cure, Facts, Pattern, Seen, Soak, Work
from tests.shadow.sight import OpenRun, Owed

MONDAY = dt.date(2026, 3, 2)
HORIZON = 300
WORKED = 0.01  # minutes; a step that was begun is begun
BELIEF = 20  # figures, as many as the prior of deliveries is worth; of spells too


def shop_of(facts: Facts, seen: Seen, *, sure: float = 0.8) -> Shop:
    """Tell the calculator all that is seen on a morning."""
    learned = _Learned(facts, seen)
    return Shop(
        hours=_hours(facts, seen.day),
        people=tuple(learned.person(one.name) for one in facts.people),
        machines=tuple(learned.machine(name) for name in (*facts.machines, OVEN)),
        products=tuple(_product(facts, learned, one) for one in facts.patterns),
        stock=dict(seen.stock),
        batches=tuple(batch for run in seen.runs if (batch := _batch(facts, seen, run))),
        coming=tuple(learned.coming(number) for number in range(len(seen.coming))),
        suppliers=tuple(Supplier(one.item, learned.late(one.item), one.lead) for one in facts.supplies),
        buys_from={one.item: one.item for one in facts.supplies},
        lines=tuple(line_of(one) for one in seen.owed),
        tooling_in={machine: tooling for machine, tooling in seen.tooling.items() if tooling},
        now=seen.minute - seen.day * DAY,
        lorry=0,
        horizon_days=HORIZON,
        starts_sure=sure,
        pack_minutes=0,
    )


def line_of(owed: Owed) -> Line:
    """Tell of a line; each is an order of its own here, for the shadow shop sends line by line."""
    return Line(f"{owed.order}.{owed.number}", owed.pattern, owed.owed)


def _hours(facts: Facts, today: int) -> Hours:
    calendar, first = facts.calendar, MONDAY + dt.timedelta(days=today)
    closed = frozenset(MONDAY + dt.timedelta(days=day) for day in calendar.closed)
    return Hours(
        first, tuple(sorted(calendar.weekdays)), calendar.opens, calendar.shuts, facts.share, closed,
        tuple(sorted(facts.carrier.weekdays)), facts.carrier.cut_off,
    )  # fmt: skip


class _Learned:
    """What the records teach beyond what is believed."""

    def __init__(self, facts: Facts, seen: Seen) -> None:
        self.facts, self.seen = facts, seen
        self.counts: dict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0])
        for count in seen.counts:
            self.counts[count.pattern, count.step][0] += count.good
            self.counts[count.pattern, count.step][1] += count.entered - count.good
        self.timings: dict[tuple[str, int], list[float]] = defaultdict(list)
        for timing in seen.timings:
            if timing.pieces and timing.minutes > 0:
                self.timings[timing.pattern, timing.step].append(timing.minutes / timing.pieces)

    def person(self, name: str) -> Person:
        """Tell of somebody: leave, how often he is ill, and since when."""
        who = next(one for one in self.facts.people if one.name == name)
        out = frozenset(day - self.seen.day for day in who.leave if day >= self.seen.day)
        ill = [one.day for one in self.seen.days_out if one.person == name]
        chance = _chance(self.facts.sick, _spells_begun(self.facts, ill), self.seen.open_days - len(ill))
        away = name in self.seen.out and 0 not in out
        since = 1 + _before(self.facts, ill, self.seen.day) if away else 0
        return Person(name, out, Spells(chance, _counted(self.facts.spells)), since)

    def machine(self, name: str) -> Machine:
        """Tell of a machine: until when it is down, how often it breaks, what is in the oven."""
        until = self.seen.down.get(name, self.seen.day)
        broken = [one.day for one in self.seen.days_down if one.machine == name]
        chance = _chance(self.facts.breakdown, _spells_begun(self.facts, broken), self.seen.open_days - len(broken))
        busy = self.seen.oven.until - self.seen.day * DAY if name == OVEN and self.seen.oven else 0
        spells = Spells(chance, _counted(self.facts.repairs))
        return Machine(name, frozenset(range(until - self.seen.day)), spells, max(0, busy))

    def late(self, item: str) -> tuple[int, ...]:
        """Tell how late deliveries of an item come."""
        believed = [days for days, weight in self.facts.late for _ in range(round(weight))]
        return tuple(believed + [one.late for one in self.seen.arrivals if one.item == item])

    def coming(self, number: int) -> Coming:
        """Tell of a delivery under way; of what is sorted as it comes, only the good ones."""
        one = self.seen.coming[number]
        pieces = one.qty
        if self.facts.supply(one.item).sorted_:
            came = [arrival for arrival in self.seen.arrivals if arrival.item == one.item]
            bad = self.facts.bad[0] + sum(arrival.qty - arrival.good for arrival in came)
            pieces = round(one.qty * (1 - bad / (sum(self.facts.bad) + sum(arrival.qty for arrival in came))))
        return Coming(one.item, pieces, one.promised - self.seen.day, one.item)

    def minutes(self, pattern: str, number: int, card: Work) -> tuple[float, float]:
        """Give the mean minutes of a step and the doubt that is left: normal belief of the logarithm, normal records."""
        doubt = self.facts.minutes_doubt
        noted = [math.log(minutes / card.minutes) + card.spread**2 / 2 for minutes in self.timings[pattern, number]]
        if not doubt:
            return card.minutes, 0.0
        if not card.spread:
            return card.minutes * math.exp(noted[0]) if noted else card.minutes, 0.0 if noted else doubt
        weight = 1 / doubt**2 + len(noted) / card.spread**2
        mean = sum(noted) / card.spread**2 / weight
        return card.minutes * math.exp(mean + 1 / weight / 2), math.sqrt(1 / weight)


def _chance(belief: tuple[float, float], begun: int, days: int) -> float:
    return (belief[0] + begun) / (sum(belief) + begun + max(0, days)) if belief[0] else 0.0


def _spells_begun(facts: Facts, days: list[int]) -> int:
    """Count the spells in the days somebody was away; two that touch count as one."""
    return sum(not _before(facts, days, day) for day in days)


def _before(facts: Facts, days: list[int], day: int) -> int:
    """Count the open days before a day that are noted without a gap."""
    noted, found, back = set(days), 0, day - 1
    while back >= 0 and (back in noted or not facts.calendar.is_open(back)):
        found += back in noted
        back -= 1
    return found


def _counted(chances: tuple[float, ...]) -> tuple[int, ...]:
    return tuple(days for days, chance in enumerate(chances, 1) for _ in range(round(chance * BELIEF)))


def _product(facts: Facts, learned: _Learned, pattern: Pattern) -> Product:
    everybody = {bench: tuple(one.name for one in facts.people if bench in one.benches) for bench in _benches(facts)}
    steps = []
    for number, card in enumerate(pattern.route):
        if isinstance(card, Work):
            minutes, unsure = learned.minutes(pattern.name, number, card)
            good, bad = learned.counts[pattern.name, number] if card.belief else (0, 0)
            believed = card.belief or (0.0, 0.0)
            steps.append(
                Step(
                    number + 1, f"{card.bench} {number + 1}", minutes, Law("lognormal", (card.spread,)) if card.spread else None,
                    unsure, 0.0 if card.tooling else card.set_up, card.tooling, card.set_up if card.tooling else 0.0,
                    card.people, everybody[card.bench], card.machines, believed[0] + good, believed[1] + bad,
                    uses=((card.uses, 1.0),) if card.uses else (),
                )
            )  # fmt: skip
        elif isinstance(card, Soak):
            oven = Oven(card.share, card.heat_up, card.soak, f"{card.temperature}", facts.unattended)
            steps.append(Step(number + 1, f"oven {card.temperature}", people=0, machines=(OVEN,), oven=oven))
        elif isinstance(card, Cure):
            steps.append(Step(number + 1, f"cure {number + 1}", people=0, cure=card.minutes))
    return Product(pattern.name, pattern.name, tuple(steps), pattern.blank, most=pattern.most)


def _benches(facts: Facts) -> set[str]:
    return {bench for one in facts.people for bench in one.benches}


def _batch(facts: Facts, seen: Seen, run: OpenRun) -> Batch | None:
    """Tell of a run: one in the oven or curing has that step behind it from the minute it ends."""
    done, ready = len(run.after), 0
    if run.ready is not None:
        done, ready = done + 1, max(0, run.ready - seen.day * DAY)
    worked, by = 0.0, ()
    if run.begun:
        by = run.begun.people if not set(run.begun.people) & set(seen.out) else ()
        card = facts.pattern(run.pattern).route[done]
        assert isinstance(card, Work)
        done_of_set_up = card.set_up - run.begun.set_up_left if not card.tooling else -run.begun.set_up_left
        worked = max(WORKED, run.begun.minutes + done_of_set_up)
    return Batch(run.code, run.pattern, done, run.pieces, ready, done_minutes=worked, by=by) if run.pieces else None
