"""What is said of the lines of a purchase order when something of them has come, and when no more will."""

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from inventory.models import Item, PurchaseOrderLine
from inventory.queries import as_typed
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


def as_came(line: PurchaseOrderLine) -> dict[str, Any]:
    """Return a line's facts when no more of it will come: quantity, price and words of what came.

    Bars cost by their number, goods by their quantity, rounded half up; so a piece costs what it did.
    """
    facts: dict[str, Any] = {"qty": line.received, "bars": None}
    share = Fraction(line.received, line.qty)
    if line.bars is not None:
        facts["bars"] = line.received_bars
        share = Fraction(line.received_bars, line.bars)
    else:  # bars keep the words they were ordered in, which are read back as lengths
        facts["typed"] = as_typed.goods(line.item, line.received)
    if line.price_minor is not None:
        facts["price_minor"] = int(line.price_minor * share + Fraction(1, 2))
    return facts
