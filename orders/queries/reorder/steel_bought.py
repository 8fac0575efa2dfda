"""In which length a steel is bought, and what one bar of it gives and weighs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from inventory.calc import steel
from inventory.calc.buying.bars import Length, cheapest_length
from inventory.calc.sawing import how_many
from inventory.models import Item, PurchaseOrderLine, SupplierPrice
from inventory.queries.findings import section_of
from orders.queries.reorder.structure import Structure
from shop.shared import units

USUAL: Final = 6_096_000_000  # 20 ft, where nothing says in which length it is sold. No source


@dataclass(frozen=True, slots=True)
class Bars:
    """A bar as it is bought: length, as typed, its mass, and the blanks it gives of the longest that is sawn from it."""

    length_nm: int
    typed: str
    mass_mg: int
    blanks: int
    blank_nm: int | None
    lost_nm: int


def of(built: Structure, noted: Mapping[tuple[int, int], Sequence[SupplierPrice]], *, kerf_nm: int) -> dict[int, Bars]:
    """Return how each steel is bought: in the noted length that costs least for its blanks, else as it was ordered last."""
    longest: dict[int, int] = {}
    for one in built.goes:
        part, whole = built.items[one.part], built.items[one.whole]
        if part.kind == Item.Kind.BAR and whole.blank_length_nm:
            longest[part.pk] = max(longest.get(part.pk, 0), whole.blank_length_nm)
    found = {}
    for pk, item in built.items.items():
        if item.kind == Item.Kind.BAR:
            found[pk] = _bars(item, noted.get((item.supplier_id or 0, pk), ()), longest.get(pk), kerf_nm)
    return found


def _bars(item: Item, noted: Sequence[SupplierPrice], blank_nm: int | None, kerf_nm: int) -> Bars:
    lengths = [Length(row.length_nm, row.price_minor) for row in noted if row.length_nm and row.from_qty == 1]
    lengths = lengths or [Length(row.length_nm, row.price_minor) for row in noted if row.length_nm]
    if lengths and blank_nm:
        nm = cheapest_length(lengths, blank_nm, kerf_nm).nm
    elif lengths:
        nm = max(one.nm for one in lengths)
    else:
        nm = _ordered_last(item) or USUAL
    each = how_many(nm, blank_nm, kerf_nm) if blank_nm else 0
    mass = 0
    if item.section is not None and item.grade is not None:
        mass = steel.mass_mg(section_of(item.section), nm, item.grade.density_ug_per_cm3)
    return Bars(nm, _typed(item, nm), mass, each, blank_nm, nm - each * (blank_nm or 0))


def _ordered_last(item: Item) -> int:
    last = PurchaseOrderLine.objects.filter(item=item, bars__isnull=False).order_by("-pk").values_list("qty", "bars")
    row = last.first()
    return row[0] // row[1] if row and row[1] else 0


def _typed(item: Item, nm: int) -> str:
    """Write a length as the Door reads it, in the system of the section."""
    if item.section is not None and "mm" in item.section.typed:
        return f"{nm / 1e9:g} m" if nm % 1_000_000 == 0 else f"{nm / 1e6:.3f} mm"
    return units.length_inches(nm)
