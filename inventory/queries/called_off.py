"""What was cancelled of a purchase order after the supplier had it, read from the lines that say who did so."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Item, PurchaseOrder
from shop.shared.models import AuditLine

_HAS_IT = ("purchase order sent", "supplier confirmed")
_CANCELLED = "purchase line cancelled"


@dataclass(frozen=True, slots=True)
class CalledOff:
    """How much of an item is not wanted any more; of steel how many bars."""

    item: Item
    qty: int
    bars: int | None


def of(order: PurchaseOrder) -> Sequence[CalledOff]:
    """Return what was cancelled since the supplier had the order, in the order of its lines."""
    subject = f"purchase order {order.number}"
    noted = list(AuditLine.objects.filter(subject=subject, action__in=[*_HAS_IT, _CANCELLED]).order_by("pk"))
    begun = next((at for at, row in enumerate(noted) if row.action in _HAS_IT), len(noted))
    gone = [(row.before or {}, row.after) for row in noted[begun:] if row.action == _CANCELLED]
    gone.sort(key=lambda one: one[0]["line"])
    items = {one.code: one for one in Item.objects.filter(code__in=[before["item"] for before, _ in gone])}
    left = {line.number: {"qty": line.qty, "bars": line.bars} for line in order.lines.all()} if gone else {}
    found = []
    for before, after in gone:
        stays = after or left.get(before["line"], {})  # lines cancelled long ago were noted without what stays
        bars = None if before["bars"] is None else before["bars"] - (stays.get("bars") or 0)
        if before["item"] in items:
            found.append(CalledOff(items[before["item"]], before["qty"] - (stays.get("qty") or 0), bars))
    return found
