"""Making tools up from their parts: head, handle and wedges become one tool."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.models import Entry, Holding, Item, Lot, Place
from inventory.services import arriving, catalogue, ledger
from inventory.services.arriving import Arrival
from inventory.services.ledger import Line, Locks, NotThere, Stamp


@dataclass(frozen=True, slots=True)
class Pick:
    """So many of one holding, to go into tools."""

    holding: Holding
    qty: int


def free_picks(recipe: Mapping[int, int], tools: int) -> list[Pick]:
    """Pick the free parts for so many tools, oldest lots first."""
    picks: list[Pick] = []
    for part_id, per in recipe.items():
        left = tools * per
        holdings = Holding.objects.filter(
            item_id=part_id, place__sellable=True, step=0, on_hand__gt=F("allocated")
        ).select_related("lot__item", "lot__melt", "place")
        for holding in holdings.order_by("lot_id", "id"):
            take = min(left, holding.on_hand - holding.allocated)
            picks.append(Pick(holding, take))
            left -= take
            if not left:
                break
        if left:
            raise NotThere(f"The free parts do not make {tools}: {left} of one part are missing.")
    return picks


def make_up(
    tool: Item, tools: int, picks: Sequence[Pick], *, recipe: Mapping[int, int], locks: Locks, stamp: Stamp
) -> tuple[Entry, list[Lot]]:
    """Book parts out to *worked up* and tools in from there; one tool lot for each head lot, so that melts never mix."""
    worked_up, shelf = catalogue.place("WORKED-UP"), catalogue.place("SHELF")
    arrivals = tool_lots(tool, tools, picks, recipe, shelf)
    out = [Line(lot=p.holding.lot, qty=p.qty, source=p.holding.place, target=worked_up) for p in picks]
    entry = ledger.begin(Entry.Kind.MADE_UP, lines=len(out) + len(arrivals), stamp=stamp)
    lots = arriving.make_lots(entry, arrivals)
    ledger.post(entry, [*out, *arriving.lines_in(lots, arrivals, worked_up)], locks)
    return entry, lots


def tool_lots(
    tool: Item, tools: int, picks: Sequence[Pick], recipe: Mapping[int, int], place: Place, *, step: int = 0
) -> list[Arrival]:
    """Deal the picked parts out to the tools in order and start a tool lot wherever the steel changes."""
    stacks = {part: [(p.holding.lot, p.qty) for p in picks if p.holding.item_id == part] for part in recipe}
    steel = next((part for part, stack in stacks.items() if stack and stack[0][0].melt_id), None)
    arrivals = []
    left = tools
    while left:
        count = _of_one_lot(stacks[steel], recipe[steel], left) if steel is not None else left
        parents: list[tuple[Lot, int]] = []
        for part, per in recipe.items():
            dealt, stacks[part] = _deal(stacks[part], count * per)
            parents += dealt
        melts = {lot.melt for lot, _ in parents if lot.melt_id}
        melt = melts.pop() if len(melts) == 1 else None  # a tool of two melts is traced through its parents
        arrivals.append(Arrival(item=tool, qty=count, place=place, melt=melt, step=step, parents=parents))
        left -= count
    return arrivals


def _of_one_lot(stack: Sequence[tuple[Lot, int]], per: int, left: int) -> int:
    """Return how many tools the first lot makes whole; one tool where it has to be shared with the next lot."""
    return min(left, max(1, stack[0][1] // per))


def _deal(stack: Sequence[tuple[Lot, int]], qty: int) -> tuple[list[tuple[Lot, int]], list[tuple[Lot, int]]]:
    """Split a stack of lots after so many pieces: what is dealt, and what is left."""
    dealt, rest = [], []
    for lot, there in stack:
        take = min(there, qty)
        qty -= take
        if take:
            dealt.append((lot, take))
        if there > take:
            rest.append((lot, there - take))
    return dealt, rest
