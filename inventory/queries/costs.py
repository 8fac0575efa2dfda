"""What pieces have cost in material, from landed steel to tool: first in, first out, to the minor unit.

The landed cost of a lot is dealt to what was made of it in the order it was taken. Scrap up to the usual share is borne by
the good pieces of the lot, what is beyond is kept apart. Parts of a lot are cut by running totals, so that they come to the
whole and nothing is created or lost; while pieces are still rejected the figures of a lot move. For the shop's decisions,
no bookkeeping.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import F, Sum

from inventory.calc import fifo_cost
from inventory.models import Item, Lot, LotParent, Movement, Place

USUAL = Fraction(8, 100)  # of an established pattern over its whole route; common practice, no source


@dataclass(frozen=True, slots=True)
class Dealt:
    """A lot's cost: what its good pieces bear, what is kept apart, minor units, and over how many pieces it is dealt."""

    borne: int
    apart: int
    pieces: int

    @property
    def whole(self) -> int:
        """Return what the lot cost."""
        return self.borne + self.apart

    def upto(self, pieces: int) -> int:
        """Return what the first so many pieces cost."""
        return self.borne * min(pieces, self.pieces) // self.pieces if self.pieces else 0

    def slice(self, before: int, pieces: int) -> int:
        """Return what so many pieces cost that were taken after so many others."""
        return self.upto(before + pieces) - self.upto(before)


class Costs:
    """Costs of lots, each worked out once; ask one of these for everything a page shows."""

    def __init__(self) -> None:
        self._known: dict[int, Dealt | None] = {}

    def of(self, lot: Lot) -> Dealt | None:
        """Return what a lot cost; nothing where no landed cost stands behind it."""
        if lot.pk not in self._known:
            self._known[lot.pk] = None  # a circle cannot be, and would end here
            self._known[lot.pk] = self._work_out(lot)
        return self._known[lot.pk]

    def _work_out(self, lot: Lot) -> Dealt | None:
        whole = lot.cost_minor if lot.cost_minor is not None else self._of_parents(lot)
        born = _sum(Movement.objects.filter(lot=lot, entry=F("lot__entry"), from_place__inside=False))
        if whole is None or not born:
            return None
        scrap = _net(lot, Place.Kind.SCRAP) if lot.item.kind in (Item.Kind.HEAD, Item.Kind.HANDLE) else 0
        if not scrap:
            return Dealt(whole, 0, born)
        good = max(0, born - scrap)
        usual = scrap if lot.item.kind == Item.Kind.HANDLE else round(born * USUAL)
        kept = fifo_cost.after_losses(whole, born, good, usual)
        return Dealt(kept.good, kept.apart, good)

    def _of_parents(self, lot: Lot) -> int | None:
        parts = list(LotParent.objects.filter(child=lot).select_related("parent__item", "child").order_by("pk"))
        if not parts:
            return None
        costs = [self._slice(part) for part in parts]
        known = [cost for cost in costs if cost is not None]
        return sum(known) if known else None

    def _slice(self, part: LotParent) -> int | None:
        dealt = self.of(part.parent)
        if dealt is None:
            return None
        same = LotParent.objects.filter(parent=part.parent, pk__lt=part.pk, child__entry=part.child.entry_id)
        before = left_before(part.parent, part.child.entry_id) + int(same.aggregate(sum=Sum("quantity"))["sum"] or 0)
        return dealt.slice(before, part.quantity)

    def taken(self, lot: Lot, entry_id: int, pieces: int) -> int | None:
        """Return what so many pieces of a lot cost that an entry took out."""
        dealt = self.of(lot)
        return dealt.slice(left_before(lot, entry_id), pieces) if dealt else None


def steel_into(lots: Sequence[Lot], costs: Costs) -> int:
    """Return what went into these lots together, minor units; lots of no known cost count nothing."""
    return sum(dealt.whole for lot in lots if (dealt := costs.of(lot)) is not None)


OUT = (Place.Kind.WORKED_UP, Place.Kind.CUSTOMER, Place.Kind.OWN_USE)


def left_before(lot: Lot, entry_id: int) -> int:
    """Return how many pieces of a lot had gone into something or to somebody before an entry."""
    gone = Movement.objects.filter(
        lot=lot, entry_id__lt=entry_id, from_place__inside=True, to_place__kind__in=OUT, entry__reversed_by=None,
        entry__reverses=None,
    )  # fmt: skip
    return _sum(gone)


def _net(lot: Lot, kind: str) -> int:
    went = Movement.objects.filter(lot=lot, to_place__kind=kind)
    back = Movement.objects.filter(lot=lot, from_place__kind=kind)
    return _sum(went) - _sum(back)


def _sum(rows: object) -> int:
    return int(rows.aggregate(sum=Sum("qty"))["sum"] or 0)  # type: ignore[attr-defined]
