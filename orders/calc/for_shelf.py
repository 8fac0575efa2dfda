"""How many pieces to start for the shelf: each number compared by what a good piece of it costs.

What is compared are the costs that depend on the number: steel with its scrap ends and remnants, set-up and tooling, oven
loads, fire batches, and keeping what nobody has bought yet. Money is in minor units, time in minutes of work.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from inventory.calc.starts import SAME, Point
from orders.calc.dates.sizing import start_for

YEAR: Final = 365.0  # days
MOST: Final = 1_000  # pieces that are planned at once
FULL: Final = 0.95  # of an oven load from which it is said to be full. No source
WORTH: Final = 0.005  # of what a piece costs; a smaller saving is not said. No source
Value = int | float | str | tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar that gives so many blanks; `end_minor` is lost with its end, `part_minor` what a rest of it costs that is kept."""

    name: str
    gives: int
    end_minor: float = 0.0
    part_minor: float = 0.0

    def __post_init__(self) -> None:
        if self.gives < 1 or min(self.end_minor, self.part_minor) < 0:
            raise ValueError(f"{self.name}: a bar gives a blank or more, and its ends cost nothing or more")


@dataclass(frozen=True, slots=True)
class Steel:
    """Steel of one mill heat, of which one run can be made: sawn blanks that lie free, and bars."""

    name: str
    sawn: int = 0
    bars: tuple[Bar, ...] = ()

    @property
    def gives(self) -> int:
        """Return how many blanks there are in it."""
        return self.sawn + sum(bar.gives for bar in self.bars)


@dataclass(frozen=True, slots=True)
class Batches:
    """What is done so many pieces at a time, such as an oven load, and what one time costs whether it is full or not."""

    name: str
    holds: int
    minor: float

    def __post_init__(self) -> None:
        if self.holds < 1 or self.minor < 0:
            raise ValueError(f"{self.name}: holds a piece or more and costs nothing or more")


@dataclass(frozen=True, slots=True)
class Asked:
    """One item: how many good ones, and all that its number rests on.

    least, most: good pieces that are wanted at the least and that are sensible at the most.
    ahead: counting points of the route; `sure` the chance wanted that `least` come good, between 0 and 1.
    usual, most_run: pieces of a usual run, and of a run at the most.
    steel: by mill heat; `bought` a bar as it can be bought, nothing where it cannot.
    each_minor: of a piece, steel and work, whatever the number; what it is worth when it is kept.
    set_up_minor: of a run; `change_minor` of the tooling, 0 where it is in.
    ovens, fires: what is done many at a time.
    per_day: good pieces that go a day; `holding` what keeping costs a year, as a share of the value.
    """

    least: int
    most: int
    ahead: tuple[Point, ...]
    sure: float
    usual: int
    most_run: int
    steel: tuple[Steel, ...] = ()
    bought: Bar | None = None
    each_minor: float = 0.0
    set_up_minor: float = 0.0
    change_minor: float = 0.0
    ovens: tuple[Batches, ...] = ()
    fires: tuple[Batches, ...] = ()
    per_day: float = 0.0
    holding: float = 0.0

    def __post_init__(self) -> None:
        if not 1 <= self.least <= self.most or not 0 < self.sure < 1:
            raise ValueError("a good piece or more is wanted, no more than is sensible, with a chance between 0 and 1")
        if not 1 <= self.usual <= self.most_run:
            raise ValueError("a usual run is of a piece or more and no larger than a run can be")
        if min(self.each_minor, self.set_up_minor, self.change_minor, self.per_day, self.holding) < 0:
            raise ValueError("costs, use and the share that keeping costs are not below nothing")


class Reason(StrEnum):
    """What speaks for a number."""

    SAWN = "sawn"
    BARS = "bars"
    BUY = "buy"
    NO_STEEL = "no steel"
    OVEN = "oven"
    OVEN_PART = "oven part"
    FIRE = "fire"
    USUAL = "usual"
    RUNS = "runs"
    CHEAPER = "cheaper"


@dataclass(frozen=True, slots=True)
class Why:
    """A reason with its figures."""

    kind: Reason
    facts: dict[str, Value]


@dataclass(frozen=True, slots=True)
class Chosen:
    """So many pieces to start, how many of them come good at the mean, what one costs, and why so many.

    `least` is what would have to be started for the least that is wanted, and what a good piece of that would cost.
    """

    pieces: int
    good: float
    each_minor: float
    least: int
    least_each_minor: float
    why: tuple[Why, ...]


def choose(asked: Asked) -> Chosen:
    """Choose the number whose good pieces cost least, the smaller one where two cost the same.

    Args:
        asked: the item.

    Returns:
        The number with its reasons. It gives the least that is wanted with the wanted chance; above what is sensible it
        goes, at the mean, only where even the least needs more.
    """
    low = min(MOST, start_for(asked.least, asked.ahead, asked.sure))
    high = max(low, min(MOST, math.ceil(asked.most / _mean(asked) - SAME)))
    sawing = _Sawing(asked, high)
    costs = {pieces: _each(asked, sawing, pieces) for pieces in range(low, high + 1)}
    pieces = min(costs, key=lambda one: (round(costs[one], 6), one))
    why = _why(asked, sawing, pieces)
    if costs[low] - costs[pieces] > WORTH * costs[pieces]:
        why.append(Why(Reason.CHEAPER, {"least": low, "saves_minor": costs[low] - costs[pieces]}))
    return Chosen(pieces, pieces * _mean(asked), costs[pieces], low, costs[low], tuple(why))


def _mean(asked: Asked) -> float:
    return math.prod(point.mean for point in asked.ahead)


def _each(asked: Asked, sawing: "_Sawing", pieces: int) -> float:
    """Give what a good piece costs where so many are started."""
    good, runs = pieces * _mean(asked), -(-pieces // asked.most_run)
    total = pieces * asked.each_minor + sawing.cost(pieces) + runs * asked.set_up_minor + asked.change_minor
    total += sum(-(-pieces // one.holds) * one.minor for one in (*asked.ovens, *asked.fires))
    value = total / good
    days = good / (2 * asked.per_day) if asked.per_day else YEAR / 2
    return value * (1 + asked.holding * days / YEAR)


class _Sawing:
    """Which blanks and bars are taken for each number of pieces, and what is lost with them."""

    def __init__(self, asked: Asked, most: int) -> None:
        self.bought, self.most = asked.bought, most
        self.steel = [(one, _whole(one.bars, most)) for one in asked.steel]

    def cost(self, pieces: int) -> float:
        """Give what ends and rests cost."""
        return self.taken(pieces)[0]

    def taken(self, pieces: int) -> tuple[float, Steel | None, int, tuple[tuple[str, int], ...]]:
        """Give the cost, the steel (nothing: bought), how many were sawn already, and the bars with their blanks."""
        found = [
            (cost, steel, sawn, bars)
            for steel, whole in self.steel
            if steel.gives >= pieces
            for sawn in [min(pieces, steel.sawn)]
            for cost, bars in [_of_bars(steel.bars, whole, pieces - sawn)]
        ]
        if found:
            return min(found, key=lambda one: (one[0], -one[2]))
        if self.bought is None:
            return 0.0, None, 0, ()
        whole_bars, part = divmod(pieces, self.bought.gives)
        cost = whole_bars * self.bought.end_minor + (self.bought.part_minor if part else 0.0)
        return cost, None, 0, ((self.bought.name, whole_bars + bool(part)),)


_Best = list[tuple[float, frozenset[int]] | None]


def _whole(bars: Sequence[Bar], most: int) -> _Best:
    """Give, for each number of blanks up to the most, the bars that give just so many when all of each is sawn."""
    best: _Best = [(0.0, frozenset()), *[None] * most]
    for number, bar in enumerate(bars):
        for upto in range(most, bar.gives - 1, -1):
            before = best[upto - bar.gives]
            if before is not None:
                cost, old = before[0] + bar.end_minor, best[upto]
                if old is None or (cost, len(before[1]) + 1) < (old[0], len(old[1])):
                    best[upto] = cost, before[1] | {number}
    return best


def _of_bars(bars: Sequence[Bar], best: _Best, blanks: int) -> tuple[float, tuple[tuple[str, int], ...]]:
    """Give the bars for so many blanks that lose least: all of each is sawn, but perhaps of one."""
    found: list[tuple[float, int, tuple[tuple[str, int], ...]]] = []
    biggest = max((bar.gives for bar in bars), default=1)
    for upto in range(max(0, blanks - biggest + 1), blanks + 1):
        whole = best[upto]
        if whole is None:
            continue
        cost, taken = whole
        row = tuple((bars[number].name, bars[number].gives) for number in sorted(taken))
        if upto == blanks:
            found.append((cost, len(row), row))
            continue
        parts = [bar for number, bar in enumerate(bars) if number not in taken and bar.gives > blanks - upto]
        if parts:
            part = min(parts, key=lambda bar: (bar.part_minor, bar.gives))
            found.append((cost + part.part_minor, len(row) + 1, (*row, (part.name, blanks - upto))))
    cost, _, row = min(found)
    return cost, row


def _why(asked: Asked, sawing: _Sawing, pieces: int) -> list[Why]:
    _, steel, sawn, bars = sawing.taken(pieces)
    found = []
    if steel is not None:
        found += [Why(Reason.SAWN, {"pieces": sawn, "steel": steel.name})] if sawn else []
        gives = {bar.name: bar.gives for bar in steel.bars}
        whole = sum(gives[name] == blanks for name, blanks in bars)
        found += [Why(Reason.BARS, {"bars": bars, "steel": steel.name, "whole": whole})] if bars else []
    elif bars:
        gives_each = asked.bought.gives if asked.bought else 1
        found.append(Why(Reason.BUY, {"bars": bars[0][1], "gives": gives_each, "whole": int(not pieces % gives_each)}))
    else:
        found.append(Why(Reason.NO_STEEL, {}))
    for oven in asked.ovens:
        loads = -(-pieces // oven.holds)
        full = pieces / (loads * oven.holds) >= FULL - SAME
        facts: dict[str, Value] = {"name": oven.name, "loads": loads, "holds": oven.holds}
        found.append(Why(Reason.OVEN if full else Reason.OVEN_PART, facts))
    found += [
        Why(Reason.FIRE, {"name": one.name, "batches": pieces // one.holds})
        for one in asked.fires
        if not pieces % one.holds
    ]
    found += [Why(Reason.USUAL, {"usual": asked.usual})] if pieces == asked.usual else []
    runs = -(-pieces // asked.most_run)
    found += [Why(Reason.RUNS, {"runs": runs, "most": asked.most_run})] if runs > 1 else []
    return found
