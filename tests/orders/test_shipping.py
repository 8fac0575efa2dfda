"""Sending: whole, in part, made up from parts on the way; the last link between a tool and its steel."""

import pytest
from django.db import transaction

from inventory.models import Entry, Item
from orders.models import Order, Shipment, ShippedLot
from orders.services import ordering
from orders.services.ordering import Closed, Terms, Wanted
from orders.services.shipping import NotPaid, Parcel
from shop.flows import reversing
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT, line_of
from tests.recomputed import differences

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
BY = makers.actor()


@pytest.fixture
def handle() -> Item:
    item = makers.make_item(shipped_mass_mg=300_000)
    makers.put_in(item, 5)
    return item


def test_an_order_sent_whole_is_closed_and_its_pieces_are_with_the_customer(handle: Item) -> None:
    order = makers.make_order({handle: 5})
    shipment = makers.send(order, parcel=Parcel(parcels=2, carrier="Invented Carrier", tracking="X1"))
    order.refresh_from_db()
    line = line_of(order)
    assert (line.shipped, line.reserved, line.allocation, order.closed_at) == (5, 0, None, AT)
    assert (makers.stock(handle).sellable, makers.stock(handle).allocated) == (0, 0)
    movement = shipment.entry.movements.get()
    assert (movement.from_place.code, movement.to_place.code, movement.qty) == ("BIN", "CUSTOMER", 5)
    assert (shipment.parcels, shipment.tracking, shipment.computed_mass_mg) == (2, "X1", 1_500_000)
    assert differences() == []


def test_part_of_an_order_is_sent_and_the_rest_stays_set_aside(handle: Item) -> None:
    order = makers.make_order({handle: 7})
    makers.send(order, {1: 2})
    line = line_of(order)
    assert (line.shipped, line.reserved, line.waiting, line.gathers) == (2, 3, 2, True)
    order.refresh_from_db()
    assert order.closed_at is None
    makers.put_in(handle, 2)
    makers.send(order)
    order.refresh_from_db()
    assert (line_of(order).shipped, order.closed_at) == (7, AT)
    assert [shipment.number for shipment in Shipment.objects.order_by("id")] == [1, 2]
    assert differences() == []


def test_the_shipped_lots_lead_back_to_where_the_pieces_came_from(handle: Item) -> None:
    old, new = handle.lots.get(), makers.put_in(handle, 5)
    order = makers.make_order({handle: 7})
    makers.send(order)
    assert dict(ShippedLot.objects.values_list("lot_id", "qty")) == {old.pk: 5, new.pk: 2}


def test_tools_set_aside_as_parts_are_made_up_on_the_way_and_lead_back_to_their_melt() -> None:
    tool = makers.make_tool(shipped_mass_mg=1_100_000)
    melts = [makers.make_melt(), makers.make_melt()]
    for melt in melts:
        makers.put_in(tool.head, 1, melt=melt)
    makers.put_in(tool.handle, 2)
    makers.put_in(tool.wedge, 4)
    makers.put_in(tool.item, 1)
    order = makers.make_order({tool.item: 3})
    makers.send(order, {1: 2})
    assert (line_of(order).shipped, line_of(order).reserved) == (2, 1)
    assert [makers.stock(part).allocated for part in tool.parts] == [1, 1, 2], "only what this parcel needs is made up"
    makers.send(order)
    sent = [row.lot.melt for row in ShippedLot.objects.select_related("lot__melt").order_by("id")]
    assert sent == [None, melts[0], melts[1]]
    assert Entry.objects.filter(kind=Entry.Kind.MADE_UP).count() == 2
    assert differences() == []


def test_an_order_that_goes_only_when_paid_waits_for_the_last_cent(handle: Item) -> None:
    order = makers.make_order({handle: 2}, terms=Terms(send_when_paid=True, carriage_minor=500))
    with transaction.atomic():
        ordering.receive_money(order, 9_499, how="bank", at=AT, by=BY)
    with pytest.raises(NotPaid) as refused:
        makers.send(order)
    assert refused.value.facts == {"owed_minor": 1}
    assert not Shipment.objects.exists()
    with transaction.atomic():
        ordering.receive_money(order, 1, how="cash", at=AT, by=BY)
    makers.send(order)
    assert line_of(order).shipped == 2


def test_a_gift_goes_to_another_address_than_the_buyers(handle: Item) -> None:
    terms = Terms(gift=True, gift_note="from all of us", ship_to="9 Surprise Street")
    order = makers.make_order({handle: 1}, terms=terms)
    assert makers.send(order).ship_to == "9 Surprise Street"
    assert (order.gift, order.gift_note) == (True, "from all of us")


def test_a_shipment_keeps_the_address_it_went_to(handle: Item) -> None:
    order = makers.make_order({handle: 2})
    first = makers.send(order, {1: 1})
    order.refresh_from_db()
    with transaction.atomic():
        ordering.change(order, version=order.version, at=AT, by=BY, ship_to="2 Moved Street")
    second = makers.send(order)
    first.refresh_from_db()
    assert (first.ship_to, second.ship_to) == ("1 Invented Lane", "2 Moved Street")


@pytest.mark.parametrize(
    ("sending", "field", "words"),
    [
        ({1: 0}, "qty", "5 ready to send, not 0"),
        ({1: -1}, "qty", "5 ready to send, not -1"),
        ({1: 6}, "qty", "send 1 to 5 or set more aside first"),
        ({2: 1}, "lines", "has no line 2"),
    ],
)
def test_what_is_not_set_aside_is_not_sent(handle: Item, sending: dict[int, int], field: str, words: str) -> None:
    order = makers.make_order({handle: 7})
    with pytest.raises(Invalid, match=words) as refused:
        makers.send(order, sending)
    assert set(refused.value.fields) == {field}
    assert not Shipment.objects.exists()
    assert line_of(order).reserved == 5


def test_when_one_line_cannot_go_nothing_goes(handle: Item) -> None:
    other = makers.make_item()
    makers.put_in(other, 1)
    order = makers.make_order({handle: 2, other: 2})
    with pytest.raises(Invalid):
        makers.send(order, {1: 2, 2: 2})
    assert (line_of(order, 1).shipped, makers.stock(handle).sellable) == (0, 5)
    assert not Shipment.objects.exists()


def test_an_order_with_nothing_set_aside_has_nothing_to_send() -> None:
    order = makers.make_order({makers.make_item(): 2})
    with pytest.raises(Invalid, match="Nothing was chosen"):
        makers.send(order)


def test_a_line_that_goes_whole_is_not_sent_in_part(handle: Item) -> None:
    order = makers.make_order([Wanted(qty=7, item=handle, whole=True)])
    with pytest.raises(Invalid, match="goes whole"):
        makers.send(order, {1: 5})
    makers.put_in(handle, 2)
    makers.send(order)
    assert line_of(order).shipped == 7


@pytest.mark.parametrize("parcels", [0, 201])
def test_an_absurd_number_of_parcels_is_refused(handle: Item, parcels: int) -> None:
    order = makers.make_order({handle: 1})
    with pytest.raises(Invalid, match="1 to 200 parcels"):
        makers.send(order, parcel=Parcel(parcels=parcels))


def test_an_order_without_an_address_is_not_sent(handle: Item) -> None:
    order = makers.make_order({handle: 1}, customer=makers.make_customer(address=" "))
    with pytest.raises(Invalid, match="no address"):
        makers.send(order)


def test_a_closed_order_is_not_sent_again(handle: Item) -> None:
    order = makers.make_order({handle: 1})
    makers.send(order)
    with pytest.raises(Closed):
        makers.send(order, {1: 1})


def test_a_piece_made_to_order_is_sent_when_it_is_said_to_be_ready() -> None:
    order = makers.make_order([Wanted(qty=2, words="tongs for 14 mm square")])
    shipment = makers.send(order, {1: 1})
    assert (line_of(order).shipped, shipment.entry, shipment.computed_mass_mg) == (1, None, None)
    makers.send(order, {1: 1})
    order.refresh_from_db()
    assert order.closed_at == AT
    assert differences() == []


def test_a_weight_is_worked_out_only_where_every_line_has_one(handle: Item) -> None:
    unknown = makers.make_item()
    makers.put_in(unknown, 1)
    order = makers.make_order({handle: 1, unknown: 1})
    shipment = makers.send(order, parcel=Parcel(scale_mass_mg=640_000, scale_typed="640 g"))
    assert (shipment.computed_mass_mg, shipment.scale_mass_mg) == (None, 640_000)


def test_a_shipment_undone_owes_the_pieces_again_and_sets_them_aside(handle: Item) -> None:
    order = makers.make_order({handle: 4})
    shipment = makers.send(order)
    with transaction.atomic():
        reversing.reverse(shipment.entry_id, stamp=makers.stamp())
    line, order = line_of(order), Order.objects.get()
    shipment.refresh_from_db()
    assert (line.shipped, line.reserved, order.closed_at, shipment.reversed_at) == (0, 4, None, AT)
    assert makers.stock(handle).sellable == 5
    assert differences(tidied_at=AT) == []
    makers.send(order)
    assert line_of(order).shipped == 4
    assert differences() == []
