"""Whose the allocations are: exactly one hold, order line or bar of a cut plan, which says what its allocation holds."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

from django.db.models import F, Q, Sum

from inventory.models import Allocation, AllocationPart, CutPlanBar, RecipePart
from inventory.queries.checking.span import CHUNK
from orders.models import Hold, OrderLine
from orders.queries.checking.lines import name

Amounts = Mapping[int, int]  # item to quantity


def differences() -> Iterator[str]:
    """Yield what differs between holds and lines and their allocations."""
    yield from _owners()
    yield from _limits()
    yield from _amounts()
    yield from _ended()


def _owners() -> Iterator[str]:
    owners: Counter[int | None] = Counter()
    owners.update(OrderLine.objects.filter(allocation__isnull=False).values_list("allocation_id", flat=True))
    owners.update(Hold.objects.filter(ended_at=None).values_list("allocation_id", flat=True))
    owners.update(CutPlanBar.objects.filter(allocation__isnull=False).values_list("allocation_id", flat=True))
    for pk in Allocation.objects.filter(closed_at=None).order_by("pk").values_list("pk", flat=True).iterator(CHUNK):
        if owners[pk] != 1:
            yield f"Allocation {pk} is open and has {owners[pk]} owners instead of one."
    lines = OrderLine.objects.filter(allocation__closed_at__isnull=False).order_by("pk")
    for order, number, allocation in lines.values_list("order__number", "number", "allocation_id"):
        yield f"{name(order, number)} points to the closed allocation {allocation}."
    holds = Hold.objects.filter(ended_at=None, allocation__closed_at__isnull=False).order_by("pk")
    for pk, allocation in holds.values_list("pk", "allocation_id"):
        yield f"Hold {pk} is open and its allocation {allocation} is closed."


def _limits() -> Iterator[str]:
    lines = OrderLine.objects.filter(allocation__expires_at__isnull=False).order_by("pk")
    for order, number, allocation in lines.values_list("order__number", "number", "allocation_id"):
        yield f"Allocation {allocation} lapses by itself and belongs to order {order} line {number}."
    holds = Hold.objects.filter(ended_at=None).filter(
        Q(allocation__expires_at=None) | ~Q(allocation__expires_at=F("until"))
    )
    for pk, allocation in holds.order_by("pk").values_list("pk", "allocation_id"):
        yield f"Hold {pk} ends at another time than its allocation {allocation}."


def _amounts() -> Iterator[str]:
    held = _held()
    recipes: dict[int, dict[int, int]] = defaultdict(dict)
    for tool, part, quantity in RecipePart.objects.values_list("tool_id", "part_id", "quantity"):
        recipes[tool][part] = quantity
    lines = OrderLine.objects.filter(Q(reserved__gt=0) | Q(allocation__isnull=False)).order_by("pk")
    names = ("order__number", "number", "allocation_id", "item_id", "reserved")
    for order, number, allocation, item, says in lines.values_list(*names).iterator(CHUNK):
        found = _whole(held.get(allocation, {}), item, recipes[item])
        if found != says:
            yield f"{name(order, number)} says {says} set aside; its allocation {allocation} holds {_said(found)}."
    holds = Hold.objects.filter(ended_at=None).order_by("pk")
    for pk, allocation, item, says in holds.values_list("pk", "allocation_id", "item_id", "qty").iterator(CHUNK):
        found = _whole(held.get(allocation, {}), item, recipes[item])
        if found != says:
            yield f"Hold {pk} says {says} put by; its allocation {allocation} holds {_said(found)}."


def _held() -> dict[int, dict[int, int]]:
    totals: dict[int, dict[int, int]] = defaultdict(dict)
    parts = AllocationPart.objects.filter(open=True).order_by().values_list("allocation_id", "item_id")
    for allocation, item, total in parts.annotate(total=Sum("qty")).iterator(CHUNK):
        totals[allocation][item] = int(total)
    return totals


def _whole(held: Amounts, item: int, recipe: Amounts) -> int | None:
    """Return how many of the item an allocation comes to, or None where its parts make no whole sets."""
    parts = {part: qty for part, qty in held.items() if part != item}
    if not parts:
        return held.get(item, 0)
    if set(parts) != set(recipe) or any(parts[part] % per for part, per in recipe.items()):
        return None
    sets = {parts[part] // per for part, per in recipe.items()}
    return held.get(item, 0) + sets.pop() if len(sets) == 1 else None


def _said(found: int | None) -> str:
    return "parts that make no whole sets" if found is None else str(found)


def _ended() -> Iterator[str]:
    holds = Hold.objects.filter(became__isnull=False).order_by("pk")
    odd = holds.filter(Q(ended_at=None) | Q(allocation__isnull=False) | ~Q(became__item_id=F("item_id")))
    for pk, order, number in odd.values_list("pk", "became__order__number", "became__number"):
        yield f"Hold {pk} became order {order} line {number} and is still open, or is of another item."
