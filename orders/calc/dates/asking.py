"""The three questions: when, how sure by a day, how many by a day; what holds it up, what it does to the others.

The order asked goes last in the queue. It gets the better of two plans: the sequence as it stood with its own work behind
it, and a new one; and every promised order that loses more than a point by it is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.calc.dates import filling
from orders.calc.dates.answers import Curve, Split, Whole, how_many
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Futures
from orders.calc.dates.outcomes import Hold, Outcome, Rated, chances, holds, outcome_of
from orders.calc.dates.state import Line, Shop

__all__ = [
    "FUTURES",
    "Answer",
    "Hold",
    "Outcome",
    "Rated",
    "ask",
    "better",
    "compare",
    "rate",
    "split",
    "standing",
    "standings",
]

FUTURES: Final = 4_000  # ± 0.93 points at 90 % (binomial, nineteen times in twenty)
POINT: Final = 0.01  # an order that loses more than this is named


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
    outcome = outcome_of(shop, propose(shop), drawn)
    return outcome, _rated(shop, outcome)


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
    order, days = _name_of(shop, lines), shop.horizon_days
    with_it = replace(shop, lines=(*shop.lines, *lines))
    drawn = Futures(with_it, seed, futures)
    before, replanned = outcome_of(shop, propose(shop), drawn), True
    chosen = outcome_of(with_it, propose(with_it), drawn, order)
    if keep:
        kept = outcome_of(with_it, propose(with_it, keep=before.plan), drawn, order)
        replanned = better(chosen.curve(order, days), kept.curve(order, days), sure)
        chosen = chosen if replanned else kept
    was, now = chances(shop, before), chances(with_it, chosen)
    promises = tuple(Rated(name, day, chance, now[name][1]) for name, (day, chance) in was.items())
    waits = holds(with_it, chosen, drawn, order)
    return Answer(chosen.curve(order, days), chosen, with_it, replanned, promises, waits, drawn)


def standing(shop: Shop, order: str, *, sure: float, seed: int, futures: int = FUTURES) -> Answer:
    """Answer for an order that is in the queue already, at its place: nobody loses by it.

    Args:
        shop: as it stands, with the order among its lines.
        order: in question; its lines may stand anywhere.
        sure: the chance wanted, above 0 and under 1. No plan is chosen by it, for there is one only.
        seed: of the random streams.
        futures: how many, 100 or more.

    Returns:
        Its curve and what it waits for, all promises as they are rated, by one pass of the plan as it is proposed.

    Raises:
        ValueError: no such order, or a chance out of range.
    """
    if not 0 < sure < 1:
        raise ValueError("a chance lies between 0 and 1")
    return standings(shop, [order], seed=seed, futures=futures)[order]


def standings(shop: Shop, orders: Sequence[str], *, seed: int, futures: int = FUTURES) -> dict[str, Answer]:
    """Answer for several orders in the queue as `standing` does for one, all by one pass.

    Raises:
        ValueError: an order that is not in the queue.
    """
    missing = next((order for order in orders if order not in {line.order for line in shop.lines}), None)
    if missing is not None:
        raise ValueError(f"{missing}: no order of this name stands in the queue")
    drawn, days = Futures(shop, seed, futures), shop.horizon_days
    outcome = outcome_of(shop, propose(shop), drawn, *orders)
    promises = _rated(shop, outcome)
    return {
        order: Answer(
            outcome.curve(order, days), outcome, shop, False, promises, holds(shop, outcome, drawn, order), drawn
        )
        for order in orders
    }


def compare(before: Shop, after: Shop, *, seed: int, futures: int = FUTURES) -> tuple[Rated, ...]:
    """Say how sure each promised day is before and after a change: of the queue, of the pins, of anything else.

    Both are planned anew and played through the same random numbers, so that what differs comes of the change. Runs still to
    be started are told apart by item and number; where a change parts them otherwise, theirs are other numbers.

    Args:
        before: as it stands.
        after: as it would be.
        seed: of the random streams.
        futures: how many, 100 or more.

    Returns:
        The orders that are promised before and still owed after, in the order of the first, with the days they have before.
    """
    was = rate(before, seed=seed, futures=futures)[1]
    outcome = rate(after, seed=seed, futures=futures)[0]
    owed = set(outcome.filled.orders)
    return tuple(
        replace(one, after=outcome.curve(one.order, after.horizon_days).sure(one.day))
        for one in was
        if one.order in owed
    )


def split(
    shop: Shop,
    line: Line,
    *,
    day: int,
    sure: float,
    seed: int,
    futures: int = FUTURES,
    keep: bool = True,
    whole: Answer | None = None,
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
        whole: the answer for all of the line, where it was asked for already.

    Returns:
        One or two parts with their days, none for what is never that sure; nothing for no pieces.
    """

    def curve(of: Shop, one: Line) -> Curve:
        if keep:
            return ask(of, [one], sure=sure, seed=seed, futures=futures).curve
        with_it = replace(of, lines=(*of.lines, one))
        outcome = outcome_of(with_it, propose(with_it), Futures(with_it, seed, futures))
        return outcome.curve(one.order, of.horizon_days)

    def gone(pieces: int) -> int | None:
        found = curve(shop, replace(line, pieces=pieces)).day(sure)
        return found if found is not None and found <= day else None

    if not line.pieces:
        return ()
    whole = whole or ask(shop, [line], sure=sure, seed=seed, futures=futures, keep=keep)
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
        last = curve(before, behind).day(sure)
    return Split(most, when), Split(rest, last)


def _by_pieces(answer: Answer) -> list[tuple[int, Whole]]:
    """Give, for each number of pieces of the last line upwards, the day of each future by which so many are sent."""
    shop, outcome = answer.shop, answer.outcome
    return filling.by_pieces(shop, outcome.plan, answer.drawn, outcome.played, len(shop.lines) - 1)


def _rated(shop: Shop, outcome: Outcome) -> tuple[Rated, ...]:
    return tuple(Rated(order, day, sure, sure) for order, (day, sure) in chances(shop, outcome).items())


def _name_of(shop: Shop, lines: Sequence[Line]) -> str:
    names = {line.order for line in lines}
    if len(names) != 1:
        raise ValueError("ask for one order of one line or more")
    name = names.pop()
    if name in {line.order for line in shop.lines}:
        raise ValueError(f"{name}: there is an order of this name already")
    return name


def better(one: Curve, other: Curve, sure: float) -> bool:
    """Say whether the first is better: an earlier day, or a surer one on the same day."""
    mine, yours = one.day(sure), other.day(sure)
    if mine is None or yours is None:
        return yours is None and (mine is not None or one.never < other.never)
    return (mine, -one.sure(mine)) < (yours, -other.sure(yours))
