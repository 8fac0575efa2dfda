"""What is left of a line's price over its material: for the owner's decisions, no bookkeeping."""

from dataclasses import dataclass

from inventory.queries.costs import Costs
from orders.models import Order, OrderLine, ShippedLot


@dataclass(frozen=True, slots=True)
class Margin:
    """A line as far as it was sent: sold for, material, what is left; minor units. No material where none is known."""

    line: OrderLine
    pieces: int
    sold: int
    material: int | None

    @property
    def left(self) -> int | None:
        """Return what is left over the material."""
        return None if self.material is None else self.sold - self.material


def of_order(order: Order, costs: Costs | None = None) -> list[Margin]:
    """Return the margin of each line that was sent."""
    costs, found = costs or Costs(), []
    for line in order.lines.filter(shipped__gt=0).select_related("item").order_by("number"):
        material: int | None = None
        sent = ShippedLot.objects.filter(shipment_line__line=line, shipment_line__shipment__reversed_at=None)
        for one in sent.select_related("lot__item", "shipment_line__shipment").order_by("pk"):
            cost = costs.taken(one.lot, one.shipment_line.shipment.entry_id or 0, one.qty)
            if cost is not None:
                material = (material or 0) + cost
        found.append(Margin(line, line.shipped, line.shipped * line.price_minor, material))
    return found
