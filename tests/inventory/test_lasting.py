"""How long stock lasts, when to order and how much; figures worked by hand beside each check."""

import datetime as dt
from fractions import Fraction

import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import lasting as calc
from inventory.models import Entry, Item, PurchaseOrder, PurchaseOrderLine, Supplier
from inventory.queries import lasting as queries
from inventory.services import ledger, reordering, reversing
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT

DAY = dt.timedelta(days=1)
NOW = AT + 42 * DAY
TODAY = NOW.date()


def test_use_is_a_plain_mean_over_six_weeks():
    assert calc.use_per_day(84, known_days=400) == 2


def test_a_young_item_is_divided_by_its_own_days_and_never_by_less_than_a_week():
    assert calc.use_per_day(30, known_days=10) == 3
    assert calc.use_per_day(14, known_days=1) == 2


@pytest.mark.parametrize(("used", "days"), [(-1, 10), (1, -1)])
def test_negative_use_is_a_programming_error(used, days):
    with pytest.raises(ValueError, match="0 or more"):
        calc.use_per_day(used, known_days=days)


def test_twelve_left_at_two_a_day_last_six_days():
    assert calc.lasts_until(12, Fraction(2), today=TODAY) == TODAY + 6 * DAY
    assert calc.lasts_until(13, Fraction(2), today=TODAY) == TODAY + 6 * DAY  # half a day is no day


def test_stock_without_use_or_for_more_than_ten_years_has_no_last_day():
    assert calc.lasts_until(12, Fraction(0), today=TODAY) is None
    assert calc.lasts_until(10**12, Fraction(1, 42), today=TODAY) is None


def test_nothing_left_ends_today():
    assert calc.lasts_until(-3, Fraction(2), today=TODAY) == TODAY


def test_goods_that_take_fourteen_days_are_ordered_fourteen_days_before_the_end():
    assert calc.order_by(dt.date(2026, 12, 3), 14) == dt.date(2026, 11, 19)
    assert calc.order_by(None, 14) is None
    assert calc.order_by(dt.date(2026, 12, 3), None) is None


def test_it_orders_at_the_point_and_not_only_under_it():
    assert calc.below(10, 10)
    assert not calc.below(11, 10)


def test_whole_order_quantities_lift_the_position_above_the_point():
    # 4 there, point 10: seven are missing to stand at 11; one quantity of 6 is too few, two are 12.
    assert calc.how_many(4, 10, quantity=6, rate=Fraction(0), lead_days=None, pack=1) == 12


def test_without_a_quantity_it_orders_for_the_lead_time_and_four_weeks():
    # 10 - 4 = 6 up to the point, and 2 a day for 14 + 28 days = 84: 90, in dozens 96.
    assert calc.how_many(4, 10, quantity=None, rate=Fraction(2), lead_days=14, pack=12) == 96


def test_without_use_it_orders_what_is_missing():
    assert calc.how_many(-3, 10, quantity=None, rate=Fraction(0), lead_days=None, pack=1) == 14


@pytest.mark.parametrize("wrong", [{"pack": 0}, {"quantity": 0}, {"position": 11}])
def test_ordering_above_the_point_or_in_no_packs_is_a_programming_error(wrong):
    facts = {"position": 4, "quantity": 6, "pack": 1} | wrong
    with pytest.raises(ValueError, match="above the point"):
        calc.how_many(
            facts["position"], 10, quantity=facts["quantity"], rate=Fraction(0), lead_days=None, pack=facts["pack"]
        )


@given(
    point=st.integers(0, 10**6),
    short=st.integers(0, 10**6),
    quantity=st.none() | st.integers(1, 10**5),
    used=st.integers(0, 10**6),
    lead=st.none() | st.integers(0, 400),
    pack=st.integers(1, 144),
)
def test_what_is_ordered_always_comes_in_whole_packs_and_lifts_the_position_above_the_point(
    point, short, quantity, used, lead, pack
):
    rate = calc.use_per_day(used, known_days=42)
    amount = calc.how_many(point - short, point, quantity=quantity, rate=rate, lead_days=lead, pack=pack)
    assert amount % pack == 0
    assert point - short + amount > point


def test_a_seeded_point_lasts_through_the_lead_time_and_the_days_asked_for():
    assert calc.point_for(Fraction(3, 2), days=7, lead_days=14) == 32  # 1.5 x 21 = 31.5
    assert calc.point_for(Fraction(3, 2), days=7, lead_days=None) == 11


pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


def item_with_use(*, reorder_point=10, there=100, used=84, **facts):
    """Make a handle that has been known for six weeks and of which so many went to own use."""
    item = makers.make_item(Item.Kind.HANDLE, reorder_point=reorder_point, **facts)
    lot = makers.put_in(item, there + used)
    if used:
        makers.move(lot, used, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=AT + DAY)
    return item, lot


def needs(at=NOW):
    return {need.item.code: need for need in reordering.check(at=at, today=at.date())}


def order_from_supplier(
    item, qty, *, received=0, closed=False, bars=None, received_bars=0, wanted_on=None, confirmed_on=None
):
    supplier = item.supplier or Supplier.objects.create(name=f"Invented supplier {makers.next_number()}")
    order = PurchaseOrder.objects.create(
        number=makers.next_number(),
        supplier=supplier,
        ordered_on=AT.date(),
        wanted_on=wanted_on,
        confirmed_on=confirmed_on,
        closed_at=NOW if closed else None,
    )
    PurchaseOrderLine.objects.create(
        order=order, number=1, item=item, qty=qty, received=received, bars=bars, received_bars=received_bars
    )
    return order


def test_an_item_above_its_point_is_left_alone():
    item_with_use(there=11)
    assert needs() == {}


def test_an_item_at_its_point_is_to_be_ordered_with_its_last_day():
    item, _ = item_with_use(there=10, lead_days=14, reorder_quantity=60)
    need = needs()[item.code]
    assert (need.available, need.position, need.quantity) == (10, 10, 60)
    assert need.rate == 2  # 84 in 42 days
    assert need.lasts_until == TODAY + 5 * DAY
    assert need.order_by == TODAY - 9 * DAY
    assert not need.make


def test_an_item_without_a_point_or_no_longer_kept_is_never_asked_for():
    makers.make_item(Item.Kind.HANDLE)
    makers.make_item(Item.Kind.HANDLE, reorder_point=5, active=False)
    assert needs() == {}


def test_what_is_on_order_counts_until_it_has_come_or_the_order_is_closed():
    item, _ = item_with_use(there=10)
    order_from_supplier(item, 5, received=4)
    order_from_supplier(item, 50, closed=True)
    assert needs() == {}
    PurchaseOrderLine.objects.filter(item=item).update(received=5)
    assert needs()[item.code].on_order == 0


def test_bars_on_order_are_counted_because_their_lengths_never_come_out_exactly():
    bar = makers.make_item(Item.Kind.BAR, reorder_point=20 * makers.FOOT_NM)
    ordered = order_from_supplier(
        bar, 60 * makers.FOOT_NM, bars=3, received=41 * makers.FOOT_NM, received_bars=2, wanted_on=TODAY - DAY
    )
    assert needs()[bar.code].on_order == 20 * makers.FOOT_NM
    assert queries.overdue_orders(today=TODAY) == [(ordered, TODAY - DAY)]
    PurchaseOrderLine.objects.filter(item=bar).update(received_bars=3)
    assert needs()[bar.code].on_order == 0
    assert queries.overdue_orders(today=TODAY) == []


def test_what_is_set_aside_is_not_free_and_a_lapsed_hold_counts_for_nobody():
    item, _ = item_with_use(there=12)
    makers.make_hold(item, 5, minutes=10, at=NOW - dt.timedelta(minutes=9))
    assert needs(NOW)[item.code].available == 7
    assert needs(NOW + dt.timedelta(minutes=1)) == {}


def test_what_orders_wait_for_is_taken_off_what_is_coming():
    item, _ = item_with_use(there=0, used=84)
    makers.make_order({item: 20}, at=NOW)
    order_from_supplier(item, 25)
    need = needs()[item.code]
    assert (need.available, need.waiting, need.on_order, need.position) == (0, 20, 25, 5)


def test_what_the_shop_makes_itself_is_made_and_not_ordered():
    supplier = Supplier.objects.create(name="Invented casting works")
    own = makers.make_item(Item.Kind.HEAD, reorder_point=5)
    bought = makers.make_item(Item.Kind.HEAD, reorder_point=5, supplier=supplier)
    found = needs()
    assert found[own.code].make
    assert not found[bought.code].make


def test_the_most_urgent_comes_first():
    later, _ = item_with_use(there=10, reorder_point=10, lead_days=1)
    sooner, _ = item_with_use(there=10, reorder_point=10, lead_days=30)
    unused = makers.make_item(Item.Kind.HANDLE, reorder_point=0)
    assert list(needs()) == [sooner.code, later.code, unused.code]


def test_use_is_what_went_to_customers_own_use_and_was_worked_up_but_not_scrap():
    item, lot = item_with_use(used=0, there=100)
    makers.move(lot, 3, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=AT + DAY)
    makers.move(lot, 4, source="BIN", target="WORKED-UP", kind=Entry.Kind.USE, at=AT + DAY)
    makers.move(lot, 5, source="BIN", target="SCRAP", at=AT + DAY)
    makers.send(makers.make_order({item: 6}, at=AT + DAY), at=AT + DAY)
    found = queries.uses(Item.objects.all(), since=AT, until=NOW)
    assert found[item.pk] == queries.Use(13, AT)


def test_use_that_was_reversed_never_happened():
    item, lot = item_with_use(used=0, there=100)
    entry = makers.move(lot, 30, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=AT + DAY)
    with transaction.atomic():
        locks = makers.locks_for(item, at=AT + 2 * DAY)
        reversing.reverse(entry, locks=locks, stamp=makers.stamp(at=AT + 2 * DAY, reason="typed twice"))
    assert queries.uses(Item.objects.all(), since=AT, until=NOW)[item.pk].used == 0


def test_the_rest_of_a_bar_that_comes_back_from_being_cut_is_not_used():
    bar = makers.make_item(Item.Kind.BAR)
    lot = makers.put_in(bar, 10 * makers.FOOT_NM)
    other = makers.put_in(bar, makers.FOOT_NM)
    rack, worked_up = makers.place("RACK"), makers.place("WORKED-UP")
    with transaction.atomic():
        locks = makers.locks_for(bar, at=AT + DAY)
        lines = [
            ledger.Line(lot=lot, qty=10 * makers.FOOT_NM, source=rack, target=worked_up),
            ledger.Line(lot=other, qty=7 * makers.FOOT_NM, source=worked_up, target=rack),
        ]
        ledger.commit(Entry.Kind.USE, lines, locks=locks, stamp=makers.stamp(at=AT + DAY))
    assert queries.uses(Item.objects.all(), since=AT, until=NOW)[bar.pk].used == 3 * makers.FOOT_NM


def test_a_tool_that_is_made_up_is_not_used_by_that():
    tool = makers.make_tool(reorder_point=1)
    makers.put_in_parts(tool, 5, 5, 10)
    makers.send(makers.make_order({tool.item: 2}, at=AT + DAY), at=AT + DAY)
    found = queries.uses(Item.objects.all(), since=AT, until=NOW)
    assert found[tool.item.pk].used == 2
    assert found[tool.head.pk].used == 2
    assert found[tool.wedge.pk].used == 4


def test_use_before_the_window_does_not_count():
    item, _ = item_with_use(used=84)
    assert queries.uses(Item.objects.all(), since=AT + 2 * DAY, until=NOW)[item.pk].used == 0


def test_a_purchase_order_is_late_after_its_confirmed_day_or_else_its_wanted_one():
    item = makers.make_item(Item.Kind.HANDLE)
    late = order_from_supplier(item, 5, wanted_on=TODAY - 9 * DAY, confirmed_on=TODAY - DAY)
    later = order_from_supplier(item, 5, wanted_on=TODAY - 3 * DAY)
    due = order_from_supplier(item, 5, wanted_on=TODAY - DAY, confirmed_on=TODAY)
    order_from_supplier(item, 5, received=5, wanted_on=TODAY - DAY)
    order_from_supplier(item, 5)
    assert queries.overdue_orders(today=TODAY) == [(later, TODAY - 3 * DAY), (late, TODAY - DAY)]
    assert queries.arriving_orders(today=TODAY) == [(due, TODAY)]


def seed(**answer):
    with transaction.atomic():
        return reordering.seed(**{"kind": "handle", "at": NOW, "by": makers.actor(), **answer})


def test_one_answer_in_days_seeds_every_item_of_the_kind_that_has_use_and_no_point():
    item, _ = item_with_use(reorder_point=None, lead_days=14)
    unused = makers.make_item(Item.Kind.HANDLE)
    own, _ = item_with_use(reorder_point=3)
    head = makers.make_item(Item.Kind.HEAD)
    assert seed(days=7) == [item]
    points = dict(Item.objects.values_list("code", "reorder_point"))
    assert points == {item.code: 42, unused.code: None, own.code: 3, head.code: None}  # 2 a day x (7 + 14)


def test_one_answer_in_pieces_seeds_all_of_the_kind():
    unused = makers.make_item(Item.Kind.HANDLE)
    assert seed(pieces=12) == [unused]
    assert Item.objects.get(pk=unused.pk).reorder_point == 12


@pytest.mark.parametrize(
    ("answer", "field"),
    [
        ({"kind": "spoon", "days": 7}, "kind"),
        ({}, "days"),
        ({"days": 7, "pieces": 7}, "days"),
        ({"days": -1}, "days"),
        ({"days": 731}, "days"),
        ({"pieces": -1}, "pieces"),
        ({"pieces": 10**18}, "pieces"),
    ],
)
def test_an_answer_that_cannot_be_used_changes_nothing(answer, field):
    makers.make_item(Item.Kind.HANDLE)
    with pytest.raises(Invalid) as refused:
        seed(**answer)
    assert field in refused.value.fields
    assert not Item.objects.filter(reorder_point__isnull=False).exists()
