"""Taking an order and changing it: what is set aside, what waits, what is refused, what it comes to."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Item
from inventory.services.allocating import NotEnough
from orders.models import Customer, Order, OrderLine, Promise
from orders.services import ordering
from orders.services.ordering import Closed, Terms, Wanted
from shop.shared.errors import Invalid, Stale
from shop.shared.models import AuditLine, Series
from tests import makers
from tests.makers import AT, line_of
from tests.recomputed import differences

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
BY = makers.actor()
LATER = AT + dt.timedelta(hours=1)


@pytest.fixture
def handle() -> Item:
    item = makers.make_item()
    makers.put_in(item, 5)
    return item


def _state(order: Order, number: int = 1) -> tuple[int, int, int, bool]:
    line = line_of(order, number)
    return line.reserved, line.waiting, line.cancelled, line.gathers


def test_an_order_sets_aside_what_there_is_and_the_rest_waits(handle: Item) -> None:
    order = makers.make_order({handle: 7})
    assert _state(order) == (5, 2, 0, True)
    assert (makers.stock(handle).allocated, makers.stock(handle).waiting) == (5, 2)
    assert differences() == []


def test_an_order_that_must_not_wait_is_refused_whole_when_one_line_lacks_a_piece(handle: Item) -> None:
    other = makers.make_item()
    makers.put_in(other, 1)
    version = makers.stock(other).version
    with pytest.raises(NotEnough) as refused:
        makers.make_order({other: 1, handle: 6}, wait=False)
    assert refused.value.facts == {"item": handle.code, "available": 5, "requested": 6}
    assert refused.value.fields == {"lines.1.qty": "Only 5 can be promised now."}
    assert (Order.objects.count(), OrderLine.objects.count()) == (0, 0)
    assert (makers.stock(other).allocated, makers.stock(other).version) == (0, version)
    assert Series.objects.filter(name="order").count() == 0, "a refused order uses up no number"


def test_two_lines_for_the_same_item_share_what_there_is(handle: Item) -> None:
    order = makers.make_order([Wanted(qty=3, item=handle), Wanted(qty=3, item=handle)])
    assert (_state(order, 1), _state(order, 2)) == ((3, 0, 0, False), (2, 1, 0, True))
    with pytest.raises(NotEnough):
        makers.make_order([Wanted(qty=1, item=handle), Wanted(qty=1, item=handle)], wait=False)


def test_order_numbers_have_no_gap_though_some_are_refused(handle: Item) -> None:
    numbers = []
    for qty in (1, 9, 1, 9, 1):
        try:
            numbers.append(makers.make_order({handle: qty}, wait=False).number)
        except NotEnough:
            continue
    assert numbers == [1, 2, 3]


def test_arriving_pieces_go_to_those_who_wait_in_the_order_they_came(handle: Item) -> None:
    first, second = makers.make_order({handle: 7}), makers.make_order({handle: 4})
    makers.put_in(handle, 3)
    assert (_state(first), _state(second)) == ((7, 0, 0, False), (1, 3, 0, True))
    assert makers.stock(handle).waiting == 3


def test_a_tool_is_ordered_from_parts_and_its_parts_are_spoken_for() -> None:
    tool = makers.make_tool()
    makers.put_in_parts(tool, 3, 2, 9)
    order = makers.make_order({tool.item: 3})
    assert _state(order) == (2, 1, 0, True)
    assert [makers.stock(part).allocated for part in tool.parts] == [2, 2, 4]
    makers.put_in(tool.handle, 1)
    assert _state(order) == (3, 0, 0, False)
    assert differences(tidied_at=AT) == []


def test_a_piece_made_to_order_has_words_and_no_stock(handle: Item) -> None:
    order = makers.make_order([Wanted(qty=1, words="tongs for 14 mm square"), Wanted(qty=1, item=handle)])
    line = line_of(order)
    assert (line.item, line.waiting, line.gathers, line.price_minor) == (None, 1, False, 0)
    for action in (ordering.reserve, ordering.release):
        with pytest.raises(Invalid, match="made-to-order"), transaction.atomic():
            action(line, 1, at=AT, by=BY)
    with transaction.atomic():
        ordering.change_quantity(line, 3, at=AT, by=BY)
        ordering.cancel(line_of(order), 1, at=AT, by=BY)
    assert _state(order) == (0, 2, 1, False)


REFUSED = [
    ([], {}, "lines", "no line"),
    ([Wanted(qty=0, words="x")], {}, "lines.0.qty", "asks for 0"),
    ([Wanted(qty=-1, words="x")], {}, "lines.0.qty", "asks for -1"),
    ([Wanted(qty=100_001, words="x")], {}, "lines.0.qty", "write 1 to 100000"),
    ([Wanted(qty=1)], {}, "lines.0.item", "needs an item, or words"),
    ([Wanted(qty=1, words="x", options="stamped")], {}, "lines.0.options", "Options go with an item"),
    ([Wanted(qty=1, words="  ")], {}, "lines.0.item", "needs an item, or words"),
    ([Wanted(qty=1, words="x", price_minor=-1)], {}, "lines.0.price", "agreed price"),
    ([Wanted(qty=1, words="x", price_minor=10**11)], {}, "lines.0.price", "agreed price"),
    ([Wanted(qty=1, words="x")] * 501, {}, "lines", "more than 500"),
    ([Wanted(qty=1, words="x")], {"deposit_minor": -1}, "deposit_minor", "below nothing"),
    ([Wanted(qty=1, words="x")], {"carriage_minor": 10**11}, "carriage_minor", "absurdly high"),
]


@pytest.mark.parametrize(("lines", "terms", "field", "words"), REFUSED)
def test_an_order_that_cannot_be_is_refused_by_field(
    lines: list[Wanted], terms: dict[str, int], field: str, words: str
) -> None:
    with pytest.raises(Invalid, match=words) as refused:
        makers.make_order(lines, terms=Terms(**terms))
    assert set(refused.value.fields) == {field}
    assert not Order.objects.exists()


def test_an_item_and_words_together_are_refused(handle: Item) -> None:
    with pytest.raises(Invalid, match="an item, or words"):
        makers.make_order([Wanted(qty=1, item=handle, words="but longer")])


def test_bars_and_items_given_up_are_not_sold() -> None:
    for item in (makers.make_item(Item.Kind.BAR), makers.make_item(active=False)):
        with pytest.raises(Invalid, match="not for sale"):
            makers.make_order({item: 1})


# ---- changing


def test_fewer_let_pieces_go_to_those_who_wait_and_more_takes_what_there_is(handle: Item) -> None:
    first, second = makers.make_order({handle: 5}), makers.make_order({handle: 2})
    with transaction.atomic():
        ordering.change_quantity(line_of(first), 4, at=LATER, by=BY)
    assert (_state(first), _state(second)) == ((4, 0, 0, False), (1, 1, 0, True))
    with transaction.atomic():
        ordering.change_quantity(line_of(second), 1, at=LATER, by=BY)
    makers.put_in(handle, 4)
    with transaction.atomic():
        ordering.change_quantity(line_of(first), 10, at=LATER, by=BY)
    assert _state(first) == (8, 2, 0, True)
    assert differences(tidied_at=LATER) == []


def test_a_line_keeps_its_place_when_it_is_changed(handle: Item) -> None:
    first, second = makers.make_order({handle: 7}), makers.make_order({handle: 2})
    with transaction.atomic():
        ordering.change_quantity(line_of(first), 8, at=LATER, by=BY)
    makers.put_in(handle, 3)
    assert (_state(first)[0], _state(second)[0]) == (8, 0)


@pytest.mark.parametrize("ordered", [0, -1, 2, 100_001])
def test_a_line_cannot_fall_below_what_was_sent_or_cancelled(handle: Item, ordered: int) -> None:
    order = makers.make_order({handle: 5})
    makers.send(order, {1: 2})
    with transaction.atomic():
        ordering.cancel(line_of(order), 1, at=AT, by=BY)
    with pytest.raises(Invalid, match="write 3 to 100000") as refused, transaction.atomic():
        ordering.change_quantity(line_of(order), ordered, at=AT, by=BY)
    assert set(refused.value.fields) == {"ordered"}
    with transaction.atomic():
        ordering.change_quantity(line_of(order), 3, at=AT, by=BY)
    order.refresh_from_db()
    assert order.closed_at == AT, "nothing is owed any more"
    assert differences() == []


def test_cancelling_takes_what_waits_first_and_then_what_is_set_aside(handle: Item) -> None:
    order, next_one = makers.make_order({handle: 7}), makers.make_order({handle: 1})
    with transaction.atomic():
        ordering.cancel(line_of(order), 1, at=AT, by=BY)
    assert (_state(order), _state(next_one)) == ((5, 1, 1, True), (0, 1, 0, True))
    with transaction.atomic():
        ordering.cancel(line_of(order), 3, at=AT, by=BY)
    assert (_state(order), _state(next_one)) == ((3, 0, 4, False), (1, 0, 0, False))
    assert differences(tidied_at=AT) == []


@pytest.mark.parametrize("qty", [0, -1, 8])
def test_no_more_is_cancelled_than_is_owed(handle: Item, qty: int) -> None:
    order = makers.make_order({handle: 7})
    with pytest.raises(Invalid, match="cancel 1 to 7"), transaction.atomic():
        ordering.cancel(line_of(order), qty, at=AT, by=BY)
    assert _state(order) == (5, 2, 0, True)


def test_an_order_cancelled_whole_is_closed_and_serves_the_next(handle: Item) -> None:
    other = makers.make_item()
    order, next_one = makers.make_order({handle: 5, other: 2}), makers.make_order({handle: 4})
    with transaction.atomic():
        order = ordering.cancel_order(order, at=AT, by=BY, reason="moved abroad")
    assert (order.closed_at, _state(next_one)[0]) == (AT, 4)
    assert set(AuditLine.objects.filter(action="cancelled").values_list("reason", flat=True)) == {"moved abroad"}
    for again in (
        lambda: ordering.cancel_order(order, at=AT, by=BY),
        lambda: ordering.cancel(line_of(order), 1, at=AT, by=BY),
        lambda: ordering.add_line(order, Wanted(qty=1, item=handle), at=AT, by=BY),
        lambda: ordering.change_quantity(line_of(order), 9, at=AT, by=BY),
        lambda: ordering.change(order, version=order.version, at=AT, by=BY, note="x"),
    ):
        with pytest.raises(Closed, match="is closed"), transaction.atomic():
            again()
    assert differences(tidied_at=AT) == []


def test_an_order_partly_sent_is_cancelled_for_the_rest(handle: Item) -> None:
    order = makers.make_order({handle: 6})
    makers.send(order, {1: 2})
    with transaction.atomic():
        ordering.cancel_order(order, at=AT, by=BY)
    line = line_of(order)
    assert (line.shipped, line.cancelled, line.order.closed_at) == (2, 4, AT)


def test_released_pieces_serve_others_and_the_line_no_longer_gathers(handle: Item) -> None:
    order, next_one = makers.make_order({handle: 5}), makers.make_order({handle: 1})
    with transaction.atomic():
        ordering.release(line_of(order), 2, at=AT, by=BY, reason="the other is in a hurry")
    assert (_state(order), _state(next_one)) == ((3, 2, 0, False), (1, 0, 0, False))
    makers.put_in(handle, 5)
    assert _state(order) == (3, 2, 0, False)
    for qty in (0, 4):
        with pytest.raises(Invalid, match="let go 1 to 3"), transaction.atomic():
            ordering.release(line_of(order), qty, at=AT, by=BY)


def test_a_released_line_is_set_aside_again_in_part_as_asked_or_as_far_as_it_goes(handle: Item) -> None:
    order = makers.make_order({handle: 5})
    with transaction.atomic():
        ordering.release(line_of(order), 5, at=AT, by=BY)
        ordering.reserve(line_of(order), 2, at=AT, by=BY)
    assert _state(order) == (2, 3, 0, False), "no more than asked, and the rest does not gather behind one's back"
    makers.make_hold(handle, 2)
    with pytest.raises(NotEnough) as refused, transaction.atomic():
        ordering.reserve(line_of(order), 2, at=AT, by=BY)
    assert refused.value.facts == {"available": 1, "requested": 2}
    with transaction.atomic():
        ordering.reserve(line_of(order), None, at=AT, by=BY)
    assert _state(order) == (3, 2, 0, True)
    with pytest.raises(Invalid, match="set aside 1 to 2"), transaction.atomic():
        ordering.reserve(line_of(order), 3, at=AT, by=BY)


def test_a_line_that_has_everything_is_set_aside_once_more_without_effect(handle: Item) -> None:
    order = makers.make_order({handle: 2})
    with transaction.atomic():
        ordering.reserve(line_of(order), None, at=AT, by=BY)
    assert _state(order) == (2, 0, 0, False)


def test_a_line_added_later_stands_behind_those_who_waited(handle: Item) -> None:
    order, waits = makers.make_order({handle: 4}), makers.make_order({handle: 3})
    with transaction.atomic():
        line = ordering.add_line(order, Wanted(qty=2, item=handle), at=AT, by=BY)
    assert line.number == 2
    makers.put_in(handle, 3)
    assert (_state(waits), _state(order, 2)) == ((3, 0, 0, False), (1, 1, 0, True))
    with pytest.raises(NotEnough), transaction.atomic():
        ordering.add_line(order, Wanted(qty=9, item=handle), at=AT, by=BY, wait=False)
    assert order.lines.count() == 2


def test_terms_are_changed_only_by_one_who_read_them_as_they_are(handle: Item) -> None:
    order = makers.make_order({handle: 1})
    with transaction.atomic():
        changed = ordering.change(order, version=order.version, at=AT, by=BY, ship_to="2 Other Lane", gift=True)
    assert (changed.ship_to, changed.gift, changed.version) == ("2 Other Lane", True, order.version + 0)
    with pytest.raises(Stale, match="has changed"), transaction.atomic():
        ordering.change(order, version=changed.version - 1, at=AT, by=BY, note="late")
    with pytest.raises(Invalid, match="received_minor of an order cannot be changed"), transaction.atomic():
        ordering.change(order, version=changed.version, at=AT, by=BY, received_minor=1)
    order.refresh_from_db()
    assert (order.note, order.received_minor) == ("", 0)


# ---- money and days


def test_prices_are_those_agreed_the_dealers_or_retail() -> None:
    item = makers.make_item(retail_minor=9_000, dealer_minor=6_000)
    plain = makers.make_item(retail_minor=2_000)
    dealer, one_off = makers.make_customer(kind=Customer.Kind.DEALER), makers.make_customer()
    prices = {}
    for name, customer in (("dealer", dealer), ("one-off", one_off)):
        wanted = [Wanted(qty=1, item=item), Wanted(qty=1, item=plain), Wanted(qty=1, item=item, price_minor=7_500)]
        order = makers.make_order(wanted, customer=customer)
        prices[name] = [line.price_minor for line in order.lines.order_by("number")]
    assert prices == {"dealer": [6_000, 2_000, 7_500], "one-off": [9_000, 2_000, 7_500]}


def test_an_order_comes_to_its_lines_less_what_was_cancelled_and_carriage(handle: Item) -> None:
    terms = Terms(carriage_minor=1_250)
    order = makers.make_order([Wanted(qty=3, item=handle, price_minor=1_999), Wanted(qty=2, words="x", price_minor=50)], terms=terms)  # fmt: skip
    assert ordering.total_minor(order) == 3 * 1_999 + 2 * 50 + 1_250
    with transaction.atomic():
        ordering.cancel(line_of(order), 1, at=AT, by=BY)
        ordering.change_price(line_of(order, 2), 75, at=AT, by=BY)
    assert ordering.total_minor(order) == 2 * 1_999 + 2 * 75 + 1_250


@pytest.mark.parametrize("price", [-1, 10**11])
def test_an_absurd_price_is_refused(handle: Item, price: int) -> None:
    order = makers.make_order({handle: 1})
    with pytest.raises(Invalid, match="what was agreed for one"), transaction.atomic():
        ordering.change_price(line_of(order), price, at=AT, by=BY)
    assert line_of(order).price_minor == 4_500


def test_money_adds_up_and_no_more_is_given_back_than_came(handle: Item) -> None:
    order = makers.make_order({handle: 1})
    with transaction.atomic():
        ordering.receive_money(order, 3_000, how="cash", at=AT, by=BY)
        ordering.receive_money(order, -1_000, how="cash", at=AT, by=BY)
    order.refresh_from_db()
    assert order.received_minor == 2_000
    with pytest.raises(Invalid, match="More would be given back"), transaction.atomic():
        ordering.receive_money(order, -2_001, how="cash", at=AT, by=BY)
    for amount in (0, 10**11, -(10**11)):
        with pytest.raises(Invalid, match="absurdly high"), transaction.atomic():
            ordering.receive_money(order, amount, how="cash", at=AT, by=BY)
    assert differences() == []


def test_money_may_still_come_when_all_is_sent(handle: Item) -> None:
    order = makers.make_order({handle: 1})
    makers.send(order)
    with transaction.atomic():
        ordering.receive_money(order, 4_500, how="bank", at=LATER, by=BY)
    order.refresh_from_db()
    assert (order.closed_at, order.received_minor) == (AT, 4_500)


def test_a_day_given_is_never_changed_but_followed_by_another(handle: Item) -> None:
    day = dt.date(2026, 4, 1)
    order = makers.make_order({handle: 1}, terms=Terms(day_given=day))
    with transaction.atomic():
        ordering.give_day(order, day + dt.timedelta(days=7), source="by hand", at=LATER, by=BY, reason="ill")
    first, second = Promise.objects.filter(order=order).order_by("id")
    assert (first.day, second.day, second.supersedes) == (day, day + dt.timedelta(days=7), first)


def test_what_was_done_is_written_down_with_who_did_it(handle: Item) -> None:
    order = makers.make_order({handle: 2}, by=makers.actor("desk"))
    line = AuditLine.objects.get(action="order taken")
    assert (line.by, line.subject, line.at) == ("desk", f"order {order.number}", AT)


def test_how_an_item_is_wanted_can_be_written_and_changed_until_the_order_is_closed(handle: Item) -> None:
    order = makers.make_order([Wanted(qty=1, item=handle, options="16 in handle"), Wanted(qty=1, words="tongs")])
    line, made = line_of(order), line_of(order, 2)
    assert (line.options, made.options) == ("16 in handle", "")
    with transaction.atomic():
        changed = ordering.change_options(line, "name stamped", at=LATER, by=BY)
    assert (changed.options, changed.version) == ("name stamped", line.version + 1)
    said = AuditLine.objects.filter(action="options changed").get()
    assert (said.before["options"], said.after["options"]) == ("16 in handle", "name stamped")
    with transaction.atomic(), pytest.raises(Invalid, match="its words say how"):
        ordering.change_options(made, "16 in handle", at=LATER, by=BY)
    makers.send(order, {1: 1})
    with transaction.atomic():
        ordering.cancel(line_of(order, 2), 1, at=LATER, by=BY)
    with transaction.atomic(), pytest.raises(Closed):
        ordering.change_options(line_of(order), "", at=LATER, by=BY)
