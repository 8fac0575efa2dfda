"""Counts, use, moves, losses and what is not to be used: the book follows what a person finds, and orders give way."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import AllocationPart, Entry, Holding, Item, ItemStock, Lot, Movement
from inventory.services import catalogue, correcting, counting
from inventory.services.allocating import NotEnough
from inventory.services.counting import NothingThere
from orders.models import Hold
from shop.flows import delivering, doubting, stocktaking
from shop.shared.errors import Invalid
from shop.shared.models import AuditLine
from tests.makers import (
    AT,
    actor,
    line_of,
    make_hold,
    make_item,
    make_melt,
    make_order,
    make_tool,
    place,
    put_in,
    put_in_parts,
    stamp,
    stands,
)  # fmt: skip

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
LATER = AT + dt.timedelta(hours=2)


def add_slot(code: str, kind: str = "bin"):
    with transaction.atomic():
        return catalogue.add_place(code=code, name=code.title(), kind=kind, at=AT, by=actor())


def count(item: Item, found: int, *, at_place: str = "BIN") -> stocktaking.Outcome:
    with transaction.atomic():
        return stocktaking.count(item, place(at_place), found, stamp=stamp(at=LATER, reason="monthly count"))


def book(action, *args, **kwargs):
    with transaction.atomic():
        return action(*args, stamp=stamp(at=LATER, reason=kwargs.pop("reason", "seen on the shelf")), **kwargs)


def counters(item: Item) -> tuple[int, int, int]:
    row = ItemStock.objects.get(pk=item.pk)
    return row.sellable, row.allocated, row.waiting


def test_a_count_that_is_right_moves_nothing_and_is_noted():
    handles = make_item()
    put_in(handles, 20)
    outcome = count(handles, 20)
    assert outcome.entry is None
    assert AuditLine.objects.filter(action="counted", subject=f"item {handles.code}").count() == 1


def test_missing_pieces_go_to_the_difference_oldest_lot_first():
    handles = make_item()
    old, new = put_in(handles, 5), put_in(handles, 20)
    outcome = count(handles, 18)
    assert outcome.counted.difference == -7
    assert (stands(old, "BIN"), stands(new, "BIN")) == (0, 18)
    assert {m.to_place.code for m in outcome.entry.movements.all()} == {"DIFFERENCE"}
    assert outcome.entry.reason == "monthly count"


def test_the_same_count_sent_twice_books_the_difference_once():
    handles = make_item()
    put_in(handles, 20)
    count(handles, 18)
    assert count(handles, 18).entry is None
    assert counters(handles)[0] == 18


def test_a_count_is_never_refused_because_pieces_are_promised_and_the_last_promised_gives_way():
    handles = make_item()
    put_in(handles, 10)
    first, last = make_order({handles: 6}), make_order({handles: 4})
    outcome = count(handles, 7)
    assert [line.order for line in outcome.gave_way] == [last]
    assert outcome.said == f"Order {last.number} line 1 gave way and waits for pieces again."
    assert line_of(first).reserved == 6
    assert (line_of(last).reserved, line_of(last).waiting) == (1, 3)
    assert counters(handles) == (7, 7, 3)


def test_the_last_promised_gives_way_though_its_pieces_lie_in_the_older_lot():
    handles = make_item()
    old = put_in(handles, 4)
    early = make_order({handles: 4})  # holds the old lot
    new = put_in(handles, 4)
    late = make_order({handles: 4})  # holds the new lot
    assert (stands(old, "BIN"), stands(new, "BIN")) == (4, 4)
    outcome = count(handles, 5)
    assert [line.order for line in outcome.gave_way] == [late]
    assert line_of(early).reserved == 4
    assert counters(handles) == (5, 5, 3)


def test_a_hold_gives_way_before_an_order():
    handles = make_item()
    put_in(handles, 10)
    order = make_order({handles: 5})
    hold = make_hold(handles, 5, minutes=1440)
    outcome = count(handles, 6)
    assert list(outcome.gave_way) == []
    assert line_of(order).reserved == 5
    assert Hold.objects.get(pk=hold.pk).ended_at == LATER


def test_a_lost_head_frees_the_handle_and_wedges_of_its_set():
    tool = make_tool()
    put_in_parts(tool, 3, 3, 6)
    order = make_order({tool.item: 3})
    outcome = count(tool.head, 2, at_place="SHELF")
    assert [line.order for line in outcome.gave_way] == [order]
    assert line_of(order).reserved == 2
    assert counters(tool.handle) == (3, 2, 0)
    assert counters(tool.wedge) == (6, 4, 0)


def test_more_than_the_book_knew_goes_to_the_newest_lot():
    handles = make_item()
    put_in(handles, 5)
    new = put_in(handles, 5)
    count(handles, 13)
    assert stands(new, "BIN") == 8


def test_more_heads_than_the_book_knew_are_of_an_unknown_melt():
    head = make_item(Item.Kind.HEAD, grade=make_melt().grade)
    known = put_in(head, 5)
    count(head, 6, at_place="SHELF")
    assert stands(known, "SHELF") == 5
    extra = Lot.objects.exclude(pk=known.pk).get(item=head)
    assert (stands(extra, "SHELF"), extra.melt.known) == (1, False)
    count(head, 7, at_place="SHELF")
    assert stands(extra, "SHELF") == 2


def test_pieces_found_where_the_book_knew_none_serve_the_line_that_waits():
    handles = make_item()
    order = make_order({handles: 2})
    outcome = count(handles, 3)
    assert [line.order for line in outcome.served] == [order]
    assert counters(handles) == (3, 2, 0)


@pytest.mark.parametrize("found", [-1, 10**18])
def test_a_count_below_nothing_or_absurd_is_refused(found):
    handles = make_item()
    put_in(handles, 5)
    with pytest.raises(Invalid) as caught:
        count(handles, found)
    assert "found" in caught.value.fields
    assert counters(handles)[0] == 5


def test_bars_are_not_counted_by_the_piece():
    bar = make_item(Item.Kind.BAR)
    put_in(bar, 6_000_000_000)
    with pytest.raises(Invalid):
        count(bar, 1, at_place="RACK")


def test_nothing_is_counted_outside_the_shop():
    handles = make_item()
    with pytest.raises(Invalid):
        count(handles, 1, at_place="CUSTOMER")


def test_when_the_second_write_fails_the_count_has_changed_nothing(monkeypatch):
    handles = make_item()
    put_in(handles, 5)
    make_order({handles: 5})

    def fail(**_kwargs):
        raise OSError("disk full")

    monkeypatch.setattr(counting.audit, "write", fail)
    with pytest.raises(OSError, match="disk full"):
        count(handles, 3)
    assert counters(handles) == (5, 5, 0)
    assert not Entry.objects.filter(kind=Entry.Kind.COUNT).exists()


def test_belts_are_used_up_oldest_first():
    belts = make_item(Item.Kind.CONSUMABLE)
    old, new = put_in(belts, 5), put_in(belts, 5)
    book(stocktaking.use, belts, 7)
    assert (stands(old, "SHELF"), stands(new, "SHELF")) == (0, 3)
    assert set(Movement.objects.filter(entry__kind="use").values_list("to_place__code", flat=True)) == {"OWN-USE"}


def test_oil_is_used_by_volume_and_may_be_worked_up():
    oil = make_item(Item.Kind.CONSUMABLE, unit=Item.Unit.UL)
    put_in(oil, 3_785_411)
    book(stocktaking.use, oil, 1_000_000, what_for="WORKED-UP")
    assert counters(oil)[0] == 2_785_411


def test_more_than_is_free_is_not_used():
    belts = make_item(Item.Kind.CONSUMABLE)
    put_in(belts, 5)
    make_order({belts: 4})
    with pytest.raises(NotEnough) as caught:
        book(stocktaking.use, belts, 2)
    assert caught.value.facts == {"available": 1, "requested": 2}
    assert counters(belts) == (5, 4, 0)


@pytest.mark.parametrize(("qty", "what_for", "wrong"), [(0, "OWN-USE", "qty"), (1, "SCRAP", "what_for")])
def test_use_of_nothing_or_for_nothing_known_is_refused(qty, what_for, wrong):
    belts = make_item(Item.Kind.CONSUMABLE)
    put_in(belts, 5)
    with pytest.raises(Invalid) as caught:
        book(stocktaking.use, belts, qty, what_for=what_for)
    assert wrong in caught.value.fields


def test_pieces_that_are_set_aside_move_along_and_stay_set_aside():
    handles = make_item()
    lot = put_in(handles, 10)
    order = make_order({handles: 6})
    add_slot("B2")
    book(stocktaking.move, lot, 8, source=place("BIN"), target=place("B2"))
    assert (stands(lot, "BIN"), stands(lot, "B2")) == (2, 8)
    parts = AllocationPart.objects.filter(open=True, allocation__order_line__order=order)
    assert sorted((p.holding.place.code, p.qty) for p in parts) == [("B2", 4), ("BIN", 2)]
    assert counters(handles) == (10, 6, 0)
    assert {h.place.code: h.allocated for h in Holding.objects.filter(lot=lot)} == {"BIN": 2, "B2": 4}
    assert line_of(order).reserved == 6


def test_a_bar_moves_whole_to_a_slot_of_the_rack():
    bar = make_item(Item.Kind.BAR)
    lot = put_in(bar, 6_000_000_000)
    slot, bin_ = add_slot("R3", "rack"), add_slot("B3")
    for qty, target in ((1, slot), (6_000_000_000, bin_)):
        with pytest.raises(Invalid):
            book(stocktaking.move, lot, qty, source=place("RACK"), target=target)
    book(stocktaking.move, lot, 6_000_000_000, source=place("RACK"), target=slot)
    assert stands(lot, "R3") == 6_000_000_000


@pytest.mark.parametrize("target", ["BIN", "DOOR", "NOT-USED", "CUSTOMER"])
def test_a_move_to_where_it_stands_or_where_nothing_is_sold_from_is_refused(target):
    handles = make_item()
    lot = put_in(handles, 10)
    with pytest.raises(Invalid) as caught:
        book(stocktaking.move, lot, 5, source=place("BIN"), target=place(target))
    assert "target" in caught.value.fields


def test_more_than_stands_there_is_not_moved():
    handles = make_item()
    lot = put_in(handles, 10)
    with pytest.raises(Invalid):
        book(stocktaking.move, lot, 11, source=place("BIN"), target=add_slot("B2"))
    with pytest.raises(NothingThere):
        book(stocktaking.move, lot, 1, source=place("B2"), target=place("BIN"))


def test_scrap_takes_free_pieces_first_and_then_the_last_promised():
    handles = make_item()
    lot = put_in(handles, 10)
    order = make_order({handles: 8})
    outcome = book(stocktaking.write_off, lot, 4, place=place("BIN"), cause="split while drying")
    assert [line.order for line in outcome.gave_way] == [order]
    assert (line_of(order).reserved, line_of(order).waiting) == (6, 2)
    assert outcome.entry.reason == "split while drying"
    assert outcome.entry.movements.get().to_place.code == "SCRAP"


def test_what_is_lost_goes_to_the_difference():
    handles = make_item()
    lot = put_in(handles, 10)
    outcome = book(stocktaking.write_off, lot, 2, place=place("BIN"), cause="not found", lost=True)
    assert outcome.entry.movements.get().to_place.code == "DIFFERENCE"


@pytest.mark.parametrize(("qty", "cause", "wrong"), [(0, "x", "qty"), (11, "x", "qty"), (1, " ", "cause")])
def test_scrap_of_nothing_too_much_or_without_cause_is_refused(qty, cause, wrong):
    handles = make_item()
    lot = put_in(handles, 10)
    make_order({handles: 10})
    with pytest.raises(Invalid) as caught:
        book(stocktaking.write_off, lot, qty, place=place("BIN"), cause=cause)
    assert wrong in caught.value.fields
    assert counters(handles) == (10, 10, 0)


def test_a_doubtful_lot_is_out_of_use_at_once_and_its_orders_wait():
    handles = make_item()
    lot = put_in(handles, 10)
    order = make_order({handles: 8})
    outcome = book(doubting.out_of_use, [lot], reason="crack in the wood")
    assert [line.order for line in outcome.gave_way] == [order]
    assert stands(lot, "NOT-USED") == 10
    assert counters(handles) == (0, 0, 8)


def test_the_lines_that_gave_way_are_served_from_another_lot_in_the_same_entry():
    handles = make_item()
    lot = put_in(handles, 10)
    order = make_order({handles: 8})
    put_in(handles, 5)
    book(doubting.out_of_use, [lot], reason="crack in the wood")
    assert (line_of(order).reserved, line_of(order).waiting) == (5, 3)


def test_heads_on_the_floor_keep_their_step_while_they_are_not_to_be_used():
    head = make_item(Item.Kind.HEAD)
    lot = put_in(head, 10, place="FLOOR", step=3)
    book(doubting.out_of_use, [lot], reason="wrong melt")
    assert stands(lot, "NOT-USED", step=3) == 10
    book(stocktaking.back_in_use, lot, reason="certificate found")
    assert stands(lot, "FLOOR", step=3) == 10


def test_a_lot_cleared_by_the_owner_stands_where_such_things_stand_and_serves_who_waits():
    handles = make_item()
    lot = put_in(handles, 10)
    order = make_order({handles: 8})
    book(doubting.out_of_use, [lot], reason="crack in the wood")
    outcome = book(stocktaking.back_in_use, lot, reason="only a scratch")
    assert [line.order for line in outcome.served] == [order]
    assert stands(lot, "BIN") == 10


def test_not_to_be_used_needs_a_reason_and_something_that_is_there():
    handles = make_item()
    lot = put_in(handles, 10)
    with pytest.raises(Invalid):
        book(doubting.out_of_use, [lot], reason=" ")
    with pytest.raises(NothingThere):
        book(stocktaking.back_in_use, lot, reason="x")
    book(doubting.out_of_use, [lot], reason="x")
    with pytest.raises(NothingThere):
        book(doubting.out_of_use, [lot], reason="x")


def test_an_unmeasured_bar_that_is_cleared_goes_back_to_the_door():
    bar = make_item(Item.Kind.BAR)
    lot = put_in(bar, 6_000_000_000, place="DOOR")
    type(lot.bar).objects.filter(pk=lot.pk).update(measured=False)
    book(doubting.out_of_use, [lot], reason="tag missing")
    book(stocktaking.back_in_use, Lot.objects.get(pk=lot.pk), reason="tag found")
    assert stands(lot, "DOOR") == 6_000_000_000


def test_a_bars_typed_length_is_corrected_with_a_difference_in_the_book():
    lot = put_in(make_item(Item.Kind.BAR), 6_096_000_000)
    outcome = book(stocktaking.correct_length, lot.bar, "19 ft 11 in")
    assert stands(lot, "RACK") == 6_070_600_000
    movement = outcome.entry.movements.get()
    assert (movement.qty, movement.to_place.code) == (25_400_000, "DIFFERENCE")
    lot.bar.refresh_from_db()
    assert lot.bar.typed == "19 ft 11 in"
    book(stocktaking.correct_length, lot.bar, "6096 mm")
    assert stands(lot, "RACK") == 6_096_000_000


def test_a_length_that_is_the_same_or_none_is_refused():
    lot = put_in(make_item(Item.Kind.BAR), 6_096_000_000)
    for typed in ("6096 mm", "", "long"):
        with pytest.raises(Invalid) as caught:
            book(stocktaking.correct_length, lot.bar, typed)
        assert "length" in caught.value.fields
    assert Entry.objects.filter(kind="correction").count() == 0


def test_an_unmeasured_bar_is_measured_not_corrected():
    lot = put_in(make_item(Item.Kind.BAR), 6_096_000_000, place="DOOR")
    type(lot.bar).objects.filter(pk=lot.pk).update(measured=False)
    with pytest.raises(correcting.CannotCorrect):
        book(stocktaking.correct_length, lot.bar, "6 m")
    with pytest.raises(Invalid), transaction.atomic():
        delivering.measure(lot.bar, "6 m", stamp=stamp(at=LATER), place=place("BIN"))


def correct_heat(melt, number: str):
    with transaction.atomic():
        return correcting.heat_number(melt, number, at=LATER, by=actor(), reason="read the tag again")


def test_a_mill_heat_number_is_corrected_once_for_every_lot_of_the_melt():
    melt = make_melt("00123")
    lots = [put_in(make_item(Item.Kind.HEAD), 5, melt=melt) for _ in range(2)]
    correct_heat(melt, "00132")
    assert {Lot.objects.get(pk=lot.pk).melt.heat_number for lot in lots} == {"00132"}
    line = AuditLine.objects.get(action="mill heat number corrected")
    assert (line.before["heat_number"], line.after["heat_number"]) == ("00123", "00132")


def test_a_melt_that_is_there_under_the_right_number_takes_the_lots_over():
    wrong, right = make_melt("00123"), make_melt("00132")
    lot = put_in(make_item(Item.Kind.HEAD), 5, melt=wrong)
    assert correct_heat(wrong, "00132") == right
    assert Lot.objects.get(pk=lot.pk).melt == right


@pytest.mark.parametrize("typed", ["", "unknown", "00123", "x" * 41])
def test_a_mill_heat_number_that_is_none_or_the_same_is_refused(typed):
    melt = make_melt("00123")
    with pytest.raises(Invalid):
        correct_heat(melt, typed)


def test_the_unknown_melt_is_corrected_lot_by_lot():
    lot = put_in(make_item(Item.Kind.HEAD), 5, melt=make_melt("unknown"))
    with pytest.raises(correcting.CannotCorrect):
        correct_heat(lot.melt, "00123")
    with transaction.atomic():
        right = correcting.melt_of(lot, "00123", at=LATER, by=actor(), reason="certificate found")
    assert Lot.objects.get(pk=lot.pk).melt == right
    assert right.known
