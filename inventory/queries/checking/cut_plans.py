"""What a cut plan has set aside: each bar to saw whole, and nothing for a bar that is sawn or left alone."""

from collections.abc import Iterator

from django.db.models import F

from inventory.models import AllocationPart, CutPlan, CutPlanBar
from inventory.queries.checking.span import CHUNK


def differences() -> Iterator[str]:
    """Yield what differs between cut plans and the stock set aside for them."""
    waiting = CutPlanBar.objects.filter(state=CutPlanBar.State.TO_SAW).order_by("pk")
    held = {
        allocation: (lot, qty, on_hand)
        for allocation, lot, qty, on_hand in AllocationPart.objects.filter(
            open=True, allocation__in=waiting.values("allocation")
        ).values_list("allocation_id", "holding__lot_id", "qty", "holding__on_hand")
    }
    names = ("plan__number", "bar__number", "bar_id", "allocation_id")
    for plan, number, bar, allocation in waiting.values_list(*names).iterator(CHUNK):
        lot, qty, on_hand = held.get(allocation, (None, 0, 0))
        if lot != bar or qty != on_hand:
            yield f"Cut plan {plan} is to saw bar {number}; its allocation {allocation} does not hold that bar whole."
    other = CutPlanBar.objects.filter(cut__isnull=False).exclude(cut__bar=F("bar")).order_by("pk")
    for plan, number in other.values_list("plan__number", "bar__number"):
        yield f"Cut plan {plan} has bar {number} sawn by the cut of another bar."
    open_ones = CutPlan.objects.exclude(state=CutPlan.State.TAKEN).filter(bars__state=CutPlanBar.State.TO_SAW)
    for plan, state in open_ones.order_by("pk").distinct().values_list("number", "state"):
        yield f"Cut plan {plan} is {state} and has bars to saw."
