"""Heads get their handles, cure, and are packed; handles are sorted when they are picked up."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Sum

from inventory.models import Entry, HandleSort, Holding, Item, Lot, Place, Run, RunCount, Step
from inventory.queries import along
from inventory.services import arriving, catalogue, count_facts, ledger, making, run_counting
from inventory.services.count_facts import Fate, Seen
from inventory.services.ledger import Line, Locks, Stamp
from inventory.services.making import Pick
from inventory.services.run_counting import NotSoMany
from shop.shared import transactions
from shop.shared.errors import Invalid, Refusal
from shop.shared.units.pieces import MOST_PIECES

GLUE_MINUTES = 24 * 60  # common practice, no source: glue in the eye is left a day


class StillCuring(Refusal):
    """Glue or oil is not dry yet."""

    code = "still_curing"


class NoHandles(Refusal):
    """Parts for the tools are missing."""

    code = "parts_missing"


@dataclass(frozen=True, slots=True)
class Hafted:
    """What is hafted: the tool, what was seen, and handles that were lost without a head."""

    tool: Item
    seen: Seen
    handles_lost: int = 0
    glued: bool = False


def step_of(run: Run, work: str) -> Step:
    """Return the run's counting point of some work, as hafting or packing."""
    step = along.walk(run.route).of_work(work)
    if step is None:
        raise Invalid.field("run", f"Run {run.code} has no {work} on its route; its heads are made up on the Shelf.")
    return step


def heads_on_shelf(run: Run) -> list[Holding]:
    """Return the finished heads of a run."""
    return along.heads_of(run, Place.Kind.SHELF, Place.Kind.BIN)


def other_parts(tool: Item, run: Run) -> dict[int, int]:
    """Return what goes into one tool besides the run's head, by item."""
    recipe = {part.part_id: part.quantity for part in tool.recipe.all()}
    if recipe.pop(run.item_id, 0) != 1:
        raise Invalid.field("tool", f"{tool.code} is not made of one {run.item.code}; choose a tool of this head.")
    return recipe


def haft(run: Run, hafted: Hafted, *, locks: Locks, stamp: Stamp) -> RunCount:
    """Book heads with handles and wedges as tools that cure; split handles and spoilt heads are scrap."""
    transactions.assert_open()
    step, seen = step_of(run, Step.Work.HAFT), hafted.seen
    count_facts.check_seen(step, seen)
    if seen.of(Fate.SECOND) or seen.of(Fate.REWORK):
        raise Invalid.field("rejects", "Rejected: at the vice a head is good, scrap, or goes without a new handle.")
    if not 0 <= hafted.handles_lost <= MOST_PIECES:
        raise Invalid.field("handles_lost", "Handles lost: 0 or more would work.")
    heads = _heads(run, seen.taken)
    good, spoilt = _part(heads, seen.good)
    others = other_parts(hafted.tool, run)
    picks = [*good, *making.free_picks(others, seen.good)] if seen.good else []
    lines, arrivals = _lines(run, hafted, picks, spoilt, others, step)
    entry = ledger.begin(Entry.Kind.HAFTED, lines=len(lines) + len(arrivals), stamp=stamp)
    lots = arriving.make_lots(entry, arrivals)
    dry = stamp.when + _cures(run, step, glued=hafted.glued)
    for lot in lots:
        lot.run, lot.usable_from = run, dry
        lot.save(update_fields=["run", "usable_from"])
    ledger.post(entry, [*lines, *arriving.lines_in(lots, arrivals, catalogue.place("WORKED-UP"))], locks)
    return run_counting.note(run, step, seen, entry, handles_lost=hafted.handles_lost)


def _heads(run: Run, qty: int) -> list[Pick]:
    picks, left = [], qty
    for holding in heads_on_shelf(run):
        take = min(left, holding.on_hand - holding.allocated)
        if take:
            picks.append(Pick(holding, take))
        left -= take
    if left:
        raise NotSoMany(
            f"{qty - left} finished heads of run {run.code} are free, not {qty}; haft fewer, or count what is checked.",
            {"good": f"{qty - left} heads are free."},
            {"available": qty - left, "requested": qty},
        )
    return picks


def _part(heads: Sequence[Pick], good: int) -> tuple[list[Pick], list[Pick]]:
    kept, spoilt = [], []
    for pick in heads:
        take = min(good, pick.qty)
        good -= take
        if take:
            kept.append(Pick(pick.holding, take))
        if pick.qty > take:
            spoilt.append(Pick(pick.holding, pick.qty - take))
    return kept, spoilt


def _lines(
    run: Run, hafted: Hafted, picks: Sequence[Pick], spoilt: Sequence[Pick], others: Mapping[int, int], step: Step
) -> tuple[list[Line], list[arriving.Arrival]]:
    worked, scrap = catalogue.place("WORKED-UP"), catalogue.place("SCRAP")
    lines = [Line(lot=p.holding.lot, qty=p.qty, source=p.holding.place, target=worked) for p in picks]
    lines += [Line(lot=p.holding.lot, qty=p.qty, source=p.holding.place, target=scrap) for p in spoilt]
    lines += _lost_handles(hafted, picks, others, scrap)
    if not hafted.seen.good:
        return lines, []
    recipe = {run.item_id: 1, **others}
    arrivals = making.tool_lots(hafted.tool, hafted.seen.good, picks, recipe, catalogue.place("CURE"), step=step.number)
    return lines, arrivals


def _lost_handles(hafted: Hafted, picks: Sequence[Pick], others: Mapping[int, int], scrap: Place) -> list[Line]:
    """Split handles go to scrap, of those that lie free besides the ones that were fitted."""
    left = hafted.handles_lost
    if not left:
        return []
    used = {p.holding.pk: p.qty for p in picks}
    there = Holding.objects.filter(
        item_id__in=others, item__kind=Item.Kind.HANDLE, place__sellable=True, step=0, on_hand__gt=F("allocated")
    )
    lines = []
    for holding in there.select_related("lot__item", "place").order_by("lot_id", "id"):
        take = min(left, holding.on_hand - holding.allocated - used.get(holding.pk, 0))
        if take > 0:
            lines.append(Line(lot=holding.lot, qty=take, source=holding.place, target=scrap))
            left -= take
    if left > 0:
        raise NoHandles(
            f"{left} of the handles lost are not in the book; count the handles first, or write fewer.",
            {"handles_lost": "More than lie free."},
        )
    return lines


def _cures(run: Run, step: Step, *, glued: bool) -> dt.timedelta:
    """Return how long a tool cures after hafting: glue where there is some, then oil."""
    steps = [s for s in along.walk(run.route).steps if s.number >= step.number and not s.optional]
    minutes = sum(s.cure_minutes for s in steps if s.work != Step.Work.PACK)
    return dt.timedelta(minutes=minutes + (GLUE_MINUTES if glued else 0))


def pack(run: Run, seen: Seen, *, locks: Locks, stamp: Stamp, early: bool = False) -> RunCount:
    """Book cured tools as packed: good ones to the shelf, others to seconds or scrap."""
    transactions.assert_open()
    step = step_of(run, Step.Work.PACK)
    count_facts.check_seen(step, seen)
    if seen.of(Fate.REWORK):
        raise Invalid.field("rejects", "Rejected: a packed tool is not worked over; leave it curing and haft it anew.")
    there = along.curing(run)
    total = sum(holding.on_hand for holding in there)
    if total < seen.taken:
        raise NotSoMany(
            f"{total} tools of run {run.code} cure in the book, not {seen.taken}; count {total} or fewer, or haft first.",
            {"good": f"{total} cure."},
            {"available": total, "requested": seen.taken},
        )
    picks = _oldest(there, seen.taken)
    early_ones = [h for h, _ in picks if h.lot.usable_from and h.lot.usable_from > stamp.when]
    if early_ones and not (early and stamp.reason.strip()):
        raise StillCuring(
            f"{sum(h.on_hand for h in early_ones)} of run {run.code} are not dry yet; wait, or release them early with a reason.",
            {"early": "Not dry yet: say why they go all the same."},
            {"dry_at": max(h.lot.usable_from for h in early_ones if h.lot.usable_from).isoformat()},
        )
    entry = ledger.commit(Entry.Kind.RUN_COUNT, _ends(picks, seen), locks=locks, stamp=stamp)
    return run_counting.note(run, step, seen, entry, early=bool(early_ones))


def _oldest(there: Sequence[Holding], qty: int) -> list[tuple[Holding, int]]:
    picks = []
    for holding in sorted(there, key=lambda h: (h.lot.usable_from or h.lot.born_at, h.lot_id)):
        take = min(qty, holding.on_hand)
        if take:
            picks.append((holding, take))
        qty -= take
    return picks


def _ends(picks: Sequence[tuple[Holding, int]], seen: Seen) -> list[Line]:
    ends = [("SCRAP", seen.of(Fate.SCRAP)), ("SECONDS", seen.of(Fate.SECOND)), ("SHELF", seen.good)]
    lines, stack = [], list(picks)
    for code, wanted in ends:
        left = wanted
        while left:
            holding, there = stack.pop(0)
            take = min(left, there)
            if there > take:
                stack.insert(0, (holding, there - take))
            left -= take
            lines.append(
                Line(
                    lot=holding.lot, qty=take, source=holding.place, source_step=holding.step,
                    target=catalogue.place(code),
                )
            )  # fmt: skip
    return lines


def sort_handles(
    lot: Lot, good: int, bad: int, *, locks: Locks, stamp: Stamp, moisture_permille: int | None = None
) -> HandleSort:
    """Note how a lot of handles sorted out; those that are no good are scrap."""
    transactions.assert_open()
    holdings = list(
        Holding.objects.filter(lot=lot, place__sellable=True, step=0, on_hand__gt=0)
        .select_related("place")
        .order_by("id")
    )
    there = sum(holding.on_hand for holding in holdings)
    if lot.item.kind != Item.Kind.HANDLE:
        raise Invalid.field("lot", f"Lot {lot.code} is no handles; choose a lot of handles.")
    if min(good, bad) < 0 or not 1 <= good + bad <= there:
        raise Invalid.field("good", f"Sorted: {there} of lot {lot.code} lie there; good and bad come to 1 to {there}.")
    if moisture_permille is not None and not 0 <= moisture_permille <= 1000:
        raise Invalid.field("moisture", "Moisture: 0 to 100 % would work.")
    entry = None
    if bad:
        entry = ledger.commit(Entry.Kind.SORTED, _bad(holdings, bad), locks=locks, stamp=stamp)
    return HandleSort.objects.create(
        entry=entry, lot=lot, good=good, bad=bad, moisture_permille=moisture_permille, at=stamp.when, by=stamp.by.person
    )


@dataclass(frozen=True, slots=True)
class Unsorted:
    """Handles that nobody has sorted yet, and how many of them are likely good."""

    lying: int
    expected: int


BELIEVED_GOOD = (92, 8)  # of a hundred handles as bought, common practice, no source; worth as many pieces


def unsorted(items: Sequence[Item]) -> Unsorted:
    """Return what lies unsorted of these handles; once sorted a handle's loss is counted no more."""
    handles = [item.pk for item in items if item.kind == Item.Kind.HANDLE]
    standing = HandleSort.objects.filter(lot__item__in=handles).exclude(entry__reversed_by__isnull=False)
    good, bad = BELIEVED_GOOD
    sums = standing.aggregate(good=Sum("good"), bad=Sum("bad"))
    good, bad = good + int(sums["good"] or 0), bad + int(sums["bad"] or 0)
    there = Holding.objects.filter(item__in=handles, place__sellable=True, step=0, on_hand__gt=0)
    lying = 0
    for lot, qty in there.order_by().values_list("lot_id").annotate(qty=Sum("on_hand")):
        sorted_good = standing.filter(lot=lot).aggregate(good=Sum("good"))["good"] or 0
        lying += max(0, int(qty) - int(sorted_good))
    return Unsorted(lying, lying * good // (good + bad))


def moisture(typed: str) -> int | None:
    """Read a moisture in per cent, as parts of a thousand."""
    text = typed.strip().removesuffix("%").strip().replace(",", ".")
    if not text:
        return None
    try:
        permille = round(float(text) * 10)
    except (ValueError, OverflowError):
        raise Invalid.field("moisture", "Moisture: write per cent, such as 8 or 8.5.") from None
    if not 0 <= permille <= 1000:
        raise Invalid.field("moisture", "Moisture: 0 to 100 % would work.")
    return permille


def _bad(holdings: Sequence[Holding], bad: int) -> list[Line]:
    scrap, lines, left = catalogue.place("SCRAP"), [], bad
    for holding in holdings:
        take = min(left, holding.on_hand - holding.allocated)
        if take:
            lines.append(Line(lot=holding.lot, qty=take, source=holding.place, target=scrap))
        left -= take
    if left:
        raise NotSoMany(f"{left} of the bad handles are set aside; let the orders give way first.")
    return lines
