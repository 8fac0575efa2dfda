"""What the bars of a mill heat on the rack still give of a blank, and when more blanks than that open a new bar."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc import sawing
from inventory.models import Holding, Item, Melt, Place
from inventory.queries import cuttable
from shop.shared import shop_row


@dataclass(frozen=True, slots=True)
class Gives:
    """Pieces the bars give: those that were cut already together, and each full one, the longest first."""

    cut: int
    full: Sequence[int]

    def opened(self, extra: int) -> int | None:
        """Return how many full bars are opened for so many more blanks; nothing where all the bars give fewer."""
        left = extra - self.cut
        for bars, pieces in enumerate(self.full):
            if left <= 0:
                return bars
            left -= pieces
        return len(self.full) if left <= 0 else None


def of(blank: Item, melt: Melt) -> Gives:
    """Return what the free bars of a mill heat give of a blank; a bar without a parent is a full one."""
    if not blank.blank_length_nm or cuttable.melts_held([melt.pk]):
        return Gives(0, ())
    there = Holding.objects.filter(
        lot__melt=melt, item__kind=Item.Kind.BAR, item__section=blank.section_id, on_hand__gt=0, allocated=0,
        place__kind=Place.Kind.RACK, lot__bar__measured=True,
    ).values_list("on_hand", "lot__bar__parent_id")  # fmt: skip
    kerf = shop_row.the_shop().kerf_nm
    counted = [(sawing.how_many(nm, blank.blank_length_nm, kerf), parent) for nm, parent in there]
    full = sorted((pieces for pieces, parent in counted if parent is None and pieces), reverse=True)
    return Gives(sum(pieces for pieces, parent in counted if parent is not None), full)
