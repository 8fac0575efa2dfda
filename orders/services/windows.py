"""The customer's window of an order: the first and the last day on which it may go."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from shop.shared.errors import Invalid, Refusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from orders.models import Order


class BeforeWindow(Refusal):
    """It is before the first day of the customer's window."""

    code = "before_window"


def check_span(not_before: dt.date | None, not_after: dt.date | None) -> None:
    """Refuse a window that ends before it begins; either end may be open."""
    if not_before and not_after and not_after < not_before:
        raise Invalid.field(
            "not_after", f"Not after {_on(not_after)} lies before its first day; {_on(not_before)} or later would work."
        )


def check_change(order: Order, facts: Mapping[str, object]) -> None:
    """Refuse changes of an order that would leave it a window that ends before it begins."""
    first = facts.get("not_before", order.not_before)
    last = facts.get("not_after", order.not_after)
    check_span(first if isinstance(first, dt.date) else None, last if isinstance(last, dt.date) else None)


def holds(order: Order, day: dt.date) -> bool:
    """Return whether a day lies inside the order's window; an open end lets every day in."""
    return (order.not_before is None or order.not_before <= day) and (order.not_after is None or day <= order.not_after)


def check_day(order: Order, day: dt.date, *, field: str = "day") -> None:
    """Refuse a day given that lies outside the order's window."""
    if not holds(order, day):
        raise Invalid.field(
            field,
            f"{_on(day)} lies outside what order {order.number} was taken for, {said(order)}; "
            "give a day inside it, or change the window first.",
        )


def check_sending(order: Order, day: dt.date, *, all_the_same: bool) -> None:
    """Refuse to send before the window unless somebody says that it goes all the same."""
    if order.not_before is not None and day < order.not_before and not all_the_same:
        raise BeforeWindow(
            f"Order {order.number} is wanted not before {_on(order.not_before)}; "
            "send it then, or say that it goes before its window.",
            {"before_window": f"It is wanted not before {_on(order.not_before)}; tick this to send it all the same."},
            {"not_before": order.not_before.isoformat()},
        )


def said(order: Order) -> str:
    """Return the window in words, or nothing where both ends are open."""
    ends = [("not before", order.not_before), ("not after", order.not_after)]
    return ", ".join(f"{words} {_on(day)}" for words, day in ends if day is not None)


def _on(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"
