"""Demand that will not come again: marked by a person, or by the night where a line is far above all others."""

import datetime as dt
from collections.abc import Sequence

from django.db.models import F

from orders.models import OrderLine
from orders.services import ordering
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid


def set_one_off(line: OrderLine, one_off: bool, *, at: dt.datetime, by: Actor) -> OrderLine:  # noqa: FBT001
    """Say whether a line counts as one-off, so that the forecast leaves it out; a closed order's line may be said too."""
    transactions.assert_open()
    if line.item_id is None:
        raise Invalid.field("one_off", f"Line {line.number} is made to order; no forecast counts it anyway.")
    before = line.one_off
    if before != one_off:
        OrderLine.objects.filter(pk=line.pk).update(one_off=one_off, version=F("version") + 1)
        ordering.touched(line.order, at=at)
        audit.write(
            at=at, by=by.label, action="one-off said", subject=f"order {line.order.number}",
            before={"line": line.number, "one_off": before}, after={"line": line.number, "one_off": one_off},
        )  # fmt: skip
    line.refresh_from_db()
    return line


def mark(lines: Sequence[OrderLine], *, at: dt.datetime, by: Actor) -> None:
    """Mark lines that look as if they would not come again; a person may say otherwise afterwards."""
    for line in lines:
        set_one_off(line, one_off=True, at=at, by=by)
