"""What can be promised now: honest to the second, and never more than an order would get."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Item
from orders.queries import availability
from orders.services import holding, ordering, reserving
from orders.services.ordering import NotEnough
from tests import makers
from tests.makers import AT

pytestmark = pytest.mark.django_db
SECOND = dt.timedelta(seconds=1)
MINUTE = dt.timedelta(minutes=1)


def _figures(item: Item, at: dt.datetime = AT) -> dict[str, int]:
    row = availability.one(item, at=at)
    return {name: getattr(row, name) for name in ("there", "spoken_for", "waiting", "parts", "can_promise")}


def test_a_new_item_has_nothing_and_says_so() -> None:
    assert _figures(makers.make_item()) == {"there": 0, "spoken_for": 0, "waiting": 0, "parts": 0, "can_promise": 0}


def test_what_is_set_aside_or_put_by_is_spoken_for() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 10)
    makers.make_order({handle: 3})
    makers.make_hold(handle, 2)
    makers.make_phone_hold(handle, 1)
    assert _figures(handle) == {"there": 10, "spoken_for": 6, "waiting": 0, "parts": 0, "can_promise": 4}


def test_only_what_stands_where_it_may_be_sold_is_there() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    makers.put_in(handle, 7, place="DOOR")
    makers.put_in(handle, 2, place="SECONDS")
    assert _figures(handle)["there"] == 5


def test_a_hold_counts_until_the_second_it_lapses_and_for_nobody_from_then_on() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    makers.make_hold(handle, 3, minutes=1)
    lapses = AT + MINUTE
    assert _figures(handle, lapses - dt.timedelta(microseconds=1))["can_promise"] == 2
    assert _figures(handle, lapses) == {"there": 5, "spoken_for": 0, "waiting": 0, "parts": 0, "can_promise": 5}
    handle.stock.refresh_from_db()
    assert handle.stock.allocated == 3, "nothing was swept: the reading alone leaves the hold out"


def test_the_tag_and_the_moment_change_across_the_second_of_lapse_and_not_before() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    held_at = AT + SECOND
    makers.make_hold(handle, 3, minutes=1, at=held_at)
    lapses = held_at + MINUTE
    fresh, just_before = (availability.one(handle, at=at) for at in (held_at, lapses - dt.timedelta(microseconds=1)))
    after, later = (availability.one(handle, at=at) for at in (lapses, lapses + dt.timedelta(days=1)))
    assert (fresh.etag, fresh.as_of) == (just_before.etag, just_before.as_of) == (fresh.etag, held_at)
    assert (after.etag, after.as_of) == (later.etag, later.as_of) == (after.etag, lapses)
    assert fresh.etag != after.etag
    with transaction.atomic():
        reserving.sweep(at=lapses + MINUTE)
    swept = availability.one(handle, at=lapses + MINUTE)
    assert swept.etag not in {fresh.etag, after.etag}
    assert swept.can_promise == after.can_promise == 5


def test_two_holds_that_lapse_one_after_the_other_make_three_tags() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    makers.make_hold(handle, 1, minutes=1)
    makers.make_hold(handle, 1, minutes=2)
    tags = [availability.one(handle, at=AT + n * MINUTE).etag for n in range(3)]
    assert len(set(tags)) == 3


def test_every_change_of_stock_changes_the_tag() -> None:
    handle = makers.make_item()
    tags = {availability.one(handle, at=AT).etag}
    lot = makers.put_in(handle, 5)
    tags.add(availability.one(handle, at=AT).etag)
    makers.make_order({handle: 1})
    tags.add(availability.one(handle, at=AT).etag)
    makers.lose(lot, 1, place="BIN")
    tags.add(availability.one(handle, at=AT).etag)
    assert len(tags) == 4


def test_the_tag_of_another_item_stays_as_it_is() -> None:
    handle, other = makers.make_item(), makers.make_item()
    before = availability.one(other, at=AT).etag
    makers.put_in(handle, 5)
    assert availability.one(other, at=AT).etag == before != availability.one(handle, at=AT).etag


def test_a_tool_counts_the_finished_and_the_sets_its_free_parts_would_make() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, heads=5, handles=4, wedges=6)
    makers.put_in(tool.item, 2)
    assert _figures(tool.item) == {"there": 2, "spoken_for": 0, "waiting": 0, "parts": 3, "can_promise": 5}
    makers.make_order({tool.item: 4})
    assert _figures(tool.item) == {"there": 2, "spoken_for": 2, "waiting": 0, "parts": 1, "can_promise": 1}
    assert [_figures(part)["spoken_for"] for part in tool.parts] == [2, 2, 4]


def test_a_change_of_a_part_changes_the_tools_tag() -> None:
    tool = makers.make_tool()
    before = availability.one(tool.item, at=AT).etag
    makers.put_in(tool.wedge, 1)
    assert availability.one(tool.item, at=AT).etag != before


def test_a_part_that_others_wait_for_is_promised_to_no_tool() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, heads=2, handles=0 + 1, wedges=4)
    makers.make_hold(tool.handle, 1, minutes=1)
    makers.make_order({tool.handle: 1})
    assert _figures(tool.handle, AT + MINUTE) == {
        "there": 1, "spoken_for": 0, "waiting": 1, "parts": 0, "can_promise": 0,
    }  # fmt: skip
    assert _figures(tool.item, AT + MINUTE)["can_promise"] == 0


def test_what_lapses_is_promised_to_those_who_wait_first() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    makers.make_hold(handle, 5, minutes=1)
    makers.make_order({handle: 3})
    assert _figures(handle)["can_promise"] == 0
    assert _figures(handle, AT + MINUTE) == {"there": 5, "spoken_for": 0, "waiting": 3, "parts": 0, "can_promise": 2}
    makers.make_hold(handle, 2, at=AT + MINUTE)
    assert _figures(handle, AT + MINUTE)["can_promise"] == 0


def test_a_lapsed_part_is_not_promised_twice_where_another_tool_waits_for_it() -> None:
    """Two tools share a handle; the handles put by lapse, and the line that waits for the other tool takes them."""
    tool = makers.make_tool()
    other, other_head = makers.make_item(Item.Kind.TOOL), makers.make_item(Item.Kind.HEAD)
    with transaction.atomic():
        makers.catalogue.set_recipe(other, {other_head: 1, tool.handle: 1}, at=AT, by=makers.actor())
    makers.put_in_parts(tool, heads=4, handles=3, wedges=8)
    makers.put_in(other_head, 3)
    makers.make_hold(tool.handle, 3, minutes=1)
    makers.make_order({other: 2})
    at = AT + MINUTE
    promised = _figures(tool.item, at)["can_promise"]
    assert promised == 1
    assert _figures(tool.handle, at)["can_promise"] == 1
    makers.make_order({tool.item: promised}, at=at, wait=False)
    with pytest.raises(NotEnough):
        makers.make_order({tool.item: 1}, at=at, wait=False)


def test_a_part_that_another_tool_will_take_with_a_lapsed_one_is_not_promised() -> None:
    """The other tool lacks its head, which is put by and lapses: then it takes a handle that was free all the time."""
    tool = makers.make_tool()
    other, other_head = makers.make_item(Item.Kind.TOOL), makers.make_item(Item.Kind.HEAD)
    with transaction.atomic():
        makers.catalogue.set_recipe(other, {other_head: 1, tool.handle: 1}, at=AT, by=makers.actor())
    makers.put_in_parts(tool, heads=4, handles=2, wedges=8)
    makers.put_in(other_head, 1)
    makers.make_hold(other_head, 1, minutes=1)
    makers.make_order({other: 1})
    before = availability.one(tool.item, at=AT)
    after = availability.one(tool.item, at=AT + MINUTE)
    assert (before.can_promise, after.can_promise) == (2, 1)
    assert before.etag != after.etag
    makers.make_order({tool.item: 1}, at=AT + MINUTE, wait=False)
    with pytest.raises(NotEnough):
        makers.make_order({tool.item: 1}, at=AT + MINUTE, wait=False)


def test_many_are_read_in_the_order_of_their_codes_and_say_what_one_alone_says() -> None:
    tool = makers.make_tool(code="ZZ-TOOL")
    makers.put_in_parts(tool, 3, 3, 6)
    idle = makers.make_item(active=False)
    rows = availability.of(None, at=AT)
    assert [row.item.code for row in rows] == sorted(row.item.code for row in rows)
    assert idle.pk not in {row.item.pk for row in rows}
    assert availability.of([tool.item.pk, idle.pk], at=AT) == [
        availability.one(item, at=AT) for item in sorted((tool.item, idle), key=lambda item: item.code)
    ]
    assert next(row for row in rows if row.item == tool.item) == availability.one(tool.item, at=AT)
    assert availability.of([], at=AT) == []


def test_all_items_are_read_in_as_many_queries_as_three(django_assert_num_queries) -> None:
    for _ in range(3):
        tool = makers.make_tool()
        makers.put_in_parts(tool, 3, 3, 6)
    with django_assert_num_queries(4):
        assert len(availability.of(None, at=AT)) == 12
    with django_assert_num_queries(3):
        availability.one(tool.item, at=AT)


def test_reading_after_a_lapse_writes_nothing() -> None:
    handle = makers.make_item()
    makers.put_in(handle, 5)
    hold = makers.make_hold(handle, 3, minutes=1)
    later = AT + MINUTE
    version = availability.one(handle, at=later).version
    availability.of(None, at=later)
    hold.refresh_from_db()
    assert hold.ended_at is None
    assert availability.one(handle, at=later).version == version


def test_what_can_be_promised_is_what_an_order_gets_and_one_more_is_refused() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 5, 3, 20)
    makers.put_in(tool.item, 2)
    makers.make_hold(tool.handle, 1, minutes=1)
    at = AT + MINUTE
    can = availability.one(tool.item, at=at).can_promise
    assert can == 5
    with pytest.raises(NotEnough) as refused, transaction.atomic():
        holding.put_by(tool.item, can + 1, minutes=1, at=at, made_by="tests")
    assert refused.value.facts == {"available": can, "requested": can + 1}
    order = makers.make_order({tool.item: can}, at=at, wait=False)
    assert makers.line_of(order).reserved == can
    with transaction.atomic():
        ordering.cancel_order(order, at=at, by=makers.actor())
    assert availability.one(tool.item, at=at).can_promise == can
