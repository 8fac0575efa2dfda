"""Rates every day given anew when something that matters has changed: the rows say so, a bell or the minute only asks."""

import datetime as dt
import logging
from collections.abc import Callable, Sequence
from typing import Final

from orders.calc.dates import asking
from orders.calc.dates.asking import Outcome, Rated
from orders.models import RatedPromise, Rating
from orders.queries import ship_day, shop_state
from orders.queries.shop_state import Stated
from orders.services import promising
from shop.shared import shop_row, snapshot, transactions
from shop.shared.models import Shop

Clock = Callable[[], dt.datetime]
BETWEEN: Final = dt.timedelta(seconds=15)  # two ratings that a bell asks for lie so far apart; the minute does the rest
MILLION: Final = 1_000_000
FEW: Final = 500  # futures, enough to name what is waited for

log = logging.getLogger(__name__)


def run_if_due(now: Clock, *, between: dt.timedelta = dt.timedelta()) -> bool:
    """Rate the days given where what they rest on has changed since they were rated; say whether that was so."""
    at = now()
    if not Shop.objects.filter(pk=1).exists():
        return False
    last = Rating.objects.filter(pk=1).first()
    if last is not None and last.at is not None and at - last.at < between:
        return False
    with snapshot.one_moment():
        stated = shop_state.state(at=at)
    key = stated.key()
    if last is not None and last.key == key:
        return False
    return rate(stated, key=key, at=at)


def rate(stated: Stated, *, key: str, at: dt.datetime) -> bool:
    """Rate the days given as a shop stands and write it down."""
    try:
        outcome, rated = asking.rate(stated.shop, seed=ship_day.SEED, futures=ship_day.FUTURES)
    except ValueError as why:
        log.exception("The days given could not be rated.")
        with transactions.entry_point():
            promising.note_rating_failed(str(why), key=key, at=at)
        return False
    before = {one.promise_id: one for one in RatedPromise.objects.all()}
    named = [(one, promise) for one in rated if (promise := stated.names[one.order].promise_id)]
    least = shop_row.the_shop().slips_below / 100
    waits = _waits(stated, [one.order for one, _ in named if one.after < least])
    rows = [
        _row(stated, outcome, one, before.get(promise), promise, waits.get(one.order), at) for one, promise in named
    ]
    with transactions.entry_point():
        promising.note_rating(rows, key=key, at=at)
    return True


def _row(
    stated: Stated,
    outcome: Outcome,
    rated: Rated,
    was: RatedPromise | None,
    promise: int,
    waits: str | None,
    at: dt.datetime,
) -> RatedPromise:
    """Write one rating; `waits` says what a day that slips waits for, nothing where it does not slip."""
    curve = outcome.curve(rated.order, stated.shop.horizon_days)
    return RatedPromise(
        promise_id=promise,
        chance_ppm=round(rated.after * MILLION),
        before_ppm=was.chance_ppm if was else round(rated.after * MILLION),
        sure_day=_day(stated, curve.day(stated.names[rated.order].wanted)),
        half_day=_day(stated, curve.day(0.5)),
        holds=waits or "",
        at=at,
        slips_since=None if waits is None else ((was.slips_since if was else None) or at),
    )


def _waits(stated: Stated, orders: Sequence[str]) -> dict[str, str]:
    """Say what days that slip wait for most, by order; nothing where only the parcel is to go."""
    if not orders:
        return {}
    found = asking.standings(stated.shop, orders, seed=ship_day.SEED, futures=FEW)
    return {
        order: " and ".join(ship_day.named(stated, hold.what) for hold in answer.holds[:2])[:200]
        for order, answer in found.items()
    }


def _day(stated: Stated, number: int | None) -> dt.date | None:
    return None if number is None else stated.first_day + dt.timedelta(days=number)
