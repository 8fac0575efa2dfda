"""The shop as it is told to the date calculator: pieces, steel, runs, deliveries, people, queue, and what a key rests on."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Item, Machine, Step, Supplier, ToolingSet
from inventory.queries import presence as learned
from inventory.services import presence, purchasing, tooling_sets
from inventory.services.presence import Spell
from inventory.services.purchasing import ToBuy
from orders.calc.dates.dispatch import propose
from orders.calc.dates.state import Batch, Shop
from orders.calc.dates_json import writing
from orders.models import WeekPin
from orders.queries import shop_state
from orders.queries.shop_state import Stated
from shop.shared import shop_row
from shop.shared.hours import Hours
from tests import forge, makers
from tests.flows import busy_book
from tests.forge import FIRST, GROUND, SECOND, TEMPER
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
TODAY = AT.date()
DAY = dt.timedelta(days=1)
BY = makers.actor()


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()
    make_person("hand", login="bo")


def told(*items: Item, at: dt.datetime = AT) -> Stated:
    found = shop_state.state(at=at, items=items)
    writing.document(found.shop)  # whatever the book holds, a document can carry it
    return found


def shop_of(*items: Item, at: dt.datetime = AT) -> Shop:
    return told(*items, at=at).shop


def batches(shop: Shop) -> dict[str, Batch]:
    return {one.code: one for one in shop.batches}


def test_pieces_that_a_hold_has_are_not_free_until_it_lapses() -> None:
    item = makers.make_item()
    makers.put_in(item, 9)
    makers.make_hold(item, 4, minutes=15)
    assert shop_of(item).stock[item.code] == 5
    assert shop_of(item, at=AT + dt.timedelta(minutes=15)).stock[item.code] == 9


def test_a_line_for_a_tool_that_holds_parts_still_has_them_to_be_made_up() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 5, 5, 10)
    makers.put_in(tool.item, 2)
    order = makers.make_order({tool.item: 6})
    assert makers.line_of(order).reserved == 6
    shop = shop_of()
    (line,) = shop.lines
    assert (line.order, line.item, line.pieces) == (str(order.number), tool.item.code, 4)
    assert (shop.stock[tool.item.code], shop.stock[tool.head.code], shop.stock[tool.handle.code]) == (0, 5, 5)


def test_heads_on_the_shelf_go_on_as_far_as_they_are_wanted_and_runs_stand_where_they_stand() -> None:
    made = forge.make_forge(blanks=60)
    first, second = made.start(12), made.start(8)
    forge.count(first, FIRST, 12)
    makers.put_in(made.head, 7)
    found = batches(shop_of(made.tool.item))
    assert (found[first.code].step, found[first.code].pieces) == (FIRST, 12)
    assert (found[second.code].step, found[second.code].pieces) == (0, 8)
    shelf = found[made.head.code]
    assert (shelf.spare, shelf.pieces, shelf.item) == (True, 7, made.tool.item.code)


def test_what_is_in_the_oven_is_ready_when_it_has_soaked_and_what_cures_when_it_is_dry() -> None:
    made = forge.make_forge()
    run = made.start(6)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 6)
    forge.harden(run, 6)
    with transaction.atomic():
        oven = forge.Fire(2_040, "204 °C", 120, 30, Machine.objects.get(code="OVEN1"))
        forge.floor.temper_in([forge.Into(run, 6)], oven, stamp=makers.stamp())
    (batch,) = [one for one in shop_of(made.tool.item).batches if one.code == run.code]
    assert (batch.step, batch.ready) == (TEMPER, 9 * 60 + 30 + 120)
    (machine,) = [one for one in shop_of(made.tool.item).machines if one.code == "OVEN1"]
    assert machine.busy == batch.ready


def test_steel_counts_in_blanks_those_sawn_and_those_the_bars_give() -> None:
    made = forge.make_forge(blanks=5)
    blank = made.blank
    bar = makers.make_item(Item.Kind.BAR, code="B-1", grade=blank.grade, section=blank.section)
    length, kerf = blank.blank_length_nm or 0, shop_row.the_shop().kerf_nm
    makers.put_in(bar, 3 * length + 2 * kerf)
    shop = shop_of(made.tool.item)
    assert shop.stock["B-1"] == 5 + 3
    assert {one.made_from for one in shop.products} == {"B-1"}


def test_deliveries_come_in_blanks_by_the_day_that_was_confirmed() -> None:
    made = forge.make_forge(blanks=0)
    firm = Supplier.objects.create(name="Invented Steel")
    bar = makers.make_item(
        Item.Kind.BAR, code="B-1", grade=made.blank.grade, section=made.blank.section, supplier=firm, lead_days=9
    )
    with transaction.atomic():
        wanted = TODAY + 6 * DAY
        lines = [ToBuy(bar, "2 @ 6 m"), ToBuy(made.tool.handle, "30")]
        purchasing.open_order(firm, lines, ordered_on=TODAY, wanted_on=wanted, at=AT, by=BY)
    shop = shop_of(made.tool.item)
    each = (made.blank.blank_length_nm or 0) + shop_row.the_shop().kerf_nm
    coming = {one.item: (one.pieces, one.day) for one in shop.coming}
    assert coming == {"B-1": (12_000_000_000 // each, 6), made.tool.handle.code: (30, 6)}
    (supplier,) = [one for one in shop.suppliers if one.code == shop.buys_from["B-1"]]
    assert supplier.lead_days == 9


def test_who_is_out_and_what_is_down_is_told_by_day() -> None:
    forge.make_forge()
    ill, away = make_person("hand", login="cy"), make_person("hand", login="di")
    days = {"today": TODAY, "hours": Hours(), "at": AT, "by": BY}
    with transaction.atomic():
        presence.out(ill, Spell(TODAY - DAY, None), **days)
        presence.out(away, Spell(TODAY + 2 * DAY, TODAY + 3 * DAY, planned=True), **days)
        presence.down(Machine.objects.get(code="HAMMER"), Spell(TODAY, TODAY + DAY), **days)
    shop = shop_of()
    people = {one.code: one for one in shop.people}
    assert people["cy"].ill_for >= 1
    assert people["di"].out == {2, 3}
    assert people["bo"].out == frozenset()
    machines = {one.code: one for one in shop.machines}
    assert machines["HAMMER"].down == {0, 1}
    believed, worth = learned.ILL_BELIEVED[0], sum(learned.ILL_BELIEVED)
    assert people["cy"].ill.chance >= believed / worth, "a spell that was noted teaches"


def test_a_large_line_is_told_in_parts_and_nothing_of_it_is_lost() -> None:
    item = makers.make_item()
    makers.make_order({item: 2_300})
    assert [line.pieces for line in shop_of().lines] == [1_000, 1_000, 300]


def test_a_key_rests_on_what_the_answer_rests_on_and_on_nothing_else() -> None:
    made, other = forge.make_forge(), makers.make_item()
    makers.put_in(other, 5)
    tool = made.tool.item
    before = told(tool).key([tool.code])
    assert told(tool, at=AT + dt.timedelta(minutes=7)).key([tool.code]) == before
    makers.put_in(other, 5)
    assert told(tool).key([tool.code]) == before
    seen = {before}
    for change in (
        lambda: makers.put_in(made.tool.handle, 3),
        lambda: makers.make_order({other: 40}),
        lambda: made.start(6),
        lambda: WeekPin.objects.create(run_code=f"{tool.code}+1", step=1, day=TODAY, place=1, pinned_at=AT),
        lambda: make_person("hand", login="ed"),
    ):
        change()
        seen.add(told(tool).key([tool.code]))
    assert len(seen) == 6, "each change is seen"
    assert told(tool, at=AT + DAY).key([tool.code]) not in seen


def test_a_head_for_two_tools_becomes_the_one_that_is_short_of_most() -> None:
    made = forge.make_forge()
    short = makers.make_item(Item.Kind.TOOL)
    with transaction.atomic():
        makers.catalogue.set_recipe(short, {made.head: 1, made.tool.handle: 1}, at=AT, by=BY)
    run = made.start(6)
    makers.make_order({short: 5})
    (batch,) = [one for one in shop_of(made.tool.item).batches if one.code == run.code]
    assert batch.item == short.code


def test_whatever_stands_in_a_busy_book_a_document_can_carry() -> None:
    busy_book.build()
    stated = told(*Item.objects.filter(active=True), at=busy_book.LATER)
    assert stated.shop.lines
    assert stated.shop.batches


def test_what_a_document_does_not_take_is_left_out_or_put_otherwise() -> None:
    made = forge.make_forge(blanks=20)
    run = made.start(12)
    forge.count(run, FIRST, 12)
    glue = makers.make_item(Item.Kind.CONSUMABLE, unit="ul")
    with transaction.atomic():
        parts = {made.head: 1, made.tool.handle: 1, made.tool.wedge: 2, glue: 5_000}
        makers.catalogue.set_recipe(made.tool.item, parts, at=AT, by=BY)
    makers.put_in(made.head, 2_300)
    Step.objects.filter(work="temper").update(soak_minutes=700)
    newest = Step.objects.get(route__pattern=made.pattern, number=FIRST)
    Step.objects.filter(pk=newest.pk).update(number=99)  # a route that was written anew with other numbers
    WeekPin.objects.create(run_code="Z9", step=1, day=TODAY, place=1, pinned_at=AT)
    WeekPin.objects.create(run_code=run.code, step=55, day=TODAY, place=2, pinned_at=AT)
    shop = shop_of(made.tool.item)
    assert shop.pins == ()
    assert [one.pieces for one in shop.batches if one.spare] == [1_000, 1_000, 300]
    ovens = [step.oven for product in shop.products for step in product.steps if step.oven]
    assert all(oven.unattended for oven in ovens)


def test_tooling_that_is_in_costs_no_change_at_any_machine_of_the_step() -> None:
    made = forge.make_forge()
    fire = Machine.objects.create(code="FIRE", name="gas forge", kind="forge")
    first = Step.objects.get(route__pattern=made.pattern, number=FIRST)
    first.tooling = ToolingSet.objects.get(code="T4")
    first.save()
    first.machines.set([fire, Machine.objects.get(code="HAMMER")])
    with transaction.atomic():
        tooling_sets.change_tooling(first.tooling, "in", at=AT, by=BY)
    makers.make_order({made.tool.item: 4})
    shop = shop_of()
    assert shop.tooling_in == {"FIRE": "T4", "HAMMER": "T4"}
    assert [one.change for one in propose(shop).operations if one.step.number == FIRST] == [""]
