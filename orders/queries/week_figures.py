"""What the owner reads once a week: pieces lost and what they cost, days kept, steel wasted, money in stock."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from inventory.models import Cut, Entry, Holding, Item, Lot, Movement, Pattern, Place
from inventory.queries import learned, prices, running_costs
from inventory.queries.costs import Costs
from orders.queries import kept_days
from orders.queries.reorder.needs import Need
from shop.shared import clock


@dataclass(frozen=True, slots=True)
class Lost:
    """Pieces of a pattern rejected for one cause at one point, and what they cost, minor units."""

    pattern: Pattern
    point: str
    cause: str
    pieces: int
    cost: int


@dataclass(frozen=True, slots=True)
class Kept:
    """Days given that were over in the week: how many, and how many of them were kept."""

    given: int
    kept: int


@dataclass(frozen=True, slots=True)
class Waste:
    """Steel sawn in the week, nanometres: what went in, and what of it became kerf, trim and scrap ends."""

    sawn: int
    lost: int

    @property
    def of_hundred(self) -> float:
        """Return how many of a hundred were lost."""
        return 100 * self.lost / self.sawn if self.sawn else 0.0


@dataclass(frozen=True, slots=True)
class Stock:
    """Money in stock by kind of item, minor units, and how many lots have no known cost."""

    by_kind: Mapping[str, int]
    unknown: int

    @property
    def total(self) -> int:
        """Return all of it."""
        return sum(self.by_kind.values())


def losses(*, since: dt.datetime) -> list[Lost]:
    """Return what was lost since a moment, the dearest first."""
    found = []
    for pattern in Pattern.objects.order_by("code"):
        causes = learned.causes(since=since, pattern=pattern)
        costs = running_costs.reject_costs(causes, pattern)
        for (point, cause), pieces in causes.items():
            found.append(Lost(pattern, point, cause, pieces, costs.get(f"{cause} at {point}", 0)))
    return sorted(found, key=lambda one: (-one.cost, -one.pieces, one.pattern.code, one.point, one.cause))


@dataclass(frozen=True, slots=True)
class Missing:
    """What counts found missing of an item, in its unit, less what they found too much of it; what it had cost, minor units."""

    item: Item
    qty: int
    cost: int


def missing(*, since: dt.datetime) -> list[Missing]:
    """Return what counts since a moment found missing, the dearest first."""
    counted = Movement.objects.filter(
        entry__kind=Entry.Kind.COUNT, entry__happened_at__gte=since, entry__reversed_by=None
    ).order_by()
    net: dict[int, int] = defaultdict(int)
    for sign, rows in (
        (1, counted.filter(to_place__kind=Place.Kind.DIFFERENCE)),
        (-1, counted.filter(from_place__kind=Place.Kind.DIFFERENCE)),
    ):
        for item, qty in rows.values_list("item_id").annotate(total=Sum("qty")):
            net[item] += sign * int(qty)
    items = Item.objects.in_bulk([pk for pk, qty in net.items() if qty > 0])
    costs = prices.unit_costs(items)
    found = [Missing(one, net[pk], round(net[pk] * costs.get(pk, 0.0))) for pk, one in items.items()]
    return sorted(found, key=lambda one: (-one.cost, one.item.code))


def days_kept(*, first: dt.date, last: dt.date, zone: str) -> Kept:
    """Return the days given that lay in the span, worked out or by hand, and those that were kept."""
    told = kept_days.days(zone=zone)
    over = [one for one in (*told.calculated, *told.by_hand) if first.toordinal() <= one.day <= last.toordinal()]
    return Kept(len(over), sum(one.sent is not None and one.sent <= one.day for one in over))


def waste(*, since: dt.datetime) -> Waste:
    """Return the steel sawn since a moment, and what of it was lost."""
    cuts = Cut.objects.filter(entry__happened_at__gte=since, entry__reversed_by=None)
    sums = cuts.aggregate(
        sawn=Sum("taken_nm"), kerf=Sum("kerfs_nm"), trim=Sum("trim_nm"), scrap=Sum("scrap_nm"), rest=Sum("remnant_nm")
    )
    number = {name: int(value or 0) for name, value in sums.items()}
    return Waste(number["sawn"] - number["rest"], number["kerf"] + number["trim"] + number["scrap"])


def stock(costs: Costs | None = None) -> Stock:
    """Return what stands in the shop at what it has cost in material; what is lent out belongs to it too."""
    costs = costs or Costs()
    held = Holding.objects.filter(on_hand__gt=0, place__inside=True).order_by()
    there = dict(held.values_list("lot_id").annotate(qty=Sum("on_hand")))
    found: dict[str, int] = defaultdict(int)
    unknown = 0
    for lot in Lot.objects.filter(pk__in=list(there)).select_related("item").iterator(chunk_size=500):
        dealt = costs.of(lot)
        if dealt is None or not dealt.pieces:
            unknown += 1
            continue
        found[lot.item.kind] += dealt.borne * min(int(there[lot.pk]), dealt.pieces) // dealt.pieces
    return Stock(dict(found), unknown)


@dataclass(frozen=True, slots=True)
class Idle:
    """An item of which more than a year's use is in the shop."""

    item: Item
    need: Need


def idle(found: Sequence[Need], *, most: int = 3) -> list[Idle]:
    """Return what lies longest: bought goods of which more than a year's use is there, the most valuable first."""
    long = [one for one in found if not one.make and one.decision.lasts_until is None and one.position.free > 0]
    long.sort(key=lambda one: (-one.basis.yearly, one.item.code))
    return [Idle(one.item, one) for one in long[:most]]


def week_of(today: dt.date, zone: str) -> tuple[dt.date, dt.datetime]:
    """Return the first day of the seven that ended yesterday, and when it began."""
    first = today - dt.timedelta(days=7)
    return first, clock.at_local(first, 0, zone)
