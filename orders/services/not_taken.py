"""What a customer asked a day for and did not take: demand all the same, counted once, struck out when it is taken after all."""

import datetime as dt

from inventory.services import demand
from orders.models import Promise, Question
from orders.queries import availability
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid


def note(question: Question, *, at: dt.datetime, by: Actor) -> Question:
    """Count what was asked for as demand that could not be met; said twice it counts once.

    Raises:
        Invalid: the question is about an order, or an order was taken on its answer.
    """
    transactions.assert_open()
    _still_open(question)
    if Question.objects.filter(pk=question.pk, not_taken_at=None).update(not_taken_at=at):
        pieces = {row["item"]: int(row["pieces"]) for row in question.lines}
        for found in availability.listed(codes=list(pieces), at=at):
            demand.note_refused(
                found.item.pk,
                pieces[found.item.code],
                available=max(0, found.can_promise),
                at=question.asked_at,
                asked_by=_asker(question),
            )
        _noted(question, "not taken", at=at, by=by)
    question.refresh_from_db()
    return question


def strike_out(question: Question, *, at: dt.datetime, by: Actor) -> Question:
    """Count it no longer: it was taken after all, or said by mistake; nothing happens where it was never said."""
    transactions.assert_open()
    if Question.objects.filter(pk=question.pk).exclude(not_taken_at=None).update(not_taken_at=None):
        demand.strike_out(_asker(question))
        _noted(question, "not taken struck out", at=at, by=by)
    question.refresh_from_db()
    return question


def _still_open(question: Question) -> None:
    if question.order is not None:
        raise Invalid.field(
            "question",
            f"Question {question.pk} is about order {question.order.number}; cancel there what is not wanted.",
        )
    given = Promise.objects.filter(basis__digest=question.digest).select_related("order").first()
    if question.digest and given is not None:
        raise Invalid.field(
            "question", f"Order {given.order.number} was taken on this answer; cancel there what is not wanted."
        )


def _asker(question: Question) -> str:
    """Name who asked: each question is somebody else, so that two callers of one day are two demands."""
    return f"question {question.pk}"


def _noted(question: Question, action: str, *, at: dt.datetime, by: Actor) -> None:
    audit.write(at=at, by=by.label, action=action, subject=_asker(question), after={"lines": question.lines})
