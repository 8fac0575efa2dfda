"""Recent use of an item and the reorder point it gives; all figures whole numbers of the item's unit."""

from fractions import Fraction

WINDOW_DAYS = 42  # No source: shop practice, six weeks
LEAST_DAYS = 7  # No source: shop practice; a rate from less than a week says nothing


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
