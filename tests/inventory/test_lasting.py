"""How long stock lasts, when to order and how much; figures worked by hand beside each check."""

import datetime as dt
from fractions import Fraction

import pytest
from django.db import transaction

from inventory.calc import lasting as calc
from inventory.models import Delivery, Entry, Item, PurchaseOrder, PurchaseOrderLine, Supplier
from inventory.queries import lasting as queries
from inventory.services import ledger, reordering, reversing
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT
from tests.people import make_shop

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
    queued = order_from_supplier(item, 5, wanted_on=TODAY - DAY)
    PurchaseOrder.objects.filter(pk__in=[later.pk]).update(sent_how="phone", sent_at=AT)
    assert queries.overdue_orders(today=TODAY) == [(later, TODAY - 3 * DAY), (late, TODAY - DAY)]
    assert queries.arriving_orders(today=TODAY) == [(due, TODAY)]
    assert queries.not_sent() == [queued]


def test_an_order_is_sent_when_it_went_out_or_the_supplier_spoke_of_it_or_goods_of_it_came():
    item = makers.make_item(Item.Kind.HANDLE)
    sent, confirmed, asked, begun, written = (order_from_supplier(item, 5) for _ in range(5))
    PurchaseOrder.objects.filter(pk=sent.pk).update(sent_how="printed", sent_at=AT)
    PurchaseOrder.objects.filter(pk=confirmed.pk).update(confirmed_on=TODAY)
    PurchaseOrder.objects.filter(pk=asked.pk).update(asked_on=TODAY)
    Delivery.objects.create(number=9, supplier=begun.supplier, order=begun, started_at=AT)
    order_from_supplier(item, 5, received=5)
    order_from_supplier(item, 5, closed=True)
    assert queries.not_sent() == [written]


def test_an_order_nobody_gave_a_day_for_is_late_when_nine_in_ten_would_have_come():
    make_shop()
    supplier = Supplier.objects.create(name="Invented oil press", lead_days=4)
    item = makers.make_item(Item.Kind.HANDLE, supplier=supplier)
    phoned = order_from_supplier(item, 5)
    PurchaseOrder.objects.filter(pk=phoned.pk).update(sent_how="phone", sent_at=AT)
    usual = queries.usually_here_by([phoned], today=TODAY)[phoned.pk]
    assert AT.date() + 4 * DAY < usual <= AT.date() + 9 * DAY
    assert queries.overdue_orders(today=usual) == []
    assert queries.overdue_orders(today=usual + DAY) == [(phoned, usual)]
    assert queries.arriving_orders(today=usual) == []  # nobody said that it comes today


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
