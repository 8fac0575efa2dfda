"""Oven loads: hardening and tempering.

Only a load moves pieces over a hardening or a temper. One that fell short of temperature or time puts its pieces back to
where they have to be tempered again, so nothing can be counted past it.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Entry, Holding, LoadLot, Lot, Machine, OvenLoad, Place, Run, Step
from inventory.queries import along
from inventory.services import arriving, catalogue, hardness, ledger, starting
from inventory.services.hardness import Reading
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import series, transactions
from shop.shared.errors import Invalid, Refusal

HEAT_UP_MINUTES = 30  # common practice, no source: a loaded oven takes about that long to come back to temperature
CLOSE_DC = (
    60  # tenths of a degree: two loads set closer than 6 degrees C are the same temper (shop practice, no source)
)


class NotTogether(Refusal):
    """These pieces do not go into one load."""

    code = "not_together"


class NotThisStep(Refusal):
    """The pieces do not stand before this work of the oven."""

    code = "not_this_step"


@dataclass(frozen=True, slots=True)
class Into:
    """So many pieces of a run into a load, with what its trial piece showed or a reading."""

    run: Run
    qty: int
    trial: str = ""
    reading: Reading | None = None


@dataclass(frozen=True, slots=True)
class Fire:
    """How a load is set: temperature in tenths of a degree Celsius, as typed, soak and heat-up in minutes."""

    temperature_dc: int
    typed: str
    soak_minutes: int = 0
    heat_up_minutes: int = HEAT_UP_MINUTES
    oven: Machine | None = None


@dataclass(frozen=True, slots=True)
class _Share:
    wanted: Into
    step: Step
    whole: list[tuple[Holding, int]]
    parts: list[tuple[Holding, int]]


def harden(loaded: Sequence[Into], fire: Fire, *, locks: Locks, stamp: Stamp) -> OvenLoad:
    """Book pieces as hardened together; every run with its own trial piece or a reading."""
    transactions.assert_open()
    for one in loaded:
        if not one.trial.strip() and one.reading is None:
            raise Invalid.field(
                "trial", f"Trial piece: say what that of run {one.run.code} showed, or write a reading of it."
            )
    shares = [_share(one, Step.Work.HARDEN) for one in loaded]
    load = _load(OvenLoad.Work.HARDEN, shares, fire, "FLOOR", locks, stamp)
    _close(load, reached=True, at=stamp.when)
    for one in loaded:
        if one.reading:
            for held in load.lots.filter(lot__run=one.run).select_related("lot"):
                hardness.read(held.lot, one.reading, stamp=stamp, load=load, window=False)
    return load


def temper_in(loaded: Sequence[Into], fire: Fire, *, locks: Locks, stamp: Stamp) -> OvenLoad:
    """Put pieces in to be tempered; what goes together has one temperature and one soak."""
    transactions.assert_open()
    if not 1 <= fire.soak_minutes <= 10_000 or not 500 <= fire.temperature_dc <= 8_000:
        raise Invalid.field("temperature", "Temperature: 50 to 800 °C, and a soak of one minute or more, would work.")
    shares = [_share(one, Step.Work.TEMPER) for one in loaded]
    for share in shares:
        if (
            abs(share.step.temperature_dc - fire.temperature_dc) > CLOSE_DC
            or share.step.soak_minutes > fire.soak_minutes
        ):
            raise NotTogether(
                f"Run {share.wanted.run.code} wants {degrees(share.step.temperature_dc)} for {share.step.soak_minutes} "
                "minutes; temper it in another load, or set this one so.",
                {"temperature": "Not what this run wants."},
            )
    return _load(OvenLoad.Work.TEMPER, shares, fire, "OVEN", locks, stamp)


def take_out(
    load: OvenLoad,
    *,
    locks: Locks,
    stamp: Stamp,
    at_temperature_at: dt.datetime | None = None,
    reached: bool = True,
) -> OvenLoad:
    """Take a tempering load out; short of temperature or soak its pieces are still to be tempered."""
    transactions.assert_open()
    if load.out_at is not None or load.work != OvenLoad.Work.TEMPER:
        raise Invalid.field("load", f"Load {load.number} is out of the oven already; look at its readings.")
    hot = at_temperature_at or load.in_at + dt.timedelta(minutes=load.heat_up_minutes)
    if hot < load.in_at:
        raise Invalid.field("at_temperature_at", "At temperature: that is before the load went in.")
    if stamp.when < load.in_at:
        raise Invalid.field("happened_at", "Happened at lies before the load went in; write a later time.")
    enough = reached and stamp.when - hot >= dt.timedelta(minutes=load.soak_minutes)
    lines = []
    for held in load.lots.select_related("lot__item", "lot__run__route", "step"):
        back = held.step.number if enough else _before(held)
        lines.append(
            Line(
                lot=held.lot, qty=held.qty, source=catalogue.place("OVEN"), source_step=held.step.number,
                target=catalogue.place("FLOOR"), target_step=back,
            )
        )  # fmt: skip
    load.out_entry = ledger.commit(Entry.Kind.OVEN, lines, locks=locks, stamp=stamp)
    load.at_temperature_at = hot if hot <= stamp.when else None
    _close(load, reached=enough, at=stamp.when)
    return load


def _before(held: LoadLot) -> int:
    return along.Walk(list(Step.objects.filter(route=held.step.route_id).order_by("number"))).stands_before(
        held.step.number
    )


def _close(load: OvenLoad, *, reached: bool, at: dt.datetime) -> None:
    load.out_at, load.reached = at, reached
    load.save(update_fields=["out_at", "reached", "at_temperature_at", "out_entry"])
    load.lots.update(open=False)


def _share(wanted: Into, work: str) -> _Share:
    """Find the pieces of a run that stand before this work, and whether their lots go whole."""
    walk = along.walk(wanted.run.route)
    there = []
    for holding in along.on_floor(wanted.run):
        step = walk.next_oven(holding.step)
        if step is not None and step.work == work:
            there.append((holding, step))
    if not there:
        raise NotThisStep(f"No piece of run {wanted.run.code} stands before a {work}; look where it stands.")
    step = there[0][1]
    here = [holding for holding, one in there if one.pk == step.pk]
    total = sum(holding.on_hand for holding in here)
    if not 1 <= wanted.qty <= total:
        raise Invalid.field("qty", f"How many: {total} of run {wanted.run.code} stand there; load 1 to {total}.")
    _refuse_uncounted(wanted.run, walk, here, step)
    whole: list[tuple[Holding, int]] = []
    parts: list[tuple[Holding, int]] = []
    left = wanted.qty
    for holding in here:
        take = min(left, holding.on_hand)
        if take:
            (whole if _goes_whole(holding, take) else parts).append((holding, take))
        left -= take
    return _Share(wanted, step, whole, parts)


def _refuse_uncounted(run: Run, walk: along.Walk, here: Sequence[Holding], step: Step) -> None:
    for holding in here:
        skipped = walk.skipped(holding.step, step)
        if skipped:
            raise NotThisStep(
                f"Run {run.code} has not been counted at {skipped[0].name}; count it there, then load the oven.",
                facts={"step": skipped[0].number},
            )


def _goes_whole(holding: Holding, take: int) -> bool:
    """A lot goes whole where none of it stands elsewhere; else the part gets a lot of its own."""
    elsewhere = Holding.objects.filter(lot=holding.lot_id, on_hand__gt=0, place__inside=True).exclude(pk=holding.pk)
    return take == holding.on_hand and not elsewhere.exists()


def _load(work: str, shares: Sequence[_Share], fire: Fire, place: str, locks: Locks, stamp: Stamp) -> OvenLoad:
    if len({share.wanted.run.pk for share in shares}) != len(shares) or not shares:
        raise Invalid.field("runs", "Runs: name one or more runs, each once.")
    moves: list[Line] = []
    target = catalogue.place(place)
    stays: list[tuple[Lot, int, _Share]] = []
    arrivals, splits = [], []
    for share in shares:
        moves += [_move(h, take, target, share.step) for h, take in share.whole]
        stays += [(h.lot, take, share) for h, take in share.whole]
        splits += [(h, take, share) for h, take in share.parts]
    worked = catalogue.place("WORKED-UP")
    for h, take, share in splits:
        arrivals.append(starting.child(h, take, target, share.step.number))
        moves.append(Line(lot=h.lot, qty=take, source=h.place, source_step=h.step, target=worked))
    entry = ledger.begin(Entry.Kind.OVEN, lines=len(moves) + len(arrivals), stamp=stamp)
    lots = starting.children(entry, arrivals, [share.wanted.run for _, _, share in splits])
    ledger.post(entry, [*moves, *arriving.lines_in(lots, arrivals, worked)], locks)
    stays += [(lot, take, share) for lot, (_, take, share) in zip(lots, splits, strict=True)]
    return _write(work, stays, fire, entry, stamp)


def _move(holding: Holding, qty: int, target: Place, step: Step) -> Line:
    return Line(
        lot=holding.lot, qty=qty, source=holding.place, source_step=holding.step, target=target, target_step=step.number
    )


def _write(work: str, held: Sequence[tuple[Lot, int, _Share]], fire: Fire, entry: Entry, stamp: Stamp) -> OvenLoad:
    load = OvenLoad.objects.create(
        number=series.take("oven load"),
        work=work,
        oven=fire.oven,
        temperature_dc=fire.temperature_dc,
        typed=fire.typed[:20],
        soak_minutes=fire.soak_minutes,
        heat_up_minutes=fire.heat_up_minutes,
        in_at=stamp.when,
        by=stamp.by.person,
        entry=entry,
    )
    LoadLot.objects.bulk_create(
        [
            LoadLot(load=load, lot=lot, step=share.step, qty=qty, trial=share.wanted.trial.strip()[:120])
            for lot, qty, share in held
        ]
    )
    return load


def undone(loaded: OvenLoad | None, out: OvenLoad | None) -> None:
    """Follow an entry that was undone: the load never went in, or it is in the oven still."""
    if loaded is not None:
        loaded.lots.update(open=False)
    if out is not None:
        out.out_at, out.reached, out.at_temperature_at, out.out_entry = None, None, None, None
        out.save(update_fields=["out_at", "reached", "at_temperature_at", "out_entry"])
        out.lots.update(open=True)


def degrees(temperature_dc: int) -> str:
    """Write a temperature in both scales: 204 °C (399 °F)."""
    return f"{temperature_dc / 10:.0f} °C ({temperature_dc / 10 * 9 / 5 + 32:.0f} °F)"
