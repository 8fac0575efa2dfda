"""The closes of months against the movements up to them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

from inventory.models import BookClose
from inventory.queries.checking.counters import Key, moved, where
from inventory.queries.checking.span import CHUNK, Span, last_movement


def differences(span: Span) -> Iterator[str]:
    """Yield the rows of a close that differ from the movements; where only what came since is read, the last close's end."""
    if span.month:
        yield from _ends(span.month, span.after)
        return
    balance: dict[Key, int] = defaultdict(int)
    before = 0
    for month in BookClose.objects.order_by("month").values_list("month", flat=True).distinct():
        upto = last_movement(month)
        for key, qty in moved(after=before, upto=upto).items():
            balance[key] += qty
        yield from _ends(month, upto)
        yield from _rows(month, balance)
        before = upto


def _ends(month: dt.date, upto: int) -> Iterator[str]:
    odd = BookClose.objects.filter(month=month).exclude(last_movement=upto).order_by("pk")
    for pk, last in odd.values_list("pk", "last_movement").iterator(CHUNK):
        yield f"Book close {pk} of {month:%Y-%m} ends at movement {last}; the month was closed at movement {upto}."


def _rows(month: dt.date, balance: dict[Key, int]) -> Iterator[str]:
    left = {key: qty for key, qty in balance.items() if qty}
    rows = BookClose.objects.filter(month=month).order_by("pk").values_list(
        "pk", "qty", "holding_id", "holding__lot_id", "holding__place_id", "holding__step"
    )  # fmt: skip
    for pk, says, holding, lot, place, step in rows.iterator(CHUNK):
        sums = left.pop((lot, place, step), 0)
        if says != sums:
            yield f"Book close {pk} of {month:%Y-%m} says {says} in holding {holding}; the movements come to {sums}."
    for (lot, place, step), qty in sorted(left.items()):
        yield f"The close of {month:%Y-%m} leaves out {qty}: {where(lot, place, step)}."
