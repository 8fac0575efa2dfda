"""A request key: the same key gives the same answer and no second effect, also when many try at the same moment."""

import datetime as dt
import threading
from collections.abc import Callable

import pytest
from django.db import connection, connections, transaction

from shop.shared import once, series
from shop.shared.errors import Invalid, Refusal
from shop.shared.models import RequestKey, Series
from tests.makers import AT

WHO = {"client": "a", "method": "POST", "path": "/api/v1/things", "key": "0123456789abcdef"}


def run(
    action: Callable[[], once.Answer], *, fingerprint: str = "f", at: dt.datetime = AT, **changes: str
) -> once.Answer:
    with transaction.atomic():
        return once.run(**{**WHO, **changes}, fingerprint=fingerprint, at=at, action=action, refused=told)


def told(refusal: Refusal) -> once.Answer:
    return once.Answer(refusal.status, refusal.sentence, {"Content-Type": "text/plain"})


def count() -> once.Answer:
    """An action whose effect can be counted."""
    return once.Answer(201, f"thing {series.take('order')}", {"Location": "/things/1", "ETag": '"1"'})


def taken() -> int:
    found = Series.objects.filter(name="order").first()
    return found.next_number - 1 if found else 0


@pytest.mark.django_db
def test_it_repeats_the_first_answer_with_its_headers_and_does_nothing_else() -> None:
    first = run(count)
    again = run(count)
    assert (again.status, again.body) == (first.status, first.body) == (201, "thing 1")
    assert again.headers == {**first.headers, once.REPLAYED: "true"}
    assert taken() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("change", [{"client": "b"}, {"method": "PUT"}, {"path": "/api/v1/others"}, {"key": "f" * 16}])
def test_it_keeps_the_keys_of_clients_methods_and_addresses_apart(change: dict[str, str]) -> None:
    run(count)
    assert run(count, **change).body == "thing 2"


@pytest.mark.django_db
def test_it_refuses_a_key_that_belongs_to_another_body() -> None:
    run(count)
    with pytest.raises(once.KeyUsedForSomethingElse) as refused:
        run(count, fingerprint="another")
    assert refused.value.status == 422
    assert taken() == 1


@pytest.mark.django_db
def test_it_keeps_a_refusal_as_the_answer_and_undoes_what_came_before_it() -> None:
    def refuse() -> once.Answer:
        series.take("order")
        raise Invalid.field("qty", "There are 3; take 3.")

    first = run(refuse)
    assert (first.status, first.body) == (422, "There are 3; take 3.")
    assert taken() == 0
    assert run(count).body == first.body  # the key is spent: a new try needs a new key
    assert taken() == 0


@pytest.mark.django_db
def test_it_leaves_no_key_behind_when_the_service_fails() -> None:
    def fail() -> once.Answer:
        series.take("order")
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        run(fail)
    assert not RequestKey.objects.exists()
    assert run(count).body == "thing 1"


@pytest.mark.django_db
def test_a_page_keeps_its_key_free_when_the_form_is_refused() -> None:
    def refuse() -> once.Answer:
        raise Invalid.field("qty", "There are 3; take 3.")

    with pytest.raises(Invalid), transaction.atomic():
        once.run(**WHO, fingerprint="f", at=AT, action=refuse)
    assert run(count, fingerprint="corrected").status == 201


@pytest.mark.django_db
def test_it_forgets_keys_after_the_published_30_days() -> None:
    run(count)
    with transaction.atomic():
        assert once.purge(at=AT + dt.timedelta(days=30)) == 0
        assert once.purge(at=AT + dt.timedelta(days=30, seconds=1)) == 1


@pytest.mark.django_db(transaction=True)
def test_it_needs_the_transaction_of_the_effect() -> None:
    with pytest.raises(RuntimeError):
        once.run(**WHO, fingerprint="f", at=AT, action=count)


@pytest.mark.django_db(transaction=True)
def test_sixteen_tries_at_the_same_moment_have_one_effect_and_one_answer() -> None:
    answers = at_the_same_moment(16, lambda: run(count))
    assert {(answer.status, answer.body) for answer in answers} == {(201, "thing 1")}
    assert sum(once.REPLAYED in answer.headers for answer in answers) == 15
    assert taken() == 1


@pytest.mark.django_db(transaction=True)
def test_when_the_first_of_sixteen_fails_exactly_one_other_takes_its_place() -> None:
    failed = threading.Event()

    def fail_first() -> once.Answer:
        if not failed.is_set():
            failed.set()
            raise ZeroDivisionError
        return count()

    answers = at_the_same_moment(16, lambda: run(fail_first))
    assert [answer for answer in answers if isinstance(answer, ZeroDivisionError)] != []
    served = [answer for answer in answers if isinstance(answer, once.Answer)]
    assert len(served) == 15
    assert {answer.body for answer in served} == {"thing 1"}
    assert taken() == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite lets one writer in at a time and waits before that"
)
def test_it_says_that_the_first_is_still_running_when_waiting_took_too_long() -> None:
    inside, done = threading.Event(), threading.Event()

    def slow() -> once.Answer:
        inside.set()
        done.wait(20)
        return count()

    worker = threading.Thread(target=lambda: (run(slow), connections.close_all()))
    worker.start()
    assert inside.wait(10)
    try:
        with connection.cursor() as cursor:
            cursor.execute("SET lock_timeout = '200ms'")
        with pytest.raises(once.StillRunning) as refused:
            run(count)
        assert refused.value.status == 409
        assert refused.value.facts["retry_after_seconds"] == once.RETRY_SECONDS
    finally:
        done.set()
        worker.join()
        with connection.cursor() as cursor:
            cursor.execute("RESET lock_timeout")
    assert run(count).body == "thing 1"


def at_the_same_moment(number: int, action: Callable[[], once.Answer]) -> list[once.Answer | Exception]:
    """Return what each of so many threads was told, or what it raised."""
    gate = threading.Barrier(number)
    told: list[once.Answer | Exception] = []

    def work() -> None:
        try:
            gate.wait()
            told.append(action())
        except Exception as problem:  # noqa: BLE001 - the test looks at it
            told.append(problem)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work) for _ in range(number)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return told


@pytest.mark.django_db(transaction=True)
def test_the_minute_forgets_keys_that_are_older_than_published() -> None:
    from shop.flows import ringing

    run(count)
    ringing._tidy(AT + dt.timedelta(days=29))
    assert RequestKey.objects.count() == 1
    ringing._tidy(AT + dt.timedelta(days=31))
    assert not RequestKey.objects.exists()
