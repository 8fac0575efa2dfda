"""What is made for the shelf: asked for, changed, dropped, begun with a run; the shop that is told with it and without."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction

from inventory.models import Entry, Item, Run
from orders.models import ForShelf, WeekPin
from orders.queries import making, shop_state
from orders.queries import week as proposing
from orders.services import for_shelf, week
from shop.flows import reversing
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import AuditLine
from tests import forge, makers
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


@pytest.fixture
def made() -> forge.Forge:
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login)
    return forge.make_forge(blanks=120)


def write(act: Callable[..., Any], *given: Any, **more: Any) -> Any:
    with transaction.atomic():
        return act(*given, **more, at=AT, by=makers.actor())


def ask(item: Item, pieces: int = 24) -> ForShelf:
    wish: ForShelf = write(for_shelf.ask, item, pieces, why="It is gone in three weeks.")
    return wish


def open_pieces() -> dict[str, int]:
    return {one.item.code: one.pieces for one in shop_state.for_shelf.open_wishes()}


def test_what_is_asked_for_stands_in_the_week_until_it_is_dropped(made: forge.Forge) -> None:
    tool = made.tool.item
    makers.make_order({tool: 5})
    before = shop_state.state(at=AT)
    ask(tool)
    with_it = shop_state.state(at=AT)
    assert [(one.item, one.pieces) for one in with_it.shop.for_shelf] == [(tool.code, 24)]
    assert with_it.shop.lines == before.shop.lines
    assert with_it.names == before.names
    assert with_it.key() != before.key()
    assert with_it.key([tool.code]) != before.key([tool.code])
    runs = [(one.code, one.pieces, one.shelf) for one in proposing.proposed(at=AT).plan.runs]
    assert (f"{tool.code}+shelf1", 24, True) in runs
    write(for_shelf.change, tool, 30)
    assert open_pieces() == {tool.code: 30}
    assert shop_state.state(at=AT).key() != with_it.key()
    write(for_shelf.change, tool, 30)
    write(for_shelf.drop, tool)
    assert shop_state.state(at=AT).key() == before.key()
    said = AuditLine.objects.filter(subject=f"item {tool.code}", action__contains="shelf").order_by("pk")
    assert [one.action for one in said] == [
        "put into the week for the shelf", "for the shelf changed", "for the shelf dropped",
    ]  # fmt: skip
    ask(tool)  # and may be asked for again


def test_it_is_told_of_a_head_as_of_a_tool_and_of_no_item_twice(made: forge.Forge) -> None:
    ask(made.head, 8)
    ask(made.tool.item, 9)
    assert open_pieces() == {made.head.code: 8, made.tool.item.code: 9}
    with pytest.raises(Invalid, match=f"8 of {made.head.code} are in the week for the shelf already"):
        ask(made.head)
    assert open_pieces()[made.head.code] == 8


@pytest.mark.parametrize("pieces", [0, -1, 1_001])
def test_a_number_that_cannot_be_planned_is_refused(made: forge.Forge, pieces: int) -> None:
    with pytest.raises(Invalid, match="1 to 1000 would work"):
        ask(made.tool.item, pieces)
    ask(made.tool.item, 5)
    with pytest.raises(Invalid, match="1 to 1000 would work"):
        write(for_shelf.change, made.tool.item, pieces)
    assert open_pieces() == {made.tool.item.code: 5}


def test_what_is_not_made_here_is_refused(made: forge.Forge) -> None:
    bare = makers.make_item(Item.Kind.TOOL)
    for item in (made.tool.handle, made.blank, bare):
        assert making.of(item) is None
        with pytest.raises(Invalid, match="is not made here in runs"):
            ask(item)
    Item.objects.filter(pk=made.head.pk).update(active=False)
    with pytest.raises(Invalid, match="is not made here in runs"):
        ask(Item.objects.get(pk=made.head.pk))
    with pytest.raises(Invalid, match="Why: longer than 300 signs"):
        write(for_shelf.ask, made.tool.item, 5, why="a" * 301)
    for act in (for_shelf.drop, lambda item, **more: for_shelf.change(item, 4, **more)):
        with pytest.raises(NotFound, match="is in the week for the shelf"):
            write(act, made.tool.item)
    assert not ForShelf.objects.exists()


def test_more_than_a_run_takes_stands_there_as_several_runs(made: forge.Forge) -> None:
    made.pattern.most_run = 20
    made.pattern.save()
    ask(made.tool.item, 45)
    runs = [one.pieces for one in proposing.proposed(at=AT).plan.runs if one.shelf]
    assert runs == [15, 15, 15]
    assert for_shelf.runs(45, 20) == 3


def test_a_run_that_is_started_for_it_closes_it_and_takes_its_pins(made: forge.Forge) -> None:
    tool = made.tool.item
    wish = ask(tool)
    found = proposing.proposed(at=AT)
    name = f"{tool.code}+shelf1"
    write(week.move_and_pin, found, [(name, forge.FIRST)], AT.date(), after=None)
    assert proposing.proposed(at=AT).alive[0].run == name
    run = made.start(24)
    wish.refresh_from_db()
    assert wish.run == run
    assert open_pieces() == {}
    assert [(one.run_code, one.step) for one in WeekPin.objects.all()] == [(run.code, forge.FIRST)]
    assert not any(one.shelf for one in proposing.proposed(at=AT).plan.runs)


def test_a_part_of_it_makes_it_smaller(made: forge.Forge) -> None:
    ask(made.tool.item)
    made.start(10)
    assert open_pieces() == {made.tool.item.code: 14}
    run = made.start(20)
    assert open_pieces() == {}
    assert ForShelf.objects.get().run == run


def test_what_orders_wait_for_goes_before_it(made: forge.Forge) -> None:
    ask(made.tool.item)
    makers.make_order({made.tool.item: 10})
    made.start(11)  # of 11 about ten come good
    assert open_pieces() == {made.tool.item.code: 24}
    made.start(20)
    assert open_pieces() == {made.tool.item.code: 4}


def test_a_run_is_for_the_head_and_for_its_tools_in_the_order_they_were_asked_for(made: forge.Forge) -> None:
    first = ask(made.tool.item, 10)
    second = ask(made.head, 6)
    run = made.start(18)
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.run, second.run, second.dropped_at) == (run, None, AT)


def test_a_start_that_is_undone_takes_it_up_again(made: forge.Forge) -> None:
    wish = ask(made.tool.item)
    run = made.start(24)
    entry = Entry.objects.get(kind=Entry.Kind.RUN_STARTED)
    with transaction.atomic():
        reversing.reverse(entry.pk, stamp=makers.stamp())
    wish.refresh_from_db()
    assert wish.run is None
    made.start(24)
    assert open_pieces() == {}
    assert Run.objects.exclude(pk=run.pk).get() == ForShelf.objects.get().run


def test_a_start_that_is_undone_gives_back_what_it_took_off_a_larger_number(made: forge.Forge) -> None:
    ask(made.tool.item)
    made.start(10)
    rest = ForShelf.objects.get()
    assert rest.why == f"What is left of 24, begun with run {Run.objects.get().code}."
    entry = Entry.objects.get(kind=Entry.Kind.RUN_STARTED)
    with transaction.atomic():
        reversing.reverse(entry.pk, stamp=makers.stamp())
    assert open_pieces() == {made.tool.item.code: 24}


def test_what_spoke_for_the_first_number_is_not_said_of_another(made: forge.Forge) -> None:
    ask(made.tool.item)
    write(for_shelf.change, made.tool.item, 30)
    assert ForShelf.objects.get().why == ""


def test_a_start_that_is_undone_leaves_what_was_asked_for_since(made: forge.Forge) -> None:
    wish = ask(made.tool.item)
    run = made.start(24)
    ask(made.tool.item, 7)
    entry = Entry.objects.get(kind=Entry.Kind.RUN_STARTED)
    with transaction.atomic():
        reversing.reverse(entry.pk, stamp=makers.stamp())
    wish.refresh_from_db()
    assert wish.run == run
    assert open_pieces() == {made.tool.item.code: 7}


def test_a_wish_of_an_item_that_lost_its_route_is_left_out_of_the_plan(made: forge.Forge) -> None:
    ask(made.tool.item)
    made.tool.item.recipe.all().delete()
    assert shop_state.state(at=AT).shop.for_shelf == ()
    proposing.proposed(at=AT)
