"""What stands on the rack: bars by grade and section, with number, length, mill heat, age and slot; and the blanks."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.models import Grade, Holding, Item, Lot, Place, Section

STEEL_PLACES = (Place.Kind.RACK, Place.Kind.DOOR, Place.Kind.NOT_TO_BE_USED)


@dataclass(frozen=True, slots=True)
class RackBar:
    """One bar with what is left of it; `share` is its length as a share of the longest on the sheet, in per mille."""

    lot: Lot
    number: str
    length_nm: int
    typed: str
    measured: bool
    heat_number: str
    place: Place
    days: int
    share: int

    @property
    def cuttable(self) -> bool:
        """Return whether it may be cut: measured, and on the rack."""
        return self.measured and self.place.sellable


@dataclass(frozen=True, slots=True)
class RackGroup:
    """The bars of one grade and section, longest first."""

    item: Item
    grade: Grade
    section: Section
    bars: Sequence[RackBar]

    @property
    def cuttable_nm(self) -> int:
        """Return the length that may be cut."""
        return sum(bar.length_nm for bar in self.bars if bar.cuttable)


@dataclass(frozen=True, slots=True)
class Pieces:
    """So many of a lot at a place."""

    lot: Lot
    item: Item
    place: Place
    qty: int
    heat_number: str
    days: int


def groups(*, at: dt.datetime, place: Place | None = None, item: Item | None = None) -> list[RackGroup]:
    """Return all bars in the shop by grade and section; of one place or one kind of bar where that is named."""
    holdings = _bars()
    if place is not None:
        holdings = holdings.filter(place=place)
    if item is not None:
        holdings = holdings.filter(item=item)
    found = list(holdings)
    longest = max((holding.on_hand for holding in found), default=1)
    by_item: dict[int, list[Holding]] = {}
    for holding in found:
        by_item.setdefault(holding.item_id, []).append(holding)
    made = [_group(stands, longest, at) for stands in by_item.values()]
    return sorted(made, key=lambda g: (g.grade.code, g.section.shape, g.section.size_nm, g.section.width_nm, g.item.pk))


def one(lot: Lot, *, at: dt.datetime) -> RackBar | None:
    """Return a bar as it stands now; nothing where nothing of it is left in the shop."""
    holding = _bars().filter(lot=lot).first()
    return _bar(holding, holding.on_hand, at) if holding else None


def _bars() -> QuerySet[Holding]:
    there = Holding.objects.filter(item__kind=Item.Kind.BAR, on_hand__gt=0, place__kind__in=STEEL_PLACES)
    return there.select_related("lot__bar", "lot__melt", "place", "item__grade", "item__section").order_by(
        "-on_hand", "lot_id"
    )


def _group(stands: Sequence[Holding], longest: int, at: dt.datetime) -> RackGroup:
    item = stands[0].item
    if item.grade is None or item.section is None:
        raise RuntimeError("A bar item has a grade and a section.")
    return RackGroup(item, item.grade, item.section, [_bar(holding, longest, at) for holding in stands])


def _bar(holding: Holding, longest: int, at: dt.datetime) -> RackBar:
    bar = holding.lot.bar
    return RackBar(
        lot=holding.lot,
        number=bar.number,
        length_nm=holding.on_hand,
        typed=bar.typed,
        measured=bar.measured,
        heat_number=heat_of(holding.lot),
        place=holding.place,
        days=max(0, (at - holding.lot.born_at).days),
        share=max(1, holding.on_hand * 1000 // longest),
    )


def blanks(*, at: dt.datetime, place: Place | None = None) -> list[Pieces]:
    """Return the blanks that stand in the shop, by item and lot."""
    return pieces(Item.Kind.BLANK, at=at, place=place)


def pieces(kind: str | None, *, at: dt.datetime, place: Place | None = None) -> list[Pieces]:
    """Return what stands of a kind of item, bars left out; at one place where that is named."""
    there = Holding.objects.filter(on_hand__gt=0, place__inside=True).exclude(item__kind=Item.Kind.BAR)
    if kind is not None:
        there = there.filter(item__kind=kind)
    if place is not None:
        there = there.filter(place=place)
    return [
        Pieces(h.lot, h.item, h.place, h.on_hand, heat_of(h.lot), max(0, (at - h.lot.born_at).days))
        for h in there.select_related("lot__melt", "item", "place").order_by("item__code", "lot_id", "id")
    ]


def heat_of(lot: Lot) -> str:
    """Return the mill heat number of a lot; nothing where it is no steel."""
    return lot.melt.heat_number if lot.melt is not None else ""


def slots() -> QuerySet[Place]:
    """Select the racks, bins and shelves that can carry a label."""
    return Place.objects.filter(sellable=True).order_by("kind", "code")
