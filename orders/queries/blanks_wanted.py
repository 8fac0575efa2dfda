"""How many blanks the orders still want: tools that lines wait for, less heads and blanks that are there or on the way."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Sum

from inventory.models import CutPlanBar, CutPlanLine, Holding, Item, Place, RecipePart
from orders.models import OrderLine, Promise


@dataclass(frozen=True, slots=True)
class Need:
    """So many blanks for one order; `day` is the ship day given, where there is one."""

    order: int
    count: int
    day: dt.date | None


def for_blanks(blanks: Sequence[Item]) -> dict[int, list[Need]]:
    """Return what each blank (by item) is wanted for, the first promised first.

    A blank serves the tools whose head is of its pattern. Heads at any step, blanks that stand free, and those of cut
    plans not sawn yet are taken off, from the first promised on.
    """
    by_pattern = {blank.pattern_id: blank.pk for blank in blanks if blank.pattern_id}
    parts = RecipePart.objects.filter(part__kind=Item.Kind.HEAD, part__pattern__in=by_pattern)
    tools: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for tool, pattern, quantity in parts.values_list("tool_id", "part__pattern_id", "quantity"):
        tools[tool].append((by_pattern[pattern], quantity))
    there = _there(by_pattern)
    needs: dict[int, list[Need]] = {blank.pk: [] for blank in blanks}
    lines = list(OrderLine.objects.filter(gathers=True, item__in=tools).select_related("order").order_by("queue_no"))
    days = _days([line.order_id for line in lines])
    for line in lines:
        for blank, quantity in tools[line.item_id or 0]:
            wanted = line.waiting * quantity
            covered = min(wanted, there.get(blank, 0))
            there[blank] = there.get(blank, 0) - covered
            if wanted > covered:
                needs[blank].append(Need(line.order.number, wanted - covered, days.get(line.order_id)))
    return needs


def _there(by_pattern: Mapping[int, int]) -> dict[int, int]:
    """Count, for each blank, the heads and blanks of its pattern that are not set aside, and those about to be sawn."""
    stands = Holding.objects.filter(item__pattern__in=by_pattern, item__kind__in=(Item.Kind.BLANK, Item.Kind.HEAD))
    stands = stands.filter(place__inside=True).exclude(place__kind=Place.Kind.NOT_TO_BE_USED)
    free = stands.values("item__pattern").annotate(free=Sum(F("on_hand") - F("allocated")))
    counts = {by_pattern[row["item__pattern"]]: int(row["free"]) for row in free}
    for blank in _to_be_sawn():
        counts[blank] = counts.get(blank, 0) + 1
    return counts


def _to_be_sawn() -> list[int]:
    """List the blank of every piece of every bar that waits for the saw."""
    waiting = CutPlanBar.objects.filter(state=CutPlanBar.State.TO_SAW)
    lines = CutPlanLine.objects.filter(plan__in=waiting.values("plan"))
    blank_of = {(plan, number): blank for plan, number, blank in lines.values_list("plan_id", "number", "blank_id")}
    return [blank_of[plan, number] for plan, pieces in waiting.values_list("plan_id", "pieces") for number in pieces]


def _days(orders: Sequence[int]) -> dict[int, dt.date]:
    standing = Promise.objects.filter(order__in=orders, superseded_by=None, line=None).order_by("id")
    return dict(standing.values_list("order_id", "day"))
