"""Setting stock aside and letting it go again: allocations over the holdings of locked items."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Sum

from inventory.models import Allocation, AllocationPart, Holding, ItemStock, RecipePart
from inventory.services.ledger import Locks
from shop.shared.errors import Refusal


class NotEnough(Refusal):
    """Fewer are free than were asked for."""

    code = "not_enough"


def open_allocation(*, at: dt.datetime, expires_at: dt.datetime | None = None) -> Allocation:
    """Make an empty allocation; parts follow with `add`."""
    return Allocation.objects.create(made_at=at, expires_at=expires_at)


def free_of(item_id: int) -> int:
    """Return how many finished ones of a locked item are free."""
    row = ItemStock.objects.get(pk=item_id)
    return row.sellable - row.allocated


def recipe_of(item_id: int) -> dict[int, int]:
    """Return what goes into one of an item: part item to quantity; empty where it is not made of parts."""
    return dict(RecipePart.objects.filter(tool_id=item_id).order_by("part_id").values_list("part_id", "quantity"))


def can_take(item_id: int, recipe: Mapping[int, int]) -> tuple[int, int]:
    """Return how many of a locked item are free finished, and how many more its free parts would make."""
    ids = [item_id, *recipe]
    free = {row.item_id: row.sellable - row.allocated for row in ItemStock.objects.filter(pk__in=ids)}
    made = min((free[part] // qty for part, qty in recipe.items()), default=0)
    return free[item_id], made


def add(locks: Locks, allocation: Allocation, item_id: int, qty: int) -> None:
    """Set aside so many of an item: finished ones first, the rest as sets of parts. All or a refusal."""
    recipe = recipe_of(item_id)
    locks.need([item_id, *recipe])
    finished, made = can_take(item_id, recipe)
    if finished + made < qty:
        raise NotEnough(
            f"{finished + made} can be set aside now, not {qty}.",
            facts={"available": finished + made, "requested": qty},
        )
    take = min(finished, qty)
    wanted = {item_id: take} | {part: (qty - take) * per for part, per in recipe.items()}
    for wanted_id, amount in sorted(wanted.items()):
        if amount:
            _set_aside(allocation, wanted_id, amount)


def _set_aside(allocation: Allocation, item_id: int, qty: int) -> None:
    left = qty
    # Oldest lot first; only sellable places at step 0 are counted in the item's row, so only they are taken from.
    holdings = Holding.objects.filter(
        item_id=item_id, place__sellable=True, step=0, on_hand__gt=F("allocated")
    ).order_by("lot_id", "id")
    for holding in holdings.iterator(chunk_size=50):
        take = min(left, holding.on_hand - holding.allocated)
        Holding.objects.filter(pk=holding.pk).update(allocated=F("allocated") + take)
        _grow_part(allocation, holding, take)
        left -= take
        if not left:
            break
    if left:
        raise RuntimeError(f"Item {item_id}: the counter says {qty} are free, the holdings say {qty - left}.")
    ItemStock.objects.filter(pk=item_id).update(allocated=F("allocated") + qty)


def add_lots(locks: Locks, allocation: Allocation, holdings: Sequence[Holding]) -> None:
    """Set aside everything that is free in these very holdings: tools just made up for a line."""
    for holding in holdings:
        locks.need([holding.item_id])
        qty = holding.on_hand - holding.allocated
        Holding.objects.filter(pk=holding.pk).update(allocated=F("allocated") + qty)
        _grow_part(allocation, holding, qty)
        ItemStock.objects.filter(pk=holding.item_id).update(allocated=F("allocated") + qty)


def _grow_part(allocation: Allocation, holding: Holding, qty: int) -> None:
    grown = AllocationPart.objects.filter(allocation=allocation, holding=holding, open=True).update(qty=F("qty") + qty)
    if not grown:
        AllocationPart.objects.create(allocation=allocation, holding=holding, item_id=holding.item_id, qty=qty)


def let_go_part(locks: Locks, part: AllocationPart, qty: int) -> None:
    """Let go so many of one part; the holding and the item's counter follow."""
    locks.need([part.item_id])
    if not 1 <= qty <= part.qty:
        raise RuntimeError(f"Part {part.pk} holds {part.qty}, {qty} cannot be let go.")
    if qty == part.qty:
        AllocationPart.objects.filter(pk=part.pk).update(open=False)
    else:
        AllocationPart.objects.filter(pk=part.pk).update(qty=F("qty") - qty)
    part.qty -= qty
    Holding.objects.filter(pk=part.holding_id).update(allocated=F("allocated") - qty)
    ItemStock.objects.filter(pk=part.item_id).update(allocated=F("allocated") - qty)


@dataclass(frozen=True, slots=True)
class Lifted:
    """So many of an allocation, taken off the place where they stood to be carried to another."""

    allocation: Allocation
    qty: int


def lift(locks: Locks, holding: Holding, qty: int) -> list[Lifted]:
    """Take so many set-aside pieces off a holding that is about to be moved; their allocations stay open."""
    lifted, left = [], qty
    parts = AllocationPart.objects.filter(holding=holding, open=True).select_related("allocation").order_by("-id")
    for part in parts:
        take = min(left, part.qty)
        if take:
            let_go_part(locks, part, take)
            lifted.append(Lifted(part.allocation, take))
            left -= take
    if left:
        raise RuntimeError(f"Holding {holding.pk} has {qty - left} set aside, not {qty}.")
    return lifted


def put_down(locks: Locks, holding: Holding, lifted: Sequence[Lifted]) -> None:
    """Set the lifted pieces aside again where they stand now, for the same allocations."""
    locks.need([holding.item_id])
    for carried in lifted:
        Holding.objects.filter(pk=holding.pk).update(allocated=F("allocated") + carried.qty)
        _grow_part(carried.allocation, holding, carried.qty)
        ItemStock.objects.filter(pk=holding.item_id).update(allocated=F("allocated") + carried.qty)


def let_go(
    locks: Locks, allocation: Allocation, item_id: int, qty: int, *, reserved: int, lost_from: int | None = None
) -> None:
    """Let go so many of an item out of an allocation of `reserved`: sets of parts first, then the newest finished.

    Where pieces of one holding were lost, `lost_from` names it and its pieces are let go before others.
    """
    finished = _open_qty(allocation, item_id)
    sets = reserved - finished
    from_sets = min(qty, sets)
    if from_sets:
        totals = _set_totals(allocation, item_id)
        if not totals or any(total % sets for total in totals.values()):
            raise RuntimeError(f"Allocation {allocation.pk} holds {finished} of item {item_id} and no {sets} sets.")
        for part_id, total in totals.items():
            _let_go_of(locks, allocation, part_id, total // sets * from_sets, lost_from)
    if qty > from_sets:
        _let_go_of(locks, allocation, item_id, qty - from_sets, lost_from)
    if qty == reserved:
        close(allocation, at=locks.at)


def let_go_all(locks: Locks, allocation: Allocation) -> None:
    """Let go of everything an allocation still holds and close it."""
    for part in AllocationPart.objects.filter(allocation=allocation, open=True).order_by("id"):
        let_go_part(locks, part, part.qty)
    close(allocation, at=locks.at)


def keep(allocation: Allocation) -> None:
    """Take the time limit off an allocation: it belongs to an order line from now on."""
    Allocation.objects.filter(pk=allocation.pk, closed_at=None).update(expires_at=None)


def close(allocation: Allocation, *, at: dt.datetime) -> None:
    """Mark an allocation as over."""
    Allocation.objects.filter(pk=allocation.pk, closed_at=None).update(closed_at=at)


def _open_qty(allocation: Allocation, item_id: int) -> int:
    parts = AllocationPart.objects.filter(allocation=allocation, item_id=item_id, open=True)
    return int(parts.aggregate(total=Sum("qty"))["total"] or 0)


def _set_totals(allocation: Allocation, item_id: int) -> dict[int, int]:
    totals: dict[int, int] = defaultdict(int)
    for part in AllocationPart.objects.filter(allocation=allocation, open=True).exclude(item_id=item_id):
        totals[part.item_id] += part.qty
    return dict(sorted(totals.items()))


def _let_go_of(locks: Locks, allocation: Allocation, item_id: int, qty: int, lost_from: int | None) -> None:
    left = qty
    parts = AllocationPart.objects.filter(allocation=allocation, item_id=item_id, open=True).order_by("-id")
    for part in sorted(parts, key=lambda part: part.holding_id != lost_from):
        take = min(left, part.qty)
        let_go_part(locks, part, take)
        left -= take
        if not left:
            return
    if left:
        raise RuntimeError(f"Allocation {allocation.pk} holds {qty - left} of item {item_id}, not {qty}.")
