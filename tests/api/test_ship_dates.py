"""The days given as a calendar by a secret link: by the grammar of RFC 5545, and nothing in it that is nobody's business."""

import datetime as dt

import pytest
from django.conf import settings
from django.db import OperationalError, transaction
from django.test import Client
from hypothesis import given as examples
from hypothesis import strategies as st

from inventory.models import Item
from orders.models import Order
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.access.models import FeedLink
from shop.access.services import feeds
from shop.access.services.feeds import Sheet
from shop.api import ship_dates
from shop.shared import clock
from tests import makers
from tests.api import reading_calendars
from tests.api.asking import make_shop
from tests.api.reading_calendars import Component, read
from tests.makers import AT, make_item, put_in
from tests.orders.days_given import give, slip

pytestmark = pytest.mark.daily("sqlite")
DAY = dt.timedelta(days=1)
TODAY = AT.date()
FOLDED = (
    b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"  # RFC 5545, 3.1; from memory
)
OF_THE_RFC = (  # 3.6.1, an event of several days, in the smallest calendar around it; from memory
    "BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//ABC Corporation//NONSGML My Product//EN\nBEGIN:VEVENT\n"
    "UID:20070423T123432Z-541111@example.com\nDTSTAMP:20070423T123432Z\nDTSTART;VALUE=DATE:20070628\n"
    "DTEND;VALUE=DATE:20070709\nSUMMARY:Festival International de Jazz de Montreal\nTRANSP:TRANSPARENT\nEND:VEVENT\n"
    "END:VCALENDAR\n"
).replace("\n", "\r\n").encode()  # fmt: skip


@pytest.fixture
def link(db: None) -> tuple[FeedLink, str]:
    make_shop()
    with transaction.atomic():
        made, secret = feeds.make(
            name="The shop's wall", at=AT, by=None, expires_at=AT + 300 * DAY, sheet=Sheet.CALENDAR
        )
    return made, feeds.address(made, secret).removeprefix(settings.BASE_ADDRESS)


def asked(address: str) -> Component:
    with clock.frozen(AT):
        answer = Client().get(address)
    assert answer.status_code == 200
    return read(answer.content)


def order_of(qty: int = 26, code: str = "CP2", **more: object) -> Order:
    item = Item.objects.filter(code=code).first() or make_item(code=code)
    return makers.make_order({item: qty}, **more)  # type: ignore[arg-type]


def test_the_reader_of_these_tests_reads_the_examples_of_the_rfc_and_refuses_what_is_against_it() -> None:
    assert reading_calendars.unfolded(FOLDED) == ["DESCRIPTION:This is a long description that exists on a long line."]
    (event,) = read(OF_THE_RFC).inside
    assert event.value("SUMMARY") == "Festival International de Jazz de Montreal"
    assert reading_calendars.plain(r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.").count("\n") == 2
    for wrong in (
        OF_THE_RFC.replace(b"\r\n", b"\n"),
        OF_THE_RFC.replace(b"Festival", b"Festival, " + b"x" * 90),
        OF_THE_RFC.replace(b"Festival", b"Festival, of"),
        OF_THE_RFC.replace(b"20070628", b"20071328"),
        OF_THE_RFC.replace(b"DTSTAMP:20070423T123432Z\r\n", b""),
        OF_THE_RFC.replace(b"UID", b"U ID"),
        OF_THE_RFC.replace(b"VERSION:2.0\r\n", b""),
    ):
        with pytest.raises((AssertionError, ValueError)):
            read(wrong)


def test_a_day_given_is_one_day_in_the_calendar(link: tuple[FeedLink, str]) -> None:
    give(order_of(), TODAY + 9 * DAY)
    (event,) = asked(link[1]).inside
    assert event.name == "VEVENT"
    assert event.value("SUMMARY") == "Send 1: 26 x CP2"
    assert [(name, parameters) for name, parameters, _ in event.properties if name == "DTSTART"] == [
        ("DTSTART", {"VALUE": "DATE"})
    ]
    assert event.value("DTSTART") == "20260311"
    assert event.value("DTSTAMP") == "20260302T090000Z"
    assert (event.value("SEQUENCE"), event.value("STATUS"), event.value("TRANSP")) == ("0", "CONFIRMED", "TRANSPARENT")
    assert event.value("URL") == f"{settings.BASE_ADDRESS}/order/1"


def test_a_day_given_anew_moves_the_same_event_and_raises_its_sequence(link: tuple[FeedLink, str]) -> None:
    order = order_of()
    give(order, TODAY + 9 * DAY)
    (before,) = asked(link[1]).inside
    slip(give(order, TODAY + 12 * DAY, at=AT + DAY), AT + DAY)
    (after,) = asked(link[1]).inside
    assert after.value("UID") == before.value("UID")
    assert (after.value("SEQUENCE"), after.value("DTSTART")) == ("1", "20260314")
    assert after.value("DTSTAMP") == "20260303T090000Z"
    assert after.value("STATUS") == "TENTATIVE"


def test_a_line_with_a_day_of_its_own_is_an_event_of_its_own(link: tuple[FeedLink, str]) -> None:
    order = makers.make_order([Wanted(2, make_item(code="CP2")), Wanted(1, words="a gate latch")])
    give(order, TODAY + 9 * DAY)
    give(order, TODAY + 3 * DAY, line=makers.line_of(order, 2))
    events = asked(link[1]).inside
    assert [event.value("SUMMARY") for event in events] == ["Send 1: 1 x a gate latch", "Send 1: 2 x CP2"]
    assert len({event.value("UID") for event in events}) == 2


def test_many_lines_are_counted_and_goods_by_length_have_their_unit(link: tuple[FeedLink, str]) -> None:
    bar = make_item(Item.Kind.CONSUMABLE, code="OIL", unit=Item.Unit.UL, retail_minor=900)
    lines = [Wanted(2_500, bar), *(Wanted(1, words=f"piece {n}") for n in range(6))]
    give(makers.make_order(lines), TODAY)
    (event,) = asked(link[1]).inside
    assert event.value("SUMMARY") == (
        "Send 1: 2.5 mL of OIL, 1 x piece 0, 1 x piece 1, 1 x piece 2, 1 x piece 3 and 2 more lines"
    )


def test_nothing_of_the_customer_and_no_price_is_in_it(link: tuple[FeedLink, str]) -> None:
    customer = makers.make_customer("Tarn and Thrupp", address="4 Quarry Steps")
    order = order_of(2, customer=customer, terms=Terms(reference="PO 77", note="ring first", deposit_minor=123_45))
    give(order, TODAY)
    raw = Client().get(link[1]).content.decode().replace("\r\n ", "")
    for secret in ("Tarn", "Thrupp", "Quarry", "PO 77", "ring first", "123.45", "45.00", "USD"):
        assert secret not in raw, secret
    names = {line.partition(":")[0].partition(";")[0] for line in raw.split("\r\n")}
    assert names == {
        "BEGIN", "END", "VERSION", "PRODID", "CALSCALE", "NAME", "X-WR-CALNAME", "REFRESH-INTERVAL", "UID", "DTSTAMP", "SEQUENCE",
        "DTSTART", "SUMMARY", "STATUS", "TRANSP", "URL", "",
    }  # fmt: skip


def test_what_is_done_with_is_gone_and_an_empty_calendar_is_still_one(link: tuple[FeedLink, str]) -> None:
    order = order_of()
    give(order, TODAY)
    with transaction.atomic():
        ordering.cancel_order(order, at=AT, by=makers.actor())
    (only,) = asked(link[1]).inside
    assert only.name == "VTIMEZONE"


ODD = (
    'a, b; c\\d "e": f',
    "\N{HAMMER}" * 60,
    "ö" * 75 + "x",
    "x" * 65 + "ö" * 40,
    "line\none",
    "tab\there",
    "\u202eback",
    "B" * 300,
    "\\n",
    "a:b;c=d",
)


@pytest.mark.parametrize("words", ODD, ids=range(len(ODD)))
def test_whatever_is_to_be_made_is_escaped_and_folded(link: tuple[FeedLink, str], words: str) -> None:
    give(makers.make_order([Wanted(1, words=words)]), TODAY)
    (event,) = asked(link[1]).inside
    kept = " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())
    assert event.value("SUMMARY") == f"Send 1: 1 x {kept}"


@examples(st.text(alphabet=st.characters(codec="utf-8"), max_size=200))
def test_any_text_is_held_whole(words: str) -> None:
    """Without the database: an event of these words, written by the library and read by the grammar."""
    import icalendar

    calendar, event = icalendar.Calendar(), icalendar.Event()
    calendar.add("version", "2.0")
    calendar.add("prodid", "x")
    event.add("uid", "x")
    event.add("dtstamp", AT)
    event.add("dtstart", TODAY)
    event.add("summary", ship_dates._plain(words))
    calendar.add_component(event)
    (found,) = read(calendar.to_ical()).inside
    assert found.value("SUMMARY") == ship_dates._plain(words)


def test_a_calendar_is_asked_for_again_only_where_it_changed(link: tuple[FeedLink, str]) -> None:
    give(order_of(), TODAY)
    first = Client().get(link[1])
    assert first["Content-Type"] == "text/calendar; charset=utf-8"
    assert (first["Referrer-Policy"], first["X-Robots-Tag"]) == ("no-referrer", "noindex")
    assert Client().get(link[1], headers={"If-None-Match": first["ETag"]}).status_code == 304
    give(order_of(1), TODAY)
    assert Client().get(link[1], headers={"If-None-Match": first["ETag"]}).status_code == 200
    assert FeedLink.objects.get().used == 3


def test_a_link_gives_one_thing_and_not_the_other(link: tuple[FeedLink, str]) -> None:
    with transaction.atomic():
        table = feeds.address(*feeds.make(name="A dealer", at=AT, by=None, expires_at=AT + 300 * DAY))
    table = table.removeprefix(settings.BASE_ADDRESS)
    put_in(make_item(code="HAN-1"), 5)
    with clock.frozen(AT):
        for address, good, other in (
            (link[1], Sheet.CALENDAR, Sheet.TABLE), (table, Sheet.TABLE, Sheet.CALENDAR)
        ):  # fmt: skip
            assert address.endswith(good)
            assert Client().get(address).status_code == 200
            wrong = Client().get(address.replace(good, other))
            assert (wrong.status_code, wrong.content) == (404, b"")


@pytest.mark.parametrize("ends", ["", "A/ship-dates.ics", "/ship-dates.ICS", "/ship-dates.ics/", "/ship-dates.ics?x=1"])
def test_a_wrong_link_is_404_and_empty(link: tuple[FeedLink, str], ends: str) -> None:
    answer = Client().get(link[1].removesuffix("/ship-dates.ics") + ends)
    assert (answer.status_code, answer.content) == (404, b"")
    with transaction.atomic():
        feeds.revoke(link[0].pk, at=AT, by=None)
    assert Client().get(link[1]).status_code == 404


def test_a_failure_has_an_empty_body(link: tuple[FeedLink, str], monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(**_: object) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr(ship_dates, "calendar", fail)
    with clock.frozen(AT):
        answer = Client(raise_request_exception=False).get(link[1])
    assert (answer.status_code, answer.content) == (503, b"")


def test_a_hundred_days_cost_no_more_queries_than_one(link: tuple[FeedLink, str], django_assert_num_queries) -> None:
    for _ in range(5):
        give(order_of(1), TODAY)
    with django_assert_num_queries(2):
        ship_dates.calendar(shop_name="Invented Forge")
