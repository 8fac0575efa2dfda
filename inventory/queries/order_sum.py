"""What a purchase order comes to: its goods, the lines without a price, and what the supplier asks for carriage."""

from dataclasses import dataclass

from inventory.calc import steel
from inventory.calc.buying.terms import Carriage, Terms
from inventory.models import PurchaseOrder, PurchaseOrderLine
from inventory.queries.findings import section_of


@dataclass(frozen=True, slots=True)
class OrderSum:
    """Money in minor units; `freight` is nothing where the supplier's carriage is not noted."""

    goods: int
    unpriced: int
    freight: int | None


def of(order: PurchaseOrder) -> OrderSum:
    """Return what an order comes to; carriage by its value and by the mass of its steel."""
    lines = list(order.lines.all())
    goods = sum(line.price_minor or 0 for line in lines)
    steps = list(order.supplier.freight.all())
    freight = None
    if steps:
        carriage = tuple(Carriage(one.freight_minor, one.from_minor, one.from_mass_mg) for one in steps)
        freight = Terms(carriage=carriage).freight(goods, sum(map(_mass, lines)))
    return OrderSum(goods, sum(line.price_minor is None for line in lines), freight)


def _mass(line: PurchaseOrderLine) -> int:
    """Return the mass of a line of steel, mg; 0 of other goods."""
    grade, section = line.item.grade, line.item.section
    if line.bars is None or grade is None or section is None:
        return 0
    return steel.mass_mg(section_of(section), line.qty, grade.density_ug_per_cm3)
