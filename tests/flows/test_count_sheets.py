"""Counting by sheet: blind, at its own time, a second look, orders that give way, bars, tins, and a book that is right after."""

import datetime as dt

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.models import Entry, Holding, Item, Lot, StockCount, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.services import count_sheets as services
from inventory.services.count_sheets import CountClosed
from shop.flows import count_sheets as flow
from shop.shared.errors import Invalid
from tests import makers
from tests.makers import AT
from tests.people import make_shop

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)
NOW = AT + 30 * HOUR


@pytest.fixture(autouse=True)
def shop(db: None) -> None:
    make_shop()


def stamp(at: dt.datetime = NOW, happened_at: dt.datetime | None = None):
    return makers.stamp(at=at, happened_at=happened_at)


def open_for(*items: Item) -> list[StockCountLine]:
    with transaction.atomic():
        made = services.open_sheet("the week's", queries.of_items([one.code for one in items]), stamp=stamp())
    return queries.lines(made)


def count(line: StockCountLine, found: int, **facts: object) -> flow.Outcome:
    reason = str(facts.pop("reason", ""))
    with transaction.atomic():
        return flow.count_line(line, found, typed=str(found), stamp=stamp(**facts), reason=reason)  # type: ignore[arg-type]


def there(item: Item) -> int:
    return sum(Holding.objects.filter(item=item).values_list("on_hand", flat=True))


def test_a_count_that_agrees_is_written_down_with_no_question():
    item = makers.make_item()
    makers.put_in(item, 30)
    (line,) = open_for(item)
    outcome = count(line, 30)
    assert (outcome.again, outcome.difference, outcome.line.entry) == (False, 0, None)
    assert (outcome.line.counted, outcome.line.expected, outcome.line.tolerance) == (30, 30, 0)


def test_a_first_count_that_is_off_writes_nothing_and_a_second_one_holds():
    item = makers.make_item()
    makers.put_in(item, 30)
    (line,) = open_for(item)
    first = count(line, 27)
    assert first.again
    assert (first.line.counted, first.line.expected) == (None, None)  # still blind
    assert there(item) == 30
    second = count(first.line, 27)
    assert (second.again, second.difference) == (False, -3)
    assert second.line.entry is not None
    assert there(item) == 27


def test_a_reason_is_taken_at_the_first_count():
    item = makers.make_item()
    makers.put_in(item, 30)
    (line,) = open_for(item)
    outcome = count(line, 20, reason="a dozen went to the fair")
    assert not outcome.again
    assert (there(item), outcome.line.reason) == (20, "a dozen went to the fair")


def test_within_what_is_allowed_the_difference_is_booked_with_no_question():
    item = makers.make_item(counted="seldom")
    makers.put_in(item, 200)
    (line,) = open_for(item)
    outcome = count(line, 190)
    assert (outcome.again, outcome.line.tolerance) == (False, 10)
    assert there(item) == 190


def test_what_moved_after_the_count_is_not_counted_against_it():
    item = makers.make_item()
    lot = makers.put_in(item, 30)
    (line,) = open_for(item)
    counted_at = NOW - HOUR
    makers.move(lot, 8, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=NOW - HOUR / 2)
    outcome = count(line, 30, at=NOW, happened_at=counted_at)
    assert (outcome.again, outcome.line.expected, outcome.difference) == (False, 30, 0)
    assert there(item) == 22


def test_a_count_by_a_clock_that_stands_wrong_is_refused_and_changes_nothing():
    item = makers.make_item()
    makers.put_in(item, 30)
    (line,) = open_for(item)
    with pytest.raises(Invalid, match="more than a day before sheet 1 was opened"):
        count(line, 30, reason="scanner", happened_at=dt.datetime(1971, 1, 1, tzinfo=dt.UTC))
    line.refresh_from_db()
    assert (there(item), line.counted) == (30, None)


def test_promised_pieces_that_are_missing_make_orders_give_way():
    item = makers.make_item()
    makers.put_in(item, 5)
    order = makers.make_order({item: 4}, at=AT + HOUR)
    (line,) = open_for(item)
    outcome = count(line, 2, reason="three were cracked")
    assert [one.order for one in outcome.gave_way] == [order]
    assert makers.line_of(order).waiting == 2


def test_what_turns_up_serves_the_lines_that_wait():
    item = makers.make_item()
    makers.put_in(item, 1)
    order = makers.make_order({item: 4}, at=AT + HOUR)
    (line,) = open_for(item)
    count(line, 5, reason="a box stood behind the door")
    assert makers.line_of(order).waiting == 0


def test_counted_again_the_last_count_holds():
    item = makers.make_item()
    makers.put_in(item, 30)
    (line,) = open_for(item)
    count(line, 25, reason="seen")
    line.refresh_from_db()
    outcome = count(line, 28)
    assert outcome.line.counted == 28
    assert there(item) == 28


def test_a_bar_is_here_or_asked_for_twice_and_then_lost():
    bar = makers.make_item(Item.Kind.BAR)
    makers.put_in(bar, 10 * makers.FOOT_NM)
    makers.put_in(bar, 8 * makers.FOOT_NM)
    first, second = open_for(bar)
    with transaction.atomic():
        assert flow.tick_bar(first, here=True, stamp=stamp()).line.counted == 10 * makers.FOOT_NM
    with transaction.atomic():
        assert flow.tick_bar(second, here=False, stamp=stamp()).again
    assert there(bar) == 18 * makers.FOOT_NM
    with transaction.atomic():
        outcome = flow.tick_bar(second, here=False, stamp=stamp())
    assert (outcome.line.counted, outcome.line.expected) == (0, 8 * makers.FOOT_NM)
    inside = Holding.objects.filter(item=bar, place__inside=True)
    assert sum(inside.values_list("on_hand", flat=True)) == 10 * makers.FOOT_NM
    with pytest.raises(Invalid, match="say whether it is here"), transaction.atomic():
        flow.count_line(second, 3, typed="3", stamp=stamp())


def test_a_sheet_of_a_place_has_every_item_and_bar_there_and_closes_once():
    item, bar = makers.make_item(), makers.make_item(Item.Kind.BAR)
    makers.put_in(item, 3)
    makers.put_in(bar, makers.FOOT_NM)
    with transaction.atomic():
        sheet = services.open_sheet("Bin", queries.of_place(makers.place("BIN")), stamp=stamp())
    assert [one.item for one in queries.lines(sheet)] == [item]
    assert [one.lot for one in queries.of_kind("bar")] == [Lot.objects.get(item=bar)]
    with transaction.atomic():
        services.close(sheet, stamp=stamp())
    for again in (lambda: services.close(sheet, stamp=stamp()), lambda: count(queries.lines(sheet)[0], 3)):
        with pytest.raises(CountClosed), transaction.atomic():
            again()
    with pytest.raises(Invalid, match="nothing of it stands"), transaction.atomic():
        services.open_sheet("nothing", [], stamp=stamp())
    assert StockCount.objects.count() == 1


def test_what_is_due_is_a_handful_and_none_on_a_day_the_shop_is_shut():
    items = [makers.make_item(code=f"IT-{number}") for number in range(200)]
    for one in items[:70]:
        makers.put_in(one, 1)
    from shop.shared import shop_row

    monday, sunday = dt.date(2026, 3, 2), dt.date(2026, 3, 8)
    codes = flow.due_codes(shop_row.the_shop(), monday)
    assert 1 <= len(codes) <= 4
    assert flow.due_codes(shop_row.the_shop(), sunday) == ()


def test_how_right_the_book_is_counts_lines_and_nets_nothing():
    more, fewer = makers.make_item(), makers.make_item()
    makers.put_in(more, 10)
    makers.put_in(fewer, 10)
    one, other = open_for(more, fewer)
    count(one, 12, reason="found")
    count(other, 8, reason="gone")
    found = queries.accuracy({}, since=AT)["all"]
    assert (found.lines, found.right) == (2, 0)


events = st.lists(
    st.tuples(st.sampled_from(("use", "arrive", "count", "late count")), st.integers(1, 9)), min_size=1, max_size=10
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(happens=events, lost=st.integers(0, 5))
def test_after_a_count_the_book_says_what_is_really_there(happens: list[tuple[str, int]], lost: int):
    """Things move before, between and after counts; some vanish unseen; whoever counts right sets the book right."""
    item = makers.make_item()
    makers.put_in(item, 40)
    really, at = 40 - lost, NOW
    for what, qty in happens:
        at += HOUR
        free = there_inside(item)
        if what == "use" and min(free, really) >= qty:
            makers.move(lot_with(item, qty), qty, source="BIN", target="OWN-USE", kind=Entry.Kind.USE, at=at)
            really -= qty
        elif what == "arrive":
            makers.put_in(item, qty, at=at)
            really += qty
        else:
            seen, when = really, at
            if what == "late count":
                at += HOUR
                makers.put_in(item, qty, at=at)
                really += qty
            with transaction.atomic():
                things = queries.of_items([item.code])
                if not things:
                    continue
                sheet = services.open_sheet("x", things, stamp=makers.stamp(at=at))
            (line,) = queries.lines(sheet)
            for _ in range(2):
                line.refresh_from_db()
                if line.counted is None:
                    count(line, seen, at=at + HOUR / 2, happened_at=when)
            assert there_inside(item) == really


def there_inside(item: Item) -> int:
    return sum(Holding.objects.filter(item=item, place__inside=True).values_list("on_hand", flat=True))


def lot_with(item: Item, qty: int) -> Lot:
    """Return a lot of which so many stand, the largest."""
    held = Holding.objects.filter(item=item, place__code="BIN").order_by("-on_hand").first()
    assert held is not None
    if held.on_hand < qty:
        pytest.skip("no lot holds so many")
    return held.lot
