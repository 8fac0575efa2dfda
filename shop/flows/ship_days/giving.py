"""Gives a day: what exists is set aside, what does not gets its place in the queue, the day stands with its chance and basis.

All of it in one transaction. Where the shop has changed since the question was answered, nothing is given.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from orders.models import Order, OrderLine, Promise, Question
from orders.queries import ship_day
from orders.services import not_taken, ordering, promising, queueing, reserving
from orders.services.ordering import Terms, Wanted
from orders.services.promising import Given, StaleAnswer
from shop.access.actor import Actor
from shop.flows import ordering as taking
from shop.flows.ordering import Buyer
from shop.flows.ship_days import asking
from shop.shared import clock, shop_row, transactions
from shop.shared.errors import Invalid

LONGEST_ON_THE_PHONE: Final = 60


@dataclass(frozen=True, slots=True)
class Day:
    """The day that is given: the asked-for one where it is None; in two parts; `knowingly` though it is not sure enough.

    `said_until`: said on the phone, and let go after that day.
    """

    day: dt.date | None = None
    split: bool = False
    knowingly: bool = False
    said_until: dt.date | None = None
    reason: str = ""


def give(
    question: Question, buyer: Buyer, wanted: Sequence[Wanted], terms: Terms, given: Day, *, at: dt.datetime, by: Actor,
    source: str = "desk",
) -> Order:  # fmt: skip
    """Take an order with the day that was asked for it.

    Raises:
        StaleAnswer: the shop has changed since; ask again.
        Invalid: other lines than were asked for, a day that is not sure enough, or none.
    """
    transactions.assert_open()
    _same_lines(question, wanted)
    today = clock.local_date(at, shop_row.the_shop().zone)
    promising.lock_days()
    reserving.lock_and_tidy({line.item.pk for line in wanted if line.item}, at=at)
    question = _fresh(question, at=at)
    parts = _parts(question, given, today, terms.not_before)
    lines = [replace(line, qty=qty) for line in wanted for qty, _ in parts] if given.split else list(wanted)
    order = taking.take(buyer, lines, terms, at=at, by=by, source=source)
    if given.said_until is not None:
        _say_until(order, given.said_until, today, at=at, by=by)
    _promise(order, question, parts, given, at=at, by=by)
    not_taken.strike_out(question, at=at, by=by)
    return order


def give_for(question: Question, given: Day, *, at: dt.datetime, by: Actor) -> Order:
    """Give an order that is in the queue the day that was asked for it; a day given before is superseded.

    Raises:
        StaleAnswer: the shop has changed since; ask again.
        Invalid: a day that is not sure enough, or none.
    """
    transactions.assert_open()
    if question.order_id is None:
        raise Invalid.field("question", f"Question {question.pk} is about no order yet; take the order with its day.")
    _answered(question)
    today = clock.local_date(at, shop_row.the_shop().zone)
    promising.lock_days()
    lines = OrderLine.objects.filter(order=question.order_id).order_by("number")
    items = {line.item_id for line in lines if line.item_id}
    if items:
        reserving.lock_and_tidy(items, at=at)
    question = _fresh(question, at=at)
    assert question.order is not None, "it was about an order before it was read again"
    order = ordering.locked(question.order)
    (_, day), *_ = _parts(question, replace(given, split=False), today, order.not_before)
    own = Promise.objects.filter(order=order, line__isnull=False, superseded_by=None).select_related("line")
    of: list[OrderLine | None] = [
        one.line for one in own if one.line and one.line.ordered > one.line.shipped + one.line.cancelled
    ]
    for line in of or [None]:
        promising.give(order, _given(question, day, line), question=question, reason=given.reason, at=at, by=by)
    ordering.touched(order, at=at)
    return order


def confirm(order: Order, *, at: dt.datetime, by: Actor) -> Order:
    """Make an order of what was only said on the phone."""
    transactions.assert_open()
    return queueing.confirm(order, at=at, by=by)


def _same_lines(question: Question, wanted: Sequence[Wanted]) -> None:
    if question.order is not None:
        raise Invalid.field(
            "question", f"Question {question.pk} is about order {question.order.number}; give its day there."
        )
    _answered(question)
    asked = sorted(asking.wanted_of(question))
    if sorted((line.item.code, line.qty) for line in wanted if line.item) != asked or len(asked) != len(wanted):
        said = ", ".join(f"{pieces} of {item}" for item, pieces in asked)
        raise Invalid.field("lines", f"Lines: the day was asked for {said}; take just that, or ask again.")


def _answered(question: Question) -> None:
    if question.state != Question.State.ANSWERED:
        raise Invalid.field("question", f"Question {question.pk} is not answered; look at it, or ask again.")


def _fresh(question: Question, *, at: dt.datetime) -> Question:
    question = Question.objects.select_related("order__customer").get(pk=question.pk)
    if asking.key_of(asking.stated_now(question, at=at), question) != question.key:
        raise StaleAnswer(
            "The shop has changed since this day was asked for; nothing was given. Look at the new answer and give that.",
            facts={"question": question.pk},
        )
    return question


def _parts(question: Question, given: Day, today: dt.date, not_before: dt.date | None) -> list[tuple[int, dt.date]]:
    """Give pieces and day of each part; a day that nobody named is no earlier than the customer's window."""
    if given.split:
        parts = (question.answer.get("by") or {}).get("split") or []
        if len(parts) != 2 or any(part["day"] is None for part in parts):
            raise Invalid.field("split", "In two parts: this question has no answer in two parts; give one day.")
        for part in parts:
            _sure_enough(dt.date.fromisoformat(part["day"]), float(part["chance"]), given)
        return [(part["pieces"], dt.date.fromisoformat(part["day"])) for part in parts]
    day = given.day
    if day is None and question.answer.get("day"):
        day = max(dt.date.fromisoformat(question.answer["day"]), not_before or today)
    if day is None:
        wanted = round(question.wanted_ppm / 10_000)
        raise Invalid.field(
            "day", f"Day: it is never {wanted} in 100 sure; see what holds it up, or name a day yourself."
        )
    promising.check_day(day, today=today)
    _sure_enough(day, ship_day.chance_on(question.answer, day), given)
    return [(0, day)]


def _sure_enough(day: dt.date, chance: float, given: Day) -> None:
    """Refuse a day that slips from the start, unless it is given knowingly."""
    least = shop_row.the_shop().slips_below
    if chance * 100 < least and not given.knowingly:
        raise Invalid.field(
            "day",
            f"Day: {day:%a} {day.day} {day:%b} is {chance * 100:.0f} in 100 sure, and below {least} it slips from the start; "
            "give a later day, or say that you give it all the same.",
        )


def _promise(
    order: Order, question: Question, parts: Sequence[tuple[int, dt.date]], given: Day, *, at: dt.datetime, by: Actor
) -> None:
    if not given.split:
        promising.give(order, _given(question, parts[0][1], None), question=question, reason=given.reason, at=at, by=by)
        return
    chances = [float(part["chance"]) for part in question.answer["by"]["split"]]
    lines = order.lines.order_by("number")
    for line, (_, day), chance in zip(lines, parts, chances, strict=True):
        one = replace(_given(question, day, line), chance=chance, curve=[{"day": day.isoformat(), "chance": chance}])
        promising.give(order, one, question=question, reason=given.reason, at=at, by=by)


def _given(question: Question, day: dt.date, line: OrderLine | None) -> Given:
    curve, thumb = question.answer["curve"], question.answer.get("plain")
    if day.isoformat() not in [point["day"] for point in curve]:
        point = {"day": day.isoformat(), "chance": ship_day.chance_on(question.answer, day)}
        curve = sorted([*curve, point], key=lambda one: str(one["day"]))
    return Given(
        day,
        line,
        ship_day.chance_on(question.answer, day),
        question.wanted_ppm / promising.MILLION,
        curve,
        dt.date.fromisoformat(thumb) if thumb else None,
    )


def _say_until(order: Order, until: dt.date, today: dt.date, *, at: dt.datetime, by: Actor) -> None:
    last = today + dt.timedelta(days=LONGEST_ON_THE_PHONE)
    if not today <= until <= last:
        raise Invalid.field(
            "said_until",
            f"Said until: a day from {today:%Y-%m-%d} to {last:%Y-%m-%d} would work, not {until:%Y-%m-%d}.",
        )
    queueing.say_until(order, until, at=at, by=by)
