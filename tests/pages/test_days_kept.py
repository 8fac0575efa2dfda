"""The record as a page and as figures: kept against said first, then month, customers, chances and the rule of thumb."""

import datetime as dt

import pytest
from django.test import Client

from orders.models import Customer, Promise
from orders.queries import kept_days
from orders.queries.kept_days import Given
from shop.shared import clock
from shop.shared.models import Shop
from tests import makers
from tests.api.asking import Program
from tests.makers import AT
from tests.orders.days_given import give
from tests.pages.pressing import text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")
DAY = dt.timedelta(days=1)
TODAY = AT.date()
LATER = AT + 60 * DAY
PAGE = "/counter/record"


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def said(role: str = "hand", at: dt.datetime = LATER) -> str:
    with clock.frozen(at):
        client: Client = client_of(role)
        answer = client.get(PAGE)
    assert answer.status_code == 200
    return text(answer).replace("\u00a0", " ")


def given(sent_after: int | None, *, week: int = 0, chance: float = 0.9, **more: object) -> Promise:
    """Give a day ten days off, in one of the weeks, and send after so many days."""
    at = AT + week * 7 * DAY
    item = makers.make_item()
    makers.put_in(item, 1, at=at)
    order = makers.make_order({item: 1}, customer=makers.make_customer(kind=str(more.pop("kind", "one-off"))), at=at)
    promise = give(order, at.date() + 10 * DAY, chance=chance, at=at, **more)  # type: ignore[arg-type]
    if sent_after is not None:
        makers.send(order, at=at + sent_after * DAY)
    return promise


def test_an_empty_record_says_so(shop: Shop) -> None:
    page = said()
    assert "No day that the program worked out has been given yet." in page
    assert "Rule of thumb" not in page


def test_days_that_are_all_to_come_are_said_to_be(shop: Shop) -> None:
    given(None)
    assert "1 day is given that the program worked out, and none of them is over yet." in said(at=AT + DAY)


def test_the_figures_come_first_and_the_tables_say_the_same(shop: Shop) -> None:
    for week, sent in enumerate((10, 7, 9, 12)):
        given(sent, week=week, kind=Customer.Kind.DEALER, plain=AT.date() + (week * 7 + 8) * DAY)
    given(None, week=0, chance=0.6)
    given(9, week=1, source=Promise.Source.BY_HAND)
    given(9, week=1, source=Promise.Source.TAKEN_OVER)
    page = said()
    assert "3 of 5 days kept Said: 4.2." in page
    assert "2 sent early Kept, 2.0 days before the day on the average." in page
    assert "2 sent late By 26.0 days on the average, 50 days at the most. 1 of them not sent yet" in page
    assert "1 of 1 by hand Given by hand, no chance was stated of them" in page
    assert "1 day was given before the program came and stays outside the record." in page
    assert "dealer 4 3 3.6 2 1 10.0" in page
    assert "one-off 1 0 0.6 1 10.0" in page
    assert "Mar 2026 4 3 3.3 2 1 1 1 of 1" in page
    assert "Apr 2026 1 0 0.9 1 Mar" in page
    assert "worked out 10.0 10 3 of 4 1, by 2.0 days rule of thumb 8.0 8 1 of 4 3, by 2.3 days" in page
    assert "90 to 95 in 100 4 3.6 3" in page


@pytest.mark.parametrize(
    ("weeks", "late", "judged"),
    [
        (2, 0, "The difference is no more than chance. They fell in 2 weeks, too few"),
        (
            60,
            0,
            "More were kept than was said: the days are later than they need to be. As the weeks differ, 100 to 100 of",
        ),
        (60, 6, "The difference is no more than chance. As the weeks differ, "),
        (60, 20, "Fewer were kept than was said: the days are too early. As the weeks differ, "),
    ],
)
def test_what_was_said_is_judged_only_beyond_chance(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, weeks: int, late: int, judged: str
) -> None:
    day = TODAY.toordinal()
    found = tuple(
        Given(1, day + 7 * n, day + 7 * n + 9, day + 7 * n + (12 if n < late else 8), "dealer", made_to_order=False,
              curve=((day + 7 * n + 9, 0.9),))
        for n in range(weeks)
    )  # fmt: skip
    monkeypatch.setattr(kept_days, "days", lambda **_: kept_days.Days(found, (), kept_days.LeftOut()))
    assert judged in said(at=AT + 600 * DAY)


def test_the_page_asks_the_database_no_more_for_more_days(shop: Shop, django_assert_max_num_queries) -> None:
    client = client_of("hand")
    for week in range(9):
        given(9, week=week)
    with clock.frozen(LATER + 60 * DAY), django_assert_max_num_queries(14):
        client.get(PAGE)


def test_what_a_key_reads_is_what_the_page_says(db: None) -> None:
    program = Program("orders:read")
    for week, sent in enumerate((10, 7, 12)):
        given(sent, week=week)
    given(9, source=Promise.Source.BY_HAND)
    with clock.frozen(LATER):
        found = program.ask("GET", "record").json()
    assert found["up_to"] == (LATER.date() - DAY).isoformat()
    ours = found["all"]
    assert (ours["days"], ours["kept"], ours["said"], ours["early"], ours["late"]) == (3, 2, 2.7, 1, 1)
    assert (found["by_hand"]["kept"], found["by_hand"]["said"]) == (1, None)
    assert [(one["month"], one["worked_out"]["days"], one["by_hand"]["days"]) for one in found["months"]] == [
        ("2026-03", 3, 1)
    ]
    assert found["chances"][0]["by_chance_alone"] == {"least": 1, "most": 3}
    assert Program("stock:read").ask("GET", "record").status_code == 403
