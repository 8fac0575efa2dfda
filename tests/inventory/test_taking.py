"""Take-outs: a sample, gift, own tooling, trial piece, photo or show; the last two come back."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Entry, Item, ItemStock, TakeOut
from inventory.services import taking
from inventory.services.allocating import NotEnough
from inventory.services.taking import NotOut
from shop.flows import taking_out
from shop.shared.errors import Invalid
from tests.makers import AT, line_of, make_item, make_order, put_in, stamp, stands

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("book_agrees"), pytest.mark.daily("sqlite")]
LATER = AT + dt.timedelta(days=3)


def take(item: Item, qty: int, why: str, **facts) -> TakeOut:
    with transaction.atomic():
        return taking_out.take_out(item, qty, why, stamp=stamp(), **facts)


def bring_back(taken: TakeOut, qty: int, to: str = "SHELF") -> Entry:
    with transaction.atomic():
        return taking_out.take_back(taken, qty, stamp=stamp(at=LATER), to=to)


@pytest.mark.parametrize(
    ("why", "code"),
    [
        ("sample", "OWN-USE"),
        ("gift", "CUSTOMER"),
        ("own tooling", "OWN-USE"),
        ("trial piece", "OWN-USE"),
        ("photo", "OUT"),
        ("show", "OUT"),
    ],
)
def test_pieces_go_where_the_reason_says(why, code):
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)
    taken = take(head, 2, why, for_whom="an invented museum")
    assert {m.to_place.code for m in taken.entry.movements.all()} == {code}
    assert ItemStock.objects.get(pk=head.pk).sellable == 3


def test_what_comes_back_from_a_show_serves_the_line_that_waits():
    handles = make_item()
    lot = put_in(handles, 5)
    taken = take(handles, 5, "show", due_back=LATER.date())
    order = make_order({handles: 3})
    bring_back(taken, 4)
    assert line_of(order).reserved == 3
    taken.refresh_from_db()
    assert (taken.back, stands(lot, "OUT"), stands(lot, "BIN")) == (4, 1, 4)


def test_a_piece_that_needs_a_look_comes_back_to_inspection():
    head = make_item(Item.Kind.HEAD)
    lot = put_in(head, 5)
    bring_back(take(head, 2, "photo"), 1, to="INSPECT")
    assert stands(lot, "INSPECT") == 1
    assert ItemStock.objects.get(pk=head.pk).sellable == 3


def test_two_take_outs_of_one_lot_each_bring_back_their_own():
    head = make_item(Item.Kind.HEAD)
    first, second = put_in(head, 5), put_in(head, 3)
    one, two = take(head, 3, "show"), take(head, 3, "show")
    bring_back(two, 1)
    bring_back(one, 3)
    bring_back(two, 2)
    assert (stands(first, "SHELF"), stands(second, "SHELF")) == (5, 3)
    assert (stands(first, "OUT"), stands(second, "OUT")) == (0, 0)


def test_more_than_is_out_does_not_come_back_and_nothing_changes():
    head = make_item(Item.Kind.HEAD)
    lot = put_in(head, 5)
    taken = take(head, 2, "photo")
    bring_back(taken, 1)
    for qty in (0, -1, 2):
        with pytest.raises(NotOut):
            bring_back(taken, qty)
    assert stands(lot, "OUT") == 1


def test_a_gift_does_not_come_back():
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)
    with pytest.raises(NotOut):
        bring_back(take(head, 2, "gift"), 1)


def test_promised_pieces_are_not_taken_out():
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)
    make_order({head: 4})
    with pytest.raises(NotEnough):
        take(head, 2, "gift")
    assert TakeOut.objects.count() == 0


@pytest.mark.parametrize(
    ("qty", "why", "facts", "wrong"),
    [
        (0, "gift", {}, "qty"),
        (1, "borrowed", {}, "why"),
        (1, "gift", {"due_back": LATER.date()}, "due_back"),
    ],
)
def test_a_take_out_that_cannot_be_is_refused(qty, why, facts, wrong):
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)
    with pytest.raises(Invalid) as caught:
        take(head, qty, why, **facts)
    assert wrong in caught.value.fields


def test_a_whole_bar_is_not_taken_out():
    bar = make_item(Item.Kind.BAR)
    put_in(bar, 6_000_000_000)
    with pytest.raises(Invalid):
        take(bar, 1, "own tooling")


def test_it_comes_back_to_the_shelf_or_to_inspection_only():
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)
    with pytest.raises(Invalid):
        bring_back(take(head, 1, "photo"), 1, to="CUSTOMER")


def test_when_the_second_write_fails_nothing_went_out(monkeypatch):
    head = make_item(Item.Kind.HEAD)
    put_in(head, 5)

    def fail(**_kwargs):
        raise OSError("disk full")

    monkeypatch.setattr(taking.TakeOut.objects, "create", fail)
    with pytest.raises(OSError, match="disk full"):
        take(head, 1, "photo")
    assert ItemStock.objects.get(pk=head.pk).sellable == 5
    assert not Entry.objects.filter(kind="take-out").exists()
