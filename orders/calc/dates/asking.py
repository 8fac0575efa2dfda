"""The three questions: when, how sure by a day, how many by a day; what holds it up, what it does to the others.

The order asked goes last in the queue. It gets the better of two plans: the sequence as it stood with its own work behind
it, and a new one; and every promised order that loses more than a point by it is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from orders.calc.dates import filling, scenarios
from orders.calc.dates.answers import Curve, Split, Whole, how_many
from orders.calc.dates.dispatch import propose
from orders.calc.dates.filling import Filled
from orders.calc.dates.futures import Futures
from orders.calc.dates.plan import Plan
from orders.calc.dates.scenarios import Played
from orders.calc.dates.state import Line, Shop

FUTURES: Final = 4_000  # ± 0.93 points at 90 % (binomial, nineteen times in twenty)
POINT: Final = 0.01  # an order that loses more than this is named


@dataclass(frozen=True, slots=True)
class Rated:
    """A promised order: its day, and the chance to keep it before and after the question."""

    order: str
    day: int
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Hold:
    """What an order waits for: in how many of a hundred futures, and how many days of work at the mean."""

    what: str
    share: float
    days: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """A plan and all that came of it."""

    plan: Plan
    played: Played
    filled: Filled

    def curve(self, order: str, days: int) -> Curve:
        """Give the curve of an order."""
        return Curve.of(self.filled.sent[self.filled.orders.index(order)], days)


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one order: its curve, the proposed plan, the promises, and what holds it up."""

    curve: Curve
    outcome: Outcome
    shop: Shop
    replanned: bool
    promises: tuple[Rated, ...]
    holds: tuple[Hold, ...]
    drawn: Futures

    @property
    def losers(self) -> tuple[Rated, ...]:
        """The promised orders that lose more than a point."""
        return tuple(one for one in self.promises if one.before - one.after > POINT)


def rate(shop: Shop, *, seed: int, futures: int = FUTURES) -> tuple[Outcome, tuple[Rated, ...]]:
    """Say how sure every promised day is as the shop stands.

    Args:
        shop: as it stands; lines without a day are rated at none.
        seed: of the random streams.
        futures: how many, 100 or more.

    Returns:
        The proposed plan with its outcome, and the promised orders, before and after alike.
    """
    drawn = Futures(shop, seed, futures)
    outcome = _outcome(shop, propose(shop), drawn)
    kept = _chances(shop, outcome)
    return outcome, tuple(Rated(order, day, sure, sure) for order, (day, sure) in kept.items())


def ask(
    shop: Shop, lines: Sequence[Line], *, sure: float, seed: int, futures: int = FUTURES, keep: bool = True
) -> Answer:
    """Ask when a further order can be sent.

    Args:
        shop: as it stands, without the order.
        lines: of the order, all under one name that no other has.
        sure: the chance wanted, by which the better plan is chosen.
        seed: of the random streams.
        futures: how many, 100 or more.
        keep: try the sequence as it stood too, with the order behind it, and answer by the better of the two; else the
            answer is by the new plan alone, which is what the shop is rated by once the day is given.

    Returns:
        The answer.

    Raises:
        ValueError: no lines, lines of more than one order, or a name that is taken.
    """
    order = _name_of(shop, lines)
    with_it = replace(shop, lines=(*shop.lines, *lines))
    drawn = Futures(with_it, seed, futures)
    before = _outcome(shop, propose(shop), drawn)
    chosen = _outcome(with_it, propose(with_it), drawn)
    days, replanned = shop.horizon_days, True
    if keep:
        kept = _outcome(with_it, propose(with_it, keep=before.plan), drawn)
        replanned = better(chosen.curve(order, days), kept.curve(order, days), sure)
        chosen = chosen if replanned else kept
    was, now = _chances(shop, before), _chances(with_it, chosen)
    promises = tuple(Rated(name, day, chance, now[name][1]) for name, (day, chance) in was.items())
    holds = _holds(with_it, chosen, drawn, order)
    return Answer(chosen.curve(order, days), chosen, with_it, replanned, promises, holds, drawn)


def standing(shop: Shop, order: str, *, sure: float, seed: int, futures: int = FUTURES) -> Answer:
    drawn = Futures(shop, seed, futures)
    outcome = _outcome(shop, propose(shop), drawn)
    kept = _chances(shop, outcome)
    rated = tuple(Rated(name, day, chance, chance) for name, (day, chance) in kept.items())
    return Answer(
        outcome.curve(order, shop.horizon_days), outcome, shop, False, rated, _holds(shop, outcome, drawn, order), drawn
    )


def split(
    shop: Shop, line: Line, *, day: int, sure: float, seed: int, futures: int = FUTURES, keep: bool = True
) -> tuple[Split, ...]:
    """Say how many pieces of a line go by a day, and when the rest does.

    The most that would go by the day are asked for, as an order by itself or as what is there early of the whole; the rest
    is asked for behind them, in a run of its own.

    Args:
        shop: as it stands, without the order.
        line: that is wanted.
        day: by the end of it.
        sure: the chance wanted for each part.
        seed: of the random streams.
        futures: how many, 100 or more.
        keep: as `ask`.

    Returns:
        One or two parts with their days, none for what is never that sure; nothing for no pieces.
    """

    def gone(pieces: int) -> int | None:
        asked = ask(shop, [replace(line, pieces=pieces)], sure=sure, seed=seed, futures=futures, keep=keep)
        found = asked.curve.day(sure)
        return found if found is not None and found <= day else None

    if not line.pieces:
        return ()
    whole = ask(shop, [line], sure=sure, seed=seed, futures=futures, keep=keep)
    last = whole.curve.day(sure)
    if last is not None and last <= day:
        return (Split(line.pieces, last),)
    ready = _by_pieces(whole)
    early = how_many(ready, min(day, shop.horizon_days - 1), sure)
    most, too_many, when = (
        early,
        line.pieces,
        Curve.of(ready[early - 1][1], shop.horizon_days).day(sure) if early else None,
    )
    by_itself = False
    while too_many - most > 1:
        middle = (most + too_many) // 2
        found = gone(middle)
        most, too_many = (middle, too_many) if found is not None else (most, middle)
        when, by_itself = (found, True) if found is not None else (when, by_itself)
    if not most or when is None:
        return (Split(line.pieces, last),)
    rest = line.pieces - most
    if by_itself:
        before = replace(shop, lines=(*shop.lines, replace(line, pieces=most)))
        behind = replace(line, order=f"the rest of {line.order}", pieces=rest, alone=True)
        last = ask(before, [behind], sure=sure, seed=seed, futures=futures, keep=keep).curve.day(sure)
    return Split(most, when), Split(rest, last)


def _by_pieces(answer: Answer) -> list[tuple[int, Whole]]:
    """Give, for each number of pieces of the last line upwards, the day of each future by which so many are sent."""
    shop, outcome = answer.shop, answer.outcome
    return filling.by_pieces(shop, outcome.plan, answer.drawn, outcome.played, len(shop.lines) - 1)


def _name_of(shop: Shop, lines: Sequence[Line]) -> str:
    names = {line.order for line in lines}
    if len(names) != 1:
        raise ValueError("ask for one order of one line or more")
    name = names.pop()
    if name in {line.order for line in shop.lines}:
        raise ValueError(f"{name}: there is an order of this name already")
    return name


def _outcome(shop: Shop, plan: Plan, drawn: Futures) -> Outcome:
    played = scenarios.play(shop, plan, drawn)
    return Outcome(plan, played, filling.fill(shop, plan, drawn, played))


def better(one: Curve, other: Curve, sure: float) -> bool:
    """Say whether the first is better: an earlier day, or a surer one on the same day."""
    mine, yours = one.day(sure), other.day(sure)
    if mine is None or yours is None:
        return yours is None and (mine is not None or one.never < other.never)
    return (mine, -one.sure(mine)) < (yours, -other.sure(yours))


def _chances(shop: Shop, outcome: Outcome) -> dict[str, tuple[int, float]]:
    """Give the promised orders with their day and the chance of it; an order has the latest day of its lines."""
    days: dict[str, int] = {}
    for line in shop.lines:
        if line.day is not None:
            days[line.order] = max(days.get(line.order, line.day), line.day)
    return {order: (day, outcome.curve(order, shop.horizon_days).sure(day)) for order, day in days.items()}


def _holds(shop: Shop, outcome: Outcome, drawn: Futures, order: str) -> tuple[Hold, ...]:
    """Say what the runs that serve an order wait for, the longest first."""
    mine = _serving(shop, outcome.plan, order)
    waited = scenarios.play(shop, outcome.plan, drawn, trace=mine).waited
    causes = sorted({cause for _, cause in waited})
    found = []
    for cause in causes:
        total = np.sum([wait for (_, what), wait in waited.items() if what == cause], axis=0)
        share = float(np.mean(total > 1))
        found.append(Hold(cause, share, float(np.mean(total)) / drawn.time.day_work / len(mine)))
    return tuple(sorted((one for one in found if one.share), key=lambda one: -one.days))


def _serving(shop: Shop, plan: Plan, order: str) -> frozenset[int]:
    """Give the runs whose good pieces reach an order, at the good pieces that are counted on."""
    found = set()
    for item in {line.item for line in shop.lines if line.order == order}:
        lines = [line for line in shop.lines if line.item == item]
        first = next(place for place, line in enumerate(lines) if line.order == order)
        last = max(place for place, line in enumerate(lines) if line.order == order)
        before = sum(line.pieces for line in lines[:first])
        upto, there = sum(line.pieces for line in lines[: last + 1]), shop.stock.get(item, 0)
        for number, start in enumerate(plan.runs):
            if start.product.item == item:
                if there < upto and there + start.good > before:
                    found.add(number)
                there += start.good
    return frozenset(found)
