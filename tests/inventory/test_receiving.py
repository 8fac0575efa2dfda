"""A delivery comes in: drafts, booking once, bars with their own lengths, weights, orders short and over."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Bar, Delivery, Entry, Holding, Item, ItemStock, Lot, Movement, PurchaseOrderLine, Supplier
from inventory.services import catalogue, purchasing, reading, receiving
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from inventory.services.receiving import AlreadyBooked
from shop.flows import delivering
from shop.shared import shop_row
from shop.shared.errors import Invalid, Stale
from tests.makers import AT, actor, line_of, make_grade, make_item, make_order, stamp
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
LATER = AT + dt.timedelta(hours=2)
SEVEN = "6 @ 20 ft 1/2 in, 1 @ 5.74 m"


def supplier(name: str = "Invented Steel") -> Supplier:
    with transaction.atomic():
        return purchasing.supplier_named(name, at=AT, by=actor())


def steel(**facts: str) -> PaperLine:
    make_grade("1045")
    usual = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "007341", "bars": SEVEN}
    return PaperLine(**{**usual, **facts})


def receive(*lines: PaperLine, order=None, firm: Supplier | None = None) -> delivering.Received:
    with transaction.atomic():
        return delivering.receive(firm or supplier(), Paper(lines), order=order, stamp=stamp())


def open_order(*lines: ToBuy) -> purchasing.PurchaseOrder:
    with transaction.atomic():
        return purchasing.open_order(supplier(), lines, ordered_on=AT.date(), at=AT, by=actor())


def refused(*lines: PaperLine, order=None) -> Invalid:
    before = (Entry.objects.count(), Delivery.objects.count(), Item.objects.count(), Lot.objects.count())
    with pytest.raises(Invalid) as caught:
        receive(*lines, order=order)
    assert (Entry.objects.count(), Delivery.objects.count(), Item.objects.count(), Lot.objects.count()) == before
    return caught.value


def test_it_books_seven_bars_each_with_its_own_measured_length():
    received = receive(steel())
    lengths = [lot.bar.length_nm for lot in received.lots]
    # 20 ft 1/2 in is 240.5 in of 25.4 mm; the seventh was typed in metres.
    assert lengths == [6_108_700_000] * 6 + [5_740_000_000]
    assert [lot.bar.typed for lot in received.lots] == ["20 ft 1/2 in"] * 6 + ["5.74 m"]
    assert len({lot.bar.number for lot in received.lots}) == 7
    assert {h.place.code for h in Holding.objects.filter(lot__in=received.lots)} == {"RACK"}
    assert received.delivery.state == Delivery.State.BOOKED


def test_the_mill_heat_number_keeps_its_leading_zeros():
    lot = receive(steel()).lots[0]
    assert lot.melt.heat_number == "007341"


def test_an_unknown_mill_heat_may_be_received_and_says_so():
    lot = receive(steel(heat_number="unknown")).lots[0]
    assert not lot.melt.known


def test_steel_without_a_mill_heat_number_is_refused():
    assert "lines.0.heat_number" in refused(steel(heat_number="")).fields


def test_the_bar_item_of_grade_and_section_is_made_once_and_begins_with_a_letter():
    first, second = receive(steel()).lots[0].item, receive(steel(size="50.8 mm")).lots[0].item
    assert first == second
    assert first.code == "B-1045-RD-2IN"
    assert receive(steel(size="1-1/2 in", shape="SQ")).lots[0].item.code == "B-1045-SQ-1.5IN"
    assert receive(steel(size="40 mm")).lots[0].item.code == "B-1045-RD-40MM"


def test_a_grade_that_is_not_in_the_book_must_be_called_new():
    assert "lines.0.grade" in refused(steel(grade="9260")).fields
    assert receive(steel(grade="9260", new_grade="yes")).lots[0].item.grade.code == "9260"


def test_the_scale_weight_stands_beside_the_computed_weight():
    line = receive(steel(scale="440 lb", weighed_by="own scale")).delivery.lines.get()
    # Area pi/4 d2 with d = 50.8 mm, 7.85 g/cm3: 15.9107 kg/m over 42.3922 m.
    assert line.computed_mass_mg == pytest.approx(674_492_000, rel=1e-4)
    assert line.scale_mass_mg == 199_580_643
    assert sum(Bar.objects.values_list("mass_mg", flat=True)) == line.scale_mass_mg
    assert set(Movement.objects.values_list("basis", flat=True)) == {"measured"}


def test_without_a_scale_the_weight_is_worked_out_and_marked_so():
    receive(steel())
    assert set(Movement.objects.values_list("basis", flat=True)) == {"worked out"}
    assert set(Bar.objects.values_list("mass_mg", flat=True)) == {None}


def test_a_weight_needs_to_say_who_weighed():
    assert "lines.0.weighed_by" in refused(steel(scale="440 lb")).fields


def test_the_landed_cost_is_shared_by_mass_and_no_cent_is_lost():
    with transaction.atomic():
        shop_row.make(shop_row.Settings(name="Invented", currency="USD"), at=AT, by="tests")
    lots = receive(steel(cost="1000.01")).lots
    assert sum(lot.cost_minor for lot in lots) == 100_001
    assert lots[0].cost_minor > lots[6].cost_minor


def test_two_mill_heats_are_two_lines_and_two_melts():
    lots = receive(steel(bars="3 @ 20 ft"), steel(bars="4 @ 20 ft", heat_number="7342")).lots
    assert [lot.melt.heat_number for lot in lots] == ["007341"] * 3 + ["7342"] * 4


def test_a_mill_heat_of_another_grade_in_the_book_is_refused():
    receive(steel())
    make_grade("4140")
    assert "lines.0.heat_number" in refused(steel(grade="4140")).fields


def test_unmeasured_bars_stand_at_the_door_and_cannot_be_sold_or_cut():
    received = receive(steel(bars="2 @ 20 ft", measured="no"))
    assert {h.place.code for h in Holding.objects.filter(lot__in=received.lots)} == {"DOOR"}
    assert not any(lot.bar.measured for lot in received.lots)
    assert received.lots[0].item.stock.sellable == 0


def test_at_the_lorry_a_count_is_enough_where_the_order_says_how_long_they_should_be():
    item = receive(steel(bars="1 @ 20 ft")).lots[0].item
    order = open_order(ToBuy(item, "5 @ 20 ft"))
    lots = receive(PaperLine(order_line="1", bars="4", heat_number="0099"), order=order).lots
    assert [(lot.bar.measured, lot.bar.length_nm) for lot in lots] == [(False, 6_096_000_000)] * 4
    assert {h.place.code for h in Holding.objects.filter(lot__in=lots)} == {"DOOR"}


def test_several_bars_are_measured_in_one_go_or_none_of_them():
    lots = receive(steel(bars="3 @ 20 ft", measured="no")).lots
    wrong = {lots[0].bar: "6.1", lots[1].bar: "six"}
    with pytest.raises(Invalid) as caught, transaction.atomic():
        delivering.measure_all(wrong, stamp=stamp(at=LATER), unit="m")
    assert set(caught.value.fields) == {f"bar_{lots[1].pk}"}
    assert Bar.objects.filter(measured=True).count() == 0
    with transaction.atomic():
        delivering.measure_all({lots[0].bar: "6.1", lots[1].bar: "6,05"}, stamp=stamp(at=LATER), unit="m")
    assert sorted(Bar.objects.filter(measured=True).values_list("length_nm", flat=True)) == [
        6_050_000_000,
        6_100_000_000,
    ]


def test_a_bar_measured_later_goes_to_the_rack_and_the_difference_is_booked():
    lot = receive(steel(bars="1 @ 20 ft", measured="no")).lots[0]
    with transaction.atomic():
        entry = delivering.measure(lot.bar, "19' 11 1/2\"", stamp=stamp(at=LATER))
    lot.bar.refresh_from_db()
    assert lot.bar.measured
    assert lot.bar.length_nm == 6_083_300_000  # 239.5 in
    moved = {(m.from_place.code, m.to_place.code): m.qty for m in entry.movements.all()}
    assert moved == {("DOOR", "RACK"): 6_083_300_000, ("DOOR", "DIFFERENCE"): 12_700_000}


def test_a_bar_longer_than_the_paper_said_gains_the_difference():
    lot = receive(steel(bars="1 @ 20 ft", measured="no")).lots[0]
    with transaction.atomic():
        entry = delivering.measure(lot.bar, "20 ft 1 in", stamp=stamp(at=LATER))
    moved = {(m.from_place.code, m.to_place.code): m.qty for m in entry.movements.all()}
    assert moved == {("DOOR", "RACK"): 6_096_000_000, ("DIFFERENCE", "RACK"): 25_400_000}


def test_a_bar_is_measured_once():
    lot = receive(steel(bars="1 @ 20 ft", measured="no")).lots[0]
    with transaction.atomic():
        delivering.measure(lot.bar, "20 ft", stamp=stamp(at=LATER))
    with pytest.raises(receiving.NotWaiting), transaction.atomic():
        delivering.measure(lot.bar, "20 ft", stamp=stamp(at=LATER))


@pytest.mark.parametrize(
    ("typed", "pieces"), [("3 dozen", 36), ("2 box", 96), ("2 boxes", 96), ("36", 36), ("1 gross", 144), ("12 pcs", 12)]
)
def test_boxes_and_dozens_become_pieces(typed, pieces):
    wedges = make_item(Item.Kind.CONSUMABLE, buy_unit="box", issue_per_buy=48)
    lot = receive(PaperLine(item=wedges.code, quantity=typed)).lots[0]
    assert lot.holdings.get().on_hand == pieces


@pytest.mark.parametrize("typed", ["", "0", "-3", "3 bushels", "2.5", "999999999999999999", "abc"])
def test_a_quantity_that_is_none_is_refused(typed):
    wedges = make_item(Item.Kind.CONSUMABLE, buy_unit="box", issue_per_buy=48)
    assert "lines.0.quantity" in refused(PaperLine(item=wedges.code, quantity=typed)).fields


@pytest.mark.parametrize(
    "typed",
    ["", "6 @ ", "6 @ 20", "-1 @ 20 ft", "0 @ 20 ft", "600 @ 20 ft", "1 @ 400 ft", "six bars", "6 @ 20 lb", "7"],
)
def test_bars_that_cannot_be_read_are_refused_with_their_field(typed):
    assert "lines.0.bars" in refused(steel(bars=typed)).fields


@pytest.mark.parametrize(
    ("typed", "count"),
    [("6 @ 6.09, 1 @ 5.74", 7), ("6,09; 5,74", 2), ("6.09\n6.08\n6.07", 3), ("6@6.09,1@5.74", 7), ("2 x 6.09 m", 2)],
)
def test_bare_numbers_are_read_in_the_unit_that_was_chosen(typed, count):
    bars = reading.bar_list(typed, unit="m")
    assert len(bars) == count
    assert all(5_700_000_000 < bar.nm < 6_100_000_000 for bar in bars)


def test_everything_wrong_in_two_lines_is_said_at_once():
    fields = refused(steel(bars="six"), steel(size="big", heat_number="")).fields
    assert {"lines.0.bars", "lines.1.size"} <= set(fields)


def test_an_empty_delivery_is_refused():
    assert "lines" in refused(PaperLine()).fields


@pytest.mark.parametrize(
    ("unit", "typed", "qty"),
    [
        ("25 lb bag", "11 25 lb bag", 11_000),
        ("25 lb bag", "2 25 lb bags", 2_000),
        ("5 gal pail", "1 5 gal pail", 1_000),
        ("pkg.", "13 pkg.", 13_000),
        ("pkg.", "13 pkg", 13_000),
        ("box", "2box", 2_000),
        ("box", "36", 36),
    ],
)
def test_what_is_bought_is_read_as_it_is_written_also_with_figures_in_it(unit: str, typed: str, qty: int):
    item = Item(code="X", unit=Item.Unit.PIECE, buy_unit=unit, issue_per_buy=1_000)
    assert reading.quantity(typed, item).qty == qty


def test_a_short_delivery_leaves_the_order_open_and_says_so():
    item = receive(steel(bars="1 @ 20 ft")).lots[0].item
    order = open_order(ToBuy(item, "8 @ 20 ft"))
    received = receive(steel(order_line="1"), order=order)
    line = PurchaseOrderLine.objects.get(order=order)
    assert (line.received_bars, line.received) == (7, 6 * 6_108_700_000 + 5_740_000_000)
    assert list(received.said) == ["Line 1, B-1045-RD-2IN: 1 bar still to come."]
    order.refresh_from_db()
    assert order.closed_at is None


def test_the_rest_closes_the_order_and_over_is_said():
    handles = make_item(Item.Kind.HANDLE, buy_unit="dozen", issue_per_buy=12)
    order = open_order(ToBuy(handles, "3 dozen"))
    assert list(receive(PaperLine(item=handles.code, quantity="2 dozen", order_line="1"), order=order).said) == [
        f"Line 1, {handles.code}: 12 still to come."
    ]
    said = receive(PaperLine(item=handles.code, quantity="16", order_line="1"), order=order).said
    assert list(said) == [f"Line 1, {handles.code}: 4 more than ordered."]
    order.refresh_from_db()
    assert order.closed_at == AT


def test_what_comes_of_a_closed_order_is_booked_only_when_somebody_says_so():
    handles = make_item(Item.Kind.HANDLE)
    order = open_order(ToBuy(handles, "12"))
    line = PaperLine(item=handles.code, quantity="12", order_line="1")
    receive(line, order=order)
    with pytest.raises(purchasing.OrderClosed, match="is closed; delivery 1 brought the last of it"):
        receive(line, order=order)
    assert ItemStock.objects.get(item=handles).sellable == 12
    with transaction.atomic():
        said = delivering.receive(supplier(), Paper([line]), order=order, stamp=stamp(), although_closed=True).said
    assert list(said) == [f"Line 1, {handles.code}: 12 more than ordered."]


def test_another_item_than_the_order_line_asks_for_is_refused():
    order = open_order(ToBuy(make_item(Item.Kind.HANDLE), "3 dozen"))
    assert "lines.0.order_line" in refused(steel(order_line="1"), order=order).fields


def test_a_purchase_order_of_another_supplier_is_refused():
    order = open_order(ToBuy(make_item(Item.Kind.HANDLE), "3 dozen"))
    with pytest.raises(Invalid), transaction.atomic():
        receiving.start(supplier("Another invented firm"), order=order, at=AT, by=actor())


def test_arriving_handles_serve_the_line_that_waits():
    handles = make_item(Item.Kind.HANDLE)
    order = make_order({handles: 5})
    received = receive(PaperLine(item=handles.code, quantity="1 dozen"))
    assert [line.order for line in received.served] == [order]
    assert line_of(order).reserved == 5


def test_a_draft_is_kept_as_typed_and_saved_as_often_as_wanted():
    with transaction.atomic():
        draft = receiving.start(supplier(), at=AT, by=actor())
        draft = receiving.save(draft, Paper([steel(bars="6 @ nonsense")], note="tags wet"), version=draft.version)
        draft = receiving.save(draft, Paper([steel()], note="tags dry"), version=draft.version)
    assert draft.draft["lines"][0]["bars"] == SEVEN
    assert draft.note == "tags dry"
    assert Movement.objects.count() == 0


def test_a_draft_saved_from_two_tablets_keeps_the_first_and_refuses_the_second():
    with transaction.atomic():
        draft = receiving.start(supplier(), at=AT, by=actor())
        seen = draft.version
        receiving.save(draft, Paper([steel()]), version=seen)
    with pytest.raises(Stale), transaction.atomic():
        receiving.save(draft, Paper([]), version=seen)
    draft.refresh_from_db()
    assert draft.draft["lines"][0]["bars"] == SEVEN


def test_looking_at_what_a_draft_would_bring_writes_nothing():
    with transaction.atomic():
        draft = receiving.start(supplier(), typed=Paper([steel()]), at=AT, by=actor())
        ready = delivering.look(draft, stamp=stamp())
    assert len(ready[0].ready.bars) == 7
    assert not Item.objects.filter(kind=Item.Kind.BAR).exists()
    assert Entry.objects.count() == 0


def test_a_delivery_is_booked_once_however_often_it_is_sent():
    with transaction.atomic():
        draft = receiving.start(supplier(), typed=Paper([steel()]), at=AT, by=actor())
    with transaction.atomic():
        delivering.book(draft, stamp=stamp())
    for _ in range(2):
        with pytest.raises(AlreadyBooked), transaction.atomic():
            delivering.book(Delivery.objects.get(pk=draft.pk), stamp=stamp())
    assert Entry.objects.count() == 1
    assert Bar.objects.count() == 7


def test_a_booked_delivery_cannot_be_written_over():
    delivery = receive(steel()).delivery
    with pytest.raises(AlreadyBooked), transaction.atomic():
        receiving.save(delivery, Paper([]), version=delivery.version)


def test_when_the_second_write_fails_nothing_has_changed(monkeypatch):
    with transaction.atomic():
        draft = receiving.start(supplier(), typed=Paper([steel()]), at=AT, by=actor())

    def fail(*_args, **_kwargs):
        raise OSError("disk full")

    monkeypatch.setattr(purchasing, "came", fail)
    with pytest.raises(OSError, match="disk full"), transaction.atomic():
        delivering.book(draft, stamp=stamp())
    draft.refresh_from_db()
    assert draft.state == Delivery.State.DRAFT
    assert (Entry.objects.count(), Bar.objects.count(), Holding.objects.count()) == (0, 0, 0)


def test_a_delivery_from_the_future_is_refused():
    with pytest.raises(Invalid), transaction.atomic():
        delivering.receive(supplier(), Paper([steel()]), stamp=stamp(happened_at=LATER))


def test_a_cancelled_purchase_line_asks_for_no_more_than_came():
    handles, belts = make_item(Item.Kind.HANDLE), make_item(Item.Kind.CONSUMABLE)
    order = open_order(ToBuy(handles, "36"), ToBuy(belts, "10"))
    receive(PaperLine(item=handles.code, quantity="12", order_line="1"), order=order)
    order.refresh_from_db()
    with transaction.atomic():
        purchasing.cancel_line(order.lines.get(number=1), version=order.version, at=AT, by=actor())
    assert order.lines.get(number=1).qty == 12
    order.refresh_from_db()
    with transaction.atomic():
        purchasing.cancel_line(order.lines.get(number=2), version=order.version, at=AT, by=actor())
    order.refresh_from_db()
    assert order.closed_at is not None


def test_a_closed_purchase_order_cannot_be_confirmed():
    order = open_order(ToBuy(make_item(Item.Kind.HANDLE), "36"))
    with transaction.atomic():
        order = purchasing.confirm(order, AT.date() + dt.timedelta(days=9), version=order.version, at=AT, by=actor())
        order = purchasing.close(order, version=order.version, at=AT, by=actor())
    with pytest.raises(purchasing.OrderClosed), transaction.atomic():
        purchasing.confirm(order, AT.date(), version=order.version, at=AT, by=actor())


def test_a_supplier_is_in_the_book_once():
    firm = supplier()
    assert supplier("invented  STEEL") == firm
    with pytest.raises(Invalid), transaction.atomic():
        purchasing.add_supplier("INVENTED steel", at=AT, by=actor())


def test_goods_cannot_be_received_to_a_place_outside():
    handles = make_item(Item.Kind.HANDLE)
    assert "lines.0.place" in refused(PaperLine(item=handles.code, quantity="12", place="SCRAP")).fields


def test_bars_go_to_the_slot_that_was_named():
    with transaction.atomic():
        catalogue.add_place(code="R3", name="Rack 3", kind="rack", at=AT, by=actor())
    lot = receive(steel(bars="1 @ 20 ft", place="r3")).lots[0]
    assert lot.holdings.get().place.code == "R3"


def test_freight_and_cuts_are_shared_over_the_steel_by_mass_and_none_of_it_is_lost():
    make_shop()
    lines = [steel(cost="300", bars="3 @ 20 ft"), steel(cost="100.01", bars="1 @ 10 ft", heat_number="7")]
    with transaction.atomic():
        received = delivering.receive(supplier(), Paper(lines, freight="70.00"), stamp=stamp())
    costs = [line.cost_minor for line in received.delivery.lines.order_by("number")]
    assert costs == [30_000 + 6_000, 10_001 + 1_000]  # sixty feet to ten of the same section
    assert sum(lot.cost_minor for lot in received.lots) == sum(costs)


def test_freight_without_steel_to_carry_it_is_refused():
    make_shop()
    item = make_item(code="HD-16")
    with pytest.raises(Invalid) as caught, transaction.atomic():
        delivering.receive(supplier(), Paper([PaperLine(item=item.code, quantity="3")], freight="9"), stamp=stamp())
    assert "freight" in caught.value.fields
