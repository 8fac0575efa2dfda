"""What is to be ordered and made, from the book: positions through the recipes, lead times, points, proposals."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Entry, Item, PurchaseOrder, PurchaseOrderLine, Supplier, SupplierPrice
from inventory.queries import lasting
from inventory.services import catalogue
from inventory.services.demand import note_refused
from orders.models import ForShelf, Learned, Notice, Order, WeekPin
from orders.queries.reorder import demand, needs, proposals, shelf_wishes, stops
from orders.queries.reorder.structure import structure
from orders.services import learning, ordering
from shop.flows import buying_words, need_words
from shop.flows.night import words
from shop.shared import shop_row
from shop.shared.models import Shop
from tests import forge, makers
from tests.makers import AT
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(days=7)
NOW = AT + 20 * WEEK
TODAY = NOW.date()
READY = TODAY + 23 * DAY  # what is put into the week today: MAKING_DAYS as learned without any run


@pytest.fixture(autouse=True)
def shop(db: None) -> None:
    make_shop()


def found(at: dt.datetime = NOW) -> dict[str, needs.Need]:
    return {one.item.code: one for one in needs.needs(at=at, every=True)}


def due(at: dt.datetime = NOW) -> dict[str, needs.Need]:
    return {one.item.code: one for one in needs.needs(at=at)}


def bottled_gas(*, most_inside: int) -> Item:
    """Make a gas that is due, bought by the bottle, and set how much of it may be kept inside, mg."""
    Shop.objects.update(lp_gas_most_mg=most_inside)
    return makers.make_item(
        Item.Kind.CONSUMABLE,
        unit="mg",
        buy_unit="bottle",
        issue_per_buy=18_000_000,
        stored_as="lp gas",
        reorder_point=1,
    )


def used_weekly(item: Item, each: int, *, there: int) -> None:
    """Make an item that has been used evenly for twenty weeks, so many of which are left."""
    lot = makers.put_in(item, 20 * each + there)
    for week in range(20):
        makers.move(lot, each, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=AT + week * WEEK + DAY)


def ordered(item: Item, qty: int, **facts: object) -> PurchaseOrder:
    supplier = item.supplier or Supplier.objects.create(name=f"Invented supplier {makers.next_number()}")
    lines = {name: facts.pop(name) for name in ("received", "bars", "received_bars") if name in facts}
    order = PurchaseOrder.objects.create(
        number=makers.next_number(), supplier=supplier, **{"ordered_on": TODAY - DAY, **facts}
    )
    PurchaseOrderLine.objects.create(order=order, number=1, item=item, qty=qty, **lines)
    return order


def test_an_item_above_its_point_is_left_alone_and_at_its_own_point_it_is_due():
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=10)
    makers.put_in(item, 11)
    assert due() == {}
    makers.move(item.lots.get(), 1, source="BIN", target="SCRAP", at=AT + DAY)
    need = due()[item.code]
    assert (need.decision.position, need.decision.point, need.decision.least) == (10, 10, 1)
    assert not need.make


def test_steady_use_gives_a_point_that_covers_the_lead_time_and_bad_luck():
    item = makers.make_item(Item.Kind.HANDLE, lead_days=14)
    used_weekly(item, 14, there=20)
    need = due()[item.code]
    assert need.decision.per_day == pytest.approx(2, rel=0.02)
    assert 28 <= need.decision.point <= 80  # 14 days of 2, and what they may be more
    assert need.decision.lasts_until is not None
    assert TODAY + 7 * DAY <= need.decision.lasts_until <= TODAY + 12 * DAY
    assert need.decision.least == need.decision.point - 20 + 2
    assert need.basis.history[-20:] == (14,) * 20


def test_an_item_nobody_wrote_a_point_for_and_nobody_uses_is_never_asked_for():
    makers.make_item(Item.Kind.HANDLE)
    makers.make_item(Item.Kind.HANDLE, reorder_point=5, active=False)
    assert due() == {}


def test_what_is_on_order_counts_until_it_has_come_or_the_order_is_closed():
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=10)
    makers.put_in(item, 8)
    ordered(item, 5, received=2)
    ordered(item, 50, closed_at=NOW)
    assert due() == {}
    PurchaseOrderLine.objects.filter(item=item).update(received=5)
    assert due()[item.code].position.on_order == 0


def test_bars_on_order_are_counted_because_their_lengths_never_come_out_exactly():
    bar = makers.make_item(Item.Kind.BAR, reorder_point=20 * makers.FOOT_NM)
    late = ordered(
        bar, 60 * makers.FOOT_NM, bars=3, received=41 * makers.FOOT_NM, received_bars=2, wanted_on=TODAY - DAY,
        sent_how="phone", sent_at=AT,
    )  # fmt: skip
    assert due()[bar.code].position.on_order == 20 * makers.FOOT_NM
    assert lasting.overdue_orders(today=TODAY) == [(late, TODAY - DAY)]
    PurchaseOrderLine.objects.filter(item=bar).update(received_bars=3)
    assert due()[bar.code].position.on_order == 0


def test_ends_too_short_for_any_blank_of_a_steel_are_not_free_and_are_said():
    bar = makers.make_item(Item.Kind.BAR, reorder_point=20 * makers.FOOT_NM)
    for length in (18 * makers.FOOT_NM, makers.FOOT_NM, makers.FOOT_NM):
        makers.put_in(bar, length)
    assert due()[bar.code].position.free == 20 * makers.FOOT_NM  # no blank is sawn from it yet, so nothing is too short
    makers.make_item(Item.Kind.BLANK, grade=bar.grade, section=bar.section, blank_length_nm=makers.FOOT_NM + 1)
    need = due()[bar.code]
    assert (need.position.free, need.position.ends) == (18 * makers.FOOT_NM, 2 * makers.FOOT_NM)
    assert need_words.left(need) == "18 ft free, 2 ft in ends too short for a blank."


def test_what_is_set_aside_is_not_free_and_a_lapsed_hold_counts_for_nobody():
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=10)
    makers.put_in(item, 12)
    makers.make_hold(item, 5, minutes=10, at=NOW - dt.timedelta(minutes=9))
    assert due()[item.code].position.free == 7
    assert due(NOW + dt.timedelta(minutes=1)) == {}


def test_what_orders_wait_for_is_taken_off():
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=1)
    makers.make_order({item: 20}, at=NOW)
    ordered(item, 15)
    need = due()[item.code]
    assert (need.position.waiting, need.position.on_order, need.decision.position) == (20, 15, -5)


def test_parts_are_asked_for_by_what_they_go_into_and_count_inside_it():
    tool = makers.make_tool(code="CP")
    makers.put_in_parts(tool, 60, 60, 120)
    makers.make_up(tool, 40)
    for week in range(20):
        makers.make_order({tool.item: 1}, at=AT + week * WEEK + DAY)
    told = demand.demand(structure(kerf_nm=0), today=TODAY, zone=shop_row.the_shop().zone)
    assert sum(told.of(tool.item.pk)) == 20
    assert sum(told.of(tool.wedge.pk)) == 40
    handles = sum(told.weekly[told.rows[tool.handle.pk]])
    assert handles == pytest.approx(20 / (0.9 * 0.98))  # firewood and splits believed
    place = found()[tool.wedge.code].position
    # 40 wedges are free; 20 tools are, and count as far as tools are asked for in the days a wedge has to cover
    assert place.free == 40
    assert 2 * 2 <= place.inside <= 2 * 20


def test_what_is_taken_out_of_the_forecast_stays_out():
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 500)
    order = makers.make_order({item: 100}, at=AT + DAY)
    makers.make_order({item: 3}, at=AT + 2 * DAY)
    line = makers.line_of(order)
    line.one_off = True
    line.save(update_fields=["one_off"])
    told = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(told.of(item.pk)) == 3


def test_what_was_cancelled_counts_only_where_the_shop_was_late():
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 500)
    late, changed = (makers.make_order({item: many}, at=AT + DAY) for many in (7, 20))
    for order in (late, changed):
        with transaction.atomic():
            ordering.cancel_order(order, at=AT + 2 * DAY, by=makers.actor())
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == 0
    told = Notice.objects.create(order=late, told_at=AT + DAY, how="by telephone", text="Late.")
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == 0
    Notice.objects.filter(pk=told.pk).update(answer="cancelled", answered_at=AT + 2 * DAY)
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == 7


def test_one_asker_who_is_refused_again_within_a_day_counts_once_with_the_most():
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 1)
    for hours, qty, asker in ((0, 5, "a"), (3, 8, "a"), (4, 2, "b"), (30, 6, "a")):
        with transaction.atomic():
            note_refused(item.pk, qty, available=1, at=AT + DAY + dt.timedelta(hours=hours), asked_by=asker)
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == 8 + 2 + 6


@pytest.mark.parametrize(
    ("minutes", "taken", "source", "came_to"),
    [
        (10, 5, "api", 10),  # he took what there was
        (10, 2, "api", 10),
        (10, 6, "api", 16),  # more than there was: somebody else's
        (10, 5, "desk", 15),
        (70, 5, "api", 15),
        (-10, 5, "api", 15),  # before he was refused
    ],
)
def test_who_is_refused_by_a_program_and_takes_what_there_is_asked_once(minutes, taken, source, came_to):
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 20)
    asked_at = AT + DAY
    with transaction.atomic():
        note_refused(item.pk, 10, available=5, at=asked_at, asked_by="web shop")
    order = makers.make_order({item: taken}, at=asked_at + dt.timedelta(minutes=minutes))
    Order.objects.filter(pk=order.pk).update(source=source)
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == came_to


def test_one_order_stands_for_one_refusal():
    item = makers.make_item(Item.Kind.HANDLE)
    makers.put_in(item, 20)
    with transaction.atomic():
        for asker in ("web shop", "market stall"):
            note_refused(item.pk, 10, available=5, at=AT + DAY, asked_by=asker)
    makers.make_order({item: 5}, at=AT + DAY + dt.timedelta(minutes=1))
    Order.objects.update(source="api")
    asked = demand.demand(structure(kerf_nm=0), today=TODAY, zone="UTC")
    assert sum(asked.of(item.pk)) == 20


def test_what_is_wished_for_the_shelf_counts_as_coming_and_its_parts_are_wanted_when_it_is_put_together():
    tool = makers.make_tool(code="CP")
    makers.put_in_parts(tool, 40, 40, 80)
    for week in range(20):
        makers.make_order({tool.item: 1}, at=AT + week * WEEK + DAY)
    before = found()
    ForShelf.objects.create(item=tool.item, pieces=10, asked_at=NOW)
    after = found()
    assert after["CP"].decision.position == before["CP"].decision.position + 10
    wedge = tool.wedge.code
    assert after[wedge].position.waiting == before[wedge].position.waiting
    assert dict(after[wedge].position.shelf) == {READY: pytest.approx(20)}
    assert after[wedge].position.total == pytest.approx(before[wedge].position.total - 20)
    said = need_words.left(after[wedge])
    assert f"20 wanted from {words.day(READY)} on for what is made for the shelf" in said
    assert "wanted by orders" not in said


def test_a_run_for_the_shelf_does_not_use_up_its_parts_today():
    """80 wedges are left; a run of 50 wants 100 of them in three weeks, so they last until then and not until today."""
    tool = makers.make_tool(code="CP")
    makers.put_in_parts(tool, 60, 60, 80)
    for week in range(20):
        makers.make_order({tool.item: 1}, at=AT + week * WEEK + DAY)
    ForShelf.objects.create(item=tool.item, pieces=50, asked_at=NOW)
    until = found()[tool.wedge.code].decision.lasts_until
    assert until is not None
    assert TODAY + 14 * DAY < until <= READY


def test_what_is_pinned_for_the_shelf_wants_its_parts_from_the_pin_on():
    tool = makers.make_tool(code="CP")
    ForShelf.objects.create(item=tool.item, pieces=5, asked_at=NOW)
    WeekPin.objects.create(run_code="CP+shelf1", step=1, day=TODAY + 30 * DAY, place=1, pinned_at=NOW)
    WeekPin.objects.create(run_code="CP+shelf1", step=7, day=TODAY + 40 * DAY, place=2, pinned_at=NOW)
    wish = shelf_wishes.read(today=TODAY, takes={})[tool.item.pk]
    assert wish == shelf_wishes.Wish(5, TODAY + 30 * DAY, TODAY + 40 * DAY)


def test_steel_for_the_shelf_is_wanted_when_the_run_is_begun_and_heads_that_lie_there_are_not_made_again():
    made = forge.make_forge(blanks=0)
    tool = made.tool.item
    tool.reorder_point = 1
    tool.save()
    ForShelf.objects.create(item=tool, pieces=20, asked_at=NOW)
    makers.put_in(made.head, 8)
    places = needs.stands(at=NOW).places
    assert dict(places[made.head.pk].shelf) == {READY: 20}
    blank = Item.objects.get(kind=Item.Kind.BLANK)
    ((day, qty),) = places[blank.pk].shelf.items()
    assert day == TODAY + 7 * DAY
    assert 12 <= qty < 16  # twelve good heads and what is lost on the way


def late_now(code):
    return {one.item.code: one for one in needs.needs(at=NOW, every=True)}[code]


def test_of_tools_of_which_none_is_left_the_day_is_when_the_next_is_asked_for():
    tool = makers.make_tool(code="CP")
    for week in range(20):
        makers.make_order({tool.item: 1}, at=AT + week * WEEK + DAY)
    need = found()["CP"]
    until = need.decision.lasts_until
    assert until is not None
    assert until > TODAY
    said = f"today; the next is asked for by {words.day(until + DAY)}"
    assert buying_words.lasts(need, TODAY) == said


def test_an_order_that_is_not_sent_is_to_be_sent_and_not_asked_for():
    item = makers.make_item(Item.Kind.HANDLE, lead_days=14)
    used_weekly(item, 14, there=2)
    order = ordered(item, 200)
    need = late_now(item.code)
    assert not need.due
    assert need.pressing
    assert need_words.left(need) == f"2 free, 200 in order {order.number}, not sent."
    assert need_words.stands(need, TODAY).endswith(f"before order {order.number} comes; send order {order.number}.")
    (first,) = stops.first(at=NOW)
    assert need_words.on_its_way(first.need) == f"order {order.number} written and not sent"
    PurchaseOrder.objects.filter(pk=order.pk).update(sent_how="phone", sent_at=NOW, confirmed_on=TODAY + 9 * DAY)
    need = late_now(item.code)
    assert need.runs_dry == need.decision.lasts_until < TODAY + 3 * DAY
    assert need_words.to_do(need) == f"ask for order {order.number}"
    assert need_words.order_by(need, TODAY) == need_words.to_do(need)
    assert need_words.on_its_way(need) == f"order {order.number} promised for {words.day(TODAY + 9 * DAY)}"
    assert "Enough" not in need_words.why(need)
    PurchaseOrder.objects.filter(pk=order.pk).update(confirmed_on=TODAY)
    makers.put_in(item, 60)
    assert not late_now(item.code).pressing
    assert need_words.why(late_now(item.code)).startswith("Enough.")


def test_what_is_in_an_order_that_is_late_is_not_enough_though_it_lasts():
    supplier = Supplier.objects.create(name="Invented oil press", lead_days=4)
    item = makers.make_item(Item.Kind.HANDLE, supplier=supplier, reorder_point=40)
    used_weekly(item, 1, there=30)
    order = ordered(item, 60, ordered_on=TODAY - 58 * DAY, sent_how="phone", sent_at=AT)
    need = late_now(item.code)
    assert (need.due, need.pressing) == (False, True)
    said = need_words.stands(need, TODAY)
    assert said.startswith(f"Order {order.number} is late, since ")
    assert said.endswith(f"and without it there is not enough; ask for order {order.number}.")
    makers.put_in(item, 60)
    assert not late_now(item.code).pressing


def test_what_the_shop_makes_itself_is_made_and_what_orders_wait_for_is_left_to_the_week():
    supplier = Supplier.objects.create(name="Invented casting works")
    own = makers.make_item(Item.Kind.HEAD, reorder_point=5)
    bought = makers.make_item(Item.Kind.HEAD, reorder_point=5, supplier=supplier)
    makers.make_order({own: 7}, at=NOW)
    assert due()[own.code].make
    assert due()[own.code].decision.least == 6
    assert not due()[bought.code].make


def test_what_was_learned_says_the_same_as_what_is_worked_out():
    item = makers.make_item(Item.Kind.HANDLE, lead_days=14)
    used_weekly(item, 14, there=20)
    before = found()[item.code]
    with transaction.atomic():
        assert learning.keep(learning.work_out(at=NOW)) == 1
    row = Learned.objects.get(item=item)
    assert (row.point, row.service) == (before.decision.point, before.asked.service)
    assert found()[item.code].decision == before.decision
    later = found(NOW + DAY)[item.code]
    assert later.basis.learned_on == TODAY


def test_a_proposal_keeps_price_breaks_minimum_and_money():
    supplier = Supplier.objects.create(name="Invented turnery", min_order_minor=50_000)
    item = makers.make_item(
        Item.Kind.HANDLE, reorder_point=10, supplier=supplier, buy_unit="dozen", issue_per_buy=12, lead_days=7
    )
    used_weekly(item, 7, there=0)
    SupplierPrice.objects.create(supplier=supplier, item=item, from_qty=1, price_minor=6_000, noted_on=TODAY)
    (one,) = proposals.proposals(at=NOW)
    (line,) = one.lines
    assert one.value >= 50_000
    assert line.units % 12 == 0
    assert line.value == 6_000 * line.units // 12
    assert line.typed == f"{line.units // 12} dozen"
    shop = shop_row.the_shop()
    shop.spend_minor = 12_000
    shop.save(update_fields=["spend_minor"])
    (one,) = proposals.proposals(at=NOW)
    assert one.value <= 12_000
    assert any(why.kind == "money" for why in one.lines[0].why)


def test_gas_is_not_proposed_beyond_the_limit_inside():
    item = bottled_gas(most_inside=20_000_000)
    item.reorder_quantity = 54_000_000
    item.save(update_fields=["reorder_quantity"])
    (one,) = proposals.proposals(at=NOW)
    assert one.lines[0].units == 18_000_000
    assert one.lines[0].why[-1].kind == "room"


def test_what_stops_first_names_the_tools_that_need_it():
    tool = makers.make_tool(code="CP")
    makers.put_in_parts(tool, 40, 40, 2)
    for week in range(20):
        makers.make_order({tool.item: 1}, at=AT + week * WEEK + DAY)
    first = stops.first(at=NOW)[0]
    assert (first.item, list(first.tools)) == (tool.wedge, [tool.item])


def test_heads_in_the_works_count_for_their_tools_as_far_as_no_order_waits_for_them():
    made = forge.make_forge(blanks=80)
    tool = made.tool.item
    tool.reorder_point = 20
    tool.save()
    assert due()[tool.code].decision.position == 0
    made.start(28)
    place = needs.stands(at=NOW).places[tool.pk]
    assert 20 < place.heads < 28
    assert tool.code not in due()
    makers.make_order({tool: 15}, at=NOW)
    assert needs.stands(at=NOW).places[tool.pk].heads == pytest.approx(place.heads - 15)
    assert due()[tool.code].decision.position == int(place.heads) - 15
    makers.put_in(made.head, 15)
    assert needs.stands(at=NOW).places[tool.pk].heads == pytest.approx(place.heads)


def test_heads_that_can_become_two_tools_are_dealt_by_what_is_asked_for():
    made = forge.make_forge(blanks=80)
    other = makers.make_item(Item.Kind.TOOL)
    with transaction.atomic():
        catalogue.set_recipe(other, {made.head: 1, made.tool.handle: 1}, at=AT, by=makers.actor())
    made.start(28)
    places = needs.stands(at=NOW).places
    assert places[made.tool.item.pk].heads == places[other.pk].heads > 10


def test_a_steel_is_proposed_in_as_many_bars_as_its_blanks_are_sawn_from():
    """A bar of 6 m gives 2 blanks of 2.4 m: a fifth of it is an end, so more bars are bought than the steel needed."""
    supplier = Supplier.objects.create(name="Invented steel yard")
    bar = makers.make_item(Item.Kind.BAR, supplier=supplier, reorder_point=23_000_000_000)
    makers.make_item(Item.Kind.BLANK, grade=bar.grade, section=bar.section, blank_length_nm=2_400_000_000)
    SupplierPrice.objects.create(
        supplier=supplier, item=bar, length_nm=6_000_000_000, from_qty=1, price_minor=5_000, noted_on=TODAY
    )
    (one,) = proposals.proposals(at=NOW)
    (line,) = one.lines
    assert line.need.decision.least < 4 * 6_000_000_000
    assert line.units == 5 * 6_000_000_000


def test_a_good_by_the_milligram_is_valued_at_what_was_paid_for_it():
    item = makers.make_item(Item.Kind.CONSUMABLE, unit="mg", reorder_point=499_999)
    before = ordered(item, 1_000_000, received=1_000_000, closed_at=NOW)
    before.lines.update(price_minor=2_000)
    (one,) = proposals.proposals(at=NOW)
    assert (one.lines[0].units, one.value) == (500_000, 1_000)


def test_an_order_that_money_keeps_under_the_smallest_one_says_so():
    supplier = Supplier.objects.create(name="Invented turnery", min_order_minor=50_000)
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=10, supplier=supplier, lead_days=7)
    used_weekly(item, 7, there=0)
    SupplierPrice.objects.create(supplier=supplier, item=item, from_qty=1, price_minor=500, noted_on=TODAY)
    shop = shop_row.the_shop()
    shop.spend_minor = 20_000
    shop.save(update_fields=["spend_minor"])
    (one,) = proposals.proposals(at=NOW)
    assert 0 < one.value <= 20_000
    assert buying_words.notes(one, "USD") == [
        "Their smallest order is 500.00 USD; what is left for it of the money for buying, 200.00 USD, does not reach. Ask whether they take less."
    ]


def test_what_is_kept_in_another_unit_than_its_limit_says_that_it_is_not_reckoned_with():
    item = makers.make_item(Item.Kind.CONSUMABLE, stored_as="lp gas", reorder_point=1)
    shop = shop_row.the_shop()
    shop.lp_gas_most_mg = 0
    shop.save(update_fields=["lp_gas_most_mg"])
    (one,) = proposals.proposals(at=NOW)
    assert (one.lines[0].need.item, one.lines[0].units > 0) == (item, True)
    assert one.lines[0].why[-1].kind == "room not known"
    assert "look whether there is room" in buying_words.reasons(one.lines[0], "USD")
