"""What a customer may be told of a day that will not be kept: text to copy, made from the order's facts, never sent here.

Two variants: with a new day, and with the day not known. Both say how to agree, how to cancel, and that money comes back.
Neither takes silence for an answer.
"""

import datetime as dt
from collections.abc import Sequence

from orders.models import Order, OrderLine
from orders.queries.notices import ToTell
from shop.access.unnamed import names, unnamed
from shop.flows.night import words


def subject(order: Order, new_day: dt.date | None) -> str:
    """Return the subject of a letter or message."""
    told = f"a new day, {_full(new_day)}" if new_day else "no day yet"
    return f"Order {order.number}: {told}, or your money back"


def text(
    order: Order, late: ToTell | None, lines: Sequence[OrderLine], *, shop_name: str, new_day: dt.date | None
) -> str:
    """Return what to say; `lines` are those still owed, where no day of theirs is known to be late."""
    owed = late.lines if late is not None and late.lines else lines
    reference = f", your reference {order.reference}" if order.reference else ""
    parts = [
        f"{shop_name}\nOrder {order.number}{reference}",
        "\n".join([_missed(late), *(f"  {_line(line)}" for line in owed)]),
        *(_new_day(order, new_day) if new_day else _not_known(order, late)),
        f"If it does not suit you, answer: cancel order {order.number}. What you have paid for it then comes back to you in full, the way you paid it.",
        "As long as you have not answered, we take it neither for a yes nor for a no, and ask you again.",
    ]
    return "\n\n".join(parts)


def _missed(late: ToTell | None) -> str:
    if late is None:
        return "This will not be sent when we said:"
    verb = "was to be" if late.over else "will not be"
    day = f"by {_full(late.promise.day)}, as we said"
    return f"This {verb} sent {day}{', and was not' if late.over else ''}:"


def _new_day(order: Order, day: dt.date) -> tuple[str, ...]:
    return f"We expect to send it by {_full(day)}.", f"If that suits you, answer: agreed, order {order.number}."


def _not_known(order: Order, late: ToTell | None) -> tuple[str, ...]:
    why = f" What holds it up: {unnamed(late.holds, names()).rstrip('.')}." if late is not None and late.holds else ""
    return (
        f"We do not know yet when it can be sent.{why} We tell you as soon as we do.",
        f"If you will wait, answer: agreed, order {order.number}. You can still cancel at any time until it is sent.",
    )


def _line(line: OrderLine) -> str:
    left = line.ordered - line.shipped - line.cancelled
    if line.item is None:
        return f"{left} × {line.words}"
    with_options = f", with {line.options}" if line.options else ""
    if line.item.unit != "piece":
        return f"{words.spoken(line.item, left)} of {line.item.name}{with_options}"
    return f"{left} × {line.item.name}{with_options}"


def _full(day: dt.date) -> str:
    return f"{words.full_day(day)} {day.year}"
