"""Making tools up from their parts: head, handle and wedges become one tool."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from inventory.models import Entry, Holding, Item, Lot
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
    arrivals = _tool_lots(tool, tools, picks, recipe, shelf)
    out = [Line(lot=p.holding.lot, qty=p.qty, source=p.holding.place, target=worked_up) for p in picks]
    entry = ledger.begin(Entry.Kind.MADE_UP, lines=len(out) + len(arrivals), stamp=stamp)
    lots = arriving.make_lots(entry, arrivals)
    ledger.post(entry, [*out, *arriving.lines_in(lots, arrivals, worked_up)], locks)
    return entry, lots


def _tool_lots(
    tool: Item, tools: int, picks: Sequence[Pick], recipe: Mapping[int, int], shelf: object
) -> list[Arrival]:
    """Deal the picked parts out to the tools in order and start a tool lot wherever the steel changes."""
    dealt: dict[int, list[list]] = {part: [] for part in recipe}  # type: ignore[type-arg]
    for pick in picks:
        dealt[pick.holding.item_id].append([pick.holding.lot, pick.qty])
    steel = next((part for part in recipe if dealt[part] and dealt[part][0][0].melt_id), None)
    if steel is None:
        groups = [(None, tools)]
    else:
        groups = [(lot, qty // recipe[steel]) for lot, qty in dealt[steel]]
    arrivals = []
    for head_lot, count in groups:
        if not count:
            continue
        parents = [(lot, qty) for part, per in recipe.items() for lot, qty in _deal(dealt[part], count * per)]
        melt = head_lot.melt if head_lot is not None else None
        arrivals.append(Arrival(item=tool, qty=count, place=shelf, melt=melt, parents=parents))  # type: ignore[arg-type]
    return arrivals


def _deal(stack: list[list], qty: int) -> list[tuple[Lot, int]]:  # type: ignore[type-arg]
    dealt = []
    while qty:
        lot, there = stack[0]
        take = min(there, qty)
        dealt.append((lot, take))
        stack[0][1] -= take
        if not stack[0][1]:
            stack.pop(0)
        qty -= take
    return dealt
