"""Writes down questions about ship days, the days given, and how sure they are."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from orders.calc.dates_json import answering, reading, writing
from orders.models import Order, OrderLine, Promise, PromiseBasis, Question, RatedPromise, Rating
from orders.queries import ship_day
from orders.queries.shop_state import Stated
from orders.services import windows
from shop.access.actor import Actor
from shop.shared import audit, bell, transactions
from shop.shared.errors import Invalid, Refusal

KEPT: Final = dt.timedelta(days=30)
MILLION: Final = 1_000_000
LONGEST_DAYS: Final = 400
MOST_WAITING: Final = 20  # questions of one asker that wait for the worker; a couple of seconds each. No source
LATELY: Final = dt.timedelta(minutes=10)  # older ones are not coming any more


class StaleAnswer(Refusal):
    """The shop has changed since the question was answered."""

    code = "answer_is_stale"


class TooManyQuestions(Refusal):
    """Too many questions wait for their answer."""

    code = "too_many_questions"


@dataclass(frozen=True, slots=True)
class Given:
    """A day to be given: for a line or the whole order, with its chance and how it was come to."""

    day: dt.date
    line: OrderLine | None = None
    chance: float | None = None
    wanted: float | None = None
    curve: Sequence[Mapping[str, Any]] = ()
    plain_day: dt.date | None = None


def lock_days() -> Rating:
    """Let one desk after the other give days; taken before any stock is locked."""
    transactions.assert_open()
    if not Rating.objects.filter(pk=1).update(id=1):
        Rating.objects.bulk_create([Rating(pk=1)], ignore_conflicts=True)
        Rating.objects.filter(pk=1).update(id=1)
    return Rating.objects.get(pk=1)


def note_question(
    wanted: Sequence[tuple[str, int]],
    *,
    kind: str,
    sure: float,
    by_day: dt.date | None,
    order: Order | None,
    at: dt.datetime,
    by: Actor,
) -> Question:
    """Write a question down; its answer follows.

    Raises:
        TooManyQuestions: as many as one may ask at a time wait for their answer.
    """
    transactions.assert_open()
    waits = Question.objects.filter(state=Question.State.WAITING, by=by.label, asked_at__gt=at - LATELY)
    if waits.count() >= MOST_WAITING:
        raise TooManyQuestions(
            f"{MOST_WAITING} questions of yours wait for their answer; read those, and ask again when they are answered."
        )
    return Question.objects.create(
        asked_at=at,
        by=by.label,
        customer_kind=kind,
        order=order,
        lines=[{"item": item, "pieces": pieces} for item, pieces in wanted],
        by_day=by_day,
        wanted_ppm=round(sure * MILLION),
        seed=ship_day.SEED,
        futures=ship_day.FUTURES,
    )


def note_answer(question: Question, answer: Mapping[str, Any], *, stated: Stated, key: str) -> Question:
    """Write the answer of a question with what it was based on; one that is answered keeps the answer it has."""
    transactions.assert_open()
    wanted = [(row["item"], int(row["pieces"])) for row in question.lines]
    questions = ship_day.questions_of(stated, answer, question.order_id, wanted)
    document = writing.document(stated.shop, seed=question.seed, futures=question.futures, questions=questions)
    Question.objects.filter(pk=question.pk, state=Question.State.WAITING).update(
        answer=dict(answer),
        key=key,
        document=writing.pack(document),
        digest=reading.digest(document),
        code_version=answering.version(),
        state=Question.State.ANSWERED,
    )
    question.refresh_from_db()
    return question


def note_ideas(question: Question, ideas: Sequence[Mapping[str, Any]]) -> None:
    """Write down what would bring a question's day forward."""
    transactions.assert_open()
    Question.objects.filter(pk=question.pk).update(ideas=[dict(one) for one in ideas])
    question.ideas = [dict(one) for one in ideas]


def note_failure(question: Question, why: str) -> None:
    """Write down that a question could not be answered."""
    transactions.assert_open()
    waits = Question.objects.filter(pk=question.pk, state=Question.State.WAITING)
    waits.update(state=Question.State.FAILED, why_failed=why[:300])


def give(order: Order, given: Given, *, question: Question, reason: str, at: dt.datetime, by: Actor) -> Promise:
    """Give a day that was worked out; an earlier one for the same is superseded, never changed.

    Raises:
        Invalid: the day lies outside the customer's window.
    """
    transactions.assert_open()
    windows.check_day(order, given.day)
    basis, _ = PromiseBasis.objects.get_or_create(
        digest=question.digest, code_version=question.code_version, defaults={"inputs": {"packed": question.document}}
    )
    last = Promise.objects.filter(order=order, line=given.line, superseded_by=None).order_by("-id").first()
    made = Promise.objects.create(
        order=order,
        line=given.line,
        day=given.day,
        source=Promise.Source.CALCULATED,
        wanted_chance_ppm=None if given.wanted is None else round(given.wanted * MILLION),
        chance_ppm=None if given.chance is None else round(given.chance * MILLION),
        basis=basis,
        supersedes=last,
        given_at=at,
        by=by.person,
        reason=reason,
        plain_day=given.plain_day,
        curve=[[point["day"], round(point["chance"] * MILLION)] for point in given.curve],
    )
    audit.write(
        at=at,
        by=by.label,
        action="day given",
        subject=f"order {order.number}",
        before={"day": last.day.isoformat()} if last else None,
        after={"day": given.day.isoformat(), "line": given.line.number if given.line else None,
               "chance_ppm": made.chance_ppm},
        reason=reason,
    )  # fmt: skip
    bell.ring_after_commit()
    return made


def check_day(day: dt.date, *, today: dt.date) -> None:
    """Refuse a day that is over or too far ahead."""
    if not today <= day <= today + dt.timedelta(days=LONGEST_DAYS):
        last = today + dt.timedelta(days=LONGEST_DAYS)
        raise Invalid.field(
            "day", f"Day: {day:%Y-%m-%d} cannot be given; a day from {today:%Y-%m-%d} to {last:%Y-%m-%d} would work."
        )


def note_rating(rows: Iterable[RatedPromise], *, key: str, at: dt.datetime) -> None:
    """Write how sure the promises are now; those that do not stand any more have no rating."""
    transactions.assert_open()
    lock_days()
    found = list(rows)
    RatedPromise.objects.exclude(promise__in=[one.promise_id for one in found]).delete()
    standing = set(
        Promise.objects.filter(pk__in=[one.promise_id for one in found], superseded_by=None).values_list(
            "pk", flat=True
        )
    )
    RatedPromise.objects.bulk_create(
        [one for one in found if one.promise_id in standing],
        update_conflicts=True,
        unique_fields=["promise"],
        update_fields=["chance_ppm", "before_ppm", "sure_day", "half_day", "holds", "at", "slips_since"],
    )
    Rating.objects.filter(pk=1).update(
        key=key, at=at, seed=ship_day.SEED, futures=ship_day.FUTURES, code_version=answering.version(), failed=""
    )


def note_rating_failed(why: str, *, key: str, at: dt.datetime) -> None:
    """Write that the days could not be rated, so that a page can say so and the next minute does not try in vain."""
    transactions.assert_open()
    lock_days()
    Rating.objects.filter(pk=1).update(key=key, at=at, failed=why[:300])


def tidy(*, at: dt.datetime) -> None:
    """Forget questions of more than a month ago; what a day was given on is kept with the day."""
    transactions.assert_open()
    Question.objects.filter(asked_at__lt=at - KEPT).delete()
