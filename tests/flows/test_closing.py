"""A month is closed from its movements, once, when it is over; the night does it and reads on from there."""

import datetime as dt
import threading

import pytest
from django.db import connection, transaction
from django.db.models import F

from inventory.models import BookClose, Entry, Holding, Item, Lot
from inventory.services import closing
from inventory.services.closing import CannotClose
from shop.flows import checking, night
from shop.flows.checking import check_book
from shop.shared import shop_row
from shop.shared.models import NightResult
from shop.shared.shop_row import Settings
from shop.shared.snapshot import one_moment
from tests import makers

pytestmark = pytest.mark.django_db

MARCH, APRIL = dt.date(2026, 3, 1), dt.date(2026, 4, 1)
VIENNA = "Europe/Vienna"
MARCH_ENDS = dt.datetime(2026, 3, 31, 22, tzinfo=dt.UTC)  # midnight in Vienna, where summer time has begun
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


def close(month: dt.date, *, at: dt.datetime) -> int:
    with transaction.atomic():
        return closing.close_month(month, at=at, zone=VIENNA)


def stood(month: dt.date) -> dict[tuple[int, str], int]:
    rows = BookClose.objects.filter(month=month).values_list("holding__lot_id", "holding__place__code", "qty")
    return {(lot, place): qty for lot, place, qty in rows}


def handles(qty: int, *, at: dt.datetime = makers.AT) -> Lot:
    return makers.put_in(makers.make_item(Item.Kind.HANDLE), qty, at=at)


def test_it_writes_what_stood_there_at_the_local_end_of_the_month_and_nothing_that_is_gone() -> None:
    lot, gone = handles(10), handles(3)
    makers.move(lot, 4, source="BIN", target="SHELF", at=MARCH_ENDS - dt.timedelta(seconds=1))
    makers.move(gone, 3, source="BIN", target="OWN-USE", kind=Entry.Kind.USE)
    makers.move(lot, 1, source="SHELF", target="OWN-USE", kind=Entry.Kind.USE, at=MARCH_ENDS)
    assert close(MARCH, at=MARCH_ENDS + HOUR) == 2
    assert stood(MARCH) == {(lot.pk, "BIN"): 6, (lot.pk, "SHELF"): 4}
    assert check_book() == check_book(whole=True) == []


def test_it_goes_by_when_something_was_typed_and_not_by_when_it_happened() -> None:
    lot = handles(10)
    with transaction.atomic():
        late = makers.stamp(at=MARCH_ENDS + DAY, happened_at=MARCH_ENDS - DAY)
        line = makers.Line(lot=lot, qty=2, source=makers.place("BIN"), target=makers.place("SCRAP"))
        makers.ledger.commit(Entry.Kind.COUNT, [line], locks=makers.locks_for(lot.item, at=late.at), stamp=late)
    close(MARCH, at=MARCH_ENDS + 2 * DAY)
    assert stood(MARCH) == {(lot.pk, "BIN"): 10}
    assert check_book() == []


def test_the_next_close_goes_on_from_the_one_before() -> None:
    lot = handles(10)
    close(MARCH, at=MARCH_ENDS + HOUR)
    makers.move(lot, 4, source="BIN", target="SHELF", at=MARCH_ENDS + DAY)
    close(APRIL, at=MARCH_ENDS + 31 * DAY)
    assert stood(APRIL) == {(lot.pk, "BIN"): 6, (lot.pk, "SHELF"): 4}
    makers.move(lot, 6, source="BIN", target="SHELF", at=MARCH_ENDS + 40 * DAY)
    assert check_book() == check_book(whole=True) == []


def test_it_is_summed_up_from_the_movements_so_that_a_wrong_counter_stays_wrong() -> None:
    lot = handles(10)
    Holding.objects.filter(lot=lot).update(on_hand=F("on_hand") + 5)
    close(MARCH, at=MARCH_ENDS + HOUR)
    assert stood(MARCH) == {(lot.pk, "BIN"): 10}
    assert any("says 15 on hand" in sentence for sentence in check_book())


@pytest.mark.parametrize(
    ("month", "at", "word"),
    [
        (MARCH, MARCH_ENDS + HOUR - dt.timedelta(seconds=1), "not over"),
        (MARCH.replace(day=2), MARCH_ENDS + HOUR, "first day"),
    ],
)
def test_a_month_that_is_not_over_is_not_closed(month: dt.date, at: dt.datetime, word: str) -> None:
    handles(10)
    with pytest.raises(CannotClose, match=word):
        close(month, at=at)
    assert not BookClose.objects.exists()


def test_a_month_is_closed_once_and_none_before_it_afterwards() -> None:
    handles(10)
    close(APRIL, at=MARCH_ENDS + 31 * DAY)
    for month in (APRIL, MARCH):
        with pytest.raises(CannotClose, match="closed already"):
            close(month, at=MARCH_ENDS + 31 * DAY)


def test_the_last_month_that_is_over_is_due_until_it_is_closed() -> None:
    handles(10)
    assert closing.due(at=MARCH_ENDS + HOUR, zone=VIENNA) == MARCH
    assert closing.due(at=MARCH_ENDS + HOUR - dt.timedelta(seconds=1), zone=VIENNA) == dt.date(2026, 2, 1)
    assert closing.due(at=MARCH_ENDS + 30 * DAY, zone=VIENNA) == MARCH
    close(MARCH, at=MARCH_ENDS + HOUR)
    assert closing.due(at=MARCH_ENDS + 30 * DAY, zone=VIENNA) is None
    assert closing.due(at=MARCH_ENDS + 31 * DAY, zone=VIENNA) == APRIL


# ---- the night


def make_shop() -> None:
    with transaction.atomic():
        shop_row.make(Settings("Invented Forge", VIENNA, night_hour=6), at=makers.AT, by="tests", invented=True)


def run_night(day: dt.date) -> NightResult:
    at = dt.datetime.combine(day, dt.time(5), tzinfo=dt.UTC)
    result = night.run_if_due(lambda: at)
    assert result is not None
    return result


def test_the_night_after_the_last_day_closes_the_month_and_the_others_leave_it() -> None:
    make_shop()
    handles(10)
    run_night(dt.date(2026, 3, 31))
    assert not BookClose.objects.filter(month=MARCH).exists()
    run_night(APRIL)
    assert BookClose.objects.filter(month=MARCH).count() == 1
    run_night(APRIL + DAY)
    assert BookClose.objects.filter(month=MARCH).count() == 1


def test_a_book_that_differs_is_not_closed_until_it_agrees() -> None:
    make_shop()
    lot = handles(10)
    Holding.objects.filter(lot=lot).update(on_hand=11)
    assert run_night(APRIL).body["book"]["found"]
    assert not BookClose.objects.exists()
    Holding.objects.filter(lot=lot).update(on_hand=10)
    run_night(APRIL + DAY)
    assert BookClose.objects.filter(month=MARCH).exists()


def test_on_sundays_the_night_reads_the_whole_book(monkeypatch: pytest.MonkeyPatch) -> None:
    make_shop()
    asked: list[bool] = []
    monkeypatch.setattr(checking, "check_book", lambda *, whole: asked.append(whole) or [])
    monday = dt.date(2026, 3, 30)
    for number in range(7):
        night.compute(at=makers.AT + 30 * DAY, today=monday + number * DAY)
    assert asked == [False] * 6 + [True]


# ---- one moment


@pytest.mark.django_db(transaction=True)
def test_the_check_reads_one_moment_and_keeps_nobody_from_booking() -> None:
    lot = handles(10)
    booked: list[Entry] = []

    def book_meanwhile() -> None:
        try:
            booked.append(makers.move(lot, 4, source="BIN", target="SHELF"))
        finally:
            connection.close()

    with one_moment():
        assert makers.stands(lot, "BIN") == 10
        other = threading.Thread(target=book_meanwhile)
        other.start()
        other.join(timeout=10)  # where the reader held a lock, the writer would wait for it
        assert len(booked) == 1
        assert makers.stands(lot, "BIN") == 10
        assert check_book() == []
    assert makers.stands(lot, "BIN") == 6
    assert check_book() == []
