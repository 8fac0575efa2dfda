"""Reorder points of the shop's own, seeded from one answer for a whole kind of item."""

import datetime as dt
from collections.abc import Mapping
from fractions import Fraction

from inventory.calc import lasting as calc
from inventory.models import Item
from inventory.queries import lasting as queries
from inventory.services import catalogue
from shop.access.actor import Actor
from shop.shared import transactions
from shop.shared.errors import Invalid

MOST_DAYS = 730
WINDOW_DAYS = calc.WINDOW_DAYS


def seed(*, kind: str, days: int | None = None, pieces: int | None = None, at: dt.datetime, by: Actor) -> list[Item]:
    """Give every active item of a kind that has no reorder point yet one, from one answer for the whole kind.

    The answer is either days of recent use to have left when new goods arrive (items without use are left out), or
    the same number, in the item's unit, for every item.
    """
    transactions.assert_open()
    _check_answer(kind, days, pieces)
    items = Item.objects.filter(active=True, kind=kind, reorder_point=None).order_by("code")
    used = _used(at)
    seeded = []
    for item in items:
        rate = _rate(used.get(item.pk), at)
        if days is not None and not rate:
            continue
        point = pieces if days is None else calc.point_for(rate, days=days, lead_days=item.lead_days)
        seeded.append(catalogue.change_item(item, at=at, by=by, reorder_point=point))
    return seeded


def seed_kinds(days_by_kind: Mapping[str, int], *, at: dt.datetime, by: Actor) -> list[Item]:
    """Seed several kinds at once, each from its own answer in days."""
    return [item for kind, days in days_by_kind.items() for item in seed(kind=kind, days=days, at=at, by=by)]


def _check_answer(kind: str, days: int | None, pieces: int | None) -> None:
    if kind not in Item.Kind.values:
        raise Invalid.field("kind", f"{kind!r} is no kind of item; choose one of {', '.join(Item.Kind.values)}.")
    if (days is None) == (pieces is None):
        raise Invalid.field("days", "Answer with days of use or with a number of pieces, one of the two.")
    if days is not None and not 0 <= days <= MOST_DAYS:
        raise Invalid.field("days", f"Days {days} is out of range; 0 to {MOST_DAYS} would work.")
    if pieces is not None and not 0 <= pieces <= catalogue.MOST:
        raise Invalid.field("pieces", "The number of pieces is out of range; 0 or more would work.")


def _used(at: dt.datetime) -> dict[int, queries.Use]:
    since = at - dt.timedelta(days=calc.WINDOW_DAYS)
    return queries.uses(Item.objects.filter(active=True), since=since, until=at)


def _rate(use: queries.Use | None, at: dt.datetime) -> Fraction:
    if use is None or use.known_since is None:
        return Fraction(0)
    return calc.use_per_day(use.used, known_days=max(0, (at - use.known_since).days))
