"""Readings of hardness, and what keeps a head from being sold: the crack check and the published window."""

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Hardness, LoadLot, Lot, OvenLoad, Pattern, Run, Step
from inventory.queries import along
from inventory.services.ledger import Stamp
from shop.shared import transactions
from shop.shared.errors import Invalid, Refusal


class NotChecked(Refusal):
    """A check without which no head is sold has not been made, or found something."""

    code = "not_checked"


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading in tenths of HRC; of a file pair the softer and the harder file."""

    method: str
    low: int
    high: int


def read(lot: Lot, reading: Reading, *, stamp: Stamp, load: OvenLoad | None = None, window: bool = True) -> Hardness:
    """Write a reading down; `window` says whether the published window is asked (not before the temper)."""
    transactions.assert_open()
    if reading.method not in Hardness.Method.values:
        raise Invalid.field(
            "method", f"Method: {reading.method[:20]!r} is none of {', '.join(Hardness.Method.values)}."
        )
    if not 1 <= reading.low <= reading.high <= 700:
        raise Invalid.field("hardness", "Hardness: 0.1 to 70 HRC, of a pair the softer file first, would work.")
    pattern = lot.run.pattern if lot.run else None
    return Hardness.objects.create(
        lot=lot,
        load=load,
        method=reading.method,
        low=reading.low,
        high=reading.high,
        inside=inside(pattern, reading) if window and pattern else None,
        at=stamp.when,
        by=stamp.by.person,
    )


def inside(pattern: Pattern, reading: Reading) -> bool | None:
    """Say whether a reading lies inside the published window; nothing where the pattern has none."""
    if pattern.hard_low is None or pattern.hard_high is None:
        return None
    return pattern.hard_low <= reading.low and reading.high <= pattern.hard_high


def check_before_sale(
    run: Run, lots: Sequence[Lot], reading: Reading | None, *, crack_checked: bool, at: Stamp
) -> None:
    """Refuse to let heads go to the shelf without the crack check and a reading inside the published window."""
    tempered = any(step.work == Step.Work.TEMPER for step in along.walk(run.route).steps)
    if run.pattern.crack_check and not crack_checked:
        raise NotChecked(
            f"Run {run.code} goes on only when every head was looked at for cracks; look, then tick the crack check.",
            {"crack_checked": "Not ticked yet."},
        )
    if run.pattern.hard_low is None or not tempered:
        return
    for lot in lots:
        if reading is not None:
            read(lot, reading, stamp=at, load=_last_temper(lot))
        _refuse_outside(run, lot)


def _last_temper(lot: Lot) -> OvenLoad | None:
    held = LoadLot.objects.filter(lot=lot, load__work=OvenLoad.Work.TEMPER, load__entry__reversed_by=None)
    last = held.select_related("load").order_by("-load_id").first()
    return last.load if last else None


def _refuse_outside(run: Run, lot: Lot) -> None:
    load = _last_temper(lot)
    low, high = run.pattern.hard_low or 0, run.pattern.hard_high or 0
    window = f"{low / 10:g} to {high / 10:g} HRC ({run.pattern.hard_source})"
    readings = Hardness.objects.filter(withdrawn_at=None, inside__isnull=False)
    own = readings.filter(load=load) if load else readings.filter(lot=lot)
    found = list(own.filter(lot__run__pattern=run.pattern_id).order_by("id"))
    if not found:
        raise NotChecked(
            f"Run {run.code} has no hardness reading since its temper; write one, {window}.",
            {"hardness": "No reading yet."},
        )
    outside = [one for one in found if not one.inside]
    if outside:
        raise NotChecked(
            f"A reading of {outside[-1].low / 10:g} HRC of run {run.code} lies outside {window}; temper or harden these "
            "again, scrap them, or take a wrong reading back.",
            {"hardness": f"Outside {window}."},
        )


def withdraw(reading: Hardness, *, stamp: Stamp) -> None:
    """Take a wrongly written reading back; it stays in the book and counts no more."""
    transactions.assert_open()
    Hardness.objects.filter(pk=reading.pk, withdrawn_at=None).update(withdrawn_at=stamp.at)
