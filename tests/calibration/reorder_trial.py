"""Shelves run night by night by the reorder calculator, and by two things a shop does today, on items of known laws.

`python -m tests.calibration.reorder_trial [items a class [weeks between learning [seed]]]` prints the whole table.
"""

import datetime as dt
import os
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Final

import numpy as np

from inventory.calc.forecast.choosing import Forecast, forecasts
from inventory.calc.lead_times import Record, learn
from inventory.calc.reorder.lead_demand import Demand, Scenarios
from inventory.calc.reorder.point import point
from tests.calibration.reorder_truths import KINDS, LEADS, WEEK, Floats, Ints, Truth, truth

WARM, RUN = 104, 104  # weeks of history before the trial, and of the trial
SETTLE: Final = 8 * WEEK  # days of the trial whose orders are not judged: they begin from a stock somebody chose
SERVICES: Final = (0.90, 0.95, 0.98)
BEGAN: Final = dt.date(2020, 1, 6)


@dataclass(frozen=True)
class Ran:
    """What came of a shelf: by item, for the first and the second half of the trial.

    cycles, failed: orders that came, and those before which something was missing; stock: mean units there; orders placed.
    """

    cycles: Ints
    failed: Ints
    stock: Floats
    orders: Ints
    stated: Floats

    def said(self) -> float:
        """Return the mean chance the points had of themselves, of the cycles judged."""
        return float(self.stated.sum() / max(1, self.cycles.sum()))

    def service(self, half: int | None = None, items: Ints | None = None) -> float:
        """Return the share of cycles that did not run dry, pooled over items."""
        rows = slice(None) if items is None else items
        halves = slice(None) if half is None else half
        return float(1 - self.failed[rows, halves].sum() / max(1, self.cycles[rows, halves].sum()))


Points = Callable[[int, "Shelf"], Ints]
"""Given the trial's day and the shelf, the points that hold that evening; below 0 nobody looks."""


class Shelf:
    """Stock, orders and what came, of all items of a truth, evening by evening.

    An order is of so many weeks of the past year's use, whoever orders, so that only the moment of ordering differs.
    """

    def __init__(self, facts: Truth) -> None:
        items = len(facts.days)
        self.facts, self.begins = facts, WARM * WEEK
        self.net = np.zeros(items, np.int64)
        self.due: list[list[tuple[int, int, int, float]]] = [[] for _ in range(items)]  # comes, units, ordered, said
        self.records: list[list[Record]] = [[] for _ in range(items)]
        for item in range(items):
            for place, days in enumerate(facts.known[item]):
                self.records[item].append(_record(-600 + 90 * place, int(days)))
        self.placed = np.zeros(items, np.int64)
        self.position = np.zeros(items, np.int64)

    def open(self, item: int) -> list[Record]:
        """Return the item's order lines, those that wait included."""
        waiting = [Record(BEGAN + dt.timedelta(days=ordered)) for _, _, ordered, _ in self.due[item]]
        return [*self.records[item], *waiting]

    def quantity(self, day: int) -> Ints:
        """Return the units of an order of the evening."""
        now = self.begins + day
        used = self.facts.days[:, now - 52 * WEEK : now].sum(axis=1) / 52
        return np.maximum(1, np.rint(used * self.facts.weeks)).astype(np.int64)

    def run(self, points: Points, chances: Floats | None = None) -> Ran:
        """Run the trial; the shelf begins at its first point and a quantity."""
        facts, days = self.facts, RUN * WEEK
        items = len(facts.days)
        cycles, failed, orders = (np.zeros((items, 2), np.int64) for _ in range(3))
        stock, stated = np.zeros((items, 2)), np.zeros((items, 2))
        self.net = np.maximum(points(0, self), 0) + self.quantity(0)
        self.position = self.net.copy()
        quantity = self.quantity(0)
        comes: list[list[int]] = [[] for _ in range(days + 1_000)]
        for day in range(1, days + 1):
            half = int(day > days // 2)
            taken = facts.days[:, self.begins + day - 1]
            self.net -= taken
            self.position -= taken
            for item in comes[day]:
                _, units, ordered, said = self.due[item].pop(0)
                if ordered > SETTLE:
                    cycles[item, half] += 1
                    failed[item, half] += self.net[item] < 0
                    stated[item, half] += said
                self.net[item] += units
                self.records[item].append(_record(ordered, day - ordered))
            stock[:, half] += np.maximum(self.net, 0)
            level = points(day, self)
            quantity = self.quantity(day) if day % WEEK == 1 else quantity
            for item in np.flatnonzero((self.position <= level) & (level >= 0)):
                least = 0 if chances is None else int(level[item]) + 1 - int(self.position[item])
                said = 1.0 if chances is None else float(chances[item])
                self._order(int(item), max(int(quantity[item]), least), day, comes, said)
                orders[item, half] += 1
        return Ran(cycles, failed, stock / (days / 2), orders, stated)

    def _order(self, item: int, units: int, day: int, comes: list[list[int]], said: float) -> None:
        arrives = day + int(self.facts.leads[item, self.placed[item] % self.facts.leads.shape[1]])
        if self.due[item]:
            arrives = max(arrives, self.due[item][-1][0])  # a supplier sends nothing past what was ordered before
        self.placed[item] += 1
        self.position[item] += units
        self.due[item].append((arrives, units, day, said))
        comes[arrives].append(item)


def _record(ordered: int, days: int) -> Record:
    begun = BEGAN + dt.timedelta(days=ordered)
    return Record(begun, None, ((begun + dt.timedelta(days=days), 1.0),))


class ByCalculator:
    """Points of the calculator, learned anew at the end of every week from what a shop would know by then.

    The night learns every evening; here the points stand for a week, which serves a rising season a little worse.
    """

    def __init__(
        self, facts: Truth, service: float, *, every: int = 1, known: list[list[Forecast]] | None = None
    ) -> None:
        self.facts, self.service, self.every = facts, service, every
        self.weekly = facts.days.reshape(len(facts.days), -1, WEEK).sum(axis=2)
        self.levels = np.zeros(len(facts.days), np.int64)
        self.known = known
        self.chances = np.ones(len(facts.days))
        self.ahead = horizon(facts)

    def __call__(self, day: int, shelf: Shelf) -> Ints:
        """Return the points of the evening."""
        if day % (WEEK * self.every) == 0:
            past = WARM + day // WEEK
            leads = [self._lead(item, day, shelf) for item in range(len(self.levels))]
            told = self.known[day // WEEK // self.every] if self.known else forecast(self.facts, past)
            for item, one in enumerate(told):
                history = tuple(self.weekly[item, :past].tolist())
                demand = Demand(per_week=one.per_week, history=history, error=one.error, horizon=int(self.ahead[item]))
                found = point(Scenarios(demand, item), leads[item], service=self.service)
                self.levels[item], self.chances[item] = found.units, found.chance
        return self.levels

    def _lead(self, item: int, day: int, shelf: Shelf):
        others = [_record(-600, int(days)) for days in self.facts.others[item]]
        today = BEGAN + dt.timedelta(days=day)
        return learn(shelf.open(item), others, written=int(self.facts.written[item]), today=today)


def forecast(facts: Truth, past: int) -> list[Forecast]:
    """Forecast all items from so many weeks of the past; judged over the weeks an order takes as written down."""
    weekly = facts.days[:, : past * WEEK].reshape(len(facts.days), -1, WEEK).sum(axis=2)
    return forecasts(weekly, since=np.zeros(len(weekly), np.int64), horizon=horizon(facts), season_start=0)


def horizon(facts: Truth) -> Ints:
    """Return the weeks an order takes as written down."""
    return np.clip(np.ceil((facts.written + 1) / WEEK), 1, 26).astype(np.int64)


def fixed_minimum(facts: Truth, times: float) -> Points:
    """A minimum written down once: the use of the lead time as written, by last year's use, so many times."""
    used = facts.days[:, (WARM - 52) * WEEK : WARM * WEEK].sum(axis=1) / 52
    levels = np.maximum(0, np.rint(times * used * facts.written / WEEK)).astype(np.int64)
    return lambda _day, _shelf: levels


def looks_low(facts: Truth, weeks: float, seed: int) -> Points:
    """Once a week somebody looks: so many weeks of the last six weeks' use, as it seems to the eye."""
    draw = np.random.default_rng([seed, 77])
    seems = draw.lognormal(0, 0.3, (RUN + 1, len(facts.days)))
    nobody = np.full(len(facts.days), -1)

    def levels(day: int, shelf: Shelf) -> Ints:
        if day % WEEK:
            return nobody
        now = shelf.begins + day
        used = facts.days[:, now - 6 * WEEK : now].sum(axis=1) / 6
        return np.rint(weeks * used * seems[day // WEEK]).astype(np.int64)

    return levels


def interval(ran: Ran, half: int | None = None, draws: int = 1_000) -> tuple[float, float]:
    """Return the service between which 95 in 100 of draws of the items lie."""
    draw = np.random.default_rng(1)
    items = len(ran.cycles)
    found = sorted(ran.service(half, draw.integers(0, items, items)) for _ in range(draws))
    return found[int(0.025 * draws)], found[int(0.975 * draws)]


@dataclass(frozen=True)
class Cell:
    """What is known of a class when it has run: by wanted service, and by how high the two other ways set their level."""

    kind: str
    lead: str
    facts: Truth
    calc: dict[float, Ran]
    fixed: dict[float, Ran]
    low: dict[float, Ran]


TIMES: Final = tuple(float(times) for times in np.geomspace(0.3, 8, 24))
WEEKS: Final = tuple(float(weeks) for weeks in np.geomspace(0.5, 40, 24))


def cell(kind: str, lead: str, items: int, *, every: int = 1, seed: int = 1, services: tuple[float, ...] = SERVICES,
         beside: bool = True) -> Cell:  # fmt: skip
    """Run a class by the calculator at each service, and by the other ways at each level."""
    facts = truth(kind, lead, items, WARM + RUN, seed)
    told = [forecast(facts, WARM + week) for week in range(0, RUN + 1, every)]
    rules = {each: ByCalculator(facts, each, every=every, known=told) for each in services}
    calc = {each: Shelf(facts).run(rule, rule.chances) for each, rule in rules.items()}
    fixed = {times: Shelf(facts).run(fixed_minimum(facts, times)) for times in TIMES if beside}
    low = {weeks: Shelf(facts).run(looks_low(facts, weeks, seed)) for weeks in WEEKS if beside}
    return Cell(kind, lead, facts, calc, fixed, low)


def _work(asked: tuple[str, str, int, int, bool, int]) -> Cell:
    kind, lead, items, every, beside, seed = asked
    return cell(kind, lead, items, every=every, beside=beside, seed=seed)


def cells(items: int, *, every: int = 1, beside: bool = True, seed: int = 1) -> list[Cell]:
    """Run all classes on all cores."""
    asked = [(kind, lead, items, every, beside, seed) for lead in reversed(LEADS) for kind in KINDS]
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("fork")) as pool:
        return list(pool.map(_work, asked))


@dataclass(frozen=True)
class Saving:
    """The second half of the trial beside another way whose level was tuned on the first: shares of its stock value.

    saved: at the tuned level; equal: at the level that gives the calculator's service of the second half itself, with the
    interval of 95 in 100 draws of the items; kept: service of the two; orders: placed, by the other way's.
    """

    saved: float
    equal: float
    interval: tuple[float, float]
    kept: tuple[float, float]
    orders: float


def saving(found: list[Cell], wanted: float, way: str, draws: int = 500) -> Saving:
    """Set the calculator beside `fixed` or `low`, tuned for each class by itself."""
    draw = np.random.default_rng(2)
    everyone = [np.arange(len(one.facts.days)) for one in found]
    tuned = [_tuned(one.calc[wanted], getattr(one, way)) for one in found]
    ours = [one.calc[wanted] for one in found]
    values = [one.facts.value for one in found]

    def worth(runs: list[Ran]) -> float:
        return sum(float((ran.stock[:, 1] * value).sum()) for ran, value in zip(runs, values, strict=True))

    def equal(rows: list[Ints]) -> float:
        mine = theirs = 0.0
        for one, items in zip(found, rows, strict=True):
            ran, value = one.calc[wanted], one.facts.value[items]
            mine += float((ran.stock[items, 1] * value).sum())
            theirs += _worth_at(list(getattr(one, way).values()), ran.service(1, items), items, value)
        return 1 - mine / theirs

    drawn = sorted(equal([draw.choice(items, len(items)) for items in everyone]) for _ in range(draws))
    cycles = [sum(int(ran.cycles[:, 1].sum()) for ran in runs) for runs in (ours, tuned)]
    failed = [sum(int(ran.failed[:, 1].sum()) for ran in runs) for runs in (ours, tuned)]
    orders = [sum(int(ran.orders[:, 1].sum()) for ran in runs) for runs in (ours, tuned)]
    return Saving(
        1 - worth(ours) / worth(tuned),
        equal(everyone),
        (drawn[int(0.025 * draws)], drawn[int(0.975 * draws)]),
        (1 - failed[0] / cycles[0], 1 - failed[1] / cycles[1]),
        orders[0] / orders[1],
    )


def _tuned(ours: Ran, ways: dict[float, Ran]) -> Ran:
    """Return the run whose service of the first half comes nearest to the calculator's."""
    return min(ways.values(), key=lambda ran: abs(ran.service(0) - ours.service(0)))


def _worth_at(runs: list[Ran], service: float, items: Ints, value: Ints) -> float:
    """Return the stock value of the second half at a service, between the levels on either side of it."""
    at = np.maximum.accumulate([ran.service(1, items) for ran in runs])
    worth = [float((ran.stock[items, 1] * value).sum()) for ran in runs]
    first = np.concatenate(([True], np.diff(at) > 0))
    return float(np.interp(service, at[first], np.array(worth)[first]))


def pooled(found: list[Cell], kind: str, wanted: float) -> Ran:
    """Put the short and the long lead times of a class together."""
    runs = [one.calc[wanted] for one in found if one.kind == kind]
    parts = [[getattr(ran, name) for ran in runs] for name in ("cycles", "failed", "stock", "orders", "stated")]
    return Ran(*(np.concatenate(part) for part in parts))


def _line(name: str, wanted: float, ran: Ran) -> str:
    low, high = interval(ran)
    return (
        f"{name:15} wanted {100 * wanted:.0f} said {100 * ran.said():.1f} achieved {100 * ran.service():.1f} "
        f"({100 * low:.1f} to {100 * high:.1f}) of {ran.cycles.sum()} reorders"
    )


def main() -> None:
    """Print the table."""
    items, every, seed = (int(text) for text in [*sys.argv[1:], *("190", "1", "1")[len(sys.argv) - 1 :]])
    found = cells(items, every=every, seed=seed)
    for wanted in SERVICES:
        for kind in KINDS:
            print(_line(kind, wanted, pooled(found, kind, wanted)))
        for one in found:
            print(_line(f"{one.kind} {one.lead}", wanted, one.calc[wanted]))
    for way in ("fixed", "low"):
        for wanted in SERVICES:
            groups = {kind: [one for one in found if one.kind == kind] for kind in KINDS}
            for name, some in {**groups, "all": found}.items():
                print(way, wanted, name, saving(some, wanted, way), flush=True)


if __name__ == "__main__":
    main()
