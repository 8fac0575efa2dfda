"""The order book: the list of orders, one order with its history, what is ready to send and what waits."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from orders.models import OWN_SOURCE, Hold, Order, OrderLine, Promise, Return, Shipment, ShippedLot
from shop.shared import units

PAGE = 40


@dataclass(frozen=True, slots=True)
class Row:
    """One order as the list shows it: its lines, the standing day given for the whole of it, and days of single lines."""

    order: Order
    lines: tuple[OrderLine, ...]
    day: dt.date | None
    line_days: Mapping[int, dt.date] = field(default_factory=dict)

    @property
    def days(self) -> list[dt.date]:
        """Return the days given for what is still owed, the soonest first; for all of it where nothing is owed."""
        owed = [line for line in self.lines if line.ordered > line.shipped + line.cancelled]
        given = {self.line_days.get(line.pk, self.day) for line in owed or self.lines}
        return sorted(day for day in given if day is not None)

    @property
    def owed(self) -> int:
        """Return how many pieces are neither sent nor cancelled."""
        return sum(line.ordered - line.shipped - line.cancelled for line in self.lines)

    @property
    def set_aside(self) -> int:
        """Return how many of them are set aside."""
        return sum(line.reserved for line in self.lines)

    @property
    def to_make(self) -> int:
        """Return how many of them are made to order, with no stock behind them."""
        return sum(line.waiting for line in self.lines if line.item_id is None)

    @property
    def waits_for_money(self) -> bool:
        """Return whether it goes only when paid and is not."""
        lines = sum((line.ordered - line.cancelled) * line.price_minor for line in self.lines)
        return self.order.send_when_paid and lines + self.order.carriage_minor > self.order.received_minor

    @property
    def whole(self) -> bool:
        """Return whether all that is owed is set aside."""
        return 0 < self.owed == self.set_aside


@dataclass(frozen=True, slots=True)
class Page:
    """Some orders, and the number after which older ones follow, where there are any."""

    rows: list[Row]
    older: int | None


def page(*, find: str = "", closed: bool = False, before: int | None = None) -> Page:
    """Return open orders (or all) of customers, newest first; `find` is a number, or part of a name or reference."""
    orders = Order.objects.exclude(source=OWN_SOURCE).select_related("customer").order_by("-number")
    if not closed:
        orders = orders.filter(closed_at=None)
    if find:
        wanted = Q(customer__name__icontains=find) | Q(reference__icontains=find)
        number = units.plain_number(find)
        if number is not None:
            wanted |= Q(number=number)
        orders = orders.filter(wanted)
    if before is not None:
        orders = orders.filter(number__lt=before)
    found = list(orders[: PAGE + 1])
    older = found[PAGE - 1].number if len(found) > PAGE else None
    return Page(rows(found[:PAGE]), older)


def rows(orders: Sequence[Order]) -> list[Row]:
    """Return orders with their lines and days, in two queries for all of them."""
    ids = [order.pk for order in orders]
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for line in (
        OrderLine.objects.filter(order__in=ids).select_related("item", "allocation").order_by("order", "number")
    ):
        lines[line.order_id].append(line)
    days: dict[int, dt.date] = {}
    of_lines: dict[int, dict[int, dt.date]] = defaultdict(dict)
    standing = Promise.objects.filter(order__in=ids, superseded_by=None).order_by("id")
    for one in standing:
        if one.line_id is None:
            days[one.order_id] = one.day
        else:
            of_lines[one.order_id][one.line_id] = one.day
    return [Row(order, tuple(lines[order.pk]), days.get(order.pk), of_lines[order.pk]) for order in orders]


def find_order(number: int) -> Order | None:
    """Return the order of this number."""
    return Order.objects.select_related("customer", "taken_by").filter(number=number).first()


def ready(*, today: dt.date) -> list[Row]:
    """Return the open orders that may go: everything owed is set aside and the window has begun, the oldest first."""
    return rows(list(_set_aside().filter(Q(not_before=None) | Q(not_before__lte=today))))


def before_window(*, today: dt.date) -> list[Row]:
    """Return the open orders of which everything owed is set aside and whose window begins later, the soonest first."""
    return rows(list(_set_aside().filter(not_before__gt=today).order_by("not_before", "number")))


def _set_aside() -> QuerySet[Order]:
    owed = OrderLine.objects.filter(order=OuterRef("pk"), ordered__gt=F("shipped") + F("cancelled"))
    short = owed.filter(ordered__gt=F("shipped") + F("cancelled") + F("reserved"))
    orders = Order.objects.filter(Exists(owed), ~Exists(short), closed_at=None).exclude(source=OWN_SOURCE)
    return orders.select_related("customer").order_by("number")


def waits(*, item_id: int | None = None) -> QuerySet[OrderLine]:
    """Select the lines of which something is still owed and not set aside, in the order of the queue."""
    lines = OrderLine.objects.filter(
        order__closed_at=None, ordered__gt=F("shipped") + F("cancelled") + F("reserved")
    ).select_related("order__customer", "item")
    if item_id is not None:
        lines = lines.filter(item=item_id)
    return lines.order_by("queue_no")


def days_given(order: Order) -> list[Promise]:
    """Return every day given for an order, the first first."""
    return list(order.promises.select_related("line", "by").order_by("id"))


def days_of(orders: Sequence[Order]) -> dict[int, list[Promise]]:
    """Return every day given for orders, by order, the first first, each with how sure it is now where that is rated."""
    found: dict[int, list[Promise]] = defaultdict(list)
    days = Promise.objects.filter(order__in=[order.pk for order in orders]).select_related("line", "basis", "rated")
    for one in days.defer("curve", "basis__inputs").order_by("id"):
        found[one.order_id].append(one)
    return found


def shipments_of(order: Order) -> list[Shipment]:
    """Return what was sent of an order, the first first; what was undone is among them and says so."""
    found = order.shipments.select_related("by", "entry").prefetch_related("lines__line__item")
    return list(found.order_by("number"))


def find_shipment(number: int) -> Shipment | None:
    """Return the shipment of this number."""
    found = Shipment.objects.select_related("order__customer", "by", "entry").filter(number=number)
    return found.prefetch_related("lines__line__item", "lines__lots__lot__melt", "lines__lots__lot__bar").first()


def shipments_by_entry(entry_ids: Iterable[int]) -> dict[int, Shipment]:
    """Return the shipments that these entries of the book wrote."""
    found = Shipment.objects.filter(entry__in=list(entry_ids)).select_related("order__customer")
    return {shipment.entry_id: shipment for shipment in found if shipment.entry_id}


def returns_by_entry(entry_ids: Iterable[int]) -> dict[int, Return]:
    """Return the goods that came back by these entries of the book."""
    found = Return.objects.filter(entry__in=list(entry_ids)).select_related("shipment_line__line__order__customer")
    return {returned.entry_id: returned for returned in found}


def shipped(lot_ids: Iterable[int]) -> list[ShippedLot]:
    """Return where pieces of these lots were sent and not taken back by an undoing: the end of the trace."""
    found = ShippedLot.objects.filter(lot__in=list(lot_ids), shipment_line__shipment__reversed_at=None)
    return list(
        found.select_related("lot__item", "shipment_line__shipment", "shipment_line__line__order__customer").order_by(
            "shipment_line__shipment__number", "id"
        )
    )


def lots_sent(order: Order) -> set[int]:
    """Return the lots that went out for an order."""
    found = ShippedLot.objects.filter(shipment_line__shipment__order=order, shipment_line__shipment__reversed_at=None)
    return set(found.values_list("lot_id", flat=True))


def open_holds(*, at: dt.datetime) -> list[Hold]:
    """Return what is put by and has not lapsed, the one that ends first first."""
    found = Hold.objects.filter(ended_at=None, became=None, until__gt=at).select_related("item")
    return list(found.order_by("until", "id"))


def find_hold(number: int) -> Hold | None:
    """Return a hold by its number."""
    return Hold.objects.select_related("item", "became__order").filter(pk=number).first()


def waiting_inspection() -> list[Return]:
    """Return what came back and is not all inspected, the oldest first."""
    found = Return.objects.filter(reversed_at=None, inspected__lt=F("qty"))
    return list(found.select_related("shipment_line__line__item", "shipment_line__shipment__order").order_by("number"))


def find_return(number: int) -> Return | None:
    """Return what came back under this number."""
    found = Return.objects.select_related("shipment_line__line__item", "shipment_line__shipment__order__customer", "by")
    return found.filter(number=number).first()


def names_file(kept_as: str) -> bool:
    """Return whether an order line names a kept file."""
    return OrderLine.objects.filter(file=kept_as).exists()
