"""A supplier's record: how long its goods took, and how it kept the days it promised."""

from collections.abc import Sequence
from typing import Any, ClassVar

from inventory.calc import lead_summary
from inventory.calc.lead_summary import Summary
from inventory.models import Supplier
from inventory.queries import lead_record
from inventory.queries.lead_record import Line
from shop.api import fields, shapes
from shop.api.order_days import CHANCE
from shop.api.purchase_orders_shown import TAG
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared import clock
from shop.shared.errors import NotFound
from shop.shared.shop_row import the_shop

DAYS = shapes.maybe({"type": "integer", "description": "Calendar days; below nought early."})
FIGURES = {
    "whole": shapes.WHOLE,
    "in_parts": shapes.WHOLE,
    "waiting": shapes.WHOLE,
    "waited_days": shapes.WHOLE,
    "half_within_days": DAYS,
    "slowest_days": DAYS,
    "half_off_days": DAYS,
    "worst_off_days": DAYS,
    "kept": shapes.WHOLE,
    "promised": shapes.WHOLE,
}
RECORD = shapes.thing(
    supplier=shapes.thing(id=shapes.WHOLE, name=shapes.TEXT),
    figures=shapes.thing(**FIGURES),
    items=shapes.many(shapes.thing(item=shapes.TEXT, **FIGURES)),
    lines=shapes.many(
        shapes.thing(
            purchase_order=shapes.WHOLE,
            line=shapes.WHOLE,
            item=shapes.TEXT,
            ordered_on=shapes.DAY,
            promised_on=shapes.maybe(shapes.DAY),
            came=shapes.many(shapes.thing(day=shapes.DAY, share=CHANCE)),
            open=CHANCE,
            waited_days=DAYS,
        )
    ),
)
_FIGURES = {
    "whole": 9, "in_parts": 1, "waiting": 1, "waited_days": 4, "half_within_days": 8, "slowest_days": 15,
    "half_off_days": 0, "worst_off_days": 6, "kept": 7, "promised": 9,
}  # fmt: skip
_EXAMPLE = {
    "supplier": {"id": 4, "name": "Example Steel"},
    "figures": _FIGURES,
    "items": [{"item": "BAR-1045-R2", **_FIGURES}],
    "lines": [
        {
            "purchase_order": 12, "line": 1, "item": "BAR-1045-R2", "ordered_on": "2026-03-02",
            "promised_on": "2026-03-13", "came": [{"day": "2026-03-12", "share": 0.6}], "open": 0.4, "waited_days": 12,
        }
    ],
}  # fmt: skip


class SupplierRecord(Endpoint):
    """A supplier's record."""

    operations: ClassVar = {
        "GET": Operation(
            name="readSupplierRecord",
            summary="Read how a supplier keeps its days",
            tag=TAG,
            words=(
                "The order lines that lead times are learned from, the last ordered first: the day first promised, on which"
                " days which share came, what is still open. Of lines that came whole: half within and the slowest, in days"
                " from the order and off the day promised; kept of promised were there by that day."
            ),
            replies={200: Reply("The record.", RECORD, _EXAMPLE)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Return it."""
        found = Supplier.objects.filter(pk=call.path["id"]).first()
        if found is None:
            raise NotFound(f"There is no supplier {call.path['id']}; purchase orders name theirs.")
        shop = the_shop()
        today = clock.local_date(call.at, shop.zone)
        lines = lead_record.told(lead_record.lines([found.pk], zone=shop.zone).get(found.pk, ()))
        by_item: dict[str, list[Line]] = {}
        for one in lines:
            by_item.setdefault(one.line.item.code, []).append(one)

        def figures(some: Sequence[Line]) -> dict[str, Any]:
            return _figures(lead_summary.summary([one.record for one in some], today=today))

        return reply(
            {
                "supplier": {"id": found.pk, "name": found.name},
                "figures": figures(lines),
                "items": [{"item": code, **figures(by_item[code])} for code in sorted(by_item)],
                "lines": [_line(one, (today - one.record.ordered).days) for one in lines],
            }
        )


def _figures(one: Summary) -> dict[str, Any]:
    return {
        "whole": one.whole,
        "in_parts": one.in_parts,
        "waiting": one.waiting,
        "waited_days": one.waited,
        "half_within_days": one.median,
        "slowest_days": one.worst,
        "half_off_days": one.late_median,
        "worst_off_days": one.late_worst,
        "kept": one.kept,
        "promised": one.promised,
    }


def _line(one: Line, waited: int) -> dict[str, Any]:
    record = one.record
    return {
        "purchase_order": one.line.order.number,
        "line": one.line.number,
        "item": one.line.item.code,
        "ordered_on": fields.day(record.ordered),
        "promised_on": fields.day(record.promised),
        "came": [{"day": fields.day(day), "share": round(share, 6)} for day, share in record.came],
        "open": round(record.open, 6),
        "waited_days": waited if record.open else None,
    }
