"""What is still owed: the lines of open orders, with the day given, the window and what is set aside."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import F, QuerySet

from orders.models import OWN_SOURCE, OrderLine
from orders.queries.short import days_given
from shop.shared import csvs

HEADER = (
    "customer", "order", "reference", "taken", "line", "item", "words", "unit", "ordered", "sent", "owed",
    "set_aside", "waiting", "day_given", "not_before", "not_after",
)  # fmt: skip
"""A contract with spreadsheets: only ever append."""
_UNITS = {"piece": ("piece", 0), "nm": ("mm", 6), "mg": ("g", 3), "ul": ("mL", 3)}


@dataclass(frozen=True, slots=True)
class Owed:
    """One line of an open order of which something is neither sent nor cancelled."""

    line: OrderLine
    day: dt.date | None

    @property
    def left(self) -> int:
        """Return how many are still owed."""
        return self.line.ordered - self.line.shipped - self.line.cancelled


def lines(*, customer: int | None = None, kind: str | None = None) -> QuerySet[OrderLine]:
    """Select the lines still owed, of everybody, of one kind of customer or of one; by customer, order and line."""
    found = OrderLine.objects.filter(order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
    found = found.exclude(order__source=OWN_SOURCE).select_related("order__customer", "item")
    if customer is not None:
        found = found.filter(order__customer=customer)
    if kind is not None:
        found = found.filter(order__customer__kind=kind)
    return found.order_by("order__customer__name", "order__customer", "order__number", "number")


def rows(found: QuerySet[OrderLine]) -> list[Owed]:
    """Return lines with the day given for each, in two queries."""
    listed = list(found)
    days = days_given(listed)
    return [Owed(line, days.get(line.pk)) for line in listed]


def table(found: list[Owed], *, zone: str, names: bool = True) -> str:
    """Return the lines as CSV, quantities in the unit beside them; customers by number where `names` says no."""
    return csvs.write(HEADER, [_cells(one, zone, names=names) for one in found])


def _cells(one: Owed, zone: str, *, names: bool) -> list[csvs.Cell]:
    line, order = one.line, one.line.order
    unit, places = _UNITS[line.item.unit if line.item else "piece"]
    quantities = (line.ordered, line.shipped, one.left, line.reserved, line.waiting)
    return [
        order.customer.name if names else str(order.customer_id),
        order.number,
        order.reference,
        order.taken_at.astimezone(ZoneInfo(zone)).date(),
        line.number,
        line.item.code if line.item else "",
        line.words or line.options,
        unit,
        *(Decimal(qty).scaleb(-places) if places else qty for qty in quantities),
        one.day,
        order.not_before,
        order.not_after,
    ]
