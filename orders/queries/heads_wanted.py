"""How many heads of each kind the orders still want, beyond those that are there or in the works, and the shelf."""

from collections import defaultdict
from collections.abc import Sequence

from django.db.models import F, Sum

from inventory.models import Holding, Item, Place, RecipePart
from orders.models import OrderLine
from orders.queries.shop_state.for_shelf import open_wishes


def for_heads(heads: Sequence[Item]) -> dict[int, int]:
    """Return how many of each head (by item) lines wait for, less what is free or on the floor."""
    ids = [head.pk for head in heads]
    tools: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for tool, head, quantity in RecipePart.objects.filter(part__in=ids).values_list("tool_id", "part_id", "quantity"):
        tools[tool].append((head, quantity))
    wanted = dict.fromkeys(ids, 0)
    waiting = OrderLine.objects.filter(gathers=True).order_by()
    left = F("ordered") - F("shipped") - F("cancelled") - F("reserved")
    for item, qty in waiting.filter(item__in=[*tools, *ids]).values_list("item_id").annotate(qty=Sum(left)):
        for head, quantity in tools.get(item or 0, [(item or 0, 1)]):
            wanted[head] = wanted.get(head, 0) + int(qty) * quantity
    there = Holding.objects.filter(item__in=ids, place__inside=True).exclude(
        place__kind__in=(Place.Kind.NOT_TO_BE_USED, Place.Kind.SECONDS, Place.Kind.OUT)
    )
    for head, free in there.order_by().values_list("item_id").annotate(free=Sum(F("on_hand") - F("allocated"))):
        wanted[head] -= int(free)
    return {head: max(0, qty) for head, qty in wanted.items()}


def for_the_shelf(heads: Sequence[Item]) -> dict[int, int]:
    """Return how many of each head (by item) are in the week to be started for the shelf, as itself or for its tools."""
    wishes, found = {one.item_id: one.pieces for one in open_wishes()}, {head.pk: 0 for head in heads}
    for head in heads:
        found[head.pk] += wishes.get(head.pk, 0)
    for tool, part in RecipePart.objects.filter(part__in=list(found)).values_list("tool_id", "part_id"):
        found[part] += wishes.get(tool, 0)
    return found
