"""What a customer was told of a day that will not be kept, what they answered, and when their money went back.

Where a seller must keep such a record (in the United States 16 CFR 435 for mail, internet and telephone orders), this is
one. It is a record: nothing is sent from here, no answer is ever assumed, and the law of the place sold to goes before it.
"""

import datetime as dt
from dataclasses import dataclass

from orders.models import Notice, Order, Promise
from orders.services.ordering import Closed
from shop.access.actor import Actor
from shop.shared import audit, transactions
from shop.shared.errors import Invalid, Refusal

LONGEST_TEXT = 4_000
LONGEST_HOW = 40


class Answered(Refusal):
    """A notice has one answer; another one wants another notice."""

    code = "notice_answered"


class Refunded(Refusal):
    """The money of a notice goes back once."""

    code = "notice_refunded"


class NotCancelled(Refusal):
    """The customer has not cancelled; money is given back all the same only where that is meant."""

    code = "not_cancelled"


@dataclass(frozen=True, slots=True)
class Told:
    """How a customer was told, in which words, and the new day named in them; no day: it is not known."""

    how: str
    text: str
    new_day: dt.date | None = None
    told_at: dt.datetime | None = None


def write(order: Order, told: Told, *, promise: Promise | None, today: dt.date, at: dt.datetime, by: Actor) -> Notice:
    """Write down that a customer was told; `promise` is the day that will not be kept, `today` the shop's own day."""
    transactions.assert_open()
    if order.closed_at is not None:
        raise Closed(f"Order {order.number} is closed; nothing of it is owed that could be late.")
    if promise is not None and promise.order_id != order.pk:
        raise Invalid.field("promise", f"The day given is not one of order {order.number}; choose one of its own.")
    how, text = " ".join(told.how.split()), told.text.strip()
    if not 1 <= len(how) <= LONGEST_HOW:
        raise Invalid.field("how", f"How: say in 1 to {LONGEST_HOW} characters how they were told, such as by e-mail.")
    if not 1 <= len(text) <= LONGEST_TEXT:
        raise Invalid.field("text", f"Text: write what they were told, in 1 to {LONGEST_TEXT} characters.")
    if told.new_day is not None and told.new_day < today:
        raise Invalid.field("new_day", f"New day: {told.new_day} is over; write a later one, or leave it empty.")
    told_at = _moment(told.told_at, "told_at", after=order.taken_at, at=at)
    made = Notice.objects.create(
        order=order, promise=promise, told_at=told_at, how=how, text=text, new_day=told.new_day, by=by.person
    )
    day = f"new day {told.new_day:%a} {told.new_day.day} {told.new_day:%b %Y}" if told.new_day else "new day not known"
    _audit(made, "customer told", f"{how.capitalize()}, {day}.", at, by)
    return made


def answer(notice: Notice, said: str, *, at: dt.datetime, by: Actor, answered_at: dt.datetime | None = None) -> Notice:
    """Note what the customer answered, once: agreed or cancelled. What they said, not what their silence may mean."""
    transactions.assert_open()
    if said not in (Notice.Answer.AGREED, Notice.Answer.CANCELLED):
        raise Invalid.field("answer", "Answer: a customer has agreed or cancelled; until then leave it open.")
    came = _moment(answered_at, "answered_at", after=notice.told_at, at=at)
    open_one = Notice.objects.filter(pk=notice.pk, answer=Notice.Answer.NONE)
    if not open_one.update(answer=said, answered_at=came):
        notice.refresh_from_db()
        raise Answered(
            f"This notice was answered already: {notice.answer}. Where they think otherwise now, write another notice."
        )
    notice.refresh_from_db()
    _audit(notice, f"customer {said}", "", at, by)
    return notice


def refund(
    notice: Notice, *, at: dt.datetime, by: Actor, refunded_at: dt.datetime | None = None, not_cancelled: bool = False
) -> Notice:
    """Note that the money went back. With `not_cancelled` it went back though the customer has not cancelled."""
    transactions.assert_open()
    if notice.answer != Notice.Answer.CANCELLED and not not_cancelled:
        raise NotCancelled(
            "They have not cancelled. Note that first, or say that the money goes back all the same.",
            {"not_cancelled": "They have not cancelled; say here that the money goes back all the same."},
        )
    went = _moment(refunded_at, "refunded_at", after=notice.order.taken_at, at=at)
    if not Notice.objects.filter(pk=notice.pk, refunded_at=None).update(refunded_at=went):
        notice.refresh_from_db()
        raise Refunded(f"Of this notice the money went back on {notice.refunded_at:%Y-%m-%d} already.")
    notice.refresh_from_db()
    _audit(notice, "money gone back", "" if notice.answer else "They had not cancelled.", at, by)
    return notice


def _moment(given: dt.datetime | None, field: str, *, after: dt.datetime, at: dt.datetime) -> dt.datetime:
    """Return when it happened: now where nothing is said, never later and not before what it follows."""
    when = given or at
    if when > at:
        raise Invalid.field(field, f"{field.capitalize().replace('_', ' ')}: this moment has not come yet.")
    if when < after:
        raise Invalid.field(
            field, f"{field.capitalize().replace('_', ' ')}: this was before there was anything to say."
        )
    return when


def _audit(notice: Notice, action: str, reason: str, at: dt.datetime, by: Actor) -> None:
    audit.write(
        at=at, by=by.label, action=action, subject=f"order {notice.order.number}", reason=reason,
        after={"notice": notice.pk, "new_day": notice.new_day},
    )  # fmt: skip
