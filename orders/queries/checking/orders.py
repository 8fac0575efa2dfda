"""Orders: their numbers, their money, whether they are closed, and the days that were given."""

from collections import defaultdict
from collections.abc import Iterator

from django.db.models import Count, Exists, F, OuterRef

from inventory.queries.checking import numbers
from inventory.queries.checking.counters import named
from inventory.queries.checking.span import CHUNK
from inventory.queries.sums import total
from orders.models import Money, Order, OrderLine, Promise


def differences() -> Iterator[str]:
    """Yield what is wrong with orders, money and promises."""
    yield from numbers.gaps("Order", Order.objects.all(), "order")
    yield from _money()
    yield from _closed()
    yield from _promises()


def _money() -> Iterator[str]:
    orders = Order.objects.annotate(came=total(Money.objects.all(), "amount_minor", order="pk"))
    wrong = orders.exclude(came=F("received_minor")).order_by("pk")
    for pk, number, says, came in wrong.values_list("pk", "number", "received_minor", "came"):
        ids = list(Money.objects.filter(order=pk).order_by("pk").values_list("pk", flat=True))
        yield f"Order {number} says {says} received; its money lines ({named(ids)}) come to {came}."


def _closed() -> Iterator[str]:
    owed = Exists(OrderLine.objects.filter(order=OuterRef("pk"), ordered__gt=F("shipped") + F("cancelled")))
    orders = Order.objects.order_by("pk").annotate(owed=owed)
    for number in orders.filter(closed_at__isnull=False, owed=True).values_list("number", flat=True):
        yield f"Order {number} is closed and still owes something."
    for number in orders.filter(closed_at=None, owed=False).values_list("number", flat=True):
        yield f"Order {number} owes nothing and is not closed."
    for number in Order.objects.annotate(n=Count("lines")).filter(n=0).order_by("pk").values_list("number", flat=True):
        yield f"Order {number} has no line."


def _promises() -> Iterator[str]:
    """Each day given for an order, or for a line of it, supersedes the one given before."""
    strange = Promise.objects.filter(line__isnull=False).exclude(line__order_id=F("order_id")).order_by("pk")
    for pk in strange.values_list("pk", flat=True):
        yield f"Promise {pk} names a line of another order."
    last: dict[tuple[int, int | None], int] = defaultdict(int)
    rows = Promise.objects.order_by("pk").values_list("pk", "order_id", "line_id", "supersedes_id")
    for pk, order, line, supersedes in rows.iterator(CHUNK):
        before = last[order, line]
        if (supersedes or 0) != before:
            says = f"supersedes promise {supersedes}" if supersedes else "supersedes nothing"
            yield f"Promise {pk} {says}; the day given before it was {f'promise {before}' if before else 'none'}."
        last[order, line] = pk
