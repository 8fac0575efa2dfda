"""Counts and the time they were made at: what is booked late, undone, counted again or kept on a tablet, and many at once."""

import datetime as dt
import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.models import Entry, Holding, Item, Lot, StockCountLine
from inventory.queries import count_sheets as queries
from inventory.services import count_sheets as services
from inventory.services.allocating import NotEnough
from inventory.services.count_sheets import CountAgain, CountClosed, CountedLater
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.flows import checking, reversing, stocktaking
from shop.flows import count_sheets as flow
from shop.flows.count_sheets import Outcome
from shop.flows.giving_way import SetAsideMeanwhile
from shop.shared import transactions
from shop.shared.errors import Invalid, Refusal
from tests import makers
from tests.conftest import ON_POSTGRES
from tests.makers import AT, FOOT_NM, actor, stamp
from tests.people import make_shop

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
CLIENTS = 12 if ON_POSTGRES else 6


@pytest.fixture
def handles(db: None) -> Item:
    make_shop()
    item = makers.make_item(Item.Kind.HANDLE, code="HA16")
    makers.put_in(item, 40)
    return item


def line_of(item: Item, *, at: dt.datetime = AT) -> StockCountLine:
    with transaction.atomic():
        sheet = services.open_sheet("one", queries.of_items([item.code]), stamp=stamp(at=at))
    return queries.lines(sheet)[0]


def count(line: StockCountLine, found: int, minutes: float, *, happened: float | None = None, reason: str = "seen twice"
          ) -> Outcome:  # fmt: skip
    when = None if happened is None else AT + happened * MINUTE
    made = stamp(at=AT + minutes * MINUTE, happened_at=when, reason=reason)
    with transaction.atomic():
        return flow.count_line(line, found, typed=str(found), stamp=made, reason=reason)


def use(item: Item, qty: int, minutes: float, *, happened: float | None = None) -> None:
    when = None if happened is None else AT + happened * MINUTE
    with transaction.atomic():
        stocktaking.use(item, qty, stamp=stamp(at=AT + minutes * MINUTE, happened_at=when))


def settle(minutes: float) -> list[Outcome]:
    with transaction.atomic():
        return flow.settle(at=AT + minutes * MINUTE, by=actor())


def there(item: Item) -> int:
    return sum(Holding.objects.filter(item=item, place__sellable=True).values_list("on_hand", flat=True))


def test_a_line_counted_again_stays_as_far_off_as_the_book_was(handles: Item) -> None:
    line = line_of(handles)
    first = count(line, 30, 1)
    use(handles, 2, 2)
    again = count(line, 36, 3)  # two were used, so two of the ten are really missing
    assert (there(handles), again.line.expected, again.difference) == (36, 38, -2)
    assert again.line.entry != first.line.entry
    third = count(line, 36, 4)
    assert (third.line.expected, third.line.entry) == (38, again.line.entry)
    assert checking.check_book() == []


def test_an_earlier_count_that_comes_late_does_not_book_the_same_loss_twice(handles: Item) -> None:
    line, other = line_of(handles), line_of(handles)
    count(line, 38, 10)
    for late in (line, other):
        with pytest.raises(CountedLater, match="what was counted last holds"):
            count(late, 38, 20, happened=5)
    with transaction.atomic():
        stocktaking.count(handles, makers.place("BIN"), 37, stamp=stamp(at=AT + 30 * MINUTE))  # on the item's page
    with pytest.raises(CountedLater):
        count(other, 38, 40, happened=25)
    assert there(handles) == 37


def test_what_is_booked_late_about_the_time_before_a_count_is_taken_into_it(handles: Item) -> None:
    line = line_of(handles)
    count(line, 38, 10)
    use(handles, 2, 60, happened=5)
    assert there(handles) == 36
    with transaction.atomic():
        flow.close(line.count, stamp=stamp(at=AT + 61 * MINUTE))
    line.refresh_from_db()
    assert (there(handles), line.counted, line.expected, line.reason) == (38, 38, 38, "seen twice")
    assert settle(62) == []
    assert checking.check_book() == []


def test_settling_leaves_alone_what_was_undone_or_counted_later(handles: Item) -> None:
    line = line_of(handles)
    entry = count(line, 30, 1).line.entry
    assert entry is not None
    with transaction.atomic():
        reversing.reverse(entry.pk, stamp=stamp(at=AT + 2 * MINUTE, reason="the other bin"))
    assert settle(3) == []
    assert there(handles) == 40
    assert count(line, 39, 4).difference == -1  # the count that was undone is no part of it
    with transaction.atomic():
        stocktaking.count(handles, makers.place("BIN"), 37, stamp=stamp(at=AT + 5 * MINUTE))
    use(handles, 1, 6, happened=3)
    assert settle(7) == []
    assert there(handles) == 36


def test_settling_leaves_alone_what_can_no_longer_be_so(handles: Item) -> None:
    line = line_of(handles)
    count(line, 40, 10)
    use(handles, 38, 20)
    makers.put_in(handles, 9, at=AT + 5 * MINUTE)  # said to have stood there already, and sent since
    use(handles, 9, 21)
    assert settle(30) == []
    assert there(handles) == 2


def test_an_undone_delivery_counts_as_never_come(handles: Item) -> None:
    line = line_of(handles)
    lot = makers.put_in(handles, 12, at=AT + MINUTE)
    with transaction.atomic():
        reversing.reverse(lot.entry_id, stamp=stamp(at=AT + 30 * MINUTE, reason="for the neighbour"))
    outcome = count(line, 40, 31, happened=10, reason="")
    assert (outcome.again, outcome.difference, there(handles)) == (False, 0, 40)


def test_a_count_of_which_more_was_taken_since_is_made_again(handles: Item) -> None:
    line = line_of(handles)
    use(handles, 35, 20)
    with pytest.raises(CountAgain, match="count what is there now"):
        count(line, 30, 30, happened=1)
    assert there(handles) == 5


def test_a_count_kept_on_a_tablet_is_taken_after_its_sheet_was_closed(handles: Item) -> None:
    line = line_of(handles)
    with transaction.atomic():
        flow.close(line.count, stamp=stamp(at=AT + 10 * MINUTE))
    with pytest.raises(CountClosed):
        count(line, 38, 12)
    assert count(line, 38, 12, happened=5).line.counted == 38


@pytest.fixture
def bar(db: None) -> Lot:
    make_shop()
    return makers.put_in(makers.make_item(Item.Kind.BAR), 20 * FOOT_NM)


def tape(line: StockCountLine, length: str, minutes: float) -> Outcome:
    with transaction.atomic():
        return flow.tape_bar(line, length, stamp=stamp(at=AT + minutes * MINUTE))


def tick(line: StockCountLine, minutes: float, *, here: bool, happened: float | None = None) -> Outcome:
    when = None if happened is None else AT + happened * MINUTE
    with transaction.atomic():
        return flow.tick_bar(line, here=here, stamp=stamp(at=AT + minutes * MINUTE, happened_at=when))


def test_a_bar_taped_anew_is_put_right_after_a_second_look(bar: Lot) -> None:
    line = line_of(bar.item)
    assert tape(line, "19 ft", 1).again
    done = tape(line, "19 ft", 2)
    assert (done.again, there(bar.item), done.difference) == (False, 19 * FOOT_NM, -FOOT_NM)
    assert done.line.entry is not None
    assert tape(line, "18 ft 11 15/16 in", 3).line.expected == 20 * FOOT_NM
    assert tape(line, "18 ft 11 15/16 in", 4).line.counted == there(bar.item)
    assert checking.check_book() == []


def test_a_bar_within_a_sixteenth_is_put_right_with_no_question(bar: Lot) -> None:
    assert not tape(line_of(bar.item), "20 ft 1/16 in", 1).again
    with pytest.raises(Invalid):
        tape(line_of(bar.item), "long", 2)


def test_a_bar_that_went_elsewhere_is_neither_ticked_here_nor_lost(bar: Lot) -> None:
    line = line_of(bar.item)
    with transaction.atomic():
        slot = makers.catalogue.add_place(code="B2", name="", kind="rack", at=AT, by=actor())
        stocktaking.move(bar, 20 * FOOT_NM, source=makers.place("RACK"), target=slot, stamp=stamp(at=AT + 5 * MINUTE))
    with pytest.raises(Invalid):
        tick(line, 10, here=True)
    with pytest.raises(CountAgain):
        tape(line, "20 ft", 10)
    assert tick(line, 11, here=False, happened=2).again  # it stood there then
    with pytest.raises(CountAgain):
        tick(line, 12, here=False, happened=2)
    assert there(bar.item) == 20 * FOOT_NM


def test_pieces_are_not_taped(handles: Item) -> None:
    with pytest.raises(Invalid):
        tape(line_of(handles), "3 ft", 1)


happenings = st.lists(
    st.tuples(st.sampled_from(["in", "out", "count"]), st.integers(1, 9), st.sampled_from([0, 0, 1, 7, 25])),
    min_size=1, max_size=8,
)  # fmt: skip


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(things=happenings, lost=st.integers(0, 4))
def test_whatever_is_booked_late_the_book_comes_to_what_is_really_there(
    handles: Item, things: list[tuple[str, int, int]], lost: int
) -> None:
    """Each thing happens at its minute and is booked so many minutes later, in any order; nobody errs."""
    with transaction.atomic():
        item = makers.make_item(Item.Kind.HANDLE)
        lot = makers.put_in(item, 200)
        line, really = line_of(item), 200 - lost
        booked: list[tuple[float, int, Callable[[float, float], object]]] = []
        for minute, (what, qty, late) in enumerate([*things, ("count", 0, 0)], 1):
            if what == "in":
                really += qty
                booked.append((minute + late, minute, lambda at, when, qty=qty: _moved(lot, qty, at, when, into=True)))
            elif what == "out":
                really -= qty
                booked.append((minute + late, minute, lambda at, when, qty=qty: _moved(lot, qty, at, when, into=False)))
            else:
                booked.append(
                    (minute + late, minute, lambda at, when, seen=really: count(line, seen, at, happened=when))
                )
        for at, when, book in sorted(booked, key=lambda one: one[:2]):
            try:
                with transaction.atomic():
                    book(at, when)
            except CountedLater:
                continue
        settle(100)
        line.refresh_from_db()
        assert there(item) == really
        assert settle(101) == []
        assert line.counted == line.expected + services.moved_by(line)
        transaction.set_rollback(True)


def _moved(lot: Lot, qty: int, at: float, when: float, *, into: bool) -> None:
    made = stamp(at=AT + at * MINUTE, happened_at=AT + when * MINUTE)
    lot.refresh_from_db()
    if into:
        with transaction.atomic():
            locks = makers.locks_for(lot.item)
            line = makers.Line(lot=lot, qty=qty, source=makers.place("MOVE-IN"), target=makers.place("BIN"))
            makers.ledger.commit(Entry.Kind.MOVE_IN, [line], locks=locks, stamp=made)
    else:
        with transaction.atomic():
            stocktaking.use(lot.item, qty, stamp=made)


def at_once(actions: list[Callable[[], object]]) -> Counter[str]:
    """Carry out all of them in the same moment, each in a transaction of its own; count what came of them."""
    start = threading.Barrier(len(actions))

    def client(action: Callable[[], object]) -> str:
        try:
            start.wait(30)
            with transactions.entry_point():
                action()
        except Refusal as refusal:
            return refusal.code
        else:
            return "done"
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(actions)) as pool:
        return Counter(pool.map(client, actions))


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_a_line_counted_from_many_tablets_at_once_is_booked_once(handles: Item) -> None:
    line = line_of(handles)
    made = stamp(at=AT + MINUTE, reason="seen")
    came = at_once([lambda: flow.count_line(line, 31, typed="31", stamp=made, reason="seen") for _ in range(CLIENTS)])
    assert came == Counter({"done": CLIENTS})
    assert Entry.objects.filter(kind=Entry.Kind.COUNT).count() == 1
    line.refresh_from_db()
    assert (there(handles), line.counted, line.expected) == (31, 31, 40)
    assert checking.check_book() == []


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_a_count_while_pieces_are_used_and_promised_comes_to_what_is_there(handles: Item) -> None:
    line, customer = line_of(handles), makers.make_customer()
    made = stamp(at=AT + 20 * MINUTE, happened_at=AT + 5 * MINUTE, reason="two were split")

    def taken() -> object:
        return stocktaking.use(handles, 1, stamp=stamp(at=AT + 10 * MINUTE))

    def promised() -> object:
        return ordering.take(customer, [Wanted(qty=6, item=handles)], Terms(), at=AT + 10 * MINUTE, by=actor())

    counted = [lambda: flow.count_line(line, 38, typed="38", stamp=made, reason="two were split")]
    came = at_once([*counted, *[taken] * (CLIENTS // 2), *[promised] * (CLIENTS // 2)])
    assert set(came) <= {"done", SetAsideMeanwhile.code, NotEnough.code}
    line.refresh_from_db()
    if line.counted is None:  # pieces were set aside between the look and the lock: said so, and sent again
        with transactions.entry_point():
            counted[0]()
    used = Entry.objects.filter(kind=Entry.Kind.USE).count()
    assert there(handles) == 38 - used
    assert checking.check_book() == []
