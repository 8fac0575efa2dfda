"""Entries and movements: what is taken from one place is given to another, or nothing is written at all."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from inventory.models import Entry, Holding, Item, ItemStock, Movement
from inventory.services import catalogue, ledger, reversing
from inventory.services.ledger import Line, Locks, NotThere
from inventory.services.reversing import CannotReverse
from shop.flows import reversing as undoing
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT
from tests.recomputed import differences

pytestmark = pytest.mark.django_db
Kind = Entry.Kind


def _counts() -> tuple[int, int, list[tuple[int, ...]], list[tuple[int, ...]]]:
    stock = list(ItemStock.objects.order_by("pk").values_list("pk", "sellable", "allocated", "waiting", "version"))
    holdings = list(Holding.objects.order_by("pk").values_list("pk", "on_hand", "allocated"))
    return Entry.objects.count(), Movement.objects.count(), stock, holdings


def test_a_move_takes_from_one_place_and_gives_to_another() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 10)
    entry = makers.move(lot, 4, source="BIN", target="SHELF")
    assert (makers.stands(lot, "BIN"), makers.stands(lot, "SHELF")) == (6, 4)
    movement = entry.movements.get()
    assert (movement.from_place.code, movement.to_place.code, movement.qty) == ("BIN", "SHELF", 4)
    assert makers.stock(handle).sellable == 10
    assert differences() == []


@pytest.mark.parametrize(
    "target", ["DOOR", "FLOOR", "CURE", "INSPECT", "SECONDS", "NOT-USED", "OUT", "SCRAP", "CUSTOMER"]
)
def test_pieces_that_leave_the_shelf_can_no_longer_be_sold(target: str) -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 10)
    makers.move(lot, 3, source="BIN", target=target)
    assert makers.stock(handle).sellable == 7
    assert differences() == []


def test_pieces_at_a_step_of_their_route_are_there_and_not_sellable() -> None:
    head = makers.make_item(Item.Kind.HEAD)
    lot = makers.put_in(head, 5, place="FLOOR", step=2)
    assert (makers.stands(lot, "FLOOR", step=2), makers.stock(head).sellable) == (5, 0)
    assert differences() == []


def test_outside_places_carry_no_counter() -> None:
    lot = makers.put_in(makers.make_item(), 10)
    makers.move(lot, 10, source="BIN", target="SCRAP")
    assert not Holding.objects.filter(place__inside=False).exists()
    assert makers.stands(lot, "BIN") == 0


def test_more_than_stands_there_is_refused_with_what_is_free() -> None:
    lot = makers.put_in(makers.make_item(), 3)
    before = _counts()
    with pytest.raises(NotThere) as refused:
        makers.move(lot, 4, source="BIN", target="SHELF")
    assert refused.value.facts == {"available": 3, "requested": 4}
    assert refused.value.fields == {"qty": "Only 3 are free there."}
    assert "has 3 free at Bins, not 4" in refused.value.sentence
    assert _counts() == before


def test_what_was_never_there_is_refused_as_none() -> None:
    lot = makers.put_in(makers.make_item(), 3)
    with pytest.raises(NotThere, match="has 0 free at Shelf, not 1"):
        makers.move(lot, 1, source="SHELF", target="BIN")


def test_pieces_set_aside_are_not_free_to_move() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 5)
    makers.make_order({handle: 4})
    with pytest.raises(NotThere, match="has 1 free"):
        makers.move(lot, 2, source="BIN", target="SHELF")
    makers.move(lot, 1, source="BIN", target="SHELF")
    assert differences() == []


def test_when_the_second_line_fails_nothing_has_changed() -> None:
    lot, other = makers.put_in(makers.make_item(), 5), makers.put_in(makers.make_item(), 1)
    before = _counts()
    lines = [Line(lot=one, qty=2, source=makers.place("BIN"), target=makers.place("SHELF")) for one in (lot, other)]
    with pytest.raises(NotThere):
        makers.commit(Kind.MOVE, lines, lot.item, other.item)
    assert _counts() == before


def test_an_item_that_was_not_locked_cannot_be_written() -> None:
    lot, other = makers.put_in(makers.make_item(), 5), makers.make_item()
    before = _counts()
    line = Line(lot=lot, qty=1, source=makers.place("BIN"), target=makers.place("SHELF"))
    with pytest.raises(RuntimeError, match="without their lock"):
        makers.commit(Kind.MOVE, [line], other)
    with pytest.raises(RuntimeError, match="without their lock"):
        ledger.change_waiting(Locks(frozenset({other.pk}), AT), lot.item_id, 1)
    assert _counts() == before


def test_an_item_without_a_stock_row_cannot_be_locked() -> None:
    with pytest.raises(RuntimeError, match="no stock row"), transaction.atomic():
        ledger.lock([10**9], at=AT)


def test_a_lock_raises_the_version_once_for_each_item_however_often_it_is_named() -> None:
    item, other = makers.make_item(), makers.make_item()
    before = makers.stock(item).version
    later = AT + dt.timedelta(hours=1)
    with transaction.atomic():
        locks = ledger.lock([item.pk, item.pk, other.pk], at=later)
    assert locks.ids == {item.pk, other.pk}
    assert (makers.stock(item).version, makers.stock(item).changed_at) == (before + 1, later)


def test_an_entry_gets_as_many_lines_as_it_was_begun_with() -> None:
    lot = makers.put_in(makers.make_item(), 5)
    before = _counts()
    line = Line(lot=lot, qty=1, source=makers.place("BIN"), target=makers.place("SHELF"))
    with pytest.raises(RuntimeError, match="begun with 2 lines and gets 1"):
        makers.commit(Kind.MOVE, [line], lot.item, begun=2)
    assert _counts() == before


@pytest.mark.parametrize("qty", [0, -1])
def test_a_movement_moves_at_least_one(qty: int) -> None:
    lot = makers.put_in(makers.make_item(), 5)
    with pytest.raises(RuntimeError, match="at least one"):
        makers.move(lot, qty, source="BIN", target="SHELF")
    assert makers.stands(lot, "BIN") == 5


def test_a_movement_must_go_somewhere() -> None:
    lot = makers.put_in(makers.make_item(), 5)
    before = _counts()
    with pytest.raises(IntegrityError):
        makers.move(lot, 1, source="BIN", target="BIN")
    assert _counts() == before


def test_what_happened_may_be_typed_later_and_never_before_it_happened() -> None:
    lot = makers.put_in(makers.make_item(), 5)
    line = Line(lot=lot, qty=1, source=makers.place("BIN"), target=makers.place("SHELF"))
    yesterday = AT - dt.timedelta(days=1)
    entry = makers.commit(Kind.MOVE, [line], lot.item, by=makers.stamp(happened_at=yesterday))
    assert (entry.happened_at, entry.booked_at) == (yesterday, AT)
    before = _counts()
    with pytest.raises(Invalid, match="future") as refused:
        makers.commit(Kind.MOVE, [line], lot.item, by=makers.stamp(happened_at=AT + dt.timedelta(seconds=1)))
    assert set(refused.value.fields) == {"happened_at"}
    assert _counts() == before


def test_an_entry_says_who_booked_it() -> None:
    person = makers.make_person("desk")
    lot = makers.put_in(makers.make_item(), 5, by=makers.Actor.of(person))
    assert (lot.entry.by, lot.entry.device) == (person, "")
    by_a_command = makers.move(lot, 1, source="BIN", target="SHELF", by=makers.actor("night"))
    assert (by_a_command.by, by_a_command.device) == (None, "night")


@pytest.mark.django_db(transaction=True)
def test_nothing_is_written_outside_a_transaction() -> None:
    item = makers.make_item()
    with pytest.raises(RuntimeError, match="must open a transaction"):
        ledger.lock([item.pk], at=AT)
    with pytest.raises(RuntimeError, match="must open a transaction"):
        ledger.begin(Kind.MOVE, lines=1, stamp=makers.stamp())
    assert makers.stock(item).version == 0


# ---- undoing


def _undo(entry: Entry, at: dt.datetime = AT) -> Entry:
    with transaction.atomic():
        return undoing.reverse(entry.pk, stamp=makers.stamp(at=at)).entry


def test_an_entry_is_undone_line_by_line_by_one_that_names_it() -> None:
    tool = makers.make_tool()
    lots = makers.put_in_parts(tool, 3, 3, 6)
    made = makers.make_up(tool, 2)
    undone = _undo(made.entry)
    assert (undone.kind, undone.reverses) == (Kind.REVERSAL, made.entry)
    assert [makers.stands(lot, code) for lot, code in zip(lots, ("SHELF", "BIN", "SHELF"), strict=True)] == [3, 3, 6]
    assert [makers.stands(lot, "SHELF") for lot in made.lots] == [0]
    assert makers.stock(tool.item).sellable == 0
    assert differences() == []


def test_an_entry_is_undone_once() -> None:
    lot = makers.put_in(makers.make_item(), 5)
    first = _undo(lot.entry)
    before = _counts()
    with pytest.raises(CannotReverse, match=f"undone by line {first.pk} already"):
        _undo(lot.entry)
    with pytest.raises(CannotReverse, match=f"undoes line {lot.entry_id}"):
        _undo(first)
    assert _counts() == before


def test_an_entry_that_was_moved_on_says_which_to_undo_first() -> None:
    lot = makers.put_in(makers.make_item(), 5)
    moved = makers.move(lot, 2, source="BIN", target="SHELF")
    before = _counts()
    with pytest.raises(
        CannotReverse, match=f"moved on by line {moved.pk} of the book; undo that line first"
    ) as refused:
        _undo(lot.entry)
    assert refused.value.facts["first"] == moved.pk
    assert _counts() == before
    _undo(moved)
    _undo(lot.entry)
    assert makers.stands(lot, "BIN") == 0
    assert differences() == []


def test_an_arrival_whose_pieces_are_set_aside_is_not_undone() -> None:
    handle = makers.make_item()
    lot = makers.put_in(handle, 5)
    order = makers.make_order({handle: 1})
    before = _counts()
    with pytest.raises(CannotReverse, match=r"1 of lot .* are set aside; release them first") as refused:
        _undo(lot.entry)
    assert refused.value.facts["allocation"] == makers.line_of(order).allocation_id
    assert _counts()[:2] == before[:2]
    assert _counts()[3] == before[3]


def test_a_step_back_in_the_book_is_undone_from_the_last_line_to_the_first() -> None:
    """A lot that an entry moves twice, first here and then on, is brought back the same way."""
    lot = makers.put_in(makers.make_item(), 5)
    bins, shelf, door = makers.place("BIN"), makers.place("SHELF"), makers.place("DOOR")
    lines = [Line(lot=lot, qty=5, source=bins, target=shelf), Line(lot=lot, qty=5, source=shelf, target=door)]
    entry = makers.commit(Kind.MOVE, lines, lot.item)
    assert makers.stands(lot, "DOOR") == 5
    _undo(entry)
    assert (makers.stands(lot, "BIN"), makers.stands(lot, "DOOR")) == (5, 0)
    assert differences() == []


def test_the_items_of_an_entry_are_those_it_moved() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 1, 1, 2)
    made = makers.make_up(tool, 1)
    assert reversing.items_of(made.entry) == {tool.item.pk, *tool.recipe}


def test_a_place_that_nobody_knows_is_refused_by_name() -> None:
    with pytest.raises(catalogue.NotFound, match="no place 'CELLAR'"):
        catalogue.place("CELLAR")
