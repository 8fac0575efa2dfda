"""The floor, one call each: runs begin, are counted, go through the oven, get handles and are packed.

What reaches the shelf serves the lines that wait; heads, handles and wedges that are set aside give way when they are
hafted, for the tools come back to the same lines first.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import HandleSort, Holding, Item, Lot, OvenLoad, Run, RunCount, Step
from inventory.queries import along
from inventory.services import floor_tally, hafting, ovens, run_counting, starting
from inventory.services.count_facts import Seen
from inventory.services.floor_tally import Difference, Tally
from inventory.services.hafting import Hafted
from inventory.services.ledger import Locks, Stamp
from inventory.services.ovens import Fire, Into
from inventory.services.run_counting import Counted
from inventory.services.starting import Start
from orders.models import OrderLine, RunForLine
from orders.queries import heads_wanted
from orders.services import for_shelf, reserving, week
from shop.flows import giving_way, untempered
from shop.shared import transactions
from shop.shared.errors import Invalid


@dataclass(frozen=True, slots=True)
class Done:
    """A count that was booked, the order lines that got pieces, and those that gave way."""

    count: RunCount
    served: Sequence[OrderLine]
    gave_way: Sequence[OrderLine] = ()


def start(wanted: Start, *, stamp: Stamp, for_line: OrderLine | None = None) -> Run:
    """Start a run; one that is made to order is tied to its line."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({wanted.head.pk, wanted.blank.pk}, at=stamp.at)
    owed = heads_wanted.for_heads([wanted.head])[wanted.head.pk]
    run = starting.start(wanted, locks=locks, stamp=stamp)
    week.started(run.code, wanted.head, at=stamp.at, by=stamp.by)
    if for_line is None:
        for_shelf.started(run, wanted.qty, owed, at=stamp.at, by=stamp.by)
    if for_line is not None:
        if for_line.item_id is not None:
            raise Invalid.field("line", "Line: only a line in words is made to order; an item is made for stock.")
        RunForLine.objects.create(run=run, line=for_line, qty=wanted.wanted or wanted.qty)
    reserving.serve_waiting(locks)
    return run


def top_up(run: Run, blank: Item, qty: int, *, stamp: Stamp) -> Lot:
    """Start more of a run that is short."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({run.item_id, blank.pk}, at=stamp.at)
    return starting.top_up(run, blank, qty, locks=locks, stamp=stamp)


def split(run: Run, step: int, qty: int, *, stamp: Stamp) -> Run:
    """Part a run in two."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({run.item_id}, at=stamp.at)
    return starting.split(run, step, qty, locks=locks, stamp=stamp)


def join(run: Run, into: Run, *, stamp: Stamp) -> Run:
    """Let two runs go on as one."""
    transactions.assert_open()
    reserving.lock_and_tidy({run.item_id}, at=stamp.at)
    return starting.join(run, into, stamp=stamp)


def open_run(lot: Lot, *, stamp: Stamp) -> Run:
    """Give a code to heads that stand on the floor without one."""
    transactions.assert_open()
    reserving.lock_and_tidy({lot.item_id}, at=stamp.at)
    lot.refresh_from_db()
    return starting.open_run(lot, stamp=stamp)


def count(
    run: Run, step: Step, seen: Seen, *, stamp: Stamp, catch_up: bool = False, after: int | None = None
) -> tuple[Counted, list[OrderLine]]:
    """Count pieces of a run; heads that reach the shelf serve those who wait."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({run.item_id}, at=stamp.at)
    made = run_counting.count(run, step, seen, locks=locks, stamp=stamp, catch_up=catch_up, after=after)
    return made, reserving.serve_waiting(locks)


def harden(loaded: Sequence[Into], fire: Fire, *, stamp: Stamp) -> OvenLoad:
    """Book runs as hardened together."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({one.run.item_id for one in loaded}, at=stamp.at)
    load = ovens.harden(loaded, fire, locks=locks, stamp=stamp)
    untempered.watch(load)
    return load


def temper_in(loaded: Sequence[Into], fire: Fire, *, stamp: Stamp) -> OvenLoad:
    """Put runs into the temper."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({one.run.item_id for one in loaded}, at=stamp.at)
    return ovens.temper_in(loaded, fire, locks=locks, stamp=stamp)


def take_out(
    load: OvenLoad, *, stamp: Stamp, at_temperature_at: dt.datetime | None = None, reached: bool = True
) -> OvenLoad:
    """Take a load out of the oven."""
    transactions.assert_open()
    items = set(load.lots.values_list("lot__item_id", flat=True))
    locks = reserving.lock_and_tidy(items, at=stamp.at)
    fresh = OvenLoad.objects.get(pk=load.pk)
    return ovens.take_out(fresh, locks=locks, stamp=stamp, at_temperature_at=at_temperature_at, reached=reached)


def haft(run: Run, hafted: Hafted, *, stamp: Stamp) -> Done:
    """Fit handles to the heads of a run; lines that held parts wait again and get the tools first."""
    transactions.assert_open()
    others = hafting.other_parts(hafted.tool, run)
    locks = giving_way.lock({run.item_id, hafted.tool.pk, *others}, at=stamp.at)
    gave = _room(locks, run, hafted, others)
    made = hafting.haft(run, hafted, locks=locks, stamp=stamp)
    return Done(made, reserving.serve_waiting(locks), gave)


def _room(locks: Locks, run: Run, hafted: Hafted, others: dict[int, int]) -> list[OrderLine]:
    """Free heads and parts that are set aside, as far as they are wanted at the vice."""
    gave = giving_way.make_room(
        locks, hafting.heads_on_shelf(run), _there(hafting.heads_on_shelf(run), hafted.seen.taken)
    )
    for part, per in others.items():
        there = list(Holding.objects.filter(item_id=part, place__sellable=True, step=0, on_hand__gt=0))
        lost = hafted.handles_lost if Item.objects.filter(pk=part, kind=Item.Kind.HANDLE).exists() else 0
        wanted = hafted.seen.good * per + lost
        if sum(h.on_hand for h in there) < wanted:
            item = Item.objects.get(pk=part)
            raise hafting.NoHandles(
                f"{wanted - sum(h.on_hand for h in there)} of {item.code} are missing for {hafted.seen.good}; "
                "haft fewer, or count what lies there.",
                {"good": f"{item.name} is short."},
                {"item": item.code, "short": wanted - sum(h.on_hand for h in there)},
            )
        gave += giving_way.make_room(locks, there, wanted)
    return list({line.pk: line for line in gave}.values())


def _there(holdings: Sequence[Holding], wanted: int) -> int:
    """Return how many can be freed: where the book has too few, the service says so."""
    return min(wanted, sum(holding.on_hand for holding in holdings))


def pack(run: Run, seen: Seen, *, stamp: Stamp, early: bool = False) -> Done:
    """Pack cured tools; those that reach the shelf serve the lines that wait."""
    transactions.assert_open()
    locks = reserving.lock_and_tidy({h.item_id for h in along.curing(run)} | {run.item_id}, at=stamp.at)
    made = hafting.pack(run, seen, locks=locks, stamp=stamp, early=early)
    return Done(made, reserving.serve_waiting(locks))


def sort_handles(lot: Lot, good: int, bad: int, *, stamp: Stamp, moisture_permille: int | None = None) -> HandleSort:
    """Sort a lot of handles; where bad ones are set aside, orders give way."""
    transactions.assert_open()
    locks = giving_way.lock({lot.item_id}, at=stamp.at)
    there = list(Holding.objects.filter(lot=lot, place__sellable=True, step=0, on_hand__gt=0).order_by("id"))
    giving_way.make_room(locks, there, _there(there, max(bad, 0)))
    made = hafting.sort_handles(lot, good, bad, locks=locks, stamp=stamp, moisture_permille=moisture_permille)
    reserving.serve_waiting(locks)
    return made


def evening(
    run: Run, counted: Sequence[tuple[Step, Seen]], *, stamp: Stamp, tool: Item | None = None, handles_lost: int = 0
) -> list[RunCount]:
    """Book what the run sheet says of several points, in their order, all or nothing."""
    transactions.assert_open()
    if not counted:
        raise Invalid.field("points", "Points: nothing is written; copy at least one line of the run sheet.")
    hafts = [seen for step, seen in counted if step.work == Step.Work.HAFT]
    others = hafting.other_parts(tool, run) if hafts and tool else {}
    items = {run.item_id, *others, *({tool.pk} if tool else ()), *(h.item_id for h in along.curing(run))}
    locks = giving_way.lock(items, at=stamp.at)
    made = []
    for step, seen in sorted(counted, key=lambda each: each[0].number):
        if step.work == Step.Work.HAFT:
            if tool is None:
                raise Invalid.field("tool", f"Tool: nothing is made of {run.item.code}; leave hafting out.")
            hafted = Hafted(tool, seen, handles_lost)
            _room(locks, run, hafted, others)
            made.append(hafting.haft(run, hafted, locks=locks, stamp=stamp))
        elif step.work == Step.Work.PACK:
            made.append(hafting.pack(run, seen, locks=locks, stamp=stamp))
        else:
            done = run_counting.count(run, step, seen, locks=locks, stamp=stamp, catch_up=True)
            made += [*done.before, done.count]
    reserving.serve_waiting(locks)
    return made


def tally(found: Sequence[Tally], *, stamp: Stamp) -> list[Difference]:
    """Count the floor by run and step; what differs is unexplained."""
    transactions.assert_open()
    if not found:
        raise Invalid.field("found", "Counted: nothing is written; count at least one run.")
    locks = reserving.lock_and_tidy({one.run.item_id for one in found}, at=stamp.at)
    return floor_tally.tally(found, locks=locks, stamp=stamp)
