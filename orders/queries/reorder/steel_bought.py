"""In which length a steel is bought, and what one bar of it gives and weighs."""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
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
    """A bar as it is bought: length, as typed, its mass, and the blanks it gives of the longest that is sawn from it.

    `lost` is the share of it that is an end too short for the blank of which least is lost; kerfs are used, not lost.
    """

    length_nm: int
    typed: str
    mass_mg: int
    blanks: int
    blank_nm: int | None
    lost_nm: int
    lost: float = 0.0


def of(built: Structure, noted: Mapping[tuple[int, int], Sequence[SupplierPrice]], *, kerf_nm: int) -> dict[int, Bars]:
    """Return how each steel is bought: in the noted length that costs least for its blanks, else as it was ordered last."""
    sawn: dict[int, set[int]] = {}
    for one in built.goes:
        part, whole = built.items[one.part], built.items[one.whole]
        if part.kind == Item.Kind.BAR and whole.blank_length_nm:
            sawn.setdefault(part.pk, set()).add(whole.blank_length_nm)
    found = {}
    for pk, item in built.items.items():
        if item.kind == Item.Kind.BAR:
            found[pk] = _bars(item, noted.get((item.supplier_id or 0, pk), ()), sawn.get(pk, set()), kerf_nm)
    return found


def _bars(item: Item, noted: Sequence[SupplierPrice], sawn: AbstractSet[int], kerf_nm: int) -> Bars:
    blank_nm = max(sawn, default=None)
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
    return Bars(nm, _typed(item, nm), mass, each, blank_nm, nm - each * (blank_nm or 0), _lost(nm, sawn, kerf_nm))


def _lost(nm: int, sawn: AbstractSet[int], kerf_nm: int) -> float:
    """Return the share of a bar that is left as an end, of the blank of which least is; 0 where a bar gives none."""
    given = {blank: how_many(nm, blank, kerf_nm) for blank in sawn}
    return min((max(0.0, 1 - many * (blank + kerf_nm) / nm) for blank, many in given.items() if many), default=0.0)


def _ordered_last(item: Item) -> int:
    last = PurchaseOrderLine.objects.filter(item=item, bars__isnull=False).order_by("-pk").values_list("qty", "bars")
    row = last.first()
    return row[0] // row[1] if row and row[1] else 0


def _typed(item: Item, nm: int) -> str:
    """Write a length as the Door reads it, in the system of the section."""
    if item.section is not None and "mm" in item.section.typed:
        return f"{nm / 1e9:g} m" if nm % 1_000_000 == 0 else f"{nm / 1e6:.3f} mm"
    return units.length_inches(nm)
