"""The consistency conditions of TPC-C that apply to a shop, on a database that a busy shop has filled.

Source: TPC Benchmark C, Standard Specification, Revision 5.11, clause 3.3.2, conditions 1 to 12 (worded here for the
tables of this shop). A district's year-to-date sums are here an order's money, an item's counters and the stock of
every lot and place. Left out: condition 3 (open order numbers contiguous: orders here finish out of turn), 11 (a
constant of the benchmark's own data). Nothing in the clause speaks of the stock quantity itself; the conditions on it
below the line are the shop's own.
"""

import datetime as dt
import random
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection, transaction
from django.db.models import Count, F, Max, Q, Sum

from inventory.models import AllocationPart, Entry, Holding, ItemStock, Lot, LotParent, Movement, Place
from orders.models import Money, Order, OrderLine, Return, Shipment, ShipmentLine, ShippedLot
from orders.services import holding, ordering, shipping
from orders.services.ordering import Terms, Wanted
from orders.services.shipping import Parcel
from shop.flows import sweeping
from shop.shared.errors import Refusal
from shop.shared.models import Series
from tests import makers
from tests.flows import busy_book

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
BY = makers.actor()


@pytest.fixture(scope="module", autouse=True)
def _a_busy_shop(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Some weeks of everything, then two hundred pieces of business drawn from a seed; never committed."""
    with django_db_blocker.unblock(), transaction.atomic():
        connection.atomic_blocks[-1]._from_testcase = True  # as Django's own test cases: durable blocks may nest in it
        busy_book.build()
        _do_business(random.Random(5), busy_book.LATER)
        yield
        transaction.set_rollback(True)


def _do_business(chance: random.Random, at: dt.datetime) -> None:
    tools = [makers.make_tool() for _ in range(2)]
    for tool in tools:
        for _ in range(3):
            makers.put_in_parts(tool, 12, 12, 24, at=at)
    items, customer = [item for tool in tools for item in (tool.item, tool.handle)], makers.make_customer()
    for _ in range(200):
        at += dt.timedelta(seconds=chance.choice([1, 30, 90]))
        try:
            with transaction.atomic():
                _one(chance, items, customer, at)
        except Refusal:
            continue
    sweeping.sweep(lambda: at)


def _one(chance: random.Random, items: list, customer: Any, at: dt.datetime) -> None:
    what, qty = chance.random(), chance.randint(1, 4)
    orders = list(Order.objects.filter(closed_at=None).order_by("pk"))
    if what < 0.4 or not orders:
        wanted = [Wanted(qty=qty, item=item) for item in chance.sample(items, chance.randint(1, 3))]
        terms = Terms(send_when_paid=chance.random() < 0.2, carriage_minor=500)
        ordering.take(customer, wanted, terms, at=at, by=BY, wait=chance.random() < 0.7)
    elif what < 0.5:
        holding.put_by(chance.choice(items), qty, minutes=1, at=at, made_by="tests")
    elif what < 0.7:
        order = chance.choice(orders)
        lines = {line.number: chance.randint(1, line.reserved) for line in order.lines.all() if line.reserved}
        shipping.send(order, lines, Parcel(carrier="Invented Carrier"), stamp=makers.stamp(at=at))
    elif what < 0.8:
        ordering.receive_money(chance.choice(orders), qty * 2_250, how="bank", at=at, by=BY)
    elif what < 0.9:
        ordering.cancel(chance.choice(list(chance.choice(orders).lines.all())), qty, at=at, by=BY)
    else:
        makers.put_in(chance.choice(items), qty, at=at)


def test_the_shop_was_busy_enough_for_this_to_mean_something() -> None:
    assert Order.objects.count() > 50
    assert Shipment.objects.count() > 20
    assert OrderLine.objects.filter(gathers=True).exists()
    assert OrderLine.objects.filter(cancelled__gt=0, shipped__gt=0).exists()
    assert Entry.objects.filter(kind="made up").count() > 5
    assert {order.closed_at is None for order in Order.objects.all()} == {True, False}


def test_condition_1_the_whole_is_the_sum_of_its_parts() -> None:
    """W_YTD = sum(D_YTD): an item's counters are the sums of its holdings, an order's total that of its lines."""
    sells = Q(place__sellable=True, step=0)
    for row in ItemStock.objects.all():
        sums = Holding.objects.filter(item_id=row.pk).aggregate(
            there=Sum("on_hand", filter=sells, default=0), aside=Sum("allocated", default=0)
        )
        assert (row.sellable, row.allocated) == (sums["there"], sums["aside"])
    for order in Order.objects.all():
        lines = order.lines.aggregate(n=Sum((F("ordered") - F("cancelled")) * F("price_minor"), default=0))["n"]
        assert ordering.total_minor(order) == lines + order.carriage_minor


@pytest.mark.parametrize(("name", "model"), [("order", Order), ("shipment", Shipment), ("return", Return)])
def test_condition_2_the_next_number_follows_the_highest_used(name: str, model: Any) -> None:
    """D_NEXT_O_ID - 1 = max(O_ID); here the series has no gap either."""
    numbers = list(model.objects.order_by("number").values_list("number", flat=True))
    assert Series.objects.get(name=name).next_number - 1 == model.objects.aggregate(n=Max("number"))["n"]
    assert numbers == list(range(1, len(numbers) + 1))


def test_conditions_4_and_6_the_lines_that_are_counted_are_there() -> None:
    """sum(O_OL_CNT) = number of lines, in all and for each order: an entry has as many lines as it was booked with."""
    assert Entry.objects.aggregate(n=Sum("lines"))["n"] == Movement.objects.count()
    for entry in Entry.objects.annotate(n=Count("movements")):
        assert entry.lines == entry.n
    for order in Order.objects.annotate(n=Count("lines"), last=Max("lines__number")):
        assert order.n == order.last > 0


def test_condition_5_an_order_is_in_the_open_queue_until_all_of_it_was_sent_or_cancelled() -> None:
    """O_CARRIER_ID is null if and only if the order stands in NEW-ORDER."""
    for order in Order.objects.all():
        owed = sum(line.ordered - line.cancelled - line.shipped for line in order.lines.all())
        assert (order.closed_at is None) == (owed > 0)


def test_condition_7_a_piece_counts_as_sent_only_with_the_shipment_it_went_in() -> None:
    """OL_DELIVERY_D is null if and only if the order has no carrier: here for the quantity of each line."""
    gone = dict(
        ShipmentLine.objects.filter(shipment__reversed_at=None).values_list("line_id").annotate(total=Sum("qty"))
    )
    for line in OrderLine.objects.all():
        assert line.shipped == gone.get(line.pk, 0)
    assert not Shipment.objects.filter(lines=None).exists()


def test_conditions_8_and_9_what_stands_there_is_the_sum_of_its_history() -> None:
    """W_YTD and D_YTD = sum(H_AMOUNT): for each lot and place, and for the money of each order."""
    places = set(Place.objects.filter(inside=True).values_list("pk", flat=True))
    balance: dict[tuple[int, int, int], int] = {}
    for lot, source, out, target, into, qty in Movement.objects.values_list(
        "lot", "from_place", "from_step", "to_place", "to_step", "qty"
    ):
        balance[lot, source, out] = balance.get((lot, source, out), 0) - qty
        balance[lot, target, into] = balance.get((lot, target, into), 0) + qty
    stands = {(h.lot_id, h.place_id, h.step): h.on_hand for h in Holding.objects.all()}
    assert {key: qty for key, qty in balance.items() if key[1] in places} == stands
    for order in Order.objects.all():
        assert (
            order.received_minor == Money.objects.filter(order=order).aggregate(n=Sum("amount_minor", default=0))["n"]
        )


def test_conditions_10_and_12_what_is_owed_is_what_was_ordered_less_what_was_sent_or_cancelled() -> None:
    """C_BALANCE = delivered - paid, C_BALANCE + C_YTD_PAYMENT = delivered: the shop keeps no balance in money, so here
    in pieces, for each line and for each item.
    """
    for line in OrderLine.objects.all():
        assert line.ordered == line.shipped + line.cancelled + line.reserved + line.waiting
        assert min(line.shipped, line.cancelled, line.reserved, line.waiting) >= 0
    for row in ItemStock.objects.all():
        waits = F("ordered") - F("shipped") - F("cancelled") - F("reserved")
        lines = OrderLine.objects.filter(item_id=row.pk, gathers=True).aggregate(n=Sum(waits, default=0))["n"]
        assert row.waiting == lines


# ---- the shop's own conditions on stock, of which the standard has none


def test_no_stock_is_below_nothing_and_none_is_set_aside_twice() -> None:
    assert not Holding.objects.filter(Q(on_hand__lt=0) | Q(allocated__lt=0) | Q(allocated__gt=F("on_hand"))).exists()
    parts = dict(AllocationPart.objects.filter(open=True).values_list("holding_id").annotate(total=Sum("qty")))
    assert {h.pk: h.allocated for h in Holding.objects.filter(allocated__gt=0)} == parts


def test_what_was_sent_left_the_shop_once() -> None:
    out = dict(
        Movement.objects.filter(to_place__code="CUSTOMER", entry__kind="shipment")
        .values_list("lot_id")
        .annotate(total=Sum("qty"))
    )
    assert dict(ShippedLot.objects.values_list("lot_id").annotate(total=Sum("qty"))) == out


def test_a_made_tool_holds_exactly_the_parts_of_its_recipe_and_the_steel_of_one_melt() -> None:
    made = Movement.objects.filter(entry__kind="made up", from_place__code="WORKED-UP").select_related("lot__item")
    assert made.count() > 5
    for movement in made:
        recipe = dict(movement.lot.item.recipe.values_list("part_id", "quantity"))
        parents = LotParent.objects.filter(child=movement.lot)
        held = dict(parents.values_list("parent__item_id").annotate(total=Sum("quantity")))
        assert held == {part: per * movement.qty for part, per in recipe.items()}
        melts = set(parents.exclude(parent__melt=None).values_list("parent__melt_id", flat=True))
        assert melts == {movement.lot.melt_id}


def test_every_lot_came_from_somewhere() -> None:
    assert not Lot.objects.filter(movements=None).exists()
    for lot in Lot.objects.all():
        first = lot.movements.order_by("id").first()
        assert first is not None
        assert (first.entry_id, first.from_place.inside) == (lot.entry_id, False)
