"""Asks the date calculator for a desk or a program. Reading and reckoning happen outside any transaction."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from threading import BoundedSemaphore
from typing import Any, Final

from inventory.models import Item
from orders.calc.dates import plain
from orders.models import Customer, Order, OrderLine, Question
from orders.queries import ship_day, shop_state
from orders.queries.shop_state import Stated
from orders.queries.shop_state.queue import sure_of
from orders.services import promising, reserving
from shop.access.actor import Actor
from shop.flows.ship_days import turns
from shop.flows.ship_days.turns import tried
from shop.shared import clock, jobs, shop_row, snapshot, transactions
from shop.shared.errors import Invalid, NotFound

JOB: Final = "ship_day"
MOST_PIECES: Final = 1_000
MOST_LINES: Final = 20
AT_ONCE: Final = 4_000_000  # lines and runs times futures times passes, reckoned while somebody waits: about a second
PASSES: Final = 2  # of an answer
PASSES_BY: Final = 10  # of one that says how many by a day


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked: items and pieces, for a kind of customer; by a day, and how sure, where they are named."""

    wanted: tuple[tuple[Item, int], ...]
    kind: str = Customer.Kind.ONE_OFF
    by_day: dt.date | None = None
    sure_percent: int | None = None


def ask(asked: Asked, *, at: dt.datetime, by: Actor) -> Question:
    """Ask about a further order and have the answer, or the question waiting for it where it takes long."""
    with transactions.entry_point():
        question = note(asked, at=at, by=by)
    return reckon(question, at=at)


def note(asked: Asked, *, at: dt.datetime, by: Actor) -> Question:
    """Write a question down inside the caller's transaction; `reckon` answers it once that is over."""
    transactions.assert_open()
    sure = _check(asked, at=at)
    _tidy({item.pk for item, _ in asked.wanted}, at=at)
    return promising.note_question(
        [(item.code, pieces) for item, pieces in asked.wanted],
        kind=asked.kind, sure=sure, by_day=asked.by_day, order=None, at=at, by=by,
    )  # fmt: skip


def ask_for(order: Order, *, sure_percent: int | None = None, at: dt.datetime, by: Actor) -> Question:
    """Ask about an order that is in the queue already, at its place."""
    with transactions.entry_point():
        question = note_for(order, sure_percent=sure_percent, at=at, by=by)
    return reckon(question, at=at)


def note_for(order: Order, *, sure_percent: int | None = None, at: dt.datetime, by: Actor) -> Question:
    """Write a question about an order in the queue down inside the caller's transaction; `reckon` answers it."""
    transactions.assert_open()
    lines = _owed_lines(order)
    if not lines:
        raise Invalid.field("order", f"Order {order.number}: nothing of it is owed any more; look at what was sent.")
    _tidy({line.item_id for line in lines if line.item_id}, at=at)
    sure = sure_of(order.customer.kind, shop_row.the_shop()) if sure_percent is None else _sure(sure_percent)
    wanted = [
        (line.item.code if line.item else line.words[:60], line.ordered - line.shipped - line.cancelled)
        for line in lines
    ]
    return promising.note_question(wanted, kind=order.customer.kind, sure=sure, by_day=None, order=order, at=at, by=by)


def ask_again(question: Question, *, at: dt.datetime, by: Actor) -> Question:
    """Ask the same once more, as the shop stands now."""
    with transactions.entry_point():
        anew = note_again(question, at=at, by=by)
    return reckon(anew, at=at)


def note_again(question: Question, *, at: dt.datetime, by: Actor) -> Question:
    """Write the same question down once more inside the caller's transaction; `reckon` answers it."""
    if question.order is not None:
        return note_for(question.order, sure_percent=round(question.wanted_ppm / 10_000), at=at, by=by)
    items = {one.code: one for one in Item.objects.filter(code__in=[row["item"] for row in question.lines])}
    wanted = tuple((items[row["item"]], int(row["pieces"])) for row in question.lines if row["item"] in items)
    asked = Asked(wanted, question.customer_kind, question.by_day, round(question.wanted_ppm / 10_000))
    return note(asked, at=at, by=by)


def reckon(question: Question, *, at: dt.datetime, turns: BoundedSemaphore = turns.DESK) -> Question:
    """Answer a question that waits, outside any transaction.

    It is left to the worker where it takes long or no turn is free. Called again for the same question it changes no
    answer: the first one that is written stands.
    """
    if question.state != Question.State.WAITING:
        return question
    passes = PASSES if question.by_day is None else PASSES_BY
    with tried(turns) as mine:
        if mine:
            stated = _stated(question, at=at)
            if (len(stated.shop.lines) + 3 * len(stated.shop.batches)) * question.futures * passes <= AT_ONCE:
                return _answer(question, stated)
    with transactions.entry_point():
        jobs.add(JOB, str(question.pk), at, {"question": question.pk})
    return question


def bring_forward(question: Question, *, at: dt.datetime) -> list[dict[str, Any]]:
    """Say what would bring it forward; worked out once a question."""
    if question.ideas is not None:
        return list(question.ideas)
    if question.order is not None or question.state != Question.State.ANSWERED:
        return []
    stated = _stated(question, at=at)
    found = ship_day.ideas(stated, wanted_of(question), sure=question.wanted_ppm / promising.MILLION)
    with transactions.entry_point():
        promising.note_ideas(question, found)
    return found


def work(payload: dict[str, Any], at: dt.datetime) -> None:
    """Answer a question that took too long to be waited for; called by the worker."""
    question = Question.objects.filter(pk=payload["question"], state=Question.State.WAITING).first()
    if question is not None:
        _answer(question, _stated(question, at=at))


def find(number: int) -> Question:
    """Return a question by its number."""
    found = Question.objects.filter(pk=number).select_related("order__customer").first()
    if found is None:
        raise NotFound(f"Question {number} is not there any more; ask again.")
    return found


def wanted_of(question: Question) -> list[tuple[str, int]]:
    """Return item codes and pieces of a question."""
    return [(row["item"], int(row["pieces"])) for row in question.lines]


def key_of(stated: Stated, question: Question) -> str:
    """Give the digest of what the answer of a question rests on."""
    if question.order_id is None:
        return stated.key([item for item, _ in wanted_of(question)])
    mine = {name for name, one in stated.names.items() if one.order_id == question.order_id}
    return stated.key([line.item for line in stated.shop.lines if line.order in mine])


def stated_now(question: Question, *, at: dt.datetime) -> Stated:
    """Tell the shop for a question, inside the caller's transaction or outside."""
    items = Item.objects.filter(code__in=[row["item"] for row in question.lines])
    return shop_state.state(at=at, items=items, also=question.order_id)


def _stated(question: Question, *, at: dt.datetime) -> Stated:
    with snapshot.one_moment():
        return stated_now(question, at=at)


def _answer(question: Question, stated: Stated) -> Question:
    sure = question.wanted_ppm / promising.MILLION
    try:
        if question.order_id is None:
            wanted = wanted_of(question)
            answer = ship_day.ask(stated, wanted, sure=sure, by=question.by_day, futures=question.futures)
            thumb = plain.plain_day(stated.shop, ship_day.wanted_lines(wanted, sure))
        else:
            answer = ship_day.standing(stated, question.order_id, sure=sure, futures=question.futures)
            thumb = plain.plain_day(stated.shop, ship_day.lines_of(stated, question.order_id))
        answer["plain"] = None if thumb is None else (stated.first_day + dt.timedelta(days=thumb)).isoformat()
        with transactions.entry_point():
            return promising.note_answer(question, answer, stated=stated, key=key_of(stated, question))
    except ValueError as why:
        with transactions.entry_point():
            promising.note_failure(question, str(why))
        question.refresh_from_db()
        return question


def _check(asked: Asked, *, at: dt.datetime) -> float:
    shop = shop_row.the_shop()
    if not 1 <= len(asked.wanted) <= MOST_LINES:
        raise Invalid.field("lines", f"Lines: name 1 to {MOST_LINES} items, each with its pieces.")
    for number, (item, pieces) in enumerate(asked.wanted):
        if not 1 <= pieces <= MOST_PIECES:
            raise Invalid.field(
                f"lines.{number}.qty", f"How many: {pieces} cannot be asked for at once; 1 to {MOST_PIECES} would work."
            )
        if item.unit != Item.Unit.PIECE:
            said = f"{item.code} is weighed or measured; ship days are worked out for what is counted in pieces."
            raise Invalid.field(f"lines.{number}.item", said)
        if not item.active:
            raise Invalid.field(f"lines.{number}.item", f"{item.code} is not sold any more; choose another item.")
    if len({item.pk for item, _ in asked.wanted}) < len(asked.wanted):
        raise Invalid.field("lines", "Lines: an item stands there twice; write its pieces together.")
    if asked.by_day is not None:
        promising.check_day(asked.by_day, today=clock.local_date(at, shop.zone))
    return sure_of(asked.kind, shop) if asked.sure_percent is None else _sure(asked.sure_percent)


def _sure(percent: int) -> float:
    if not 50 <= percent <= 99:
        raise Invalid.field("sure", f"Sure: {percent} in 100 cannot be asked for; 50 to 99 would work.")
    return percent / 100


def _owed_lines(order: Order) -> Sequence[OrderLine]:
    lines = OrderLine.objects.filter(order=order).select_related("item", "pattern").order_by("number")
    return [line for line in lines if line.ordered > line.shipped + line.cancelled]


def _tidy(items: set[int], *, at: dt.datetime) -> None:
    """Let lapsed holds go as giving a day does before it looks, or the answer would be stale by that alone."""
    if items:
        reserving.lock_and_tidy(items, at=at)
