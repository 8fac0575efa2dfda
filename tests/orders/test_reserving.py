"""Who gets what: those who wait in their order, those promised last give way first, and the sweep leaves nothing over."""

import pytest
from django.db import transaction

from inventory.models import Holding, Item
from orders.models import Hold
from orders.services import ordering, reserving
from orders.services.ordering import Wanted
from shop.flows import giving_way
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT, line_of
from tests.recomputed import differences

pytestmark = pytest.mark.django_db
BY = makers.actor()


def test_the_lock_reaches_parts_and_the_tools_that_wait_for_them() -> None:
    tool = makers.make_tool()
    other = makers.make_item(Item.Kind.TOOL)
    with transaction.atomic():
        makers.catalogue.set_recipe(other, {tool.handle: 1}, at=AT, by=BY)
    ids = {tool.item.pk, *tool.recipe}
    assert reserving.reach([tool.item.pk], at=AT) == ids
    assert reserving.reach([tool.handle.pk], at=AT) == {tool.handle.pk}
    makers.make_order({other: 1})
    assert reserving.reach([tool.item.pk], at=AT) == ids | {other.pk}
    assert reserving.reach([tool.handle.pk], at=AT) == {tool.handle.pk, other.pk}


def test_the_lock_reaches_what_a_lapsed_hold_holds_together() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 1, 1, 2)
    hold = makers.make_hold(tool.item, 1, minutes=1)
    assert reserving.reach([tool.handle.pk], at=AT) == {tool.handle.pk}
    assert reserving.reach([tool.handle.pk], at=hold.until) == {*tool.recipe}


def test_a_lapsed_hold_on_a_tool_gives_its_handle_to_one_who_orders_the_handle() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 1, 1, 2)
    hold = makers.make_hold(tool.item, 1, minutes=1)
    order = makers.make_order({tool.handle: 1}, at=hold.until, wait=False)
    assert line_of(order).reserved == 1
    assert [makers.stock(part).allocated for part in tool.parts] == [0, 1, 0]
    assert differences() == []


def test_a_handle_that_comes_free_serves_a_tool_that_waits_for_it() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 1, 1, 2)
    handle_order, tool_order = makers.make_order({tool.handle: 1}), makers.make_order({tool.item: 1})
    assert line_of(tool_order).waiting == 1
    with transaction.atomic():
        ordering.cancel_order(handle_order, at=AT, by=BY)
    assert line_of(tool_order).reserved == 1
    assert differences(tidied_at=AT) == []


def test_the_longest_waiting_is_served_first_over_tools_and_parts() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 3, 0 + 1, 6)
    makers.make_order({tool.handle: 1})
    first, second, third = (makers.make_order({item: 1}) for item in (tool.item, tool.handle, tool.item))
    makers.put_in(tool.handle, 2)
    assert [line_of(order).reserved for order in (first, second, third)] == [1, 1, 0]


def test_a_line_that_cannot_be_served_does_not_stop_those_behind_it() -> None:
    tool = makers.make_tool()
    makers.put_in(tool.handle, 1)
    lacks_a_head, wants_a_handle = makers.make_order({tool.item: 1}), makers.make_order({tool.handle: 2})
    assert (line_of(lacks_a_head).reserved, line_of(wants_a_handle).reserved) == (0, 1)
    makers.put_in(tool.handle, 1)
    assert line_of(wants_a_handle).reserved == 2


def test_setting_aside_none_or_more_than_is_waited_for_is_refused() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 9)
    order = makers.make_order({handle: 3})
    with transaction.atomic():
        ordering.release(line_of(order), 2, at=AT, by=BY)
    for qty in (0, 3):
        with pytest.raises(Invalid, match="set aside 1 to 2"), transaction.atomic():
            reserving.set_aside(makers.locks_for(handle), line_of(order), qty)


def test_the_sweep_serves_a_line_that_came_to_wait_after_the_lock_was_taken() -> None:
    handle = makers.make_item()
    order = makers.make_order({handle: 2})
    with transaction.atomic():  # an arrival whose lock was taken before the line came: it does not serve it
        makers.put_in(makers.make_item(), 1)
        locks = makers.locks_for(handle)
        arrival = makers.arriving.Arrival(item=handle, qty=2, place=makers.place("BIN"))
        makers.arriving.arrive("moved in", [arrival], source=makers.place("MOVE-IN"), locks=locks, stamp=makers.stamp())
    assert line_of(order).waiting == 2
    with transaction.atomic():
        assert reserving.sweep(at=AT) == 1
    assert line_of(order).reserved == 2


# ---- giving way


def test_of_lost_pieces_holds_give_way_before_orders_and_the_last_order_before_the_first() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 9)
    first, second = makers.make_order({handle: 4}), makers.make_order({handle: 3})
    hold = makers.make_hold(handle, 2)
    assert makers.lose(lot, 1, place="BIN") == []
    hold.refresh_from_db()
    assert hold.ended_at == AT, "half a hold is no hold"
    assert (line_of(first).reserved, line_of(second).reserved) == (4, 3)
    lost = makers.lose(lot, 3, place="BIN")
    assert [line.order for line in lost] == [second]
    assert (line_of(first).reserved, line_of(second).reserved, line_of(second).gathers) == (4, 1, True)
    lost = makers.lose(lot, 3, place="BIN")
    assert {line.order for line in lost} == {first, second}
    assert (line_of(first).reserved, line_of(second).reserved) == (2, 0)
    assert differences(tidied_at=AT) == []


def test_free_pieces_are_lost_before_promised_ones() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 5)
    order = makers.make_order({handle: 3})
    assert makers.lose(lot, 2, place="BIN") == []
    assert line_of(order).reserved == 3


def test_the_same_lots_loss_is_made_good_from_another_lot_at_once() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 3)
    order = makers.make_order({handle: 3})
    makers.put_in(handle, 2)
    makers.lose(lot, 3, place="BIN")
    line = line_of(order)
    assert (line.reserved, line.waiting, line.gathers) == (2, 1, True)
    assert differences(tidied_at=AT) == []


@pytest.mark.parametrize("lost", [1, 2, 3, 4])
def test_a_lost_part_frees_the_rest_of_its_set(lost: int) -> None:
    """Two wedges go into a tool: one lost wedge costs one tool, and head and handle go free with it."""
    tool = makers.make_tool(wedges=2)
    _, _, wedge = makers.put_in_parts(tool, 2, 2, 4)
    order = makers.make_order({tool.item: 2})
    makers.lose(wedge, lost, place="SHELF")
    left = (4 - lost) // 2
    assert (line_of(order).reserved, line_of(order).waiting) == (left, 2 - left)
    assert [makers.stock(part).allocated for part in tool.parts] == [left, left, 2 * left]
    assert differences(tidied_at=AT) == []


def test_a_hold_on_a_tool_gives_way_when_one_of_its_parts_is_lost() -> None:
    tool = makers.make_tool()
    head, _, _ = makers.put_in_parts(tool, 2, 2, 4)
    makers.make_hold(tool.item, 2)
    makers.lose(head, 1, place="SHELF")
    assert Hold.objects.get().ended_at == AT
    assert [makers.stock(part).allocated for part in tool.parts] == [0, 0, 0]
    assert differences() == []


def test_a_finished_tool_lost_is_replaced_by_a_set_of_free_parts() -> None:
    tool = makers.make_tool()
    lot = makers.put_in(tool.item, 1)
    order = makers.make_order({tool.item: 1})
    makers.put_in_parts(tool, 1, 1, 2)
    makers.lose(lot, 1, place="SHELF")
    assert line_of(order).reserved == 1
    assert [makers.stock(part).allocated for part in tool.parts] == [1, 1, 2]
    assert differences() == []


def test_the_last_promised_gives_way_first_over_several_lots() -> None:
    handle = makers.make_item()
    old, new = makers.put_in(handle, 2), makers.put_in(handle, 2)
    first, second = makers.make_order({handle: 3}), makers.make_order({handle: 1})
    with transaction.atomic():
        locks = giving_way.lock({handle.pk}, at=AT)
        holdings = list(Holding.objects.filter(lot__in=[old, new]).select_related("lot", "place"))
        lines = giving_way.make_room(locks, holdings, 1)
    assert [line.order for line in lines] == [second]
    assert (line_of(first).reserved, line_of(second).reserved) == (3, 0)


def test_orders_that_gave_way_are_named() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 2)
    orders = [makers.make_order([Wanted(qty=1, item=handle)]) for _ in range(2)]
    lost = makers.lose(lot, 2, place="BIN")
    said = giving_way.said(lost)
    assert all(f"order {order.number} line 1" in said.lower() for order in orders)
    assert giving_way.said([]) == ""
