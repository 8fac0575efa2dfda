"""However long the book is, a family and a balance are looked up by index: no table that grows is read whole.

The database of a test is small, and PostgreSQL rightly reads a small table whole; here it is told to do so only where no
index would serve. What it does of its own accord in a long book is looked at by the bench of the trace.
"""

import pytest
from django.db import connection

from inventory.models import Lot, Melt
from inventory.queries import balance, trace
from orders.queries import book as order_book
from orders.queries import went_into
from tests import makers, plans

pytestmark = pytest.mark.django_db
GROWING = {
    "inventory_bar", "inventory_cut", "inventory_deliveryline", "inventory_entry", "inventory_holding",
    "inventory_lot", "inventory_lotparent", "inventory_movement", "orders_order", "orders_orderline",
    "orders_shipment", "orders_shipmentline", "orders_shippedlot",
}  # fmt: skip


@pytest.fixture
def sent() -> Lot:
    """A tool of which something was sent."""
    tool = makers.make_tool()
    makers.put_in_parts(tool, 6, 6, 12)
    made = makers.make_up(tool, 4)
    makers.send(makers.make_order({tool.item: 3}))
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
    return made.lots[0]


def test_from_a_tool_up_and_down_only_indexes_are_read(sent: Lot) -> None:
    def family() -> None:
        steps = trace.up([sent.pk])
        downs = trace.down(trace.roots([sent.pk], steps))
        assert {step.child for step in (*steps, *downs)} == {sent.pk}
        trace.forward([sent.pk], downs)
        assert order_book.shipped([sent.pk])
        went_into.taken_out([sent.pk])

    said = plans.statements(family)
    assert sum("RECURSIVE" in sql for sql, _ in said) == 2
    assert plans.read_whole(said, GROWING) == []


def test_from_a_melt_to_whoever_has_the_pieces_only_indexes_are_read(sent: Lot) -> None:
    melt = Melt.objects.get(lots__children__child=sent)

    def whole() -> None:
        starts = trace.lots_of_melt(melt)
        assert order_book.shipped({*starts, *(step.child for step in trace.down(starts))})
        assert balance.of_melt(melt)
        balance.weighed(melt)

    assert plans.read_whole(plans.statements(whole), GROWING) == []


def test_a_plan_without_an_index_would_be_found() -> None:
    said = plans.statements(lambda: list(Lot.objects.filter(cost_minor=7)))
    assert len(plans.read_whole(said, GROWING)) == 1
