"""What is to be ordered, on the Day sheet: orders that are not sent as they stand, and what the night proposed and nobody wrote."""

from collections.abc import Iterable, Sequence
from typing import Any

from inventory.models import PurchaseOrder
from shop.flows.night import goods_lines
from shop.shared.models import AuditLine, NightResult
from shop.staff.views.day_lines import Line, Part

NAME = "Order"
_LOOKED_AT = 60  # of the orders written last
_WRITTEN = "ordered from supplier"


def parts(found: Iterable[Part]) -> list[Part]:
    """Return the night's parts with the orders that are written and not sent before what it proposed."""
    unsent = tuple(
        Line(one.figure, one.unit, one.bold, one.words, one.link.path, one.link.words) for one in goods_lines.not_sent()
    )
    return [*([Part("Not sent", unsent)] if unsent else []), *(part for part in found if part.lines)]


def still_proposed(lines: Sequence[dict[str, Any]], result: NightResult) -> list[dict[str, Any]]:
    """Return the night's lines without what orders were written for since; a line of several things says which are written."""
    written = _written(result)
    found = []
    for line in lines:
        facts = line.get("facts", {})
        if goods_lines.NOT_SENT in facts:  # said as it stands now
            continue
        items = [one["item"] for one in facts.get("items", [facts]) if "item" in one]
        gone = [one for one in items if one in written]
        if items and len(gone) == len(items):
            continue
        if gone:
            orders = sorted({written[one] for one in gone})
            said = f" Written since, in order {' and '.join(map(str, orders))}: {', '.join(gone)}."
            found.append({**line, "words": line["words"] + said})
        else:
            found.append(line)
    return found


def _written(result: NightResult) -> dict[str, int]:
    """Return the items of orders that were written since the night, by code with the order's number."""
    last = dict(PurchaseOrder.objects.order_by("-pk").values_list("number", "pk")[:_LOOKED_AT])
    subjects = {f"purchase order {number}": number for number in last}
    lines = AuditLine.objects.filter(subject__in=subjects, action=_WRITTEN, at__gt=result.computed_at)
    numbers = {subjects[one] for one in lines.values_list("subject", flat=True)}
    rows = PurchaseOrder.objects.filter(number__in=numbers).values_list("lines__item__code", "number")
    return {code: number for code, number in rows if code}
