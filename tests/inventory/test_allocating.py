"""Setting aside over holdings, making tools up from parts, and letting go again."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Allocation, AllocationPart, Holding, Item
from inventory.services import allocating, making
from inventory.services.allocating import NotEnough
from inventory.services.ledger import Locks, NotThere
from shop.flows import making_up
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT
from tests.recomputed import differences

pytestmark = pytest.mark.django_db


def _set_aside(item: Item, qty: int) -> tuple[Locks, Allocation]:
    locks = makers.locks_for(item)
    allocation = allocating.open_allocation(at=AT)
    allocating.add(locks, allocation, item.pk, qty)
    return locks, allocation


def _held(allocation: Allocation) -> dict[int, int]:
    held: dict[int, int] = {}
    for part in AllocationPart.objects.filter(allocation=allocation, open=True):
        held[part.item_id] = held.get(part.item_id, 0) + part.qty
    return held


def test_the_oldest_lot_goes_first_and_the_rest_comes_from_the_next() -> None:
    handle = makers.make_item()
    lots = [makers.put_in(handle, qty) for qty in (2, 3, 4)]
    with transaction.atomic():
        _set_aside(handle, 4)
    assert [Holding.objects.get(lot=lot).allocated for lot in lots] == [2, 2, 0]
    assert makers.stock(handle).allocated == 4


def test_only_pieces_that_may_be_sold_are_set_aside() -> None:
    head = makers.make_item(Item.Kind.HEAD)
    makers.put_in(head, 5, place="INSPECT")
    makers.put_in(head, 5, place="FLOOR", step=3)
    makers.put_in(head, 2)
    with pytest.raises(NotEnough) as refused, transaction.atomic():
        _set_aside(head, 3)
    assert refused.value.facts == {"available": 2, "requested": 3}
    assert not Allocation.objects.exists()
    assert makers.stock(head).allocated == 0


def test_a_tool_is_set_aside_finished_first_and_the_rest_as_sets_of_parts() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 5, 5, 10)
    makers.put_in(tool.item, 2)
    with transaction.atomic():
        _, allocation = _set_aside(tool.item, 5)
    assert _held(allocation) == {tool.item.pk: 2, tool.head.pk: 3, tool.handle.pk: 3, tool.wedge.pk: 6}


def test_a_tool_that_lacks_one_part_of_a_set_is_refused_whole() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 5, 5, 3)
    with pytest.raises(NotEnough) as refused, transaction.atomic():
        _set_aside(tool.item, 2)
    assert refused.value.facts == {"available": 1, "requested": 2}
    assert not AllocationPart.objects.exists()


def test_setting_aside_needs_the_lock_of_the_tool_and_of_each_part() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 5, 5, 10)
    allocation = allocating.open_allocation(at=AT)
    for missing in (tool.item.pk, *tool.recipe):
        locks = Locks(frozenset({tool.item.pk, *tool.recipe} - {missing}), AT)
        with pytest.raises(RuntimeError, match=f"{missing}.*without their lock"):
            allocating.add(locks, allocation, tool.item.pk, 1)
    with pytest.raises(RuntimeError, match="without their lock"):
        allocating.let_go_part(Locks(frozenset(), AT), AllocationPart(item_id=tool.head.pk, qty=1), 1)
    assert not AllocationPart.objects.exists()


def test_more_of_the_same_holding_grows_the_part_it_has() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    with transaction.atomic():
        locks, allocation = _set_aside(handle, 2)
        allocating.add(locks, allocation, handle.pk, 2)
    part = AllocationPart.objects.get(allocation=allocation)
    assert (part.qty, makers.stock(handle).allocated) == (4, 4)


def test_a_counter_that_says_more_than_the_holdings_is_a_fault_and_no_refusal() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 2)
    makers.stock(handle).__class__.objects.filter(pk=handle.pk).update(sellable=3)
    with pytest.raises(RuntimeError, match="the counter says 3 are free, the holdings say 2"), transaction.atomic():
        _set_aside(handle, 3)


def test_letting_go_gives_sets_of_parts_back_first_then_the_newest_finished() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 2, 2, 4)
    old, new = makers.put_in(tool.item, 2), makers.put_in(tool.item, 1)
    with transaction.atomic():
        locks, allocation = _set_aside(tool.item, 5)
        allocating.let_go(locks, allocation, tool.item.pk, 3, reserved=5)
    assert _held(allocation) == {tool.item.pk: 2}
    assert [Holding.objects.get(lot=lot).allocated for lot in (old, new)] == [2, 0]
    assert [makers.stock(part).allocated for part in tool.parts] == [0, 0, 0]
    allocation.refresh_from_db()
    assert allocation.closed_at is None


def test_letting_go_of_the_last_closes_the_allocation() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    with transaction.atomic():
        locks, allocation = _set_aside(handle, 3)
        allocating.let_go(locks, allocation, handle.pk, 3, reserved=3)
    allocation.refresh_from_db()
    assert (allocation.closed_at, _held(allocation), makers.stock(handle).allocated) == (AT, {}, 0)


def test_letting_go_of_more_than_is_held_is_a_fault() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    with pytest.raises(RuntimeError, match=r"holds 3 of item .* and no 1 sets"), transaction.atomic():
        locks, allocation = _set_aside(handle, 3)
        allocating.let_go(locks, allocation, handle.pk, 4, reserved=4)
    with pytest.raises(RuntimeError, match="holds 3, 4 cannot"), transaction.atomic():
        locks, allocation = _set_aside(handle, 3)
        allocating.let_go_part(locks, allocation.parts.get(), 4)
    assert makers.stock(handle).allocated == 0


def test_a_closed_allocation_keeps_the_moment_it_was_closed_first() -> None:
    allocation = allocating.open_allocation(at=AT)
    allocating.close(allocation, at=AT)
    allocating.close(allocation, at=AT + dt.timedelta(hours=1))
    allocation.refresh_from_db()
    assert allocation.closed_at == AT


# ---- making up


def test_tools_are_made_from_the_oldest_free_parts_and_name_their_parents() -> None:
    tool = makers.make_tool()
    head, handle, wedge = makers.put_in_parts(tool, 3, 3, 6)
    made = makers.make_up(tool, 2)
    (lot,) = made.lots
    assert {parent.parent: parent.quantity for parent in lot.parents.all()} == {head: 2, handle: 2, wedge: 4}
    assert (lot.melt, lot.born_at, makers.stands(lot, "SHELF")) == (head.melt, AT, 2)
    assert (makers.stands(head, "SHELF"), makers.stands(handle, "BIN"), makers.stands(wedge, "SHELF")) == (1, 1, 2)
    assert made.entry.lines == made.entry.movements.count() == 4
    assert differences() == []


def test_melts_never_mix_each_head_lot_makes_a_tool_lot_of_its_own() -> None:
    tool = makers.make_tool()
    first, second = makers.make_melt("00417"), makers.make_melt("00418")
    heads = [makers.put_in(tool.head, 2, melt=first), makers.put_in(tool.head, 3, melt=second)]
    handles = [makers.put_in(tool.handle, 1), makers.put_in(tool.handle, 4)]
    makers.put_in(tool.wedge, 10)
    made = makers.make_up(tool, 4)
    assert [(lot.melt, makers.stands(lot, "SHELF")) for lot in made.lots] == [(first, 2), (second, 2)]
    parents = [{p.parent: p.quantity for p in lot.parents.exclude(parent__item=tool.wedge)} for lot in made.lots]
    assert parents == [{heads[0]: 2, handles[0]: 1, handles[1]: 1}, {heads[1]: 2, handles[1]: 2}]
    assert differences() == []


def test_two_lots_of_one_melt_make_two_lots_so_that_each_leads_back_to_its_own() -> None:
    tool = makers.make_tool()
    melt = makers.make_melt("00417")
    heads = [makers.put_in(tool.head, 1, melt=melt), makers.put_in(tool.head, 1, melt=melt)]
    makers.put_in(tool.handle, 2)
    makers.put_in(tool.wedge, 4)
    made = makers.make_up(tool, 2)
    assert [lot.parents.get(parent__item=tool.head).parent for lot in made.lots] == heads
    assert {lot.melt for lot in made.lots} == {melt}


def test_a_tool_without_steel_is_one_lot_without_a_melt() -> None:
    mallet, head, handle = (makers.make_item(kind) for kind in (Item.Kind.TOOL, Item.Kind.CONSUMABLE, Item.Kind.HANDLE))
    with transaction.atomic():
        makers.catalogue.set_recipe(mallet, {head: 1, handle: 1}, at=AT, by=makers.actor())
    for part in (head, handle):
        makers.put_in(part, 1)
        makers.put_in(part, 2)
    with transaction.atomic():
        _, lots = making_up.make_up(mallet, 3, stamp=makers.stamp())
    assert [(lot.melt, makers.stands(lot, "SHELF"), lot.parents.count()) for lot in lots] == [(None, 3, 4)]


def test_parts_set_aside_for_others_are_not_made_up() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 3, 3, 6)
    makers.make_order({tool.handle: 2})
    with pytest.raises(Invalid, match="free parts make 1 of .*, not 2"):
        makers.make_up(tool, 2)
    with pytest.raises(NotThere, match="1 of one part are missing"):
        making.free_picks(tool.recipe, 2)
    makers.make_up(tool, 1)
    assert differences() == []


@pytest.mark.parametrize("qty", [0, -1, 100_001])
def test_an_absurd_number_of_tools_is_refused(qty: int) -> None:
    tool = makers.make_tool()
    with pytest.raises(Invalid, match="Make up 1 to 100000"):
        makers.make_up(tool, qty)


def test_what_has_no_recipe_is_not_made_up() -> None:
    with pytest.raises(Invalid, match="has no recipe"), transaction.atomic():
        making_up.make_up(makers.make_item(Item.Kind.TOOL), 1, stamp=makers.stamp())


def test_a_recipe_is_not_changed_while_parts_are_set_aside_for_its_tool() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 1, 1, 2)
    makers.make_order({tool.item: 1})
    with pytest.raises(Invalid, match="Parts are set aside"):
        makers.catalogue.set_recipe(tool.item, {tool.head: 1}, at=AT, by=makers.actor())
    assert dict(tool.item.recipe.values_list("part_id", "quantity")) == tool.recipe


def test_tools_made_up_serve_the_line_that_waits_for_them() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 2, 2, 0 + 1)
    order = makers.make_order({tool.item: 2})
    assert makers.line_of(order).waiting == 2
    makers.put_in(tool.wedge, 3)
    assert (makers.line_of(order).reserved, makers.line_of(order).waiting) == (2, 0)
    assert differences(tidied_at=AT) == []
