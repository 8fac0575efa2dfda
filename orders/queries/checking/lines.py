"""Order lines: what was sent, cancelled and is waited for, and their place in the queue."""

from collections import Counter
from collections.abc import Iterator

from django.db.models import Count, F, Max

from inventory.models import ItemStock
from inventory.queries.checking import numbers
from inventory.queries.checking.span import CHUNK
from inventory.queries.sums import total
from orders.models import Order, OrderLine, ShipmentLine

CANCELLED, CHANGED = "cancelled", "quantity changed"  # the audit lines that say how many

Line = tuple[int, int]  # number of the order and of the line


def differences() -> Iterator[str]:
    """Yield what is wrong with order lines and with what they add up to."""
    yield from _numbering()
    yield from _sent()
    yield from _told()
    yield from _waiting()


def _numbering() -> Iterator[str]:
    orders = Order.objects.annotate(found=Count("lines"), last=Max("lines__number")).order_by("pk")
    for number, found, last in orders.exclude(found=F("last")).values_list("number", "found", "last"):
        yield f"Order {number} has {found} lines, numbered up to {last}."
    given = numbers.given_out("queue")
    beyond = OrderLine.objects.exclude(queue_no__range=(1, given)).order_by("pk")
    for order, line, place in beyond.values_list("order__number", "number", "queue_no"):
        yield f"{name(order, line)} has place {place} in the queue; the places given out are 1 to {given}."


def _sent() -> Iterator[str]:
    sent = total(ShipmentLine.objects.filter(shipment__reversed_at=None), line="pk")
    wrong = OrderLine.objects.annotate(sent=sent).exclude(sent=F("shipped")).order_by("pk")
    for order, line, says, sums in wrong.values_list("order__number", "number", "shipped", "sent"):
        yield f"{name(order, line)} says {says} sent; its shipments come to {sums}."


def _told() -> Iterator[str]:
    """What was cancelled of a line and the quantity it was changed to, by the audit lines that say so."""
    cancelled: Counter[Line] = Counter()
    changed: dict[Line, int] = {}
    for order, facts in numbers.told(CANCELLED, "order"):
        cancelled[order, facts.get("line", 0)] += facts.get("qty", 0)
    for order, facts in numbers.told(CHANGED, "order"):
        changed[order, facts.get("line", 0)] = facts.get("ordered", 0)
    lines = OrderLine.objects.order_by("pk").values_list("order__number", "number", "ordered", "cancelled")
    for order, number, ordered, says in lines.iterator(CHUNK):
        if says != cancelled[order, number]:
            yield f"{name(order, number)} says {says} cancelled; its audit lines come to {cancelled[order, number]}."
        if ordered != changed.get((order, number), ordered):
            yield f"{name(order, number)} asks for {ordered}; it was last changed to {changed[order, number]}."


def _waiting() -> Iterator[str]:
    waits = F("ordered") - F("shipped") - F("cancelled") - F("reserved")
    gathering = OrderLine.objects.filter(gathers=True).annotate(waits=waits)
    wrong = ItemStock.objects.annotate(wanted=total(gathering, "waits", item="pk")).exclude(wanted=F("waiting"))
    for code, says, wanted in wrong.order_by("pk").values_list("item__code", "waiting", "wanted"):
        yield f"Item stock of {code} says {says} waited for; the lines that wait come to {wanted}."


def name(order: int, line: int) -> str:
    """Return how people call a line."""
    return f"Order {order} line {line}"
