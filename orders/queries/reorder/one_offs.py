"""Lines far above what an item is otherwise asked for: they look as if they would not come again."""

import datetime as dt
from collections import defaultdict
from typing import Final

from inventory.calc.forecast.kinds import looks_one_off
from orders.models import OWN_SOURCE, Learned, OrderLine
from shop.shared.models import AuditLine

LOOKED_BACK: Final = dt.timedelta(days=3 * 365)


def suspected(*, at: dt.datetime) -> list[OrderLine]:
    """Return unmarked lines taken since the night learned last that look one-off; each is looked at in one night only."""
    last = Learned.objects.order_by("-learned_on").values_list("learned_on", flat=True).first()
    lines = OrderLine.objects.filter(item__isnull=False, order__taken_at__gte=at - LOOKED_BACK).exclude(
        order__source__startswith=OWN_SOURCE
    )
    fresh = lines.filter(one_off=False, order__taken_at__lt=at)
    if last is not None:
        since = dt.datetime.combine(last, dt.time(), tzinfo=dt.UTC) - dt.timedelta(days=1)
        fresh = fresh.filter(order__taken_at__gte=since)
    new = list(fresh.select_related("order__customer", "item").order_by("pk"))
    if last is not None:
        new = [one for one in new if not _said(one)]
    others: dict[int, list[int]] = defaultdict(list)
    asked = {one.item_id for one in new}
    rows = lines.filter(one_off=False).order_by().values_list("item_id", "ordered")
    for item, ordered in rows.iterator(chunk_size=5_000):
        if item in asked:
            others[item or 0].append(ordered)
    return [one for one in new if _looks(one.ordered, others[one.item_id or 0])]


def _looks(ordered: int, everything: list[int]) -> bool:
    """Judge a line beside all others of its item."""
    rest = list(everything)
    rest.remove(ordered)
    return looks_one_off(ordered, rest)


def _said(line: OrderLine) -> bool:
    """Return whether somebody has said already what the line counts as."""
    return AuditLine.objects.filter(subject=f"order {line.order.number}", action="one-off said").exists()
