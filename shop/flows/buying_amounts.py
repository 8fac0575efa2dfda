"""Quantities inside a sentence about buying, no finer than they are known."""

from inventory.models import Item
from shop.flows.night import words

_MG_PER_LB, _UL_PER_GAL, _FL_OZ_PER_GAL, _WHOLE_FROM = 453_592.37, 3_785_411.784, 128, 10


def amount(item: Item, qty: float) -> str:
    """Write a quantity inside a sentence, no finer than it is known: 26, 12 ft, 3.5 lb, 20 fl oz."""
    whole = max(0, round(qty))
    if item.unit == Item.Unit.PIECE:
        return words.grouped(whole)
    if item.unit == Item.Unit.NM:
        return words.spoken(item, whole)
    if item.unit == Item.Unit.MG:
        return f"{_about(whole / _MG_PER_LB)} lb"
    gallons = whole / _UL_PER_GAL
    return f"{_about(gallons)} gal" if gallons >= 1 else f"{round(gallons * _FL_OZ_PER_GAL)} fl oz"


def _about(value: float) -> str:
    """Write a number with one decimal below ten, whole from there on."""
    return f"{value:.0f}" if value >= _WHOLE_FROM else f"{value:.1f}".removesuffix(".0")
