"""The last day on which an order can be placed and still be sent by a day: the calculator asked as of later days.

What stands in the shop today goes on until then as it is planned; the order is the last in the queue, and nothing of it is
begun or bought before its day. Left out: orders that come until then, and with them all that would stand before this one;
what the shop would order or make for its shelf without being asked; runs that this order would share with others; who is
ill and what breaks down past the open days that `futures` looks ahead.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.calc.dates import asking, filling, scenarios
from orders.calc.dates.answers import Curve
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Drawn, Futures
from orders.calc.dates.plain import plain_day
from orders.calc.dates.plan import Plan
from orders.calc.dates.scenarios import Played
from orders.calc.dates.sizing import wanted
from orders.calc.dates.state import DAY, Line, Shop
from orders.calc.dates.worktime import of

FUTURES: Final = 1_000  # enough to tell days apart, as of ideas
LEFT_OUT: Final = "orders that come until then"


@dataclass(frozen=True, slots=True)
class LastDay:
    """The last day to order for a day: `sure` the chance it is then sent by, of an order placed today where there is none.

    `leaves_out` says what the day does not know of; each order that comes before it makes it earlier.
    """

    by: int
    order_by: int | None
    sure: float
    leaves_out: str = LEFT_OUT


def last_days(
    shop: Shop, item: str, pieces: int, by: Sequence[int], *, sure: float, seed: int, futures: int = FUTURES,
    keep: bool = True,
) -> list[LastDay]:  # fmt: skip
    """Find the last days on which so many pieces can be ordered.

    Today's answer is that of `asking.ask`; an order of a later day comes as the shop opens and is planned as `ask` plans
    one. Each day found was asked with the chance wanted, and the open day after it was asked and has less, or lies past the
    day wanted.

    Args:
        shop: as it stands.
        item: wanted.
        pieces: of it, 1 or more.
        by: days by the end of which it is to be sent, in any order, within the horizon.
        sure: the chance wanted.
        seed: of the random streams.
        futures: how many, 100 or more.
        keep: as `asking.ask`.

    Returns:
        For each day, in their order, the last open day to order (today counts, open or not); nothing where today is too
        late already. A later day wanted has no earlier one.

    Raises:
        ValueError: no pieces, or a day past the horizon.
    """
    if pieces < 1 or max(by, default=0) >= shop.horizon_days:
        raise ValueError("ask for a piece or more, by days within the horizon")
    later, found, at = _Later(shop, item, pieces, sure, seed, futures, keep=keep), dict[int, LastDay](), 0
    for day in sorted(set(by)):
        at = _last(later, day, at) if later.sure_by(0, day) else 0
        chance = later.curve(at).sure(day)
        found[day] = LastDay(day, later.days[at] if later.sure_by(0, day) else None, chance)
    return [found[day] for day in by]


def _last(later: "_Later", by: int, at: int) -> int:
    """Give the place of a day that is sure enough while the next is not; `at` is one that is.

    It looks first where an order would take as long as it did or does alone, then in steps that double, then between.
    """
    good, bad = at, sum(day <= by for day in later.days)
    look, step = later.guess(at, by), 1
    while bad - good > 1:
        place = min(max(look, good + 1), bad - 1)
        was_good = later.sure_by(place, by)
        good, bad = (place, bad) if was_good else (good, place)
        look, step = (good + step if was_good else bad - step), step * 2
        if not good < look < bad or step > bad - good:
            look = (good + bad) // 2
    return good


class _Later:
    """The order as of each day on which it could be placed; asked once a day."""

    def __init__(self, shop: Shop, item: str, pieces: int, sure: float, seed: int, futures: int, *, keep: bool) -> None:
        self.sure, self.opens = sure, shop.hours.opens
        self.days = [
            0,
            *(int(minute) // DAY for minute in of(shop.hours, shop.horizon_days).opens[:-1] if minute >= DAY),
        ]
        names, order = {line.order for line in shop.lines}, "the order"
        while order in names:
            order += " asked"
        self.alone = plain_day(shop, [Line(order, item, pieces)])
        line, before = Line(order, item, pieces, sure=sure), propose(shop)
        self.curves = {0: asking.ask(shop, [line], sure=sure, seed=seed, futures=futures, keep=keep).curve}
        self.shop = replace(_apart(shop, before), lines=(*shop.lines, replace(line, alone=True)))
        self.futures = Futures(self.shop, seed, futures, drawn=Drawn())
        known = {start.code for start in before.runs}
        plans = ((None, ()), (before, before.runs)) if keep else ((None, ()),)
        self.ways = [(plan, {one.code for one in wanted(self.shop, runs)} - known) for plan, runs in plans]
        self.still: dict[bool, tuple[Plan, Played]] = {}

    def sure_by(self, place: int, by: int) -> bool:
        """Say whether an order of a day is sent by another with the chance wanted."""
        found = self.curve(place).day(self.sure)
        return found is not None and found <= by

    def guess(self, place: int, by: int) -> int:
        """Give the place from which it would take as long as from another; by the rule of thumb from today's, for its queue."""
        takes = (self.curve(place).day(self.sure) or 0) - self.days[place]
        takes = takes if place or self.alone is None else min(takes, self.alone)
        return sum(day <= by - takes for day in self.days) - 1

    def curve(self, place: int) -> Curve:
        """Give the better curve of an order of a day."""
        if place not in self.curves:
            since, last, days = self.days[place] * DAY + self.opens, len(self.shop.lines) - 1, self.shop.horizon_days
            anew, *kept = [
                Curve.of(filling.one_line(self.shop, plan, self.futures, played, last, since=since), days)
                for plan, played in (self._played(way, own, since) for way, own in self.ways)
            ]
            self.curves[place] = next((one for one in kept if not asking.better(anew, one, self.sure)), anew)
        return self.curves[place]

    def _played(self, keep: Plan | None, own: set[str], since: int) -> tuple[Plan, Played]:
        """Play a plan in which the order's own runs wait for its day; where it has none, one plan does for all days."""
        if not own and (keep is None) in self.still:
            return self.still[keep is None]
        plan = propose(self.shop, keep=keep, since=dict.fromkeys(own, since))
        found = plan, scenarios.play(self.shop, plan, self.futures)
        if not own:
            self.still[keep is None] = found
        return found


def _apart(shop: Shop, plan: Plan) -> Shop:
    """Part spare pieces that a plan leaves from those it takes, so that they can wait for the day of the order."""
    taken, batches = {one.code: one.pieces for one in plan.runs}, []
    for one in shop.batches:
        left = one.pieces - taken.get(one.code, one.pieces)
        if not one.spare or not left:
            batches.append(one)
            continue
        batches.append(replace(one, pieces=one.pieces - left))
        batches.append(replace(one, code=f"{one.code}+", pieces=left, done_minutes=0.0, by=()))
    return replace(shop, batches=tuple(batches))
