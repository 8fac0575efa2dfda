"""What there is of each item and what is spoken for, finished, in the works and on order; parts count what they are in."""

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from django.db.models import F, Q, Sum

from inventory.models import AllocationPart, Holding, Item, ItemStock, Place, PurchaseOrderLine
from inventory.queries import lasting, learned
from orders.models import OrderLine, Promise
from orders.queries.reorder import shelf_wishes
from orders.queries.reorder.basis import MAKING_DAYS
from orders.queries.reorder.shelf_wishes import Wish
from orders.queries.reorder.structure import Structure
from orders.queries.shop_state.reached import walks_of

COVER: Final = 28  # days beyond the lead time for which parts inside wholes count. No source


@dataclass(slots=True)
class Position:
    """One item in its own unit. `later` is wanted by orders from a day on, `shelf` for what is made for the shelf.

    `heads` are good ones in the works that no order waits for, dealt to the tools they can become; `coming` is on order,
    and the orders in `not_sent` are written and the supplier does not know of them. `ends` of steel are too short for
    any blank of it, and not among what is free.
    """

    free: int = 0
    ends: int = 0
    floor: float = 0.0
    waiting: float = 0.0
    inside: float = 0.0
    heads: float = 0.0
    later: dict[dt.date, float] = field(default_factory=lambda: defaultdict(float))
    shelf: dict[dt.date, float] = field(default_factory=lambda: defaultdict(float))
    coming: list[tuple[PurchaseOrderLine, int]] = field(default_factory=list)
    not_sent: set[int] = field(default_factory=set)

    @property
    def owed(self) -> float:
        """Return what orders wait for, now and later."""
        return self.waiting + sum(self.later.values())

    @property
    def for_shelf(self) -> float:
        """Return what is wanted for what is made for the shelf."""
        return sum(self.shelf.values())

    @property
    def beyond(self) -> float:
        """Return what orders and the shelf wait for now and later, less what is inside the wholes that they get."""
        return self.waiting + self.for_shelf + max(0.0, sum(self.later.values()) - self.inside)

    @property
    def on_order(self) -> int:
        """Return what is on order and not here."""
        return sum(qty for _, qty in self.coming)

    @property
    def there(self) -> float:
        """Return what is free, in the works and inside what is free of the wholes, less what orders wait for now."""
        return self.free + self.floor + self.inside - self.waiting

    @property
    def total(self) -> float:
        """Return all of it: what is there, on order, and not wanted later."""
        return self.there + self.on_order - sum(self.later.values()) - self.for_shelf


def positions(
    built: Structure, *, at: dt.datetime, today: dt.date, per_day: Mapping[int, float], takes: Mapping[int, float]
) -> dict[int, Position]:
    """Return where each item stands.

    Args:
        built: what goes into what.
        at: the instant; a hold that has lapsed counts for nobody.
        today: the shop's day.
        per_day: forecast of each item, units a day.
        takes: usual days until each item is here or made; a part inside a whole counts only as far as the whole itself
            is asked for in these and COVER more, so that a shelf full of one tool does not hide that another lacks handles.
    """
    found: dict[int, Position] = {pk: Position() for pk in built.items}
    _stock(found, at)
    _ends(found, built)
    _floor(found, built)
    _lines(found, today)
    _on_order(found)
    wishes = shelf_wishes.read(today=today, takes=takes)
    for one in built.goes:
        whole, part = found[one.whole], found[one.part]
        most = per_day.get(one.whole, 0.0) * (takes[one.part] + COVER) if one.part in takes else 0.0
        spare = max(0.0, whole.there)
        part.inside += one.per * min(max(0.0, spare - whole.for_shelf), most)
        part.waiting += one.per * max(0.0, -whole.there)
        for day, qty in whole.later.items():
            part.later[max(today, day - dt.timedelta(days=MAKING_DAYS))] += one.per * qty
        _for_shelf(built.items[one.whole], whole, part, one.per, wishes.get(one.whole), today)
    _heads(found, built, per_day)
    return found


def _for_shelf(item: Item, whole: Position, part: Position, per: float, wish: Wish | None, today: dt.date) -> None:
    """Put down what of a part the runs for the shelf take, and when: of what is there of the whole nothing more is made."""
    spare = max(0.0, whole.there)
    for day, qty in sorted(whole.shelf.items()):
        made = max(0.0, qty - spare)
        spare = max(0.0, spare - qty)
        if made:
            begun = day if item.kind == Item.Kind.BLANK else shelf_wishes.begun(day, today)
            part.shelf[begun] += per * made
    if wish is not None:
        part.shelf[wish.ready if item.kind == Item.Kind.TOOL else wish.begun] += per * wish.pieces


def _on_order(found: Mapping[int, Position]) -> None:
    """Put down what is on order, and which of the orders are not sent."""
    for coming in lasting.open_lines():
        left = lasting.left(coming)
        if left and coming.item_id in found:
            found[coming.item_id].coming.append((coming, left))
            if not getattr(coming, "sent", True):
                found[coming.item_id].not_sent.add(coming.order.number)


def _heads(found: Mapping[int, Position], built: Structure, per_day: Mapping[int, float]) -> None:
    """Deal heads in the works to the tools they go into, by how many of each are asked for a day."""
    for head, goes in built.below().items():
        tools = [one.whole for one in goes if built.items[one.whole].kind == Item.Kind.TOOL]
        place = found[head]
        spare = place.floor - max(0.0, place.beyond - place.free)
        if built.items[head].kind != Item.Kind.HEAD or spare <= 0 or not tools:
            continue
        asked = sum(per_day.get(tool, 0.0) for tool in tools)
        for tool in tools:
            share = per_day.get(tool, 0.0) / asked if asked else 1 / len(tools)
            found[tool].heads += spare * share


def _stock(found: Mapping[int, Position], at: dt.datetime) -> None:
    """Put down what is free; bars that are reserved or wait at the Door for a look are steel all the same."""
    lapsed = AllocationPart.objects.filter(open=True, allocation__closed_at=None, allocation__expires_at__lte=at)
    freed = dict(lapsed.order_by().values_list("item_id").annotate(qty=Sum("qty")))
    rows = ItemStock.objects.values_list("item_id", "sellable", "allocated", "waiting")
    for item, sellable, allocated, _ in rows.iterator(chunk_size=5_000):
        if item in found:
            found[item].free = sellable - allocated + int(freed.get(item, 0))
    door = Holding.objects.filter(place__kind=Place.Kind.DOOR, on_hand__gt=0).order_by()
    for item, qty in door.values_list("item_id").annotate(qty=Sum(F("on_hand") - F("allocated"))):
        if item in found:
            found[item].free += int(qty)


def _ends(found: Mapping[int, Position], built: Structure) -> None:
    """Take ends off what is free: they lie on the rack, and nothing that is made here can be sawn from them."""
    shortest: dict[int, int] = {}
    for one in built.goes:
        length = built.items[one.whole].blank_length_nm
        if built.items[one.part].kind == Item.Kind.BAR and length:
            shortest[one.part] = min(length, shortest.get(one.part, length))
    standing = Q(place__sellable=True) | Q(place__kind=Place.Kind.DOOR)
    rows = Holding.objects.filter(standing, item__kind=Item.Kind.BAR, step=0, on_hand__gt=F("allocated")).filter(
        on_hand__lt=max(shortest.values(), default=0)
    )
    for item, on_hand, allocated in rows.order_by().values_list("item_id", "on_hand", "allocated"):
        if on_hand < shortest.get(item, 0):
            found[item].ends += on_hand - allocated
            found[item].free -= on_hand - allocated


def _floor(found: Mapping[int, Position], built: Structure) -> None:
    """Put down heads and tools in the works: of heads as many as are likely to come good from where they stand."""
    works = Holding.objects.filter(
        place__kind__in=(Place.Kind.FLOOR, Place.Kind.OVEN, Place.Kind.CURE, Place.Kind.INSPECTION), on_hand__gt=0
    ).order_by()
    stands: dict[int, dict[int, int]] = defaultdict(dict)
    rows = works.values_list("item_id", "step").annotate(qty=Sum(F("on_hand") - F("allocated")))
    for item, step, qty in rows:
        if item in found:
            stands[item][step] = int(qty)
    walks = walks_of({built.items[item].pattern_id or 0 for item in stands})
    for item, by_step in stands.items():
        one = built.items[item]
        walk = walks.get(one.pattern_id or 0)
        if one.kind == Item.Kind.HEAD and one.pattern is not None and walk is not None:
            last = walk.last_of_head()
            rates = [
                rate for rate in learned.rates(one.pattern, walk) if last is None or rate.step.number <= last.number
            ]
            found[item].floor = learned.expected(by_step, rates)
        else:
            found[item].floor = float(sum(by_step.values()))


def _lines(found: Mapping[int, Position], today: dt.date) -> None:
    """Put down what open lines wait for, from the day they are wanted where that is later than today."""
    lines = OrderLine.objects.filter(
        order__closed_at=None, item__isnull=False, ordered__gt=F("shipped") + F("cancelled") + F("reserved")
    ).select_related("order")
    given: dict[int, dt.date] = {}
    standing = Promise.objects.filter(superseded_by=None, order__closed_at=None).order_by("id")
    for order, line, promised in standing.values_list("order_id", "line_id", "day"):
        given[-order if line is None else line] = promised
    for one in lines.iterator(chunk_size=5_000):
        row = found.get(one.item_id or 0)
        if row is None:
            continue
        day = given.get(one.pk) or given.get(-one.order_id) or one.order.not_before
        if day is not None and day > today:
            row.later[day] += one.waiting
        else:
            row.waiting += one.waiting
