"""The last day to order as a page: asked by the desk, answered in words, odd values with a sentence at their field."""

import datetime as dt
from collections.abc import Iterator

import pytest

from shop.shared import clock
from tests import makers
from tests.flows.test_ship_days import slow_forge
from tests.makers import AT
from tests.pages.pressing import ODD, text
from tests.people import client_of, make_person, make_shop

pytestmark = pytest.mark.daily("sqlite")


@pytest.fixture(autouse=True)
def _at_the_counter(db: None) -> Iterator[None]:
    make_shop()
    make_person("hand", login="bo")
    with clock.frozen(AT):
        yield


def test_the_last_day_is_asked_and_answered() -> None:
    item, desk = slow_forge().tool.item, client_of("desk")
    empty = desk.get("/counter/last-day").content.decode()
    assert f'value="{AT.year}-12-18"' in empty
    assert 'name="qty" value="1"' in empty
    later = AT.date() + dt.timedelta(days=60)
    asked = {"item": item.code, "qty": "6", "by_1": str(later), "by_2": str(AT.date())}
    said = text(desk.get("/counter/last-day", asked)).replace("\u00a0", " ")
    assert "today is too late" in said
    assert "Left out: orders that come until then." in said
    assert "90 times in 100 are wanted" in said
    assert "Fri 1 May" in said, "the day that was asked for"
    assert desk.get("/counter/last-day", {"item": item.code, "by_1": str(later)}).status_code == 200


def test_the_usual_day_is_next_years_once_it_is_over() -> None:
    with clock.frozen(AT.replace(month=12, day=18)):
        assert f'value="{AT.year}-12-18"' in client_of("desk").get("/counter/last-day").content.decode()
    with clock.frozen(AT.replace(month=12, day=19)):
        assert f'value="{AT.year + 1}-12-18"' in client_of("desk").get("/counter/last-day").content.decode()


def test_odd_last_days_get_a_sentence_at_their_field() -> None:
    item, desk = makers.make_item(code="H-9"), client_of("desk")
    good = {"item": item.code, "qty": "1", "kind": "one-off", "by_1": str(AT.date() + dt.timedelta(days=9))}
    assert desk.get("/counter/last-day", good).status_code == 200
    for name, odd in (
        ("by_1", "2026-03-01"), ("by_2", "2199-12-31"), ("by_3", "2027-04-06"), ("qty", "0"), ("qty", "1001"),
        ("item", ""), ("item", "nothing"), ("kind", "guest"), ("by_1", ""),
    ):  # fmt: skip
        answer = desk.get("/counter/last-day", {**good, name: odd})
        assert answer.status_code == 422, (name, odd)
        assert f'href="#id_{name}"' in answer.content.decode(), (name, odd)
    for odd in ODD:
        for name in ("item", "qty", "kind", "by_1", "by_2"):
            assert desk.get("/counter/last-day", {**good, name: odd}).status_code in (200, 422)


def test_a_hand_is_not_asked() -> None:
    hand = client_of("hand")
    assert hand.get("/counter/last-day").status_code == 403
    assert "Last day to order" not in text(hand.get("/counter"))
