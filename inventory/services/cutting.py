"""Cutting without a plan: a bar becomes blanks, bars that are left, a scrap end and swarf, in one entry."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.calc import sawing
from inventory.calc.sawing import Asked, Sawn
from inventory.calc.shares import share
from inventory.models import Bar, Cut, Entry, Holding, Item, Lot, Place
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
class SawJob:
    """What is sawn: blanks of an item, a length for own tooling, trim, what is left by the tape, or that it is scrap."""

    kerf_nm: int
    blank: Item | None = None
    pieces: int = 0
    piece_nm: int = 0
    own_nm: int = 0
    trim_nm: int = 0
    left: Sequence[BarLength] = ()
    scrap: bool = False
    slot: Place | None = None


def cut(bar: Bar, wanted: SawJob, *, locks: Locks, stamp: Stamp) -> Cut:
    """Book what the saw did to a whole bar."""
    transactions.assert_open()
    why = cuttable.why_not(bar, own_use_only=wanted.blank is None)
    if why:
        raise NotToBeCut(why)
    holding = Holding.objects.select_related("place").get(lot_id=bar.pk, on_hand__gt=0)
    piece = _piece_nm(bar, wanted)
    sawn = _sawn(bar, holding.on_hand, wanted, piece, stamp)
    entry, lots = _book(bar, holding, wanted, piece, sawn, locks, stamp)
    made = Cut.objects.create(
        entry=entry,
        bar=bar,
        taken_nm=holding.on_hand,
        blank=wanted.blank if wanted.pieces else None,
        pieces=wanted.pieces,
        piece_nm=piece,
        pieces_nm=wanted.pieces * piece,
        own_nm=wanted.own_nm,
        kerf_nm=wanted.kerf_nm,
        kerfs=sawn.kerfs,
        kerfs_nm=sawn.kerfs_nm,
        trim_nm=wanted.trim_nm,
        scrap_nm=sawn.scrap_nm,
        remnant_nm=sawn.left_nm,
        difference_nm=sawn.difference_nm,
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


def _piece_nm(bar: Bar, wanted: SawJob) -> int:
    """Return how long one piece is; the blank must be of the bar's own steel."""
    if not wanted.pieces:
        return 0
    if not 1 <= wanted.pieces <= sawing.MOST_PIECES:
        raise Invalid.field("pieces", f"Pieces: 1 to {sawing.MOST_PIECES} would work.")
    blank, item = wanted.blank, bar.lot.item
    if blank is None or blank.kind != Item.Kind.BLANK:
        raise Invalid.field("blank", "Blank: choose which blank these pieces are.")
    if (blank.grade_id and blank.grade_id != item.grade_id) or (
        blank.section_id and blank.section_id != item.section_id
    ):
        raise Invalid.field("blank", f"Blank: {blank.name} is not sawn from {item.name}; choose one of this steel.")
    piece = wanted.piece_nm or blank.blank_length_nm or 0
    if piece < 1:
        raise Invalid.field("length", f"Length: {blank.name} has none in the book; write how long a piece is.")
    return piece


def _sawn(bar: Bar, there_nm: int, wanted: SawJob, piece: int, stamp: Stamp) -> Sawn:
    left = [one.nm for one in wanted.left]
    asked = Asked(there_nm, wanted.kerf_nm, wanted.pieces, piece, wanted.own_nm, wanted.trim_nm, left)
    if not asked.parts and len(left) < 2:
        raise Invalid.field(
            "pieces", "Pieces: nothing is cut yet; write pieces, a length for own tooling, or two rests."
        )
    sawn = sawing.saw(asked)
    if sawn.short_nm:
        most = sawing.how_many(there_nm, piece, wanted.kerf_nm, wanted.trim_nm) if piece else 0
        fits = f"; {most} of {as_taped(piece)} fit" if piece else ""
        raise Invalid.field("pieces", f"Pieces: bar {bar.number} is {as_taped(there_nm)}, too short for this{fits}.")
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


def _book(
    bar: Bar, holding: Holding, wanted: SawJob, piece: int, sawn: Sawn, locks: Locks, stamp: Stamp
) -> tuple[Entry, list[Lot]]:
    arrivals = _arrivals(bar, holding.place, wanted, piece)
    lines = _bar_lines(bar.lot, holding.place, wanted, piece, sawn)
    entry = ledger.begin(Entry.Kind.CUT, lines=len(lines) + len(arrivals), stamp=stamp)
    lots = arriving.make_lots(entry, arrivals)
    worked_up = catalogue.place("WORKED-UP")
    ledger.post(entry, [*lines, *arriving.lines_in(lots, arrivals, worked_up)], locks)
    return entry, lots


def _bar_lines(lot: Lot, place: Place, wanted: SawJob, piece: int, sawn: Sawn) -> list[Line]:
    """Return where the bar goes: worked up, own use, swarf, scrap, and what the tape found off."""
    difference = catalogue.place("DIFFERENCE")
    lines = []
    if sawn.difference_nm < 0:
        lines.append(Line(lot=lot, qty=-sawn.difference_nm, source=difference, target=place))
    gone = {
        "WORKED-UP": wanted.pieces * piece + sawn.left_nm,
        "OWN-USE": wanted.own_nm,
        "SWARF": sawn.kerfs_nm,
        "SCRAP": wanted.trim_nm + sawn.scrap_nm,
        "DIFFERENCE": max(0, sawn.difference_nm),
    }
    lines += [Line(lot=lot, qty=nm, source=place, target=catalogue.place(code)) for code, nm in gone.items() if nm]
    return lines


def _arrivals(bar: Bar, place: Place, wanted: SawJob, piece: int) -> list[Arrival]:
    lot = bar.lot
    kept = [wanted.pieces * piece, *(one.nm for one in wanted.left)]
    costs: Sequence[int | None] = [None] * len(kept)
    if lot.cost_minor is not None and max(kept) > 0:
        costs = share(lot.cost_minor, kept)
    made = []
    if wanted.pieces and wanted.blank is not None:
        made.append(
            Arrival(
                item=wanted.blank,
                qty=wanted.pieces,
                place=catalogue.place(catalogue.HOME[Item.Kind.BLANK]),
                melt=lot.melt,
                cost_minor=costs[0],
                parents=[(lot, wanted.pieces * piece)],
                mass_mg=wanted.pieces * _mass(bar, piece),
                basis="worked out",
            )
        )
    slot = wanted.slot or place
    if slot.kind != Place.Kind.RACK:
        raise Invalid.field("slot", f"Slot: {slot.name} is no rack; choose a slot of the rack.")
    for one, cost in zip(wanted.left, costs[1:], strict=True):
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
