"""Gas bottles: quarters read, gas booked as used, one in use of a gas, deposits back; whoever is second is told."""

import datetime as dt

import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.bottles import content
from inventory.models import Bottle, BottleChange, Entry, FloorNote, Item
from inventory.queries import bottles as queries
from inventory.services import bottles as services
from inventory.services.bottles import BottleNotHere
from shop.flows import bottles as flow
from shop.shared.errors import Invalid, Stale
from tests import makers

pytestmark = pytest.mark.django_db
WHOLE = 18_143_695  # 40 lb in mg, not a multiple of four


@pytest.fixture
def gas(db: None) -> Item:
    item = makers.make_item("consumable", unit="mg", code="GAS", buy_unit="bottle", issue_per_buy=WHOLE)
    makers.put_in(item, 2 * WHOLE)
    return item


def came(item: Item, *numbers: str, quarters: int = 4) -> list[Bottle]:
    with transaction.atomic():
        return services.came(
            item, numbers, stamp=makers.stamp(), came_on=dt.date(2026, 3, 2), deposit_minor=4_500, quarters=quarters
        )


def read(bottle: Bottle, quarters: int, version: int | None = None) -> Entry | None:
    with transaction.atomic():
        return flow.read(bottle, quarters, version=version or bottle.version, stamp=makers.stamp())


def put_in(bottle: Bottle) -> Bottle | None:
    with transaction.atomic():
        return flow.change(bottle, version=bottle.version, stamp=makers.stamp())


def back(bottle: Bottle) -> None:
    with transaction.atomic():
        services.back(bottle, version=bottle.version, stamp=makers.stamp())


def left(item: Item) -> int:
    (found,) = queries.gases()
    return found.book


def test_what_is_gone_from_a_bottle_is_booked_as_used(gas: Item) -> None:
    one, _ = came(gas, "14", "A 7")
    entry = read(one, 3)
    assert entry is not None
    assert entry.kind == Entry.Kind.USE
    assert left(gas) == 2 * WHOLE - (WHOLE - content(WHOLE, 3))
    read(one, 0)
    assert left(gas) == WHOLE
    assert (one.state, one.in_use) == ("empty", False)
    assert [change.what for change in one.changes.order_by("pk")] == ["came", "read", "empty"]
    (found,) = queries.gases()
    assert (found.number("full"), found.number("empty"), found.deposits) == (1, 1, 9_000)
    assert found.counted == WHOLE
    assert found.room_taken == 2 * WHOLE  # the empty one counts as full


def test_a_bottle_put_in_empties_the_one_before_and_teaches_what_a_piece_takes(gas: Item) -> None:
    one, two = came(gas, "14", "15")
    assert put_in(one) is None
    read(one, 1)
    before = put_in(two)
    assert before is not None
    assert before.number == "14"
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.state, one.in_use, two.in_use) == ("empty", False, True)
    assert FloorNote.objects.filter(what=FloorNote.What.BOTTLE, item=gas).count() == 2
    assert left(gas) == WHOLE


def test_a_reading_above_the_last_one_books_nothing(gas: Item) -> None:
    (one,) = came(gas, "14", quarters=1)
    assert read(one, 2) is None
    assert left(gas) == 2 * WHOLE


def test_a_bottle_read_too_low_gives_back_what_was_booked_as_used(gas: Item) -> None:
    (one,) = came(gas, "14")
    read(one, 0)
    assert left(gas) == WHOLE
    assert read(one, 4) is None
    assert (left(gas), one.quarters) == (2 * WHOLE, 4)
    read(one, 2)
    read(one, 1)
    entry = read(one, 3)  # both uses are undone, and what is really gone is booked
    assert entry is not None
    assert left(gas) == 2 * WHOLE - (WHOLE - content(WHOLE, 3))
    assert read(one, 4) is None
    assert read(one, 4) is None
    assert left(gas) == 2 * WHOLE


def test_an_empty_bottle_is_empty_whatever_the_book_says(gas: Item) -> None:
    one, two, three = came(gas, "1", "2", "3")
    for bottle in (one, two, three):
        read(bottle, 0)
    assert left(gas) == 0
    assert BottleChange.objects.get(bottle=three, what="empty").entry is None


def test_bottles_go_back_empty_and_come_again_under_the_same_number(gas: Item) -> None:
    (one,) = came(gas, "14")
    with pytest.raises(BottleNotHere, match="still holds gas"):
        back(one)
    read(one, 0)
    back(one)
    with pytest.raises(BottleNotHere, match="went back"):
        read(one, 2)
    came(gas, "14")
    assert Bottle.objects.filter(item=gas, number="14").count() == 2


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ((), "0 are named"),
        (("14", "14"), "named twice"),
        (("7",), "here already"),
        (("<b>",), "is no number"),
        (("x" * 13,), "is no number"),
    ],
)
def test_bottles_that_cannot_have_come_are_refused_whole(gas: Item, numbers: tuple[str, ...], said: str) -> None:
    came(gas, "7")
    with pytest.raises(Invalid, match=said):
        came(gas, *numbers)
    assert Bottle.objects.count() == 1


def test_what_is_not_bought_by_the_bottle_has_none() -> None:
    oil = makers.make_item("consumable", unit="ul", code="OIL")
    with pytest.raises(Invalid, match="not bought by the bottle"):
        came(oil, "1")


def test_who_looked_at_an_older_state_is_told(gas: Item) -> None:
    (one,) = came(gas, "14")
    seen = one.version
    read(one, 3)
    with pytest.raises(Stale):
        read(one, 2, version=seen)
    with pytest.raises(BottleNotHere, match="is in already"):
        put_in(one)
        put_in(one)


@given(whole=st.integers(0, 10**12), readings=st.lists(st.integers(0, 4), max_size=8))
def test_readings_make_no_gas(whole: int, readings: list[int]) -> None:
    used, last = 0, 4
    for quarters in readings:
        if quarters < last:
            used += content(whole, last) - content(whole, quarters)
        last = min(last, quarters)
    assert used == whole - content(whole, last) if readings else used == 0
