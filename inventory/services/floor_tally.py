"""The floor is counted by run and step without being told what the book says; what differs is booked as unexplained."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Entry, Holding, Place, Run
from inventory.services import catalogue, ledger
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import audit, transactions
from shop.shared.errors import Invalid
from shop.shared.units.pieces import MOST_PIECES


@dataclass(frozen=True, slots=True)
class Tally:
    """So many of a run were found after a step, on the floor."""

    run: Run
    step: int
    found: int


@dataclass(frozen=True, slots=True)
class Difference:
    """What the book said and what was found."""

    tally: Tally
    before: int
    entry: Entry | None


def tally(found: Sequence[Tally], *, locks: Locks, stamp: Stamp) -> list[Difference]:
    """Book what differs, one entry a run and step."""
    transactions.assert_open()
    return [_one(each, locks, stamp) for each in found]


def _one(each: Tally, locks: Locks, stamp: Stamp) -> Difference:
    if not 0 <= each.found <= MOST_PIECES:
        raise Invalid.field("found", "Counted: 0 or more would work.")
    there = list(
        Holding.objects.filter(lot__run=each.run, place__kind=Place.Kind.FLOOR, step=each.step)
        .select_related("lot", "place")
        .order_by("-on_hand", "lot_id")
    )
    before = sum(holding.on_hand for holding in there)
    entry = None
    if each.found != before:
        if not there:
            raise Invalid.field("found", f"Run {each.run.code} never stood there; count it where it stands.")
        lines = _fewer(there, before - each.found) if each.found < before else [_more(there[0], each.found - before)]
        entry = ledger.commit(Entry.Kind.COUNT, lines, locks=locks, stamp=stamp)
    audit.write(
        at=stamp.at, by=stamp.by.label, action="floor counted", subject=f"run {each.run.code}",
        before={"step": each.step, "qty": before}, after={"qty": each.found, "entry": entry.pk if entry else None},
    )  # fmt: skip
    return Difference(each, before, entry)


def _fewer(there: Sequence[Holding], missing: int) -> list[Line]:
    difference, lines = catalogue.place("DIFFERENCE"), []
    for holding in there:
        take = min(missing, holding.on_hand)
        missing -= take
        if take:
            lines.append(Line(holding.lot, take, holding.place, difference, source_step=holding.step))
    return lines


def _more(holding: Holding, found: int) -> Line:
    return Line(holding.lot, found, catalogue.place("DIFFERENCE"), holding.place, target_step=holding.step)
