"""Counts of a run at its counting points: good, scrap, seconds and rework are all that was taken.

A count may come late or skip a point; the points that were passed by are then booked as good in the same transaction. No
count gets past a hardening or a temper: only an oven load moves pieces over those.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.models import CountReject, Entry, HeadWeight, Holding, Place, Run, RunCount, Step, StepCause
from inventory.queries import along
from inventory.queries.along import Walk
from inventory.services import catalogue, hardness, ledger
from inventory.services.count_facts import Fate, Reject, Seen, check_seen, handle_only
from inventory.services.ledger import Line, Locks, Stamp
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal


class Skipped(Refusal):
    """Counting points were passed by; they can be booked with this count."""

    code = "skipped"


class NotSoMany(Refusal):
    """The book has fewer pieces before this step than were counted."""

    code = "not_so_many"


class OvenFirst(Refusal):
    """The pieces have not been in the oven yet as far as the book knows."""

    code = "oven_first"


@dataclass(frozen=True, slots=True)
class Counted:
    """A count that was booked, and the points before it that were booked with it."""

    count: RunCount
    before: Sequence[RunCount]


Pick = tuple[Holding, int]


def count(
    run: Run, step: Step, seen: Seen, *, locks: Locks, stamp: Stamp, catch_up: bool = False, after: int | None = None
) -> Counted:
    """Count pieces of a run at a point of its head; `after` says where they stood, else those furthest on are meant."""
    transactions.assert_open()
    walk = along.walk(run.route)
    _check(run, step, seen)
    picks = _take_up(run, walk, step, seen.taken, after)
    skipped = _skipped(walk, picks, step)
    if skipped and not catch_up:
        raise _passed_by(run, step, skipped)
    before = []
    for point, qty in skipped:
        picks, made = _catch_up(run, walk, point, picks, qty, locks, stamp)
        before.append(made)
    if step.work == Step.Work.CHECK:
        hardness.check_before_sale(
            run, [h.lot for h, _ in picks], seen.reading, crack_checked=seen.crack_checked, at=stamp
        )
    return Counted(_book(run, walk, step, seen, picks, locks, stamp), before)


def _check(run: Run, step: Step, seen: Seen) -> None:
    if step.route_id != run.route_id or not step.counting_point:
        raise Invalid.field("step", f"Step: run {run.code} is not counted at {step.name}; choose one of its points.")
    if step.stage != Step.Stage.HEAD:
        raise Invalid.field("step", f"Step: {step.name} has a page of its own; count the heads before it here.")
    check_seen(step, seen)


def _take_up(run: Run, walk: Walk, step: Step, qty: int, after: int | None) -> list[Pick]:
    """Choose so many pieces that stand before a step, those furthest on first."""
    there = [h for h in along.on_floor(run) if h.step < step.number and (after is None or h.step == after)]
    reachable = [h for h in there if walk.oven_between(h.step, step.number) is None]
    total = sum(holding.on_hand for holding in reachable)
    if total < qty:
        _refuse_too_many(run, walk, step, qty, total, [h for h in there if h not in reachable])
    picks, left = [], qty
    for holding in reachable:
        take = min(left, holding.on_hand)
        if take:
            picks.append((holding, take))
        left -= take
    return picks


def _refuse_too_many(run: Run, walk: Walk, step: Step, qty: int, total: int, behind: Sequence[Holding]) -> None:
    if behind and total == 0:
        oven = walk.oven_between(behind[0].step, step.number)
        name = oven.name if oven else "the oven"
        raise OvenFirst(
            f"The {sum(h.on_hand for h in behind)} of run {run.code} have not been through {name} in the book; "
            "book the oven load first, with the time it happened.",
            {"step": f"{name} comes first."},
            {"step": oven.number if oven else None},
        )
    where = f"before {step.name}" if total else f"waiting for {step.name}"
    raise NotSoMany(
        f"The book has {total} of run {run.code} {where}, not {qty}; count {total} or fewer, or count the floor.",
        {"good": f"{total} stand before this step."},
        {"available": total, "requested": qty},
    )


def _skipped(walk: Walk, picks: Sequence[Pick], step: Step) -> list[tuple[Step, int]]:
    """Return the points that were passed by, in order, and how many pieces passed each."""
    points = walk.skipped(min(h.step for h, _ in picks), step)
    return [(point, sum(qty for h, qty in picks if h.step < point.number)) for point in points]


def _passed_by(run: Run, step: Step, skipped: Sequence[tuple[Step, int]]) -> Skipped:
    names = " and ".join(f"{qty} at {point.name}" for point, qty in skipped)
    return Skipped(
        f"Run {run.code} has not been counted before {step.name}: {names}; book these as good there too, or count them first.",
        {"skipped": f"Not counted yet: {names}."},
        {"skipped": [{"step": point.number, "name": point.name, "pieces": qty} for point, qty in skipped]},
    )


def _catch_up(
    run: Run, walk: Walk, point: Step, picks: Sequence[Pick], qty: int, locks: Locks, stamp: Stamp
) -> tuple[list[Pick], RunCount]:
    late = [(h, take) for h, take in picks if h.step < point.number]
    made = _book(run, walk, point, Seen(good=qty), late, locks, stamp, caught_up=True)
    moved = {h.pk for h, _ in late}
    at_point = {h.lot_id: h for h in along.on_floor(run) if h.step == point.number}
    return [(at_point[h.lot_id] if h.pk in moved else h, take) for h, take in picks], made


def _book(
    run: Run,
    walk: Walk,
    step: Step,
    seen: Seen,
    picks: Sequence[Pick],
    locks: Locks,
    stamp: Stamp,
    *,
    caught_up: bool = False,
) -> RunCount:
    lines = _lines(walk, step, seen, picks)
    entry = ledger.commit(Entry.Kind.RUN_COUNT, lines, locks=locks, stamp=stamp)
    return note(run, step, seen, entry, caught_up=caught_up)


def _lines(walk: Walk, step: Step, seen: Seen, picks: Sequence[Pick]) -> list[Line]:
    """Deal the pieces out: rejects first, of the lots taken up first, then the good ones."""
    last = walk.last_of_head()
    home = last is not None and step.number == last.number
    good_at = (catalogue.place("SHELF"), 0) if home else (catalogue.place("FLOOR"), step.number)
    ends: list[tuple[Place, int, int]] = [
        (*_goes_to(walk, one), one.qty) for one in seen.rejects if not handle_only(one)
    ]
    ends.append((*good_at, seen.good))
    lines: list[Line] = []
    stack = list(picks)
    for place, number, wanted in ends:
        left = wanted
        while left:
            holding, there = stack.pop(0)
            take = min(left, there)
            if there > take:
                stack.insert(0, (holding, there - take))
            left -= take
            lines.append(_line(holding, take, place, number))
    return _merged(lines)


def _line(holding: Holding, qty: int, place: Place, number: int) -> Line:
    if place.pk == holding.place_id and number == holding.step:
        raise Invalid.field("rejects", "Rejected: these stand before that step already; leave them uncounted.")
    return Line(
        lot=holding.lot, qty=qty, source=holding.place, source_step=holding.step, target=place, target_step=number
    )


def _goes_to(walk: Walk, one: Reject) -> tuple[Place, int]:
    if one.fate == Fate.SCRAP:
        return catalogue.place("SCRAP"), 0
    if one.fate == Fate.SECOND:
        return catalogue.place("SECONDS"), 0
    rework_to = one.cause.rework_to if one.cause else None
    return catalogue.place("FLOOR"), walk.stands_before(rework_to or 1)


def _merged(lines: Iterable[Line]) -> list[Line]:
    """Put lines of one lot with one way together."""
    found: dict[tuple[int, int, int, int], Line] = {}
    for line in lines:
        key = (line.lot.pk, line.source_step, line.target.pk, line.target_step)
        before = found.get(key)
        found[key] = line if before is None else _sum_of(before, line)
    return list(found.values())


def _sum_of(one: Line, other: Line) -> Line:
    return Line(one.lot, one.qty + other.qty, one.source, one.target, one.source_step, one.target_step)


def note(
    run: Run,
    step: Step,
    seen: Seen,
    entry: Entry,
    *,
    caught_up: bool = False,
    handles_lost: int = 0,
    early: bool = False,
) -> RunCount:
    """Write down what a count said beside the movements of its entry."""
    made = RunCount.objects.create(
        entry=entry,
        run=run,
        step=step,
        taken=seen.taken,
        good=seen.good,
        scrap=seen.of(Fate.SCRAP),
        second=seen.of(Fate.SECOND),
        rework=seen.of(Fate.REWORK),
        handles_lost=handles_lost,
        caught_up=caught_up,
        crack_checked=seen.crack_checked,
        minutes=seen.minutes,
        people=seen.people,
        light=seen.light,
        in_class=seen.in_class,
        heavy=seen.heavy,
        early=early,
    )
    CountReject.objects.bulk_create(
        [CountReject(count=made, cause=one.cause, qty=one.qty, fate=one.fate) for one in seen.rejects]
    )
    HeadWeight.objects.bulk_create(
        [HeadWeight(count=made, mass_mg=w.mass_mg, typed=w.typed, number=w.number) for w in seen.weights]
    )
    return made


def name_cause(reject: CountReject, name: str, *, at: dt.datetime, by: Actor) -> CountReject:
    """Say afterwards why pieces were no good, where that was not known yet; what became of them stays."""
    transactions.assert_open()
    held = (
        CountReject.objects.select_for_update(of=("self",))
        .select_related("count__run", "count__step", "cause")
        .get(pk=reject.pk)
    )
    if Entry.objects.filter(reverses=held.count.entry_id).exists():
        raise Invalid.field("cause", "Cause: this count was undone; name the cause with the count that stands for it.")
    if held.cause is not None:
        raise Invalid.field("cause", f"Cause: it was said already, {held.cause.name}; undo the count to say otherwise.")
    held.cause = cause = _own_cause(held.count.step, name)
    held.save(update_fields=["cause"])
    run = held.count.run
    audit.write(
        at=at, by=by.label, action="cause named", subject=f"run {run.code}",
        after={"step": held.count.step.name, "pieces": held.qty, "cause": cause.name},
    )  # fmt: skip
    return held


def _own_cause(step: Step, name: str) -> StepCause:
    causes = step.causes.filter(handle_only=False).order_by("pk")
    found = next((cause for cause in causes if cause.name == name), None)
    if found is None:
        names = ", ".join(cause.name for cause in causes) or "none; write one into the route first"
        raise Invalid.field("cause", f"Cause: {step.name} has no cause {name[:40]!r}; it has {names}.")
    return found
