"""Ship days, asked for and given by a program: what a key repeats, what is refused as stale, what stands in the history."""

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse

from inventory.models import Item, ItemStock, RefusedDemand, Step
from inventory.services.count_facts import Reject
from orders.calc.dates_json import reading, writing
from orders.models import Order, Promise, PromiseBasis, Question, RatedPromise
from orders.services import promising
from shop.access.models import Person
from shop.flows import checking
from shop.flows.ship_days import asking, rating, turns
from shop.shared import clock, transactions
from shop.shared.models import Job
from tests import forge, makers
from tests.api.asking import Program, data, problem
from tests.forge import FIRST, Forge
from tests.makers import AT
from tests.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]

TODAY = "2026-03-02"
BUYER = {"name": "Invented buyer", "address": "1 Invented Lane"}


@pytest.fixture
def program(db: None) -> Iterator[Program]:
    """A shop at work, a day that stands still, and a program that may do everything."""
    with clock.frozen(AT):
        made = Program()
        make_person("owner", login="ada")
        make_person("hand", login="bo")
        yield made
        assert checking.check_book(whole=True) == []


@pytest.fixture
def made() -> Forge:
    """A forge in which a piece takes a third of an hour at each step that is worked."""
    found = forge.make_forge(blanks=40)
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=1200)
    return found


def lines(item: Item, pieces: int) -> dict[str, Any]:
    return {"lines": [{"item": item.code, "quantity": str(pieces)}]}


def ask(program: Program, item: Item, pieces: int, **more: Any) -> dict[str, Any]:
    found: dict[str, Any] = data(program.post("ship-days/questions", {**lines(item, pieces), **more}), 201)
    return found


def take(program: Program, question: dict[str, Any], *, key: str = "", **more: Any) -> HttpResponse:
    return program.post(f"ship-days/questions/{question['id']}/order", {"customer": BUYER, **more}, key=key)


def _unanswered(order: dict[str, Any]) -> Question:
    with transactions.entry_point():
        return asking.note_for(Order.objects.get(number=order["number"]), at=AT, by=makers.actor())


def on_the_shelf(pieces: int = 5, code: str = "HAN-1") -> Item:
    item = makers.make_item(code=code)
    makers.put_in(item, pieces)
    return item


def chance_on(question: dict[str, Any], day: str) -> float:
    return {point["day"]: point["chance"] for point in question["answer"]["curve"]}[day]  # type: ignore[no-any-return]


# Asking


def test_what_stands_on_the_shelf_can_go_today_and_what_is_made_takes_its_time(program: Program, made: Forge) -> None:
    there = ask(program, on_the_shelf(), 5)
    assert (there["state"], there["order"], there["kind"], there["sure"]) == ("answered", None, "one-off", 90)
    assert there["lines"] == [{"item": "HAN-1", "quantity": "5"}]
    assert (there["answer"]["day"], there["answer"]["by"]) == (TODAY, None)
    to_make = ask(program, made.tool.item, 6, kind="dealer", sure=80)
    assert (to_make["kind"], to_make["sure"]) == ("dealer", 80)
    assert to_make["answer"]["day"] > TODAY
    assert chance_on(to_make, to_make["answer"]["day"]) >= 0.8
    assert not Order.objects.exists()
    assert data(program.get("availability/HAN-1"))["can_promise"] == "5"


def test_a_question_is_read_where_its_location_says(program: Program) -> None:
    response = program.post("ship-days/questions", lines(on_the_shelf(), 5))
    assert response["Location"] == f"/api/v1/ship-days/questions/{data(response, 201)['id']}"
    assert data(program.get(response["Location"])) == data(response, 201)
    problem(program.get("ship-days/questions/999999"), 404)


def test_by_a_day_it_says_how_sure_and_how_many(program: Program, made: Forge) -> None:
    makers.put_in(made.tool.item, 4)
    by = ask(program, made.tool.item, 10, by="2026-03-03")["answer"]["by"]
    assert by["day"] == "2026-03-03"
    assert by["chance"] < 0.9
    assert int(by["quantity"]) >= 4
    assert sum(int(part["quantity"]) for part in by["parts"]) == 10


def test_asked_twice_with_one_key_it_is_one_question(program: Program) -> None:
    body = lines(on_the_shelf(), 5)
    first = program.post("ship-days/questions", body, key="asked-once-and-again")
    again = program.post("ship-days/questions", body, key="asked-once-and-again")
    assert first.content == again.content
    assert again["Location"] == first["Location"]
    assert again["Idempotency-Replayed"] == "true"
    assert Question.objects.count() == 1
    assert problem(
        program.post("ship-days/questions", lines(makers.make_item(code="HAN-2"), 1), key="asked-once-and-again"), 422
    )
    other = program.post("ship-days/questions", body)
    assert data(other, 201)["id"] != data(first, 201)["id"]


def test_a_question_whose_first_try_died_before_its_answer_is_answered_by_the_second(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = lines(on_the_shelf(), 5)

    def die(*_: Any, **__: Any) -> Question:
        raise RuntimeError

    with monkeypatch.context() as cut:
        cut.setattr(asking, "reckon", die)
        problem(program.post("ship-days/questions", body, key="died-half-way-through"), 500)
    assert Question.objects.get().state == "waiting"
    again = data(program.post("ship-days/questions", body, key="died-half-way-through"), 201)
    assert (again["state"], again["answer"]["day"]) == ("answered", TODAY)
    assert Question.objects.count() == 1


def test_a_question_that_takes_long_waits_for_the_worker(program: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    item = on_the_shelf(3)
    makers.make_order({item: 9})
    monkeypatch.setattr(asking, "AT_ONCE", 0)
    response = program.post("ship-days/questions", lines(item, 5), key="a-question-for-the-worker")
    asked = data(response, 201)
    assert (asked["state"], asked["answer"]) == ("waiting", None)
    assert data(program.get(response["Location"] + "/ideas"))["rows"] == []
    said = problem(take(program, asked), 422)
    assert "is not answered" in said["detail"]
    job = Job.objects.get(kind=asking.JOB)
    asking.work(job.payload, AT)
    answered = data(program.get(response["Location"]))
    assert (answered["state"], answered["answer"]["day"], answered["answer"]["never"]) == ("answered", None, 1)
    (stuck,) = answered["answer"]["stuck"]
    assert (stuck["run"], stuck["why"]) == (None, "11 short, not made here and not to be bought")
    assert "never 90 in 100 sure" in problem(take(program, answered), 422)["detail"]
    assert data(program.post("ship-days/questions", lines(item, 5), key="a-question-for-the-worker"), 201) == answered
    assert Job.objects.filter(kind=asking.JOB).count() == 1


def test_while_another_program_is_answered_a_question_waits_and_what_is_not_kept_is_refused(program: Program) -> None:
    """Twelve questions at once held every thread for 29 s: the tablets' pages waited too."""
    first = ask(program, on_the_shelf(), 5)
    order = makers.make_order({Item.objects.get(code="HAN-1"): 9})
    last = makers.make_order({Item.objects.get(code="HAN-1"): 9})
    with turns.taken(turns.PROGRAMS):
        body = lines(Item.objects.get(code="HAN-1"), 3)
        second = data(program.post("ship-days/questions", body, key="asked-while-another-is"), 201)
        assert (second["state"], second["answer"]) == ("waiting", None)
        anew = problem(take(program, first), 409)
        assert (anew["state"], anew["day"]) == ("waiting", None)
        for address in (
            f"ship-days/questions/{first['id']}/ideas",
            f"orders/{last.number}/queue?before={order.number}",
        ):
            refused = program.get(address)
            assert "another" in problem(refused, 503)["detail"].lower()
            assert refused["Retry-After"] == str(turns.SECONDS)
        with transactions.entry_point():
            by_hand = asking.note(asking.Asked(((Item.objects.get(code="HAN-1"), 3),)), at=AT, by=makers.actor())
        assert asking.reckon(by_hand, at=AT).state == "answered"  # the desk has turns of its own
    assert Job.objects.filter(kind=asking.JOB).count() == 2
    asking.work(Job.objects.filter(kind=asking.JOB).earliest("id").payload, AT)
    assert data(program.get(f"ship-days/questions/{second['id']}"))["state"] == "answered"
    assert program.get(f"ship-days/questions/{second['id']}/ideas").status_code == 200


def test_one_program_has_twenty_questions_waiting_at_the_most(program: Program) -> None:
    item, other = on_the_shelf(), Program("orders:read")
    other.key.name = "Another program"
    other.key.save()
    with turns.taken(turns.PROGRAMS):
        for _ in range(promising.MOST_WAITING):
            assert ask(program, item, 1)["state"] == "waiting"
        said = problem(program.post("ship-days/questions", lines(item, 1)), 409)
        assert said["type"].endswith("/too_many_questions")
        assert Question.objects.count() == promising.MOST_WAITING
        assert ask(other, item, 1)["state"] == "waiting"
    for job in Job.objects.filter(kind=asking.JOB):
        asking.work(job.payload, AT)
    assert ask(program, item, 1)["state"] == "answered"


def test_an_answer_once_given_is_not_written_over(program: Program) -> None:
    item = on_the_shelf()
    asked = ask(program, item, 5)
    late = Question.objects.get(pk=asked["id"])
    late.state = Question.State.WAITING  # as a second request read it before the first had answered
    makers.make_hold(item, 5)
    assert asking.reckon(late, at=AT).answer["day"] == TODAY
    assert data(program.get(f"ship-days/questions/{asked['id']}")) == asked


def test_what_would_bring_a_day_forward_names_an_earlier_one(program: Program, made: Forge) -> None:
    asked = ask(program, made.tool.item, 12)
    found = data(program.get(f"ship-days/questions/{asked['id']}/ideas"))
    assert (found["question"], found["state"]) == (asked["id"], "answered")
    assert found["rows"]
    for row in found["rows"]:
        assert row["day"] < asked["answer"]["day"]
        gained = dt.date.fromisoformat(asked["answer"]["day"]) - dt.date.fromisoformat(row["day"])
        assert row["days_earlier"] == gained.days
    assert Question.objects.get(pk=asked["id"]).ideas is not None
    assert data(program.get(f"ship-days/questions/{asked['id']}/ideas")) == found


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"lines": []}, "/lines"),
        ({"lines": [{"item": "NONE", "quantity": "1"}]}, "/lines/0/item"),
        ({"lines": [{"item": "HAN-1", "quantity": "1.5"}]}, "/lines/0/quantity"),
        ({"lines": [{"item": "HAN-1", "quantity": "1001"}]}, "/lines/0/quantity"),
        ({"lines": [{"item": "BAR-1", "quantity": "100"}]}, "/lines/0/item"),
        ({"lines": [{"item": "HAN-1", "quantity": "1"}] * 2}, "/lines"),
        ({"by": "2026-03-01"}, "/by"),
        ({"by": "2031-01-01"}, "/by"),
        ({"sure": 49}, "/sure"),
        ({"sure": 100}, "/sure"),
        ({"kind": "friend"}, "/kind"),
    ],
)
def test_a_question_that_makes_no_sense_names_its_field(program: Program, change: dict[str, Any], pointer: str) -> None:
    makers.make_item(Item.Kind.BAR, code="BAR-1")
    body = lines(on_the_shelf(), 5) | change
    said = problem(program.post("ship-days/questions", body), 422)
    assert pointer in {one["pointer"].removesuffix("/non_field_errors") for one in said["errors"]}, said
    assert not Question.objects.exists()


# Giving with an order


def test_the_day_is_given_and_the_order_taken_in_one_step(program: Program) -> None:
    asked = ask(program, on_the_shelf(), 5)
    line = {"item": "HAN-1", "options": "16 in handle", "price": "12.50"}
    response = take(program, asked, lines=[line], reference="web 7", carriage="9.50", reason="as said in the shop")
    order = data(response, 201)
    assert response["Location"] == f"/api/v1/orders/{order['number']}"
    assert (order["source"], order["reference"], order["day_given"]) == ("api", "web 7", TODAY)
    (taken,) = order["lines"]
    assert (taken["ordered"], taken["set_aside"], taken["options"]) == ("5", "5", "16 in handle")
    assert (order["total"]["amount"], order["said_until"]) == ("72.00", None)
    (given,) = order["days"]
    assert (given["day"], given["source"], given["stands"], given["rating"]) == (TODAY, "calculated", True, None)
    assert (given["chance"], given["wanted"], given["reason"]) == (1.0, 0.9, "as said in the shop")
    basis = PromiseBasis.objects.get(digest=given["basis"]["digest"], code_version=given["basis"]["code_version"])
    assert reading.digest(writing.unpack(basis.inputs["packed"])) == given["basis"]["digest"]
    assert data(program.get(response["Location"])) == order
    assert data(program.get("orders"))["rows"] == [order]


def test_an_order_sent_twice_with_one_key_is_taken_once(program: Program) -> None:
    asked = ask(program, on_the_shelf(9), 4)
    first = take(program, asked, key="one-basket-with-a-day")
    again = take(program, asked, key="one-basket-with-a-day")
    assert first.content == again.content
    assert again["Idempotency-Replayed"] == "true"
    assert (Order.objects.count(), Promise.objects.count()) == (1, 1)


def test_a_stale_answer_gives_nothing_and_names_the_question_that_asks_anew(program: Program, made: Forge) -> None:
    first, second = (ask(program, made.tool.item, 6) for _ in range(2))
    data(take(program, first), 201)
    said = problem(take(program, second, key="a-basket-that-came-late"), 409)
    assert said["type"].endswith("/answer_is_stale")
    assert said["question"] not in {first["id"], second["id"]}
    assert Order.objects.count() == 1
    anew = data(program.get(f"ship-days/questions/{said['question']}"))
    assert (said["state"], said["day"]) == ("answered", anew["answer"]["day"])
    assert anew["lines"] == second["lines"]
    # The key keeps the refusal, and with it the one new question.
    again = problem(take(program, second, key="a-basket-that-came-late"), 409)
    assert again == said
    assert Question.objects.count() == 3
    order = data(take(program, anew), 201)
    assert order["days"][0]["day"] == said["day"]
    assert order["days"][0]["chance"] == round(chance_on(anew, said["day"]), 6)


def test_a_stale_answer_that_cannot_be_asked_anew_names_no_question(program: Program) -> None:
    item = on_the_shelf()
    asked = ask(program, item, 5)
    makers.make_hold(item, 1)
    Item.objects.filter(pk=item.pk).update(active=False)
    said = problem(take(program, asked), 409)
    assert said["type"].endswith("/answer_is_stale")
    assert {"question", "day"}.isdisjoint(said)
    assert Question.objects.count() == 1


def test_a_day_that_slips_from_the_start_is_given_knowingly_or_not_at_all(program: Program, made: Forge) -> None:
    asked = ask(program, made.tool.item, 6)
    said = problem(take(program, asked, day=TODAY), 422)
    assert [one["pointer"] for one in said["errors"]] == ["/day"]
    order = data(take(program, asked, day=TODAY, knowingly=True), 201)
    assert order["days"][0]["chance"] == 0


def test_two_parts_have_a_day_each(program: Program, made: Forge) -> None:
    makers.put_in(made.tool.item, 4)
    asked = ask(program, made.tool.item, 10, by="2026-03-03")
    parts = asked["answer"]["by"]["parts"]
    assert problem(take(program, asked, split=True, day=TODAY), 422)["errors"][0]["pointer"] == "/day"
    order = data(take(program, asked, split=True), 201)
    assert [line["ordered"] for line in order["lines"]] == [part["quantity"] for part in parts]
    assert [(day["line"], day["day"]) for day in order["days"]] == [(1, parts[0]["day"]), (2, parts[1]["day"])]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"lines": [{"item": "OTHER"}]}, "/lines/0/item"),
        ({"lines": [{"item": "HAN-1"}, {"item": "HAN-1"}]}, "/lines/1/item"),
        ({"lines": [{"item": "HAN-1", "price": "1.234"}]}, "/lines/0/price"),
        ({"customer": {"id": 999_999}}, "/customer/id"),
        ({"customer": {"name": "Invented buyer", "email": "nowhere"}}, "/customer/email"),
        ({"day": "2020-01-01"}, "/day"),
        ({"split": True}, "/split"),
        ({"said_until": "2020-01-01"}, "/said_until"),
        ({"said_until": "2027-01-01"}, "/said_until"),
        ({"not_before": "2026-03-09", "day": TODAY}, "/day"),
        ({"not_after": "2026-03-09", "day": "2026-03-10"}, "/day"),
    ],
)
def test_an_order_that_makes_no_sense_names_its_field(program: Program, change: dict[str, Any], pointer: str) -> None:
    asked = ask(program, on_the_shelf(), 5)
    said = problem(take(program, asked, **change), 422)
    assert [one["pointer"] for one in said["errors"]] == [pointer]
    assert not Order.objects.exists()
    assert ItemStock.objects.get(item__code="HAN-1").allocated == 0


def test_said_on_the_phone_is_confirmed_once(program: Program) -> None:
    order = data(take(program, ask(program, on_the_shelf(), 5), said_until="2026-03-04"), 201)
    assert order["said_until"] == "2026-03-04"
    address = f"orders/{order['number']}/confirm"
    assert data(program.post(address))["said_until"] is None
    assert "does not wait for a word" in problem(program.post(address), 422)["detail"]


# Orders in the queue


def test_a_new_day_supersedes_the_old_one_and_both_stand(program: Program, made: Forge) -> None:
    order = data(take(program, ask(program, made.tool.item, 6)), 201)
    address = f"orders/{order['number']}/ship-day"
    asked = data(program.post(f"{address}/question", {"sure": 95}), 201)
    assert (asked["order"], asked["sure"]) == (order["number"], 95)
    body = {"question": asked["id"], "reason": "the oven is down"}
    now = data(program.post(address, body, key="a-new-day-for-an-order"))
    first, second = now["days"]
    assert (first["stands"], second["stands"], second["supersedes"]) == (False, True, first["id"])
    assert (second["wanted"], second["reason"]) == (0.95, "the oven is down")
    assert now["day_given"] == second["day"]
    assert data(program.post(address, body, key="a-new-day-for-an-order")) == now
    assert Promise.objects.count() == 2


def test_a_stale_answer_about_an_order_is_asked_again_for_the_order(program: Program, made: Forge) -> None:
    order = data(take(program, ask(program, made.tool.item, 6)), 201)
    address = f"orders/{order['number']}/ship-day"
    asked = data(program.post(f"{address}/question", {}), 201)
    ahead = makers.make_order({made.tool.item: 6})
    assert "is not answered" in problem(program.post(address, {"question": _unanswered(order).pk}), 422)["detail"]
    said = problem(program.post(address, {"question": asked["id"]}), 409)
    anew = data(program.get(f"ship-days/questions/{said['question']}"))
    assert (anew["order"], anew["answer"]["day"]) == (order["number"], said["day"])
    assert len(data(program.post(address, {"question": anew["id"]}))["days"]) == 2
    assert problem(program.post(f"orders/{ahead.number}/ship-day", {"question": anew["id"]}), 422)["errors"] == [
        {
            "pointer": "/question",
            "code": "invalid",
            "message": f"Question {anew['id']} is not about order {ahead.number}; ask for this order.",
        }
    ]


def test_a_question_serves_only_what_it_was_asked_for(program: Program) -> None:
    item = on_the_shelf(9)
    about_none = ask(program, item, 2)
    order = data(take(program, ask(program, item, 3)), 201)
    address = f"orders/{order['number']}/ship-day"
    assert problem(program.post(address, {"question": about_none["id"]}), 422)["errors"][0]["pointer"] == "/question"
    assert problem(program.post(address, {"question": 999_999}), 422)["errors"][0]["pointer"] == "/question"
    problem(program.post("orders/999/ship-day", {"question": about_none["id"]}), 404)
    problem(program.post("orders/999/ship-day/question", {}), 404)
    about_it = data(program.post(f"{address}/question", {}), 201)
    said = problem(take(program, about_it), 422)
    assert said["errors"][0]["message"].endswith(f"about order {order['number']}; give its day there.")


def test_an_order_of_which_nothing_is_owed_has_no_day_to_ask_for(program: Program) -> None:
    item = on_the_shelf(3)
    order = data(take(program, ask(program, item, 3)), 201)
    data(program.post(f"orders/{order['number']}/cancel", {}))
    said = problem(program.post(f"orders/{order['number']}/ship-day/question", {}), 422)
    assert "nothing of it is owed" in said["detail"]
    assert Question.objects.filter(order__isnull=False).count() == 0


# At risk


def test_a_day_that_slips_stands_among_those_at_risk_with_what_it_was_before(program: Program) -> None:
    made = forge.make_forge(blanks=24)
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=1200)
    assert data(program.get("ship-days/at-risk"))["rated_at"] is None
    run = made.start(12, wanted=10)
    order = data(take(program, ask(program, made.tool.item, 10)), 201)
    rating.run_if_due(lambda: AT)
    sure = data(program.get(f"orders/{order['number']}"))["days"][0]["rating"]
    assert (sure["chance"], sure["slips_since"]) == (order["days"][0]["chance"], None)
    assert data(program.get("ship-days/at-risk"))["rows"] == []
    later = AT + dt.timedelta(days=2)
    forge.count(run, FIRST, 1, Reject(11, forge.cause(run, "cheek split")), at=later)
    rating.run_if_due(lambda: later)
    with clock.frozen(later):
        found = data(program.get("ship-days/at-risk"))
        (row,) = found["rows"]
        assert (row["order"], row["day"], row["line"]) == (order["number"], order["day_given"], None)
        assert row["rating"]["chance"] < found["slips_below"] / 100 < row["rating"]["chance_before"] == sure["chance"]
        assert row["rating"]["slips_since"] == row["rating"]["rated_at"] == found["rated_at"] == "2026-03-04T09:00:00Z"
        assert [line["owed"] for line in row["lines"]] == ["10"]
        assert data(program.get(f"orders/{order['number']}"))["days"][0]["rating"] == row["rating"]
        assert [one["order"] for one in data(program.get("ship-days/at-risk?below=wanted"))["rows"]] == [row["order"]]


def test_below_what_was_wanted_are_also_days_that_do_not_slip_yet(program: Program) -> None:
    order = data(take(program, ask(program, on_the_shelf(), 5)), 201)
    rating.run_if_due(lambda: AT)
    assert data(program.get("ship-days/at-risk?below=wanted"))["rows"] == []
    RatedPromise.objects.update(chance_ppm=880_000)
    assert data(program.get("ship-days/at-risk"))["rows"] == []
    (row,) = data(program.get("ship-days/at-risk?below=wanted"))["rows"]
    assert (row["order"], row["wanted"], row["rating"]["chance"]) == (order["number"], 0.9, 0.88)
    problem(program.get("ship-days/at-risk?below=all"), 400)


# Who may


def test_a_key_that_reads_asks_and_does_not_give(program: Program) -> None:
    item = on_the_shelf()
    reader = Program("orders:read")
    asked = ask(reader, item, 5)
    said = problem(take(reader, asked), 403)
    assert said["needed_scope"] == "orders:write"
    problem(reader.post("orders/1/ship-day", {"question": asked["id"]}), 403)
    problem(reader.post("orders/1/confirm"), 403)
    problem(Program("availability:read").post("ship-days/questions", lines(item, 5)), 403)


def test_names_are_only_for_keys_that_may_see_them(program: Program) -> None:
    order = data(take(program, ask(program, on_the_shelf(), 5)), 201)
    rating.run_if_due(lambda: AT)
    RatedPromise.objects.update(chance_ppm=0, slips_since=AT)
    reader = Program("orders:read")
    assert data(reader.get("ship-days/at-risk"))["rows"][0]["customer"]["name"] is None
    assert data(program.get("ship-days/at-risk"))["rows"][0]["customer"]["name"] == BUYER["name"]
    loser = {"order": order["number"], "line": None, "customer": BUYER["name"], "day": TODAY}
    chances = {"wanted": 0.9, "before": 0.95, "after": 0.5}
    question = Question.objects.get(pk=ask(program, on_the_shelf(code="HAN-2"), 1)["id"])
    Question.objects.filter(pk=question.pk).update(answer={**question.answer, "losers": [loser | chances]})
    address = f"ship-days/questions/{question.pk}"
    assert data(program.get(address))["answer"]["losers"][0]["customer"] == BUYER["name"]
    assert data(reader.get(address))["answer"]["losers"][0]["customer"] is None


def test_who_of_the_shop_holds_it_up_is_only_for_keys_that_read_who_is_out(program: Program) -> None:
    hand = Person.objects.get(login="bo").name
    asked = ask(program, on_the_shelf(), 5)
    order = data(take(program, asked), 201)
    rating.run_if_due(lambda: AT)
    RatedPromise.objects.update(chance_ppm=0, slips_since=AT, holds=f"oven and {hand}")
    question = Question.objects.get(pk=asked["id"])
    holds = [{"what": hand, "share": 0.5, "days": 1.0}, {"what": "oven", "share": 0.5, "days": 1.0}]
    Question.objects.filter(pk=question.pk).update(answer={**question.answer, "holds": holds})
    for who, name in ((program, hand), (Program("orders:read"), "a pair of hands")):
        answer = data(who.get(f"ship-days/questions/{asked['id']}"))["answer"]
        assert [one["what"] for one in answer["holds"]] == [name, "oven"]
        assert data(who.get("ship-days/at-risk"))["rows"][0]["rating"]["holds"] == f"oven and {name}"
        assert data(who.get(f"orders/{order['number']}"))["days"][0]["rating"]["holds"] == f"oven and {name}"
        assert data(who.get("notices"))["to_tell"][0]["holds_it_up"] == f"oven and {name}"
        notices = data(who.get(f"orders/{order['number']}/notices"))
        assert notices["late"]["holds_it_up"] == f"oven and {name}"
        assert "What holds it up: oven and a pair of hands." in notices["texts"][-1]["text"]
        assert hand not in notices["texts"][-1]["text"]


# As it is really run


@pytest.mark.django_db(transaction=True)
def test_reckoning_holds_no_transaction_open(monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry point inside another one is refused, so each of these would fail if the view still held its own."""
    seen = []
    plain = asking._answer

    def watched(question: Question, stated: Any) -> Question:
        seen.append(connection.in_atomic_block)
        return plain(question, stated)

    monkeypatch.setattr(asking, "_answer", watched)
    with clock.frozen(AT):
        program = Program()
        make_person("hand", login="bo")
        item = on_the_shelf(9)
        first, second = ask(program, item, 3), ask(program, item, 3)
        order = data(take(program, first), 201)
        said = problem(take(program, second), 409)
        assert said["day"] == TODAY
        asked = data(program.post(f"orders/{order['number']}/ship-day/question", {}), 201)
        assert asked["state"] == "answered"
        assert seen == [False] * 4
        assert checking.check_book(whole=True) == []


# What was not taken


def test_a_program_says_what_was_not_taken_and_strikes_it_out(program: Program) -> None:
    question = ask(program, on_the_shelf(), 12)
    assert question["not_taken_at"] is None
    address = f"ship-days/questions/{question['id']}/not-taken"
    said = data(program.post(address, {}))
    assert said["not_taken_at"] == "2026-03-02T09:00:00Z"
    assert data(program.post(address, {"not_taken": True}))["not_taken_at"] == said["not_taken_at"]
    assert list(RefusedDemand.objects.values_list("item__code", "qty", "available")) == [("HAN-1", 12, 5)]
    assert data(program.post(address, {"not_taken": False}))["not_taken_at"] is None
    assert not RefusedDemand.objects.exists()
    data(program.post(address, {}))
    order = data(take(program, ask(program, Item.objects.get(), 4)), 201)
    assert RefusedDemand.objects.count() == 1  # another question
    about = ask(program, Item.objects.get(), 1)
    data(take(program, about), 201)
    found = problem(program.post(f"ship-days/questions/{about['id']}/not-taken", {}), 422)
    assert "was taken on this answer" in found["detail"]
    of_order = _unanswered(order)
    found = problem(program.post(f"ship-days/questions/{of_order.pk}/not-taken", {}), 422)
    assert f"is about order {order['number']}; cancel there" in found["detail"]
    problem(program.post("ship-days/questions/999/not-taken", {}), 404)
    problem(program.post(address, {"not_taken": "perhaps"}), 422)
