"""The three questions at the Counter as a browser without script sees them: asked, answered, the day given or refused."""

import datetime as dt
import re

import pytest
from django.http import HttpResponse
from django.test import Client

from inventory.models import ItemStock, RefusedDemand, Step
from orders.calc.dates import asking as reckoning
from orders.models import Customer, Order, Question
from orders.queries.reorder.demand import demand
from orders.queries.reorder.structure import structure
from orders.services.ordering import Wanted
from shop.flows import ringing
from shop.flows.ship_days import asking, rating
from shop.shared import clock, jobs
from shop.shared.models import Shop
from tests import forge, makers
from tests.forge import Forge
from tests.makers import AT, Tool
from tests.pages.pressing import follow, forms, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.daily("sqlite")

FIRM = "Tarn and Thrupp"


@pytest.fixture(autouse=True)
def on_a_monday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_frozen", AT)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def desk(shop: Shop) -> Client:
    return client_of("desk")


@pytest.fixture
def tool(shop: Shop) -> Tool:
    made = makers.make_tool(code="CP-2", name="Cross peen 2 lb")
    makers.put_in(made.item, 9, at=clock.now())
    return made


@pytest.fixture
def slow(shop: Shop) -> Forge:
    """A forge whose hands need a third of an hour for a piece at each step; four tools are on the shelf."""
    made = forge.make_forge(blanks=40)
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=1200)
    makers.put_in(made.tool.item, 4, at=clock.now())
    return made


@pytest.fixture
def dealer(shop: Shop) -> Customer:
    return makers.make_customer(FIRM, kind="dealer")


def today() -> dt.date:
    return clock.local_date(clock.now(), "UTC")


def said(day: dt.date | str) -> str:
    day = dt.date.fromisoformat(day) if isinstance(day, str) else day
    return f"{day:%a} {day.day} {day:%b}"


def page_of(answer: HttpResponse) -> str:
    return text(answer).replace("\u00a0", " ")


def asked(client: Client, **typed: str) -> Question:
    answer = press(client, "/counter/ask", **typed)
    assert answer.status_code == 302, text(answer)
    return Question.objects.get(pk=answer["Location"].rpartition("/")[2])


def give(client: Client, question: Question, **typed: str) -> HttpResponse:
    """Fill in the form that gives the day, and press one of its buttons: `how`."""
    address = f"/counter/asked/{question.pk}"
    form = next(one for one in forms(client.get(address)) if "knowingly" in one.fields or "day" in one.fields)
    return client.post(address, {**form.fields, "how": "answered", **typed})


def test_three_of_the_shelf_are_asked_for_and_given(desk: Client, tool: Tool, dealer: Customer) -> None:
    question = asked(desk, qty="3", item="cp-2", kind="dealer")
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    assert "3 × Cross peen 2 lb" in page
    assert "Kept 100 times in 100; 95 are wanted." in page
    assert "The shop tells a one-off customer a day that is 90 in 100 sure, a dealer one that is 95." in page
    told = page_of(
        follow(desk, give(desk, question, customer=FIRM, reference="PO 9", with_0="16 in handle", price_0="31"))
    )
    order = Order.objects.get()
    line, promise = order.lines.get(), order.promises.get()
    assert (line.ordered, line.reserved, line.options, line.price_minor) == (3, 3, "16 in handle", 3100)
    assert (promise.source, promise.chance_ppm, promise.wanted_chance_ppm) == ("calculated", 1_000_000, 950_000)
    assert f"Order {order.number} has its day: {said(promise.day)}." in told
    assert f"{said(promise.day)}, worked out: kept 100 times in 100." in told
    assert "PO 9" in told


def test_several_things_are_asked_for_at_once_each_as_it_is_wanted(desk: Client, tool: Tool, dealer: Customer) -> None:
    other = makers.make_item(code="HA-16", name="Handle 16 in")
    makers.put_in(other, 5, at=clock.now())
    question = asked(desk, qty="2", item="CP-2", qty_1="4", item_1="HA-16", by_day=f"{today()}")
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    assert "2 × Cross peen 2 lb, 4 × Handle 16 in" in page
    assert "Asked for several things at once" in page
    follow(desk, give(desk, question, customer=FIRM, with_1="oiled"))
    lines = Order.objects.get().lines.order_by("number").values_list("item__code", "ordered", "options")
    assert list(lines) == [("CP-2", 2, ""), ("HA-16", 4, "oiled")]


def test_the_same_form_sent_twice_asks_one_question(desk: Client, tool: Tool) -> None:
    typed = {**forms(desk.get("/counter/ask"))[0].fields, "qty": "3", "item": "CP-2"}
    first, second = desk.post("/counter/ask", typed), desk.post("/counter/ask", typed)
    assert first["Location"] == second["Location"]
    assert Question.objects.get().state == "answered"
    other = desk.post("/counter/ask", {**typed, "qty": "4"})
    assert other.status_code == 422
    assert "sent before with other figures" in text(other)
    assert Question.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"qty": "0", "item": "CP-2"}, "from 1 to 1000"),
        ({"qty": "5000", "item": "CP-2"}, "from 1 to 1000"),
        ({"qty": "3", "item": "nothing like it"}, "is no code or name on the shelf"),
        ({"qty": "3", "item": "CP-2", "by_day": "2020-01-01"}, "cannot be given; a day from"),
        ({"qty": "3", "item": "CP-2", "sure": "100"}, "50"),
        ({"qty": "3", "item": "CP-2", "qty_1": "2", "item_1": "CP-2"}, "stands there twice"),
        ({"qty": "3", "item": "CP-2", "qty_1": "2"}, "Write how many and of what, or neither."),
    ],
)
def test_a_question_that_cannot_be_asked_comes_back_filled_in(
    desk: Client, tool: Tool, typed: dict[str, str], sentence: str
) -> None:
    answer = press(desk, "/counter/ask", **typed)
    assert answer.status_code == 422
    assert sentence in page_of(answer)
    fields = forms(answer)[0].fields
    assert {name: fields[name] for name in typed} == typed
    assert not Question.objects.exists()


def test_an_order_goes_in_two_parts(desk: Client, slow: Forge, dealer: Customer) -> None:
    question = asked(desk, qty="10", item=slow.tool.item.code, by_day=f"{today() + dt.timedelta(days=1)}")
    first, rest = question.answer["by"]["split"]
    parts = f"{first['pieces']} on {said(first['day'])}, {rest['pieces']} on {said(rest['day'])}"
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    assert f"In two parts: {parts}" in page
    follow(desk, give(desk, question, customer=FIRM, how="split", knowingly="on", with_0="name stamped"))
    lines = Order.objects.get().lines.order_by("number")
    assert [(line.ordered, line.options, f"{line.promises.get().day}") for line in lines] == [
        (first["pieces"], "name stamped", first["day"]),
        (rest["pieces"], "name stamped", rest["day"]),
    ]


def test_the_list_of_orders_names_the_days_of_an_order_that_goes_in_two_parts(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    question = asked(desk, qty="10", item=slow.tool.item.code, by_day=f"{today() + dt.timedelta(days=1)}")
    first, rest = question.answer["by"]["split"]
    told = page_of(follow(desk, give(desk, question, customer=FIRM, how="split", knowingly="on")))
    assert f"Order 1 has its day: {said(first['day'])} and {said(rest['day'])}." in told
    assert f"{said(first['day'])}, {said(rest['day'])}" in page_of(desk.get("/counter"))


def test_two_parts_of_which_one_slips_from_the_start_want_the_mark_as_one_day_does(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    question = asked(
        desk, qty="10", item=slow.tool.item.code, by_day=f"{today() + dt.timedelta(days=1)}", kind="dealer"
    )
    question.answer["by"]["split"][0]["chance"] = 0.68
    question.save()
    refused = give(desk, question, customer=FIRM, how="split")
    assert refused.status_code == 422
    assert "is 68 in 100 sure, and below 80 it slips from the start" in page_of(refused)
    assert not Order.objects.exists()
    follow(desk, give(desk, question, customer=FIRM, how="split", knowingly="on"))
    assert Order.objects.count() == 1


def test_how_many_by_a_day_by_which_nothing_goes_is_one_sentence(desk: Client, slow: Forge, dealer: Customer) -> None:
    follow(desk, give(desk, asked(desk, qty="4", item=slow.tool.item.code), customer=FIRM))
    question = asked(desk, qty="6", item=slow.tool.item.code, by_day=f"{today()}")
    assert question.answer["by"]["pieces"] == 0
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    assert f"by {said(today())}; and 6 on " in page
    assert ",;" not in page


def test_a_day_of_another_year_is_said_with_its_year(desk: Client, tool: Tool) -> None:
    question = asked(desk, qty="3", item="CP-2")
    far = (today() + dt.timedelta(days=340)).isoformat()
    question.answer["day"] = far
    question.save()
    assert f"Give {said(far)} {far[:4]}" in page_of(desk.get(f"/counter/asked/{question.pk}"))


def test_another_day_says_how_sure_it_is_and_wants_a_mark_where_it_is_not(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    question = asked(desk, qty="9", item=slow.tool.item.code, kind="dealer")
    early = {"customer": FIRM, "reference": "PO 1", "day": f"{today()}"}
    looked = give(desk, question, how="look", **early)
    assert f"{said(today())}: 0 times in 100" in page_of(looked)
    refused = give(desk, question, how="day", **early)
    assert refused.status_code == 422
    assert "slips from the start" in page_of(refused)
    assert forms(refused)[1].fields["reference"] == "PO 1"
    empty = give(desk, question, how="day", customer=FIRM)
    assert "Which day? Write it here." in page_of(empty)
    assert not Order.objects.exists()
    follow(desk, give(desk, question, how="day", knowingly="on", **early))
    assert Order.objects.get().promises.get().chance_ppm == 0


def test_the_filled_button_gives_the_day_it_names_whatever_other_day_is_written(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    question = asked(desk, qty="9", item=slow.tool.item.code, kind="dealer")
    follow(desk, give(desk, question, customer=FIRM, day=f"{today()}"))
    assert f"{Order.objects.get().promises.get().day}" == question.answer["day"]


def test_a_day_answered_for_a_one_off_customer_is_not_given_to_a_dealer_unless_somebody_says_so(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    question = asked(desk, qty="9", item=slow.tool.item.code, sure="50")
    refused = give(desk, question, customer=FIRM)
    assert refused.status_code == 422
    assert f"{FIRM} is a dealer, who is told 95 in 100" in page_of(refused)
    knowingly = {"how": "day", "day": question.answer["day"], "knowingly": "on"}
    follow(desk, give(desk, question, customer=FIRM, **knowingly))
    assert Order.objects.get().customer == dealer


def test_a_day_that_went_stale_in_another_window_is_not_given_and_the_new_answer_keeps_what_was_typed(
    desk: Client, slow: Forge, dealer: Customer
) -> None:
    other = client_of("desk")
    mine = asked(desk, qty="6", item=slow.tool.item.code, kind="dealer")
    theirs = asked(other, qty="6", item=slow.tool.item.code, kind="dealer")
    follow(other, give(other, theirs, customer=FIRM, reference="theirs"))
    answer = give(desk, mine, customer=FIRM, reference="mine", with_0="16 in handle", note="ring first", how="phone")
    assert answer.status_code == 302
    assert Order.objects.count() == 1, "nothing was given"
    anew = Question.objects.latest("pk")
    assert answer["Location"] == f"/counter/asked/{anew.pk}"
    page = desk.get(answer["Location"])
    assert (
        f"The shop has changed since this day was asked for; nothing was given. Look at the new answer and give that. Before, it was {said(mine.answer['day'])}."
        in page_of(page)
    )
    assert "<details open><summary>Only said on the phone" in page.content.decode()
    fields = forms(page)[1].fields
    assert [fields[name] for name in ("customer", "reference", "with_0", "note")] == [
        FIRM,
        "mine",
        "16 in handle",
        "ring first",
    ]
    follow(desk, desk.post(answer["Location"], {**fields, "how": "answered"}))
    assert Order.objects.get(reference="mine").promises.get().basis.digest == anew.digest


def test_what_was_typed_waits_for_a_new_answer_that_takes_long(
    desk: Client, slow: Forge, dealer: Customer, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = asked(desk, qty="6", item=slow.tool.item.code)
    makers.make_order({slow.tool.item: 2}, at=clock.now())
    monkeypatch.setattr(asking, "AT_ONCE", -1)
    answer = give(desk, mine, customer=FIRM, reference="mine", knowingly="on")
    waiting = desk.get(answer["Location"])
    assert waiting["Refresh"] == "4"
    assert "To stop, leave it: nothing is set aside" in page_of(waiting)
    jobs.run_due(clock.now, ringing.HANDLERS)
    page = desk.get(answer["Location"])
    assert "Refresh" not in page
    assert "The shop has changed since" in page_of(page)
    assert forms(page)[1].fields["reference"] == "mine"


def test_a_question_that_cannot_be_worked_out_says_why(
    desk: Client, tool: Tool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_answer(*_: object, **__: object) -> None:
        raise ValueError("the oven holds none of them")

    monkeypatch.setattr(reckoning, "ask", no_answer)
    question = asked(desk, qty="3", item="CP-2")
    page = desk.get(f"/counter/asked/{question.pk}")
    assert "It could not be worked out: the oven holds none of them." in page_of(page)
    assert forms(page)[0].fields["item"] == "CP-2"
    refused = desk.post(f"/counter/asked/{question.pk}", {"customer": "R. Wold", "new": "on"})
    assert refused.status_code == 422
    assert not Order.objects.exists()


def test_what_holds_it_up_and_what_would_bring_it_forward(desk: Client, slow: Forge) -> None:
    makers.make_order({slow.tool.item: 24}, at=clock.now())
    question = asked(desk, qty="9", item=slow.tool.item.code)
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    assert "Holds it up" in page, question.answer["holds"]
    first = next(one for one in question.answer["holds"] if one["days"] >= 0.05)
    assert f"{round(100 * first['share'])} {first['days']:.1f} days" in page
    assert Question.objects.get().ideas is None
    sooner = page_of(desk.get(f"/counter/asked/{question.pk}/sooner"))
    ideas = Question.objects.get().ideas
    assert ideas
    for idea in ideas:
        assert idea["what"] in sooner
        assert said(idea["day"]) in sooner


def test_the_curve_says_in_words_what_it_draws(desk: Client, slow: Forge) -> None:
    day = today() + dt.timedelta(days=1)
    question = asked(desk, qty="12", item=slow.tool.item.code, by_day=f"{day}", sure="80")
    body = desk.get(f"/counter/asked/{question.pk}").content.decode()
    title = re.search(r"<title>(Chance that all 12 are sent[^<]*)</title>", body)
    assert title
    chances = {point["day"]: point["chance"] for point in question.answer["curve"]}
    assert f"{round(100 * chances[question.answer['day']])} in 100 by {said(question.answer['day'])}" in title[1]
    assert "80 in 100, what was asked for" in body
    for point in question.answer["curve"]:
        assert said(point["day"]) in body, "the same as a table"


def test_orders_that_lose_by_it_are_named(desk: Client, slow: Forge, dealer: Customer) -> None:
    first = asked(desk, qty="6", item=slow.tool.item.code, kind="dealer")
    follow(desk, give(desk, first, customer=FIRM))
    question = asked(desk, qty="9", item=slow.tool.item.code)
    page = page_of(desk.get(f"/counter/asked/{question.pk}"))
    (row,) = question.answer["promises"]
    losers = question.answer["losers"]
    assert ("Orders that lose by it" in page) == bool(losers)
    assert ("1 other day given" in page) == (not losers)
    assert "keeps its day" not in page, "a day may stand among them that is as good as lost already"
    assert f"{row['order']} {FIRM} {said(row['day'])}" in page


def test_said_on_the_phone_is_confirmed_or_let_go(desk: Client, tool: Tool, dealer: Customer) -> None:
    until = today() + dt.timedelta(days=2)
    for number in range(2):
        question = asked(desk, qty="3", item="CP-2", kind="dealer")
        told = page_of(follow(desk, give(desk, question, customer=FIRM, how="phone", said_until=f"{until}")))
        assert f"Only said on the phone until {said(until)}" in told
        assert f"is kept until the end of {said(until)}." in told
        assert "has its day" not in told, "it was only said"
        assert "They want it: make it an order" in told
        assert f"Said on the phone, kept until {said(until)}." in told
        assert ItemStock.objects.get(pk=tool.item.pk).allocated == 3 * (number + 1)
    wanted, other = Order.objects.order_by("number")
    told = page_of(follow(desk, press(desk, f"/order/{wanted.number}/confirm")))
    assert "Only said" not in told
    again = press(desk, f"/order/{wanted.number}/confirm")
    assert again.status_code == 422
    assert "does not wait for a word" in page_of(again)
    refused = press(desk, f"/order/{wanted.number}/let-go")
    assert refused.status_code == 422
    assert "was not only said on the phone" in page_of(refused)
    told = page_of(follow(desk, press(desk, f"/order/{other.number}/let-go")))
    assert "is let go; stock and place are free again." in told
    assert ItemStock.objects.get(pk=tool.item.pk).allocated == 3


def test_a_word_on_the_phone_needs_its_last_day(desk: Client, tool: Tool, dealer: Customer) -> None:
    question = asked(desk, qty="3", item="CP-2", kind="dealer")
    assert "Until when is it kept?" in page_of(give(desk, question, customer=FIRM, how="phone", said_until=""))
    far = give(desk, question, customer=FIRM, how="phone", said_until=f"{today() + dt.timedelta(days=200)}")
    assert far.status_code == 422
    assert not Order.objects.exists()


def test_an_order_in_the_queue_gets_a_day_at_its_place_with_a_reason(desk: Client, slow: Forge) -> None:
    order = makers.make_order({slow.tool.item: 9}, at=clock.now())
    form = forms(desk.get(f"/order/{order.number}"))[0]
    answer = desk.post(f"/order/{order.number}/day/asked", form.fields)
    assert desk.post(f"/order/{order.number}/day/asked", form.fields)["Location"] == answer["Location"]
    question = Question.objects.get()
    page = page_of(desk.get(answer["Location"]))
    assert f"Order {order.number}" in page
    assert f"Give {said(question.answer['day'])}" in page
    assert "Others" not in page
    assert f"9 × {slow.tool.item.name}, at its place in the queue" in page
    surer = follow(desk, desk.post(f"/order/{order.number}/day/asked", {"sure": "99"}))
    assert "Here 99 in 100 was asked for." in page_of(surer)
    refused = page_of(follow(desk, desk.post(f"/order/{order.number}/day/asked", {"sure": "100"})))
    assert "is out of range" in refused
    told = page_of(follow(desk, give(desk, question, reason="the oven was down")))
    assert f"{said(question.answer['day'])}, worked out: kept" in told
    assert "Why: the oven was down" in told
    rating.run_if_due(clock.now)
    assert "Now " in page_of(desk.get(f"/order/{order.number}"))


def test_of_what_is_made_to_order_and_like_no_pattern_no_day_is_said(desk: Client) -> None:
    order = makers.make_order([Wanted(2, words="a pair of hinges")])
    asking_form = forms(desk.get(f"/order/{order.number}"))[0]
    page = page_of(follow(desk, desk.post(f"/order/{order.number}/day/asked", asking_form.fields)))
    assert "No day can be worked out for what is made to order and like no pattern of the shop." in page
    assert f"Order {order.number}, line 1 is made to order and is like no pattern of the shop" in page
    assert "never" not in page
    assert "short, not made here" not in page


def test_an_order_that_is_all_sent_says_so_instead_of_asking(desk: Client, tool: Tool) -> None:
    order = makers.make_order({tool.item: 2}, at=clock.now())
    makers.send(order, at=clock.now())
    told = page_of(follow(desk, desk.post(f"/order/{order.number}/day/asked", {"request_key": ""})))
    assert "nothing of it is owed any more" in told


def test_questions_are_asked_and_days_given_at_the_desk_only(shop: Shop, tool: Tool, desk: Client) -> None:
    question, hand = asked(desk, qty="3", item="CP-2"), client_of("hand")
    for address in ("/counter/ask", f"/counter/asked/{question.pk}", f"/counter/asked/{question.pk}/sooner"):
        assert hand.get(address).status_code == 403
        assert hand.post(address).status_code in {403, 405}
    assert "When?" not in page_of(hand.get("/counter"))
    for number in (question.pk + 1, 999_999_999_999):
        assert desk.get(f"/counter/asked/{number}").status_code == 404
        assert desk.get(f"/counter/asked/{number}/sooner").status_code == 404


# What was not taken


def lost(client: Client, question: Question) -> HttpResponse:
    """Press the button under "Not taken"."""
    answer = client.get(f"/counter/asked/{question.pk}")
    form = next(one for one in forms(answer) if one.action.endswith("/not-taken"))
    button = re.search(r'name="how" value="(strike|not_taken)"', answer.content.decode())
    assert button is not None
    return follow(client, client.post(form.action, {**form.fields, "how": button[1]}))


def test_what_they_did_not_take_counts_as_asked_for_once(desk: Client, tool: Tool) -> None:
    makers.make_item(code="HA-16", name="Handle 16 in")
    question = asked(desk, qty="30", item="CP-2", qty_1="4", item_1="HA-16")
    told = page_of(lost(desk, question))
    assert "30 × Cross peen 2 lb, 4 × Handle 16 in: not taken. Reorders count it as asked for." in told
    rows = RefusedDemand.objects.order_by("item__code").values_list("item__code", "qty", "available", "asked_by")
    assert list(rows) == [("CP-2", 30, 9, f"question {question.pk}"), ("HA-16", 4, 0, f"question {question.pk}")]
    desk.post(f"/counter/asked/{question.pk}/not-taken", {"request_key": "a" * 32})
    assert RefusedDemand.objects.count() == 2
    assert "They did not take it, noted" in page_of(desk.get(f"/counter/asked/{question.pk}"))
    built = structure(kerf_nm=0)
    today = clock.local_date(AT, "UTC") + dt.timedelta(days=1)
    assert demand(built, today=today, zone="UTC").of(tool.item.pk)[-1] == 30


def test_two_callers_of_one_day_are_two_demands(desk: Client, tool: Tool) -> None:
    for _ in range(2):
        lost(desk, asked(desk, qty="30", item="CP-2"))
    today = clock.local_date(AT, "UTC") + dt.timedelta(days=1)
    assert demand(structure(kerf_nm=0), today=today, zone="UTC").of(tool.item.pk)[-1] == 60


def test_what_is_taken_after_all_or_was_said_by_mistake_is_struck_out(
    desk: Client, tool: Tool, dealer: Customer
) -> None:
    question = asked(desk, qty="3", item="CP-2")
    lost(desk, question)
    told = page_of(lost(desk, question))  # the same part strikes it out now
    assert "Struck out; it does not count as asked for any more." in told
    assert not RefusedDemand.objects.exists()
    lost(desk, question)
    follow(desk, give(desk, question, customer=FIRM))
    assert (Order.objects.count(), RefusedDemand.objects.count()) == (1, 0)
    sent = desk.post(f"/counter/asked/{question.pk}/not-taken", {"request_key": "b" * 32})
    assert f"Order {Order.objects.get().number} was taken on this answer; cancel there" in page_of(follow(desk, sent))
    assert not RefusedDemand.objects.exists()


def test_the_item_says_how_often_it_was_not_taken(desk: Client, tool: Tool) -> None:
    lost(desk, asked(desk, qty="30", item="CP-2"))
    page = page_of(desk.get("/item/CP-2/lasts"))
    assert "Once it could not be given or was not taken; that counts as asked for." in page


def test_hands_cannot_say_what_was_not_taken(desk: Client, tool: Tool) -> None:
    question = asked(desk, qty="3", item="CP-2")
    assert client_of("hand").post(f"/counter/asked/{question.pk}/not-taken").status_code == 403
    assert desk.post("/counter/asked/99/not-taken").status_code == 404
