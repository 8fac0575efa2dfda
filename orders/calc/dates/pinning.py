"""Pins of the week sheet in the order of the sheet: how a line is moved, how a week is pinned, what a move does to promises."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.calc.dates import asking
from orders.calc.dates.dispatch import propose
from orders.calc.dates.plan import Plan
from orders.calc.dates.sheet import Operated
from orders.calc.dates.state import Pin, Shop

FUTURES: Final = 1_000  # enough to see five points: ± 1.9 at 90 % (binomial, nineteen times in twenty)
LOSS: Final = 0.05  # No source: a promise that loses more is named, whatever it stands at

Key = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Put:
    """An operation on the sheet: a run's step, not before a day."""

    run: str
    step: int
    day: dt.date

    @property
    def key(self) -> Key:
        """The run and the step."""
        return self.run, self.step


@dataclass(frozen=True, slots=True)
class Swayed:
    """A promised order: its day, the chance to keep it before and after a move, and the chance that is wanted."""

    order: str
    day: int
    before: float
    after: float
    wanted: float

    @property
    def named(self) -> bool:
        """Say whether it is named: below what is wanted after the move, or more than five points worse by it."""
        return self.after < self.wanted or self.before - self.after > LOSS


def moved(pins: Sequence[Put], puts: Sequence[Put], after: Sequence[Put] = ()) -> tuple[Put, ...]:
    """Put operations on the sheet behind others.

    Args:
        pins: in the order of the sheet.
        puts: operations with their day, one behind the other; what is pinned already leaves its place.
        after: what stands before them, first to last; what of it is not pinned is pinned with them, in this order. Nothing:
            they go before all that is pinned for the day of the first or a later one.

    Returns:
        The pins in their new order.
    """
    mine = {put.key for put in puts}
    left = [pin for pin in pins if pin.key not in mine]
    before = [pin for pin in after if pin.key not in mine]
    at = 0
    for one in before:
        found = next((place for place, pin in enumerate(left) if pin.key == one.key), None)
        if found is None:
            at = at or _first_of(left, one.day)
            left.insert(at, one)
            found = at
        at = max(at, found + 1)
    if not before and puts:
        at = _first_of(left, puts[0].day)
    return (*left[:at], *puts, *left[at:])


def _first_of(pins: Sequence[Put], day: dt.date) -> int:
    """Give the place of the first pin of a day or a later one."""
    return next((place for place, pin in enumerate(pins) if pin.day >= day), len(pins))


def all_of(pins: Sequence[Put], operations: Sequence[Operated], first: dt.date, last: dt.date) -> tuple[Put, ...]:
    """Pin all operations that begin in a span as they are proposed.

    Args:
        pins: that stand, in the order of the sheet.
        operations: of the plan proposed around them, in its order.
        first: day of the span.
        last: day of the span, included.

    Returns:
        All pins in the order of the plan; those it cannot begin stay behind them, those of other days keep theirs.
    """
    days = {pin.key: pin.day for pin in pins}
    days |= {(one.run, one.step): one.date for one in reversed(operations) if first <= one.date <= last}
    found = [Put(one.run, one.step, days.pop((one.run, one.step))) for one in operations if (one.run, one.step) in days]
    return (*found, *(pin for pin in pins if pin.key in days))


def as_pins(puts: Iterable[Put], first_day: dt.date, runs: Mapping[str, str]) -> tuple[Pin, ...]:
    """Give pins as the calculator knows them.

    Args:
        puts: in the order of the sheet.
        first_day: of the shop; a day gone by is this one.
        runs: the run that a batch is of, by their codes; a pin of a run holds for all its batches.
    """
    batches: dict[str, list[str]] = defaultdict(list)
    for batch, run in runs.items():
        if run:
            batches[run].append(batch)
    return tuple(
        Pin(code, put.step, max(0, (put.day - first_day).days))
        for put in puts
        for code in batches.get(put.run, [put.run])
    )


def before_it(
    operations: Sequence[Operated], keys: Collection[Key], place: str, day: dt.date, last: Key
) -> tuple[Put, ...]:
    """Give what begins in a place on a day up to one operation: what stands before a line that is moved behind it.

    Args:
        operations: of the plan, in its order.
        keys: of the line that is moved, which are left out.
        place: of work.
        day: of the sheet.
        last: the operation it is moved behind.

    Returns:
        First to last, nothing where that one does not begin there on that day.
    """
    there = [one for one in operations if one.place == place and one.date == day and (one.run, one.step) not in keys]
    at = next((number for number, one in enumerate(there) if (one.run, one.step) == last), -1)
    return tuple(Put(one.run, one.step, one.date) for one in there[: at + 1])


@dataclass(frozen=True, slots=True)
class Effect:
    """What other pins do: the plan around them, and all promised orders."""

    after: Plan
    promises: tuple[Swayed, ...]


def effect(shop: Shop, pins: Sequence[Pin], *, seed: int, futures: int = FUTURES) -> Effect:
    """Say what other pins would do, on the same random numbers.

    Args:
        shop: as it stands, with its pins.
        pins: instead of them.
        seed: of the random streams.
        futures: how many, 100 or more.

    Returns:
        The plan proposed around them, and every order with a day.
    """
    other = replace(shop, pins=tuple(pins))
    wanted: dict[str, float] = {}
    for line in shop.lines:
        wanted[line.order] = max(wanted.get(line.order, 0.0), line.sure)
    rated = asking.compare(shop, other, seed=seed, futures=futures)
    promises = (Swayed(one.order, one.day, one.before, one.after, wanted[one.order]) for one in rated)
    return Effect(propose(other), tuple(promises))
