"""What stands on the rack: bars by grade and section, with number, length, mill heat, age and slot; and the blanks."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.calc import sawing
from inventory.models import Grade, Holding, Item, Lot, Place, Section
from inventory.queries import cuttable
from shop.shared import shop_row

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
    held: str = ""
    awaited: bool = False
    plan: int = 0

    @property
    def cuttable(self) -> bool:
        """Return whether it may be cut: measured, on the rack, in no cut plan, no paper of its melt against it."""
        return self.measured and self.place.sellable and not self.held and not self.plan


@dataclass(frozen=True, slots=True)
class RackGroup:
    """The bars of one grade and section, longest first."""

    item: Item
    grade: Grade
    section: Section
    bars: Sequence[RackBar]
    blanks: Sequence[Item] = ()
    kerf_nm: int = 0

    @property
    def fits(self) -> list[tuple[Item, int]]:
        """Return how many of each blank the bars that may be cut give, bar by bar; those of which none fit left out."""
        lengths = [bar.length_nm for bar in self.bars if bar.cuttable]
        return [(blank, many) for blank, many in fitting(self.blanks, lengths, self.kerf_nm) if many]

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


def fitting(blanks: Sequence[Item], lengths: Sequence[int], kerf_nm: int) -> list[tuple[Item, int]]:
    """Return how many of each blank come off bars of these lengths, each bar sawn into one kind of blank."""
    return [
        (blank, sum(sawing.how_many(nm, blank.blank_length_nm or 1, kerf_nm) for nm in lengths)) for blank in blanks
    ]


def blanks_of(bars: Sequence[Item]) -> dict[int, list[Item]]:
    """Return the blanks that are sawn from each kind of bar."""
    there = Item.objects.filter(kind=Item.Kind.BLANK, active=True, blank_length_nm__isnull=False).order_by("code")
    by_steel: dict[tuple[int | None, int | None], list[Item]] = {}
    for blank in there.filter(grade__isnull=False, section__isnull=False):
        by_steel.setdefault((blank.grade_id, blank.section_id), []).append(blank)
    return {bar.pk: by_steel.get((bar.grade_id, bar.section_id), []) for bar in bars}


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
    held = cuttable.melts_held({holding.lot.melt_id for holding in found if holding.lot.melt_id})
    planned = cuttable.in_plan(holding.lot_id for holding in found if holding.allocated)
    blanks = blanks_of([stands[0].item for stands in by_item.values()])
    kerf = shop_row.the_shop().kerf_nm if found else 0
    made = [
        _group(stands, longest, at, held=held, planned=planned, blanks=blanks.get(item_id, ()), kerf_nm=kerf)
        for item_id, stands in by_item.items()
    ]
    return sorted(made, key=lambda g: (g.grade.code, g.section.shape, g.section.size_nm, g.section.width_nm, g.item.pk))


def one(lot: Lot, *, at: dt.datetime) -> RackBar | None:
    """Return a bar as it stands now; nothing where nothing of it is left in the shop."""
    holding = _bars().filter(lot=lot).first()
    if holding is None:
        return None
    return _bar(holding, holding.on_hand, at, plan=cuttable.in_plan([lot.pk]).get(lot.pk, 0))


def _bars() -> QuerySet[Holding]:
    there = Holding.objects.filter(item__kind=Item.Kind.BAR, on_hand__gt=0, place__kind__in=STEEL_PLACES)
    return there.select_related("lot__bar", "lot__melt", "place", "item__grade", "item__section").order_by(
        "-on_hand", "lot_id"
    )


def _group(
    stands: Sequence[Holding],
    longest: int,
    at: dt.datetime,
    *,
    held: Mapping[int, str],
    planned: Mapping[int, int],
    blanks: Sequence[Item],
    kerf_nm: int,
) -> RackGroup:
    item = stands[0].item
    if item.grade is None or item.section is None:
        raise RuntimeError("A bar item has a grade and a section.")
    bars = [
        _bar(holding, longest, at, held.get(holding.lot.melt_id or 0, ""), planned.get(holding.lot_id, 0))
        for holding in stands
    ]
    return RackGroup(item, item.grade, item.section, bars, blanks, kerf_nm)


def _bar(holding: Holding, longest: int, at: dt.datetime, held: str = "", plan: int = 0) -> RackBar:
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
        held=held,
        awaited=bool(holding.lot.melt and holding.lot.melt.certificate_awaited),
        plan=plan,
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
