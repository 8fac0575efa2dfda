"""Items of which open lines want more than is there: who has what set aside, who waits, what may be shared."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F, Q, QuerySet

from inventory.models import Item, ItemStock, RecipePart
from orders.calc.sharing import Claim
from orders.models import OrderLine, Promise


@dataclass(frozen=True, slots=True)
class Short:
    """One item: `there` pieces may be shared among `lines`, which want `wanted` in all; `days` by line, where given."""

    item: Item
    there: int
    lines: tuple[OrderLine, ...]
    days: dict[int, dt.date]

    @property
    def wanted(self) -> int:
        """Return how many the lines want in all."""
        return sum(wants(line) for line in self.lines)

    @property
    def set_aside(self) -> dict[int, int]:
        """Return how many each line has now."""
        return {line.pk: line.reserved for line in self.lines}

    @property
    def claims(self) -> list[Claim]:
        """Return the lines as the rules take them."""
        return [Claim(line.pk, wants(line), line.queue_no, self.days.get(line.pk), line.whole) for line in self.lines]

    @property
    def stamp(self) -> str:
        """Return what changes whenever the shares could: what is booked must be what was looked at."""
        facts = [self.there, *((one.line, one.wants, str(one.day), one.whole) for one in self.claims)]
        return hashlib.sha256(repr(facts).encode()).hexdigest()[:20]


def wants(line: OrderLine) -> int:
    """Return how many a line still wants: what it has and what it gathers; a line let go by hand wants no more."""
    return line.reserved + (line.waiting if line.gathers else 0)


def items() -> list[Item]:
    """Return the items for which somebody waits while somebody, perhaps the same, has pieces or some are free."""
    waiting = OrderLine.objects.filter(gathers=True, order__closed_at=None).values("item")
    return list(Item.objects.filter(pk__in=waiting).order_by("code"))


def several() -> list[Short]:
    """Return every item that is short and of which there is something to share among two lines or more."""
    found = [of(item) for item in items()]
    return [one for one in found if is_short(one)]


def is_short(one: Short) -> bool:
    """Return whether there is something to share: fewer than wanted, more than none, and two lines or more."""
    return 0 < one.there < one.wanted and len(one.lines) > 1


def of(item: Item) -> Short:
    """Return how an item stands between its open lines, in the order of the queue."""
    lines = tuple(_lines(item))
    there = sum(line.reserved for line in lines) + _free(item)
    return Short(item, there, lines, days_given(lines))


def days_given(lines: Sequence[OrderLine]) -> dict[int, dt.date]:
    """Return the standing day given of each line that has one: its own, else its order's."""
    standing = Promise.objects.filter(order__in={line.order_id for line in lines}, superseded_by=None).order_by("id")
    by_line: dict[int, dt.date] = {}
    by_order: dict[int, dt.date] = {}
    for promise in standing:
        if promise.line_id is None:
            by_order[promise.order_id] = promise.day
        else:
            by_line[promise.line_id] = promise.day
    days = {line.pk: by_line.get(line.pk, by_order.get(line.order_id)) for line in lines}
    return {pk: day for pk, day in days.items() if day is not None}


def _lines(item: Item) -> QuerySet[OrderLine]:
    lines = OrderLine.objects.filter(Q(reserved__gt=0) | Q(gathers=True), item=item, order__closed_at=None)
    return lines.select_related("order__customer", "order__release", "item", "allocation").order_by("queue_no")


def _free(item: Item) -> int:
    """Return how many are free, finished or as sets of parts; those that wait take them the next time anybody writes."""
    recipe = dict(RecipePart.objects.filter(tool=item).values_list("part_id", "quantity"))
    stock = ItemStock.objects.filter(pk__in=[item.pk, *recipe])
    free = dict(stock.annotate(free=F("sellable") - F("allocated")).values_list("item_id", "free"))
    made = min((free.get(part, 0) // per for part, per in recipe.items()), default=0)
    return int(free.get(item.pk, 0)) + made
