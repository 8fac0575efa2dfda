"""What is said of the lines of a purchase order when something of them has come."""

from collections.abc import Iterable

from inventory.models import Item, PurchaseOrderLine
from shop.shared.units import length_inches, mass_lb, volume


def said(lines: Iterable[PurchaseOrderLine]) -> list[str]:
    """Say of each line whether it is as ordered, short or over."""
    return [_said(line) for line in lines]


def _said(line: PurchaseOrderLine) -> str:
    if line.bars is not None:
        have, asked = line.received_bars, line.bars
        gap = "1 bar" if abs(asked - have) == 1 else f"{abs(asked - have)} bars"
    else:
        have, asked = line.received, line.qty
        gap = amount(line.item, abs(asked - have))
    name = f"Line {line.number}, {line.item.code}"
    if have < asked:
        return f"{name}: {gap} still to come."
    if have > asked:
        return f"{name}: {gap} more than ordered."
    return f"{name}: as ordered."


def amount(item: Item, qty: int) -> str:
    """Print a quantity of an item in words of its unit."""
    if item.unit == Item.Unit.NM:
        return length_inches(qty)
    if item.unit == Item.Unit.MG:
        return mass_lb(qty)
    if item.unit == Item.Unit.UL:
        return volume(qty)
    return str(qty)
