"""Runs begin: blanks of one mill heat go to the floor as heads under one code. Runs are split, joined and opened."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.models import Entry, Holding, Item, Lot, Melt, Place, Run
from inventory.queries import along
from inventory.services import arriving, catalogue, ledger
from inventory.services.allocating import NotEnough
from inventory.services.arriving import Arrival
from inventory.services.ledger import Line, Locks, Stamp
from shop.shared import audit, series, transactions
from shop.shared.errors import Invalid, Refusal

LETTERS, FIGURES = "ABCDEFGHJKLMNPQRSTUVWXYZ", "23456789"  # what a punch cannot mistake: no I, O, 0, 1
MOST = 2_000


class NotOneRun(Refusal):
    """These pieces cannot be of one run; the sentence says why."""

    code = "not_one_run"


@dataclass(frozen=True, slots=True)
class Start:
    """What is started: which head out of which blanks of which melt, how many, and how many good ones are wanted.

    In the wood room a handle is started out of boards, which have no melt.
    """

    head: Item
    blank: Item
    melt: Melt | None
    qty: int
    wanted: int | None = None
    sure_percent: int = 90
    kind: str = Run.Kind.SERIES
    note: str = ""


def next_code() -> str:
    """Return the next code that no run has: a letter and a figure, then more figures."""
    while True:
        number, code = series.take("run"), ""
        figures = 1
        while number >= len(LETTERS) * len(FIGURES) ** figures and figures < 3:
            number -= len(LETTERS) * len(FIGURES) ** figures
            figures += 1
        for _ in range(figures):
            number, digit = divmod(number, len(FIGURES))
            code = FIGURES[digit] + code
        code = LETTERS[number % len(LETTERS)] + code
        if not Run.objects.filter(code=code).exists():
            return code


def free_blanks(blank: Item, melt: Melt | None) -> list[Holding]:
    """Return the free blanks of one mill heat, or boards, the oldest lot first."""
    there = Holding.objects.filter(item=blank, lot__melt=melt, place__sellable=True, step=0, on_hand__gt=F("allocated"))
    return list(there.select_related("lot__item", "lot__melt", "place").order_by("lot_id", "id"))


def start(wanted: Start, *, locks: Locks, stamp: Stamp) -> Run:
    """Start a run from sawn blanks of one mill heat."""
    transactions.assert_open()
    route = along.newest_route(wanted.head)
    if route is None or wanted.head.pattern is None:
        raise Invalid.field("head", f"{wanted.head.code} has no pattern with a route; write its route first.")
    _check(wanted)
    run = Run.objects.create(
        code=next_code(),
        kind=wanted.kind,
        pattern=wanted.head.pattern,
        route=route,
        item=wanted.head,
        melt=wanted.melt,
        wanted=wanted.wanted,
        sure_percent=wanted.sure_percent,
        started_at=stamp.when,
        note=wanted.note,
    )
    _bring(run, wanted.blank, wanted.qty, locks, stamp)
    return run


def top_up(run: Run, blank: Item, qty: int, *, locks: Locks, stamp: Stamp) -> Lot:
    """Start more pieces of a run that is short, of the same mill heat and under the same code."""
    transactions.assert_open()
    return _bring(run, blank, qty, locks, stamp)


def _check(wanted: Start) -> None:
    of_wood = wanted.head.kind == Item.Kind.HANDLE
    kind = Item.Kind.CONSUMABLE if of_wood else Item.Kind.BLANK
    unlike = wanted.blank.kind != kind or wanted.blank.unit != Item.Unit.PIECE
    if unlike or wanted.blank.pattern_id != wanted.head.pattern_id:
        raise Invalid.field("blank", f"{wanted.blank.code} is no blank of {wanted.head.code}; choose one of its own.")
    if of_wood != (wanted.melt is None):
        raise Invalid.field("melt", "Mill heat: a head is of one, a handle of none.")
    if not 1 <= wanted.sure_percent <= 99:
        raise Invalid.field("sure_percent", "How sure: 1 to 99 in a hundred would work.")
    if wanted.wanted is not None and not 1 <= wanted.wanted <= MOST:
        raise Invalid.field("wanted", f"Wanted: 1 to {MOST} good ones would work.")


def _bring(run: Run, blank: Item, qty: int, locks: Locks, stamp: Stamp) -> Lot:
    if not 1 <= qty <= MOST:
        raise Invalid.field("qty", f"How many: start 1 to {MOST} at once.")
    picks, left = [], qty
    for holding in free_blanks(blank, run.melt):
        take = min(left, holding.on_hand - holding.allocated)
        picks.append((holding, take))
        left -= take
        if not left:
            break
    if left:
        of = f" of mill heat {run.melt.heat_number}" if run.melt else ""
        raise NotEnough(
            f"{qty - left} blanks {blank.code}{of} lie free, not {qty}; "
            "start fewer, saw more of it, or start a second run of another mill heat.",
            {"qty": f"Only {qty - left} lie free."},
            {"available": qty - left, "requested": qty},
        )
    worked, floor = catalogue.place("WORKED-UP"), catalogue.place("FLOOR")
    out = [Line(lot=holding.lot, qty=take, source=holding.place, target=worked) for holding, take in picks]
    arrival = Arrival(run.item, qty, floor, melt=run.melt, parents=[(h.lot, take) for h, take in picks])
    entry = ledger.begin(Entry.Kind.RUN_STARTED, lines=len(out) + 1, stamp=stamp)
    (lot,) = arriving.make_lots(entry, [arrival])
    _of_run(lot, run)
    ledger.post(entry, [*out, *arriving.lines_in([lot], [arrival], worked)], locks)
    return lot


def _of_run(lot: Lot, run: Run) -> None:
    lot.run = run
    lot.save(update_fields=["run"])


def open_run(lot: Lot, *, stamp: Stamp, wanted: int | None = None) -> Run:
    """Give a code to heads that were on the floor before the book; they go on from where they stand."""
    transactions.assert_open()
    route = along.newest_route(lot.item)
    if lot.run_id is not None or lot.item.kind != Item.Kind.HEAD or route is None or lot.item.pattern is None:
        raise NotOneRun(f"Lot {lot.code} cannot be opened as a run: it needs heads with a route and without a run.")
    run = Run.objects.create(
        code=next_code(),
        kind=Run.Kind.OPENING,
        pattern=lot.item.pattern,
        route=route,
        item=lot.item,
        melt=lot.melt,
        wanted=wanted,
        started_at=stamp.when,
    )
    _of_run(lot, run)
    _audit(run, "run opened", stamp, {"lot": lot.code})
    return run


def split(run: Run, step: int, qty: int, *, locks: Locks, stamp: Stamp) -> Run:
    """Part a run: so many of the pieces that stand after a step go on under a code of their own."""
    transactions.assert_open()
    there = [holding for holding in along.on_floor(run) if holding.step == step]
    total = sum(holding.on_hand for holding in there)
    if not 1 <= qty <= total:
        raise Invalid.field("qty", f"How many: {total} of run {run.code} stand there; part 1 to {total} off.")
    made = Run.objects.create(
        code=next_code(),
        kind=run.kind,
        pattern=run.pattern,
        route=run.route,
        item=run.item,
        melt=run.melt,
        started_at=run.started_at,
        split_from=run,
    )
    floor, worked = catalogue.place("FLOOR"), catalogue.place("WORKED-UP")
    picks = _deal(there, qty)
    arrivals = [child(holding, take, floor, step) for holding, take in picks]
    out = [Line(lot=h.lot, qty=take, source=floor, source_step=step, target=worked) for h, take in picks]
    entry = ledger.begin(Entry.Kind.RUN_SPLIT, lines=2 * len(picks), stamp=stamp)
    lots = children(entry, arrivals, [made] * len(picks))
    ledger.post(entry, [*out, *arriving.lines_in(lots, arrivals, worked)], locks)
    return made


def _deal(there: Sequence[Holding], qty: int) -> list[tuple[Holding, int]]:
    picks = []
    for holding in there:
        take = min(qty, holding.on_hand)
        if take:
            picks.append((holding, take))
        qty -= take
    return picks


def child(holding: Holding, qty: int, place: Place, step: int) -> Arrival:
    """Return part of a lot as a lot of its own at a place and step."""
    lot = holding.lot
    return Arrival(lot.item, qty, place, melt=lot.melt, step=step, parents=[(lot, qty)], quality=lot.quality)


def children(entry: Entry, arrivals: Sequence[Arrival], runs: Sequence[Run]) -> list[Lot]:
    """Make the lots of parts, each of its run."""
    lots = arriving.make_lots(entry, arrivals)
    for lot, run in zip(lots, runs, strict=True):
        _of_run(lot, run)
    return lots


def join(run: Run, into: Run, *, stamp: Stamp) -> Run:
    """Let a run go on under another's code: one steel, one route, and nothing of it struck yet that says otherwise."""
    transactions.assert_open()
    if run.pk == into.pk or (run.melt_id, run.route_id, run.item_id) != (into.melt_id, into.route_id, into.item_id):
        raise NotOneRun(
            f"Run {run.code} and run {into.code} cannot be joined: both must be of one mill heat, head and route."
        )
    struck = next((step for step in along.walk(run.route).steps if step.strike_code), None)
    if struck and any(holding.step >= struck.number for holding in along.on_floor(run)):
        raise NotOneRun(f"Code {run.code} is struck at {struck.name} already; let the run go on under it.")
    Lot.objects.filter(run=run).update(run=into)
    run.joined_into = into
    run.save(update_fields=["joined_into"])
    _audit(run, "run joined", stamp, {"into": into.code})
    return into


def _audit(run: Run, action: str, stamp: Stamp, after: dict[str, object]) -> None:
    audit.write(at=stamp.at, by=stamp.by.label, action=action, subject=f"run {run.code}", after=after)


def want(run: Run, wanted: int | None, *, at: dt.datetime, stamp: Stamp) -> Run:
    """Say how many good ones a run is for."""
    transactions.assert_open()
    if wanted is not None and not 1 <= wanted <= MOST:
        raise Invalid.field("wanted", f"Wanted: 1 to {MOST} good ones would work.")
    run.wanted = wanted
    run.save(update_fields=["wanted"])
    _audit(run, "run wanted", stamp, {"wanted": wanted, "at": at.isoformat()})
    return run
