"""What a melt went into: every lot made of it, and whoever has pieces of them, to be called when the steel is bad."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.models import Melt, Movement, TakeOut
from inventory.queries import trace
from orders.models import ShippedLot
from orders.queries import book
from shop.shared import csvs

HEADER = ("mill_heat", "how", "order", "when", "item", "lot", "pieces", "name", "email", "phone")
"""A contract with spreadsheets: only ever append."""


@dataclass(frozen=True, slots=True)
class WentInto:
    """The lots of a melt with all that was made of them, what was sent of these and what was taken out otherwise."""

    melt: Melt
    lots: Sequence[int]
    sent: Sequence[ShippedLot]
    taken: Sequence[Movement]


def of_melt(melt: Melt) -> WentInto:
    """Return what a melt went into."""
    starts = trace.lots_of_melt(melt)
    family = sorted({*starts, *(step.child for step in trace.down(starts))})
    return WentInto(melt, family, book.shipped(family), taken_out(family))


def taken_out(lots: Iterable[int]) -> list[Movement]:
    """Return the gifts, samples and the like that are not back: somebody has them without an order."""
    found = Movement.objects.filter(lot__in=list(lots), entry__take_out__isnull=False, entry__reversed_by=None)
    lines = found.select_related("lot__item", "entry__take_out").order_by("id")
    return [line for line in lines if not _back(line.entry.take_out)]


def _back(taken: TakeOut) -> bool:
    return taken.back == taken.qty


def table(found: WentInto, *, names: bool) -> str:
    """Return it as CSV; names, e-mail and telephone only where they may be seen."""
    heat = found.melt.heat_number
    rows: list[list[csvs.Cell]] = []
    for one in found.sent:
        shipment, customer = one.shipment_line.shipment, one.shipment_line.line.order.customer
        order = one.shipment_line.line.order.number
        what: list[csvs.Cell] = [heat, "sent", order, shipment.sent_at, one.lot.item.name, one.lot.code, one.qty]
        rows.append([*what, customer.name, customer.email, customer.phone])
    for line in found.taken:
        taken, lot = line.entry.take_out, line.lot
        what = [heat, taken.why, None, line.entry.happened_at, lot.item.name, lot.code, line.qty]
        rows.append([*what, taken.for_whom, None, None])
    shown = rows if names else [[*row[:-3], None, None, None] for row in rows]
    return csvs.write(HEADER, shown)
