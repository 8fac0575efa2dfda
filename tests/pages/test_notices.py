"""Telling customers of late days: text to copy, the notice, the answer, the refund; on the order, the Day sheet, by key."""

import datetime as dt
from collections.abc import Iterator
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client

from inventory.models import Item
from orders.models import Notice, Order
from orders.services.ordering import Terms
from shop.flows import night
from shop.flows.night import letter
from shop.shared import clock
from tests import makers
from tests.api.asking import Program
from tests.makers import AT
from tests.orders.days_given import give, slip
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")
DAY = dt.timedelta(days=1)
NOW = AT + 2 * DAY
FRIDAY = AT.date() + 11 * DAY


@pytest.fixture
def order(db: None) -> Iterator[Order]:
    make_shop()
    handle = makers.make_item(name="16 in handle")
    customer = makers.make_customer("Tarn and Thrupp")
    customer.email = "tarn+orders@example.org"
    customer.save()
    made = makers.make_order({handle: 26}, customer=customer, terms=Terms(reference="PO 7 & 8"))
    slip(give(made, FRIDAY), AT + DAY, sure=FRIDAY + 10 * DAY, holds="ash boards")
    with clock.frozen(NOW):
        yield made


def page_of(order: Order) -> str:
    return f"/order/{order.number}"


def said(client: Client, address: str) -> str:
    return text(client.get(address)).replace("\u00a0", " ")


def test_the_text_names_what_is_late_the_days_and_both_ways_out(order: Order) -> None:
    page = said(client_of("desk"), f"{page_of(order)}/notice")
    for words in (
        f"Order {order.number}, your reference PO 7 & 8",
        "This will not be sent by Friday 13 March 2026, as we said:",
        "26 × 16 in handle",
        "We expect to send it by Monday 23 March 2026.",
        f"answer: agreed, order {order.number}.",
        f"answer: cancel order {order.number}. What you have paid for it then comes back to you in full",
        "we take it neither for a yes nor for a no",
    ):
        assert words in page, words
    assert page.count("This is no legal advice") == 1


@pytest.mark.parametrize("query", ["?day=", "?day=2026-02-30"])
def test_the_other_text_says_that_no_day_is_known(order: Order, query: str) -> None:
    page = said(client_of("desk"), f"{page_of(order)}/notice{query}")
    assert "We do not know yet when it can be sent. What holds it up: ash boards." in page
    assert "You can still cancel at any time until it is sent." in page
    assert "We expect to send it" not in page


def test_the_text_is_written_for_the_day_that_is_asked_for(order: Order) -> None:
    assert "We expect to send it by Thursday 2 April 2026." in said(
        client_of("desk"), f"{page_of(order)}/notice?day=2026-04-02"
    )


def test_a_day_that_is_over_is_said_to_be(order: Order) -> None:
    with clock.frozen(NOW + 30 * DAY):
        page = said(client_of("desk"), f"{page_of(order)}/notice")
    assert "This was to be sent by Friday 13 March 2026, as we said, and was not:" in page


def test_the_mail_is_opened_with_the_same_words_and_only_by_hand(order: Order) -> None:
    body = client_of("desk").get(f"{page_of(order)}/notice").content.decode().replace("&amp;", "&")
    address = urlsplit(body.partition('href="mailto:')[2].partition('"')[0])
    assert address.path == "tarn%2Borders@example.org"
    sent = parse_qs(address.query)
    assert sent["subject"] == [f"Order {order.number}: a new day, Monday 23 March 2026, or your money back"]
    assert "26 × 16 in handle\r\n\r\nWe expect" in sent["body"][0]


def test_a_notice_goes_from_told_to_answered_to_refunded_on_the_orders_page(order: Order) -> None:
    desk = client_of("desk")
    assert "Fri 13 Mar may not be kept and they have not been told since." in said(desk, page_of(order))
    told = press(desk, f"{page_of(order)}/notice", how="by telephone")
    page = text(follow(desk, told)).replace("\u00a0", " ")
    assert "It is written down that Tarn and Thrupp was told by telephone." in page
    assert "New day: Mon 23 Mar. Told by telephone. No answer yet. What they were told" in page
    assert "have not been told since" not in page
    notice = Notice.objects.get()
    assert (notice.new_day, notice.promise) == (FRIDAY + 10 * DAY, order.promises.get())
    answered = press(desk, f"{page_of(order)}/notice/{notice.pk}", answer="cancelled")
    page = text(follow(desk, answered)).replace("\u00a0", " ")
    assert "It is noted that they cancelled. Cancel what is not sent, and give the money back." in page
    assert "They cancelled Wed 4 Mar. No money had come." in page
    with makers.transaction.atomic():
        makers.ordering.receive_money(order, 4500, how="card", at=NOW, by=makers.actor())
    assert "Money received is to go back. What they were told" in said(desk, page_of(order))
    refunded = press(desk, f"{page_of(order)}/notice/{notice.pk}/refund")
    page = text(follow(desk, refunded)).replace("\u00a0", " ")
    assert "The money went back Wed 4 Mar." in page
    assert "Customer told. By telephone, new day Mon 23 Mar 2026." in page


def test_an_answer_is_chosen_and_never_stands_there_already(order: Order) -> None:
    desk = client_of("desk")
    press(desk, f"{page_of(order)}/notice")
    notice = Notice.objects.get()
    answer = press(desk, f"{page_of(order)}/notice/{notice.pk}")
    assert answer.status_code == 422
    notice.refresh_from_db()
    assert notice.answer == ""


def test_a_refund_without_cancelling_is_asked_about(order: Order) -> None:
    desk = client_of("desk")
    press(desk, f"{page_of(order)}/notice")
    address = f"{page_of(order)}/notice/{Notice.objects.get().pk}/refund"
    refused = press(desk, address)
    assert refused.status_code == 409
    assert "say here that the money goes back all the same" in text(refused)
    assert press(desk, address, not_cancelled="on").status_code == 302
    again = press(desk, address, not_cancelled="on")
    assert again.status_code == 409
    assert "went back on 2026-03-04 already" in text(again)


def test_what_was_typed_stays_when_a_notice_is_refused(order: Order) -> None:
    refused = press(client_of("desk"), f"{page_of(order)}/notice", new_day="2026-03-01", text="In my own words")
    assert refused.status_code == 422
    page = text(refused)
    assert "2026-03-01 is over" in page
    assert "In my own words" in page
    assert not Notice.objects.exists()


def test_a_notice_of_another_order_is_not_there(order: Order) -> None:
    desk = client_of("desk")
    press(desk, f"{page_of(order)}/notice")
    pk = Notice.objects.get().pk
    for address in (
        f"/order/{order.number + 1}/notice/{pk}",
        f"{page_of(order)}/notice/{pk + 1}/refund",
        "/order/99/notice",
    ):
        assert desk.get(address).status_code == 404


def test_hands_see_nothing_of_it(order: Order) -> None:
    hand = client_of("hand")
    assert "Tell them" not in said(hand, page_of(order))
    assert "Tell them" not in said(hand, "/")
    assert hand.get(f"{page_of(order)}/notice").status_code == 403


def test_the_day_sheet_says_whom_to_tell_and_whose_answer_is_awaited(order: Order) -> None:
    desk = client_of("desk")
    line = f"9 days to go Order {order.number}, Tarn and Thrupp: given Fri 13 Mar, which may not be kept; not told yet."
    assert f"{line} Held up by ash boards. Tell them" in said(desk, "/")
    press(desk, f"{page_of(order)}/notice")
    page = said(desk, "/")
    assert "not told yet" not in page
    assert "0 days since told Order 1, Tarn and Thrupp: told by e-mail of a new day, Mon 23 Mar. No answer yet" in page


def test_the_nights_mail_says_it_too(order: Order) -> None:
    desk = client_of("desk")
    makers.put_in(Item.objects.get(), 60)  # nothing to buy tonight
    first = night.compute(at=NOW, today=NOW.date())
    assert first["headline"] == "One order slips; one customer to tell"
    written = letter.render(first).text.replace("\u00a0", " ")
    assert written.count("Order 1, Tarn and Thrupp") == 1  # what slips and is to be told is one line of the mail
    assert "Not told yet.\n  Tell them: http" in written
    told = letter.render(letter.for_person(first, ["tell"])).text
    assert "given Fri 13 Mar, which may not be kept; not told yet. Held up by ash boards." in told
    press(desk, f"{page_of(order)}/notice")
    notice = Notice.objects.get()
    with clock.frozen(NOW + 3 * DAY):
        body = night.compute(at=NOW + 3 * DAY, today=NOW.date() + 3 * DAY)
        sent = letter.render(body).text
        assert "one answer awaited" in body["lead"].lower()
        assert "3 days since told · Order 1, Tarn and Thrupp: told by e-mail of a new day, Mon 23 Mar." in sent
        assert f"/order/1/notice/{notice.pk}" in sent
        press(client_of("owner"), f"/order/1/notice/{notice.pk}", answer="cancelled")
        with makers.transaction.atomic():
            makers.ordering.receive_money(order, 4500, how="card", at=NOW, by=makers.actor())
        body = night.compute(at=NOW + 3 * DAY, today=NOW.date() + 3 * DAY)
        assert "one refund to give" in body["lead"].lower()
        assert "money received is to go back" in letter.render(body).text


def test_a_key_lists_writes_answers_and_refunds(order: Order) -> None:
    program = Program("orders:read", "orders:write")
    found = program.ask("GET", "notices").json()
    assert [one["order"] for one in found["to_tell"]] == [order.number]
    assert found["to_tell"][0]["sure_day"] == "2026-03-23"
    at = f"orders/{order.number}/notices"
    texts = program.ask("GET", at).json()["texts"]
    assert [one["new_day"] for one in texts] == ["2026-03-23", None]
    made = program.ask("POST", at, {"how": "by letter", "text": texts[0]["text"], "new_day": "2026-03-23"})
    assert made.status_code == 201
    number = made.json()["id"]
    assert program.ask("GET", "notices").json()["awaited"][0]["id"] == number
    answered = program.ask("POST", f"{at}/{number}/answer", {"answer": "agreed"})
    assert answered.json()["answer"] == "agreed"
    assert program.ask("POST", f"{at}/{number}/answer", {"answer": "agreed"}).status_code == 409
    assert program.ask("POST", f"{at}/{number}/refund", {}).status_code == 409
    back = program.ask("POST", f"{at}/{number}/refund", {"not_cancelled": True})
    assert back.json()["refunded_at"] == "2026-03-04T09:00:00Z"
    assert [one["id"] for one in program.ask("GET", at).json()["rows"]] == [number]
    assert program.ask("POST", at, {"how": "by letter", "text": "x", "new_day": "2026-03-01"}).status_code == 422
    assert program.ask("POST", f"{at}/{number + 1}/answer", {"answer": "agreed"}).status_code == 404
    assert Program("orders:read").ask("POST", at, {"how": "a", "text": "b"}).status_code == 403
    assert Item.objects.count() == 1
