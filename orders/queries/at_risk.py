"""Days given that are not sure enough as the shop stands, what was said on the phone and ends soon, and what was let go."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F, QuerySet

from orders.models import Order, OrderLine, RatedPromise, Rating
from orders.queries.shop_state.queue import sure_of
from shop.shared.models import Shop

MILLION = 1_000_000
NEARLY = 500  # of a million: less than that is none, and as near to all is all. No source


@dataclass(frozen=True, slots=True)
class Slipping:
    """A standing day of an open order with how sure it is: in a hundred, now and by the rating before."""

    rated: RatedPromise
    lines: tuple[OrderLine, ...]

    @property
    def order(self) -> Order:
        """Return the order."""
        return self.rated.promise.order

    @property
    def day(self) -> dt.date:
        """Return the day that was given."""
        return self.rated.promise.day

    @property
    def of_hundred(self) -> int:
        """Return how many times in a hundred it is kept; what only comes near is neither all nor none, as on the pages."""
        said = round(self.rated.chance_ppm * 100 / MILLION)
        return min(99, max(1, said)) if NEARLY < self.rated.chance_ppm < MILLION - NEARLY else said


def standing() -> QuerySet[RatedPromise]:
    """Select the rated days of open orders that stand."""
    found = RatedPromise.objects.filter(promise__superseded_by=None, promise__order__closed_at=None)
    return found.select_related("promise__order__customer", "promise__line__item")


def slipping(*, today: dt.date, below_ppm: int | None = None) -> list[Slipping]:
    """Return the days that are still to come and not sure enough, the first day first.

    Args:
        today: days before it are late and not looked at here.
        below_ppm: those under this chance; by the shop's own figure where it is None.
    """
    rows = standing().filter(promise__day__gte=today)
    rows = rows.filter(slips_since__isnull=False) if below_ppm is None else rows.filter(chance_ppm__lt=below_ppm)
    return with_lines(rows.order_by("promise__day", "promise__order__number", "pk"))


def below_wanted(*, today: dt.date, shop: Shop) -> list[Slipping]:
    """Return the days that are still to come and less sure than was wanted, the first day first."""
    rows = standing().filter(promise__day__gte=today).order_by("promise__day", "promise__order__number", "pk")
    return with_lines([one for one in rows if one.chance_ppm < wanted_ppm(one, shop)])


def wanted_ppm(rated: RatedPromise, shop: Shop) -> int:
    """Return the chance wanted of a day; of one that was not worked out, what the shop wants for such a customer."""
    promise = rated.promise
    return promise.wanted_chance_ppm or round(sure_of(promise.order.customer.kind, shop) * MILLION)


def with_lines(rows: Sequence[RatedPromise] | QuerySet[RatedPromise]) -> list[Slipping]:
    """Return rated days with the lines that are still owed under them."""
    found = list(rows)
    owed = OrderLine.objects.filter(
        order__in={one.promise.order_id for one in found}, ordered__gt=F("shipped") + F("cancelled")
    ).select_related("item", "order")
    by_order: dict[int, list[OrderLine]] = {}
    for line in owed.order_by("number"):
        by_order.setdefault(line.order_id, []).append(line)
    return [
        Slipping(
            one,
            tuple(
                line
                for line in by_order.get(one.promise.order_id, [])
                if one.promise.line_id is None or line.pk == one.promise.line_id
            ),
        )
        for one in found
    ]


def rated_orders() -> dict[int, bool]:
    """Return the orders whose day is rated, and whether it slips."""
    found: dict[int, bool] = {}
    for order, since in standing().values_list("promise__order_id", "slips_since"):
        found[order] = found.get(order, False) or since is not None
    return found


def how_sure() -> tuple[int, int, int]:
    """Return how many standing days there are, how many are as sure as was wanted, and the least sure in a hundred."""
    rows = list(standing().values_list("chance_ppm", "promise__wanted_chance_ppm"))
    wanted = sum(chance >= (sure or 0) for chance, sure in rows)
    return len(rows), wanted, min((round(chance * 100 / MILLION) for chance, _ in rows), default=100)


def rated_at() -> dt.datetime | None:
    """Return when the days were rated last."""
    return Rating.objects.filter(pk=1).values_list("at", flat=True).first()


def last_rating() -> Rating:
    """Return when the days were rated last, and why they could not be, if so."""
    return Rating.objects.filter(pk=1).first() or Rating(pk=1)


def said_until(*, today: dt.date, until: dt.date) -> list[Order]:
    """Return orders that were only said on the phone and end in this span of days."""
    found = Order.objects.filter(said_until__gte=today, said_until__lte=until, closed_at=None, let_go_at=None)
    return list(found.select_related("customer").prefetch_related("lines__item").order_by("said_until", "number"))


def let_go(*, since: dt.datetime) -> list[Order]:
    """Return orders said on the phone that were let go since a moment because nobody confirmed them."""
    found = Order.objects.filter(let_go_at__gte=since)
    return list(found.select_related("customer").prefetch_related("lines__item").order_by("let_go_at", "number"))
