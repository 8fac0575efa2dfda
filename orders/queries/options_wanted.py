"""How the pieces of a run are wanted: the options of the lines that still wait for what is made of its pattern."""

from collections.abc import Sequence

from django.db.models import F, Q

from inventory.models import Pattern
from orders.models import OrderLine

MOST = 12


def of_pattern(pattern: Pattern) -> Sequence[OrderLine]:
    """Return the lines with options of which something is still to be sent, in the order of the queue."""
    made = Q(item__pattern=pattern) | Q(item__recipe__part__pattern=pattern)
    left = OrderLine.objects.filter(made, order__closed_at=None, ordered__gt=F("shipped") + F("cancelled"))
    left = left.exclude(options="").select_related("order", "item").distinct()
    return list(left.order_by("queue_no", "pk")[:MOST])
