"""What to order and what to make: every item that is reordered, as it stands this evening, with its decision."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from inventory.calc import lead_times
from inventory.calc.lead_times import LeadTime, Record
from inventory.calc.reorder.deciding import Asked, Coming, Decision, decide
from inventory.calc.reorder.lead_demand import Demand
from inventory.models import Item, PurchaseOrderLine
from inventory.queries import lasting, lead_record
from orders.models import ForShelf
from orders.queries.reorder import basis as bases
from orders.queries.reorder.basis import Basis
from orders.queries.reorder.positions import Position, positions
from orders.queries.reorder.structure import Structure, structure
from shop.shared import clock, shop_row

EVERY: Final = 400  # items up to which each is decided on when a page is opened; of more only those near their point
NEAR: Final = 1.5  # times its point within which an item of a big shop is looked at
WEEK: Final = 7
_HALF: Final = 0.5


@dataclass(frozen=True, slots=True)
class Need:
    """One item with what it rests on, where it stands and what follows.

    `late` are orders whose day has passed and without which there is not enough, by number with that day.
    """

    basis: Basis
    position: Position
    asked: Asked
    decision: Decision
    today: dt.date
    late: Mapping[int, dt.date] = field(default_factory=dict)

    @property
    def item(self) -> Item:
        """Return the item."""
        return self.basis.item

    @property
    def make(self) -> bool:
        """Return whether the shop makes it itself."""
        return self.basis.make

    @property
    def due(self) -> bool:
        """Return whether it is to be ordered or made now."""
        return self.decision.order_now and self.decision.least > 0

    @property
    def runs_dry(self) -> dt.date | None:
        """Return the day it runs dry half the time before all that is on its way comes, of which there is enough."""
        until = self.decision.lasts_until
        return until if until is not None and self._comes_after(until) else None

    @property
    def may_run_dry(self) -> dt.date | None:
        """Return the day from which it is no longer as sure as wanted to last until what is on its way comes."""
        safe = self.decision.last_safe_day
        return safe if safe is not None and self._comes_after(safe) else None

    @property
    def too_late(self) -> list[int]:
        """Return the orders that usually come only when it has run dry, by number; all that it is in where none does."""
        day = self.runs_dry or self.may_run_dry
        rows = list(zip(self.position.coming, self.asked.coming, strict=False))
        slow = {line.order.number for (line, _), one in rows if day is not None and self._arrives(one) > day}
        return sorted(slow or {line.order.number for line, _ in self.position.coming})

    @property
    def pressing(self) -> bool:
        """Return whether somebody has to do something about it: order or make it, or see to what is on its way."""
        return self.due or self.runs_dry is not None or bool(self.late)

    def _comes_after(self, day: dt.date) -> bool:
        return not self.due and any(self._arrives(one) > day for one in self.asked.coming)

    def _arrives(self, one: Coming) -> dt.date:
        return self.today + dt.timedelta(days=one.rest.within(_HALF))

    @property
    def urgency(self) -> tuple[dt.date, str]:
        """Return what needs are sorted by: what ends first, first."""
        return self.decision.last_safe_day or dt.date.max, self.item.code


@dataclass(frozen=True, slots=True)
class Stands:
    """The shop as reordering sees it; `bases` and `places` by item, `late` the days of orders that are late, by number."""

    built: Structure
    bases: Mapping[int, Basis]
    places: Mapping[int, Position]
    records: Mapping[int, list[Record]]
    wishes: Mapping[int, int]
    today: dt.date
    late: Mapping[int, dt.date] = field(default_factory=dict)


def stands(*, at: dt.datetime) -> Stands:
    """Read the shop: as the night learned it, and worked out now where it has not."""
    shop = shop_row.the_shop()
    today = clock.local_date(at, shop.zone)
    built = structure(kerf_nm=shop.kerf_nm)
    known = bases.kept(built, shop)
    if any(bases.looked_at(one) and pk not in known for pk, one in built.items.items()):
        known = {**bases.worked_out(built, shop, today=today), **known}
    per_day = {pk: one.per_day for pk, one in known.items()}
    takes = {pk: one.lead.mean for pk, one in known.items()}
    places = positions(built, at=at, today=today, per_day=per_day, takes=takes)
    out = {
        line.order_id: line.order
        for place in places.values()
        for line, _ in place.coming
        if line.order.number not in place.not_sent
    }
    late = lasting.late_of(out.values(), today=today)
    return Stands(built, known, places, records(built, zone=shop.zone), wishes(), today, late)


def records(built: Structure, *, zone: str) -> dict[int, list[Record]]:
    """Return what each supplier took, order line by order line."""
    suppliers = {one.supplier_id for one in built.items.values() if one.supplier_id}
    return {pk: [one.record for one in rows] for pk, rows in lead_record.lines(suppliers, zone=zone).items()}


def wishes() -> dict[int, int]:
    """Return the pieces of each item that are wished for the shelf and not begun."""
    return dict(ForShelf.objects.filter(run=None, dropped_at=None).values_list("item_id", "pieces"))


def needs(*, at: dt.datetime, every: bool = False) -> list[Need]:
    """Return what is to be ordered or made, what ends first, first; with `every` also what is enough; writes nothing.

    Of a big shop only what lies near its point is decided on.
    """
    return [one for one in decided(stands(at=at)) if every or one.due]


def decided(shop: Stands) -> list[Need]:
    """Return every item with its decision, what ends first, first; of a big shop only what lies near its point."""
    few = len(shop.bases) <= EVERY
    found = [need_of(shop, pk) for pk in shop.bases if few or _near(shop, pk)]
    return sorted(found, key=lambda one: one.urgency)


def need(item: Item, *, at: dt.datetime) -> Need | None:
    """Return one item's need, or nothing where it is not reordered."""
    shop = stands(at=at)
    return need_of(shop, item.pk) if item.pk in shop.bases else None


def _near(shop: Stands, pk: int) -> bool:
    one = shop.bases[pk]
    point = max(one.point or 0, one.item.reorder_point or 0)
    return one.point is None or shop.places[pk].total <= NEAR * point + 1


def need_of(shop: Stands, pk: int) -> Need:
    """Decide on one item."""
    one, place = shop.bases[pk], shop.places[pk]
    asked = asked_of(shop, one, place)
    decision = decide(asked, today=shop.today)
    late = {line.order.number: qty for line, qty in place.coming if line.order.number in shop.late}
    if one.make or decision.order_now or decision.position - sum(late.values()) > decision.point:
        late = {}
    return Need(one, place, asked, decision, shop.today, {number: shop.late[number] for number in late})


def asked_of(shop: Stands, one: Basis, place: Position) -> Asked:
    """Put the question about an item.

    What orders wait for of a thing the shop makes is planned by the week sheet anyway: only what is left over counts as
    there, and what is wished for the shelf counts as coming.
    """
    there = place.free + place.floor + place.inside
    known: tuple[tuple[int, int], ...] = ()
    if one.make:
        owed = place.owed + place.for_shelf
        wish = shop.wishes.get(one.item.pk, 0)
        coming = [Coming(wish, one.lead)] if wish else []
        free, waited = max(0, math.floor(there - owed)) + math.floor(place.heads + 1e-6), 0
    else:
        coming = [Coming(qty, rest(shop, one, line)) for line, qty in place.coming]
        free, waited = max(0, math.floor(there)), math.ceil(place.waiting - 1e-6)
        known = tuple(
            (max(1, (day - shop.today).days), math.ceil(qty - 1e-6))
            for day, qty in sorted((*place.later.items(), *place.shelf.items()))
            if qty > 0
        )
    return Asked(
        free, _demand(shop, one, known), one.lead, one.service, one.item.pk, tuple(coming), waited,
        own_point=one.item.reorder_point,
    )  # fmt: skip


def _demand(shop: Stands, one: Basis, known: tuple[tuple[int, int], ...]) -> Demand:
    days = max(0, (shop.today - one.learned_on).days)
    weeks = one.per_week[days // WEEK % len(one.per_week) :] + one.per_week[: days // WEEK % len(one.per_week)]
    told = () if one.silent else weeks
    return Demand(known, told, one.history, days % WEEK, error=one.error, horizon=one.horizon)


def rest(shop: Stands, one: Basis, line: PurchaseOrderLine) -> LeadTime:
    """Return the days from today until an order's line comes."""
    order = line.order
    return lead_times.rest_of(
        one.lead, shop.records.get(order.supplier_id, []), ordered=min(order.ordered_on, shop.today),
        promised=_day_of(line), today=shop.today,
    )  # fmt: skip


def _day_of(line: PurchaseOrderLine) -> dt.date | None:
    order = line.order
    day = order.confirmed_on or order.wanted_on
    return day if day is None or day >= order.ordered_on else order.ordered_on


def made(found: Iterable[Need]) -> list[Need]:
    """Return what the shop makes itself."""
    return [one for one in found if one.make]


def bought(found: Iterable[Need]) -> list[Need]:
    """Return what is bought."""
    return [one for one in found if not one.make]
