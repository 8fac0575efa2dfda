"""Cutting without a plan: a bar becomes blanks, bars that are left, a scrap end and swarf, in one entry."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc import sawing
from inventory.calc.sawing import Asked, Sawn
from inventory.calc.shares import share
from inventory.models import Bar, Cut, CutPiece, Entry, Holding, Item, Lot, Place
from inventory.queries import cuttable
from inventory.services import arriving, catalogue, delivery_lines, ledger
from inventory.services.arriving import Arrival, BarFacts
from inventory.services.ledger import Line, Locks, Stamp
from inventory.services.reading import BarLength
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.units import NM_PER_INCH, as_taped

DOUBT_NM = NM_PER_INCH  # a rest further off than this is sooner a slip of the pen than a saw


class NotToBeCut(Refusal):
    """The bar must not be cut; the sentence says why and what would help."""

    code = "not_to_be_cut"


@dataclass(frozen=True, slots=True)
class Blanks:
    """So many blanks of one kind; `piece_nm` where they are cut to another length than the book's."""

    blank: Item
    count: int
    piece_nm: int = 0

    @property
    def each_nm(self) -> int:
        """Return the length of one, nm."""
        return self.piece_nm or self.blank.blank_length_nm or 0

    @property
    def nm(self) -> int:
        """Return the length of all, nm."""
        return self.count * self.each_nm


@dataclass(frozen=True, slots=True)
class SawJob:
    """What is sawn: blanks, a length for own tooling, trim, what is left by the tape, or that it is scrap."""

    kerf_nm: int
    blanks: Sequence[Blanks] = ()
    own_nm: int = 0
    trim_nm: int = 0
    left: Sequence[BarLength] = ()
    scrap: bool = False
    slot: Place | None = None

    @property
    def pieces(self) -> int:
        """Return how many blanks there are of all kinds."""
        return sum(one.count for one in self.blanks)

    @property
    def pieces_nm(self) -> int:
        """Return the length of all blanks, nm."""
        return sum(one.nm for one in self.blanks)


def cut(bar: Bar, wanted: SawJob, *, locks: Locks, stamp: Stamp) -> Cut:
    """Book what the saw did to a whole bar."""
    transactions.assert_open()
    why = cuttable.why_not(bar, own_use_only=not wanted.blanks)
    if why:
        raise NotToBeCut(why)
    holding = Holding.objects.select_related("place").get(lot_id=bar.pk, on_hand__gt=0)
    _check_blanks(bar, wanted)
    sawn = _sawn(bar, holding.on_hand, wanted, stamp)
    entry, lots = _book(bar, holding, wanted, sawn, locks, stamp)
    made = Cut.objects.create(
        entry=entry,
        bar=bar,
        taken_nm=holding.on_hand,
        pieces=wanted.pieces,
        pieces_nm=wanted.pieces_nm,
        own_nm=wanted.own_nm,
        kerf_nm=wanted.kerf_nm,
        kerfs=sawn.kerfs,
        kerfs_nm=sawn.kerfs_nm,
        trim_nm=wanted.trim_nm,
        scrap_nm=sawn.scrap_nm,
        remnant_nm=sawn.left_nm,
        difference_nm=sawn.difference_nm,
    )
    CutPiece.objects.bulk_create(
        [CutPiece(cut=made, blank=one.blank, count=one.count, piece_nm=one.each_nm) for one in wanted.blanks]
    )
    audit.write(
        at=stamp.at,
        by=stamp.by.label,
        action="bar cut",
        subject=f"bar {bar.number}",
        before={"length_nm": holding.on_hand},
        after={"entry": entry.pk, "lots": [lot.code for lot in lots]},
        reason=stamp.reason,
    )
    return made


def _check_blanks(bar: Bar, wanted: SawJob) -> None:
    """Refuse pieces that are no blanks of the bar's own steel, a kind named twice, or too many."""
    for one in wanted.blanks:
        _check_blank(bar, one.blank)
        if one.count < 1:
            raise Invalid.field("pieces", f"Pieces: 1 to {sawing.MOST_PIECES} would work.")
        if one.each_nm < 1:
            said = f"Length: {one.blank.name} has none in the book; write how long a piece is."
            raise Invalid.field("length", said)
    if wanted.pieces > sawing.MOST_PIECES:
        raise Invalid.field("pieces", f"Pieces: 1 to {sawing.MOST_PIECES} would work.")
    if len({one.blank.pk for one in wanted.blanks}) < len(wanted.blanks):
        raise Invalid.field("blank", "Blank: one kind is named twice; write all pieces of it together.")


def _check_blank(bar: Bar, blank: Item) -> None:
    item = bar.lot.item
    if blank.kind != Item.Kind.BLANK:
        raise Invalid.field("blank", "Blank: choose which blank these pieces are.")
    if (blank.grade_id and blank.grade_id != item.grade_id) or (
        blank.section_id and blank.section_id != item.section_id
    ):
        raise Invalid.field("blank", f"Blank: {blank.name} is not sawn from {item.name}; choose one of this steel.")


def _sawn(bar: Bar, there_nm: int, wanted: SawJob, stamp: Stamp) -> Sawn:
    left = [one.nm for one in wanted.left]
    asked = Asked(there_nm, wanted.kerf_nm, wanted.pieces, wanted.pieces_nm, wanted.own_nm, wanted.trim_nm, left)
    if not asked.parts and len(left) < 2:
        raise Invalid.field(
            "pieces", "Pieces: nothing is cut yet; write pieces, a length for own tooling, or two rests."
        )
    sawn = sawing.saw(asked)
    if sawn.short_nm:
        said = f"Pieces: bar {bar.number} is {as_taped(there_nm)}, too short for this{_fits(there_nm, wanted)}."
        raise Invalid.field("pieces", said)
    if sawn.scrap_nm and not wanted.scrap:
        raise Invalid.field(
            "left", f"Left: about {as_taped(sawn.scrap_nm)} should be left; tape it and write it, or say it is scrap."
        )
    if abs(sawn.difference_nm) > DOUBT_NM and not stamp.reason:
        off = as_taped(abs(sawn.difference_nm))
        side = "missing" if sawn.difference_nm > 0 else "too much"
        raise Invalid.field(
            "left",
            f"Left: with pieces and kerfs {off} of bar {bar.number} is {side}; tape it again, or say why under Note.",
        )
    return sawn


def _fits(there_nm: int, wanted: SawJob) -> str:
    """Say how many would fit, where there is one kind."""
    if len(wanted.blanks) != 1:
        return ""
    each = wanted.blanks[0].each_nm
    return f"; {sawing.how_many(there_nm, each, wanted.kerf_nm, wanted.trim_nm)} of {as_taped(each)} fit"


def _book(
    bar: Bar, holding: Holding, wanted: SawJob, sawn: Sawn, locks: Locks, stamp: Stamp
) -> tuple[Entry, list[Lot]]:
    arrivals = _arrivals(bar, holding.place, wanted)
    lines = _bar_lines(bar.lot, holding.place, wanted, sawn)
    entry = ledger.begin(Entry.Kind.CUT, lines=len(lines) + len(arrivals), stamp=stamp)
    lots = arriving.make_lots(entry, arrivals)
    worked_up = catalogue.place("WORKED-UP")
    ledger.post(entry, [*lines, *arriving.lines_in(lots, arrivals, worked_up)], locks)
    return entry, lots


def _bar_lines(lot: Lot, place: Place, wanted: SawJob, sawn: Sawn) -> list[Line]:
    """Return where the bar goes: worked up, own use, swarf, scrap, and what the tape found off."""
    difference = catalogue.place("DIFFERENCE")
    lines = []
    if sawn.difference_nm < 0:
        lines.append(Line(lot=lot, qty=-sawn.difference_nm, source=difference, target=place))
    gone = {
        "WORKED-UP": wanted.pieces_nm + sawn.left_nm,
        "OWN-USE": wanted.own_nm,
        "SWARF": sawn.kerfs_nm,
        "SCRAP": wanted.trim_nm + sawn.scrap_nm,
        "DIFFERENCE": max(0, sawn.difference_nm),
    }
    lines += [Line(lot=lot, qty=nm, source=place, target=catalogue.place(code)) for code, nm in gone.items() if nm]
    return lines


def _arrivals(bar: Bar, place: Place, wanted: SawJob) -> list[Arrival]:
    lot = bar.lot
    kept = [*(one.nm for one in wanted.blanks), *(one.nm for one in wanted.left)]
    costs: Sequence[int | None] = [None] * len(kept)
    if lot.cost_minor is not None and max(kept, default=0) > 0:
        costs = share(lot.cost_minor, kept)
    made = [
        Arrival(
            item=one.blank,
            qty=one.count,
            place=catalogue.place(catalogue.HOME[Item.Kind.BLANK]),
            melt=lot.melt,
            cost_minor=cost,
            parents=[(lot, one.nm)],
            mass_mg=one.count * _mass(bar, one.each_nm),
            basis="worked out",
        )
        for one, cost in zip(wanted.blanks, costs, strict=False)
    ]
    slot = wanted.slot or place
    if slot.kind != Place.Kind.RACK:
        raise Invalid.field("slot", f"Slot: {slot.name} is no rack; choose a slot of the rack.")
    for one, cost in zip(wanted.left, costs[len(wanted.blanks) :], strict=True):
        facts = BarFacts(section=bar.section, typed=one.typed, parent=bar)
        made.append(
            Arrival(
                item=lot.item,
                qty=one.nm,
                place=slot,
                melt=lot.melt,
                bar=facts,
                cost_minor=cost,
                parents=[(lot, one.nm)],
                mass_mg=_mass(bar, one.nm),
                basis="worked out",
            )
        )
    return made


def _mass(bar: Bar, nm: int) -> int:
    grade = bar.lot.item.grade
    return delivery_lines.mass_of(bar.section, nm, grade.density_ug_per_cm3) if grade else 0
