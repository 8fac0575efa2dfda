"""Undoing a whole entry, once, while everything still lies where it was put; what belongs to it follows."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Delivery, Entry, Item, ItemStock, PurchaseOrderLine
from inventory.services import purchasing
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.purchasing import ToBuy
from inventory.services.reversing import CannotReverse
from orders.models import Order, ReturnOutcome
from orders.services import ordering, returning
from shop.flows import delivering, doubting, reversing, stocktaking, taking_out
from shop.shared.errors import NotFound
from tests.makers import (
    AT,
    actor,
    line_of,
    make_grade,
    make_item,
    make_order,
    make_tool,
    place,
    put_in,
    put_in_parts,
    send,
    stamp,
    stands,
)  # fmt: skip

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
LATER = AT + dt.timedelta(hours=2)


def undo(entry: Entry | None, *, at: dt.datetime = LATER) -> reversing.Reversed:
    assert entry is not None
    with transaction.atomic():
        return reversing.reverse(entry.pk, stamp=stamp(at=at, reason="typed by mistake"))


def refused(entry: Entry | None) -> CannotReverse:
    count = Entry.objects.count()
    with pytest.raises(CannotReverse) as caught:
        undo(entry)
    assert Entry.objects.count() == count
    return caught.value


def deliver(*lines: PaperLine, order=None) -> delivering.Received:
    make_grade()
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        return delivering.receive(firm, Paper(lines), order=order, stamp=stamp())


def bars(**facts: str) -> PaperLine:
    usual = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "007", "bars": "2 @ 20 ft"}
    return PaperLine(**{**usual, **facts})


def test_a_delivery_is_undone_and_its_order_is_to_come_again():
    handles = make_item()
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        order = purchasing.open_order(firm, [ToBuy(handles, "1 dozen")], ordered_on=AT.date(), at=AT, by=actor())
    received = deliver(PaperLine(item=handles.code, quantity="12", order_line="1"), order=order)
    order.refresh_from_db()
    assert order.closed_at is not None
    undo(received.delivery.entry)
    order.refresh_from_db()
    received.delivery.refresh_from_db()
    assert received.delivery.state == Delivery.State.REVERSED
    assert order.closed_at is None
    assert PurchaseOrderLine.objects.get(order=order).received == 0
    assert ItemStock.objects.get(pk=handles.pk).sellable == 0


def test_a_delivery_is_undone_once():
    entry = deliver(bars()).delivery.entry
    undo(entry)
    refused(entry)


def test_a_delivery_whose_bar_was_measured_is_corrected_and_no_longer_undone():
    received = deliver(bars(measured="no"))
    with transaction.atomic():
        delivering.measure(received.lots[0].bar, "20 ft", stamp=stamp())
    assert "correct it again" in refused(received.delivery.entry).sentence


def test_a_delivery_of_which_pieces_are_promised_names_what_to_do_first():
    handles = make_item()
    received = deliver(PaperLine(item=handles.code, quantity="12"))
    make_order({handles: 3})
    assert "release" in refused(received.delivery.entry).sentence


def test_a_delivery_whose_pieces_were_moved_on_names_the_entry_to_undo_first():
    handles = make_item()
    received = deliver(PaperLine(item=handles.code, quantity="12"))
    with transaction.atomic():
        outcome = stocktaking.write_off(received.lots[0], 2, place=place("BIN"), cause="split", stamp=stamp())
    refusal = refused(received.delivery.entry)
    assert refusal.facts == {"first": outcome.entry.pk}
    undo(outcome.entry)
    undo(received.delivery.entry)
    assert stands(received.lots[0], "BIN") == 0


def test_a_shipment_undone_puts_its_pieces_back_for_the_order():
    handles = make_item()
    lot = put_in(handles, 5)
    order = make_order({handles: 5})
    shipment = send(order)
    result = undo(shipment.entry)
    shipment.refresh_from_db()
    order.refresh_from_db()
    assert shipment.reversed_at == LATER
    assert order.closed_at is None
    assert [line.order for line in result.served] == [order]
    assert (line_of(order).shipped, line_of(order).reserved, stands(lot, "BIN")) == (0, 5, 5)


def test_a_shipment_of_made_up_tools_and_then_their_making_up_are_undone():
    tool = make_tool()
    put_in_parts(tool, 2, 2, 4)
    order = make_order({tool.item: 2})
    undo(send(order).entry)
    assert line_of(order).reserved == 2
    assert ItemStock.objects.get(pk=tool.item.pk).sellable == 2


def test_a_return_is_undone_while_nobody_has_looked_at_it():
    handles = make_item()
    put_in(handles, 5)
    order = make_order({handles: 5})
    shipment = send(order)
    with transaction.atomic():
        returned = returning.come_back(shipment, 1, 2, why="too long", stamp=stamp())
        decided = returning.decide(returned, "first", 1, stamp=stamp())
    refused(returned.entry)
    undo(decided.entry)
    returned.refresh_from_db()
    assert returned.inspected == 0
    undo(returned.entry)
    returned.refresh_from_db()
    assert returned.reversed_at == LATER


def replaced(there: int) -> tuple[Order, ReturnOutcome]:
    """Return an order of three, one of which came back and is to be replaced, and what inspection decided."""
    handles = make_item()
    put_in(handles, there)
    order = make_order({handles: 3})
    shipment = send(order)
    with transaction.atomic():
        returned = returning.come_back(shipment, 1, 1, why="split", stamp=stamp())
        return order, returning.decide(returned, "replaced", 1, stamp=stamp())


@pytest.mark.parametrize(("there", "aside"), [(5, 1), (3, 0)])
def test_when_replaced_is_undone_no_new_one_is_owed_and_what_was_set_aside_is_free(there, aside):
    order, decided = replaced(there)
    assert line_of(order, 2).reserved == aside
    undo(decided.entry)
    line = line_of(order, 2)
    assert (line.cancelled, line.reserved, line.waiting, line.gathers) == (1, 0, 0, False)
    order.refresh_from_db()
    assert order.closed_at == LATER
    assert ItemStock.objects.get().allocated == 0
    decided.returned.refresh_from_db()
    assert decided.returned.inspected == 0


def test_what_replaces_may_have_been_cancelled_by_hand_before():
    order, decided = replaced(5)
    with transaction.atomic():
        ordering.cancel(line_of(order, 2), 1, at=AT, by=actor())
    undo(decided.entry)
    assert line_of(order, 2).cancelled == 1


def test_replaced_is_not_undone_once_the_new_one_is_on_its_way():
    order, decided = replaced(5)
    order.refresh_from_db()
    gone = send(order)
    said = refused(decided.entry)
    assert said.sentence == (
        f"What replaces it went out as shipment {gone.number}; undo line {gone.entry_id} of the book first."
    )
    undo(gone.entry)
    undo(decided.entry)
    assert line_of(order, 2).cancelled == 1


def test_a_take_out_is_undone_unless_pieces_of_it_came_back():
    handles = make_item()
    lot = put_in(handles, 5)
    with transaction.atomic():
        gift = taking_out.take_out(handles, 2, "gift", stamp=stamp())
        show = taking_out.take_out(handles, 2, "show", stamp=stamp())
    undo(gift.entry)
    with transaction.atomic():
        back = taking_out.take_back(show, 1, stamp=stamp(at=LATER))
    assert "take them out again" in refused(show.entry).sentence
    assert "take them out again" in refused(back).sentence
    assert (stands(lot, "BIN"), stands(lot, "OUT")) == (4, 1)


def test_a_take_out_that_was_undone_brings_nothing_back():
    handles = make_item()
    put_in(handles, 5)
    with transaction.atomic():
        show = taking_out.take_out(handles, 2, "show", stamp=stamp())
    undo(show.entry)
    with pytest.raises(taking_out.taking.NotOut), transaction.atomic():
        taking_out.take_back(show, 1, stamp=stamp(at=LATER))


def test_a_count_undone_gives_the_pieces_back_to_the_order_that_gave_way():
    handles = make_item()
    put_in(handles, 5)
    order = make_order({handles: 5})
    with transaction.atomic():
        outcome = stocktaking.count(handles, place("BIN"), 3, stamp=stamp())
    assert line_of(order).reserved == 3
    undo(outcome.entry)
    assert line_of(order).reserved == 5


def test_use_and_a_move_in_are_undone():
    belts = make_item(Item.Kind.CONSUMABLE)
    lot = put_in(belts, 5)
    with transaction.atomic():
        used = stocktaking.use(belts, 2, stamp=stamp())
    assert refused(lot.entry).facts == {"first": used.entry.pk}
    undo(used.entry)
    undo(lot.entry)
    assert ItemStock.objects.get(pk=belts.pk).sellable == 0


def test_what_is_not_to_be_used_is_put_back_by_the_owner_and_not_by_undoing():
    lot = put_in(make_item(), 5)
    with transaction.atomic():
        outcome = doubting.out_of_use([lot], stamp=stamp(reason="doubtful"))
    assert "the owner" in refused(outcome.entries[0]).sentence


def test_an_undoing_is_not_undone():
    lot = put_in(make_item(), 5)
    refused(undo(lot.entry).entry)


def test_an_entry_that_does_not_exist_is_not_found():
    with pytest.raises(NotFound), transaction.atomic():
        reversing.reverse(10**9, stamp=stamp())


def test_when_what_belongs_to_the_entry_cannot_follow_nothing_is_undone(monkeypatch):
    received = deliver(bars())

    def fail(*_args, **_kwargs):
        raise OSError("disk full")

    monkeypatch.setattr(reversing.receiving, "undo", fail)
    with pytest.raises(OSError, match="disk full"):
        undo(received.delivery.entry)
    received.delivery.refresh_from_db()
    assert received.delivery.state == Delivery.State.BOOKED
    assert not Entry.objects.filter(kind="reversal").exists()
