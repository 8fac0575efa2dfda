"""Many programs at the same moment: one change from one version, one order from one key, nothing oversold."""

import threading
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connections
from django.http import HttpResponse

from inventory.models import Certificate
from orders.models import Order, Question
from shop.flows import checking
from tests.api.asking import Program, data
from tests.api.sending import png
from tests.makers import file_certificate, make_grade, make_item, make_melt, make_order, put_in

pytestmark = pytest.mark.django_db(transaction=True)
AT_ONCE = 12


def at_the_same_moment(action: Callable[[int], HttpResponse]) -> list[HttpResponse]:
    gate = threading.Barrier(AT_ONCE)
    answers: list[HttpResponse] = []

    def work(number: int) -> None:
        try:
            gate.wait()
            answers.append(action(number))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work, args=(number,)) for number in range(AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == AT_ONCE
    assert checking.check_book() == []
    return answers


def test_of_many_changes_from_one_version_exactly_one_is_made() -> None:
    program = Program()
    make_order({make_item(code="HAN-1"): 1})
    tag = program.get("orders/1")["ETag"]
    answers = at_the_same_moment(
        lambda number: program.ask("PATCH", "orders/1", {"ship_to": f"{number} Invented Lane"}, If_Match=tag)
    )
    assert Counter(answer.status_code for answer in answers) == {200: 1, 412: AT_ONCE - 1}
    assert Order.objects.get().version == 2


def test_one_order_sent_many_times_at_once_is_taken_once_and_all_answers_are_the_same() -> None:
    program = Program()
    put_in(make_item(code="HAN-1"), 50)
    body = {"customer": {"name": "Invented"}, "lines": [{"item": "HAN-1", "quantity": "2"}]}
    answers = at_the_same_moment(lambda _: program.post("orders", body, key="one-basket-one-order"))
    assert {answer.content for answer in answers} == {answers[0].content}
    assert Counter(answer.status_code for answer in answers) == {201: AT_ONCE}
    assert sum("Idempotency-Replayed" in answer for answer in answers) == AT_ONCE - 1
    assert Order.objects.count() == 1


def test_one_question_sent_many_times_at_once_is_asked_once_and_answered_once() -> None:
    program = Program()
    put_in(make_item(code="HAN-1"), 50)
    body = {"lines": [{"item": "HAN-1", "quantity": "2"}]}
    answers = at_the_same_moment(lambda _: program.post("ship-days/questions", body, key="one-question-one-key"))
    assert Counter(answer.status_code for answer in answers) == {201: AT_ONCE}
    said = [data(answer, 201) for answer in answers]
    answered = [
        one for one in said if one["state"] == "answered"
    ]  # the others found no turn and are told to look again
    assert {one["state"] for one in said} <= {"answered", "waiting"}
    assert answered
    assert all(one == answered[0] for one in answered)
    assert {one["id"] for one in said} == {Question.objects.get().pk}
    assert data(program.get(f"ship-days/questions/{said[0]['id']}")) == answered[0]


def test_many_baskets_want_the_last_pieces_and_no_more_are_promised_than_there_are() -> None:
    program = Program()
    put_in(make_item(code="HAN-1"), 7)
    answers = at_the_same_moment(lambda _: program.post("holds", {"item": "HAN-1", "quantity": "1"}))
    assert Counter(answer.status_code for answer in answers) == {201: 7, 409: AT_ONCE - 7}
    assert data(program.get("availability/HAN-1"))["can_promise"] == "0"


def test_orders_that_name_the_same_items_in_another_order_all_get_through() -> None:
    program = Program()
    for code in ("HAN-1", "HAN-2", "HAN-3"):
        put_in(make_item(code=code), 100)

    def take(number: int) -> HttpResponse:
        codes = ["HAN-1", "HAN-2", "HAN-3"][number % 3 :] + ["HAN-1", "HAN-2", "HAN-3"][: number % 3]
        lines = [{"item": code, "quantity": "2"} for code in codes]
        return program.post("orders", {"customer": {"name": "Invented"}, "lines": lines, "wait": False})

    assert Counter(answer.status_code for answer in at_the_same_moment(take)) == {201: AT_ONCE}


def test_of_many_who_write_one_row_of_limits_anew_exactly_one_does() -> None:
    program = Program()
    make_grade("X45")
    row = {"document": "Invented document", "edition": "16", "limits": "C .43-.50", "source": "a copy"}
    where = program.post("grades/X45/limits", row)["Location"]
    tag = program.get(where)["ETag"]
    answers = at_the_same_moment(
        lambda number: program.ask("PUT", where, row | {"note": f"copy {number}"}, If_Match=tag)
    )
    assert Counter(answer.status_code for answer in answers) == {200: 1, 412: AT_ONCE - 1}
    density = {"g_per_cm3": "7.8", "source": "weighed"}
    tag = program.get("grades/X45/density")["ETag"]
    answers = at_the_same_moment(
        lambda number: program.ask("PUT", "grades/X45/density", density | {"source": f"book {number}"}, If_Match=tag)
    )
    assert Counter(answer.status_code for answer in answers) == {200: 1, 412: AT_ONCE - 1}


def test_one_paper_sent_many_times_at_once_is_filed_once_and_kept_once(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"
    program, melt = Program(), make_melt("0A7731")
    address = f"melts/{melt.pk}/certificates/paper?name=scan.png"
    answers = at_the_same_moment(
        lambda _: program.ask("POST", address, raw=png(), Content_Type="image/png", key="one-paper-of-one-melt")
    )
    assert {(answer.status_code, answer.content) for answer in answers} == {(201, answers[0].content)}
    assert [path.name for path in settings.MEDIA_ROOT.iterdir()] == [Certificate.objects.get().file]


def test_of_many_papers_for_one_certificate_exactly_one_is_kept(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"
    program, made = Program(), file_certificate(make_melt("0A7731"), C="0.46")
    answers = at_the_same_moment(
        lambda number: program.ask(
            "POST", f"certificates/{made.pk}/paper?name={number}.png", raw=png(), Content_Type="image/png"
        )
    )
    assert Counter(answer.status_code for answer in answers) == {201: 1, 409: AT_ONCE - 1}
    made.refresh_from_db()
    assert [path.name for path in settings.MEDIA_ROOT.iterdir()] == [made.file]
