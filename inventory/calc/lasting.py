"""How long stock lasts at recent use, when to order and how much; all figures whole numbers of the item's unit."""

import datetime as dt
from fractions import Fraction

WINDOW_DAYS = 42  # No source: shop practice, six weeks
LEAST_DAYS = 7  # No source: shop practice; a rate from less than a week says nothing
AHEAD_DAYS = 28  # No source: shop practice, four weeks beyond the lead time where no quantity is set


def use_per_day(used: int, *, known_days: int) -> Fraction:
    """Return the use of an item per calendar day.

    Args:
        used: units used within the last WINDOW_DAYS, 0 or more.
        known_days: calendar days since the item was first booked, 0 or more; a young item is divided by its own
            days, at least LEAST_DAYS, because the days before it came say nothing.

    Returns:
        Units per day, exact.

    Raises:
        ValueError: a negative argument.

    Source: none; shop practice (a plain mean over six weeks).
    """
    if used < 0 or known_days < 0:
        raise ValueError("used and known_days are 0 or more")
    return Fraction(used, min(WINDOW_DAYS, max(LEAST_DAYS, known_days)))


def lasts_until(available: int, rate: Fraction, *, today: dt.date) -> dt.date | None:
    """Return the last day on which stock is still there at this rate.

    Args:
        available: units free now; below 0 counts as 0.
        rate: units per day, 0 or more.
        today: the shop's day.

    Returns:
        A day, today at the earliest, or None where nothing is used or it lasts beyond ten years.

    Source: none; whole days of use, rounded down.
    """
    if rate <= 0:
        return None
    days = int(Fraction(max(0, available)) / rate)
    return None if days > 3650 else today + dt.timedelta(days=days)


def order_by(until: dt.date | None, lead_days: int | None) -> dt.date | None:
    """Return the last day to order so that the goods come before the stock ends.

    Args:
        until: the day the stock lasts to, or None.
        lead_days: calendar days from order to arrival, 0 or more, or None where unknown.

    Returns:
        A day, which may have passed, or None where either is unknown.

    Source: none; plain subtraction of calendar days.
    """
    return None if until is None or lead_days is None else until - dt.timedelta(days=lead_days)


def below(position: int, point: int) -> bool:
    """Say whether to order: free stock plus what is on order, less what lines wait for, is at the point or under it.

    Source: none; shop practice (order at the point, not only under it).
    """
    return position <= point


def how_many(
    position: int, point: int, *, quantity: int | None, rate: Fraction, lead_days: int | None, pack: int
) -> int:
    """Return how many units to order so that the position is above the point again.

    Args:
        position: free + on order - waited for; may be negative.
        point: the reorder point, 0 or more; position <= point.
        quantity: the usual order quantity, 1 or more, or None where none is set.
        rate: units per day, 0 or more.
        lead_days: calendar days from order to arrival, or None.
        pack: units per unit bought, 1 or more; the answer is a whole number of packs.

    Returns:
        Units, a multiple of `pack`. With a quantity: the fewest whole quantities that lift the position above the
        point. Without: up to the point plus the use of the lead time and AHEAD_DAYS.

    Raises:
        ValueError: the position is above the point, or pack or quantity below 1.

    Source: none; shop practice.
    """
    if position > point or pack < 1 or (quantity is not None and quantity < 1):
        raise ValueError("nothing to order above the point; pack and quantity are 1 or more")
    short = point - position + 1
    if quantity is not None:
        wanted = quantity * -(-short // quantity)
    else:
        ahead = rate * ((lead_days or 0) + AHEAD_DAYS)
        wanted = max(short, point - position + -(-ahead.numerator // ahead.denominator))
    return pack * -(-wanted // pack)


def point_for(rate: Fraction, *, days: int, lead_days: int | None) -> int:
    """Return the reorder point at which stock still lasts through the lead time and so many days more.

    Args:
        rate: units per day, 0 or more.
        days: days of use to keep in hand when the goods arrive, 0 or more.
        lead_days: calendar days from order to arrival, or None.

    Returns:
        Units, rounded up.

    Source: none; shop practice.
    """
    point = rate * (days + (lead_days or 0))
    return -(-point.numerator // point.denominator)
