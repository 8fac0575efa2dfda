"""The demo's customers: what a day brings in orders, each with its day: asked for in the last weeks, by rule of thumb before."""

import datetime as dt
from dataclasses import dataclass, replace

from inventory.models import Item
from inventory.services import allocating
from orders.models import Customer, Question
from orders.services import ordering
from orders.services.ordering import Terms, Wanted
from shop.demo import goods
from shop.demo.day import Day
from shop.demo.opening import Stage
from shop.flows.ship_days import asking, giving, rating
from shop.flows.ship_days.asking import Asked
from shop.shared import transactions
from shop.shared.errors import Refusal

SOON = dt.timedelta(days=3)
AS_ASKED = giving.Day()
ASKED = 0.2  # of the orders of the web; the others are given a day as before, so that loading does not take minutes


@dataclass(frozen=True, slots=True)
class Wish:
    """An order as a customer would like it; `by_thumb` the day that was given before anybody could work one out."""

    customer: Customer
    wanted: list[Wanted]
    terms: Terms
    at: dt.datetime
    by_thumb: dt.date
    source: str = "desk"
    paid: bool = False
    given: giving.Day = AS_ASKED


def wishes(stage: Stage, day: Day) -> list[Wish]:
    """Return what customers want on a day; on the last one more, so that the week ahead has work in it."""
    found = []
    for customer, buyer in stage.dealers:
        if stage.dice.random() < 1 / buyer.every_days * (2.3 if day.sparse else 1.4):
            found.append(_dealers(stage, day, customer, buyer.about))
    many = 3 if day.last else stage.dice.choice(_per_day(day)) + int(day.sparse and stage.dice.random() < 0.7)
    found += [_one_off(stage, day) for _ in range(many)]
    return found + (_for_the_week_ahead(stage, day) if day.last else [])


def take(stage: Stage, wish: Wish, *, ask: bool) -> None:
    """Take an order: with the day that is asked for it, or with one by rule of thumb."""
    question = _asked(stage, wish) if ask and (not wish.paid or stage.dice.random() < ASKED) else None
    with transactions.entry_point():
        if question is None or not question.answer.get("day"):
            terms = replace(wish.terms, day_given=wish.by_thumb)
            order = ordering.take(wish.customer, wish.wanted, terms, at=wish.at, by=stage.by, source=wish.source)
        else:
            order = giving.give(
                question,
                wish.customer,
                wish.wanted,
                wish.terms,
                wish.given,
                at=wish.at,
                by=stage.by,
                source=wish.source,
            )
        if wish.paid:
            ordering.receive_money(order, ordering.total_minor(order), how="paid on the web", at=wish.at, by=stage.by)


def rate(now: dt.datetime) -> None:
    """Rate the days given, so that the first page that is opened can say how sure they are."""
    rating.run_if_due(lambda: now)


def _asked(stage: Stage, wish: Wish) -> Question | None:
    wanted = tuple((line.item, line.qty) for line in wish.wanted if line.item)
    try:
        return asking.ask(Asked(wanted, wish.customer.kind), at=wish.at, by=stage.by)
    except Refusal:
        return None


def _per_day(day: Day) -> tuple[int, ...]:
    """Return how many one-off orders a day may bring: more before the holidays, fewer in summer, more every year."""
    if day.date.month in (11, 12):
        return (1, 2, 2, 3, 4)
    return (0, 0, 0, 1, 1) if day.date.month in (6, 7, 8) else (0, 0, 1, 1, 2)


def _pick(stage: Stage) -> Item:
    kinds = goods.PATTERNS
    code = stage.dice.choices([kind.code for kind in kinds], [kind.share for kind in kinds])[0]
    return stage.tools[code]


def _dealers(stage: Stage, day: Day, customer: Customer, about: int) -> Wish:
    wanted: dict[int, Wanted] = {}
    left = max(3, about + stage.dice.randint(-4, 4))
    while left > 0 and len(wanted) < 3:
        item, qty = _pick(stage), min(left, stage.dice.randint(2, 8))
        wanted[item.pk] = Wanted(qty=qty, item=item)
        left -= qty
    terms = Terms(reference=f"PO {stage.dice.randint(1000, 9999)}")
    thumb = day.date + dt.timedelta(days=stage.dice.choice((10, 14, 14, 21)))
    return Wish(customer, list(wanted.values()), terms, day.moment(9, stage.dice.randint(5, 50)), thumb)


def _one_off(stage: Stage, day: Day) -> Wish:
    dice = stage.dice
    customer, gift = dice.choice(stage.one_off), dice.random() < 0.2
    terms = Terms(
        gift=gift,
        gift_note="From your friends at the forge night." if gift else "",
        send_when_paid=True,
        carriage_minor=1200,
    )
    thumb = day.date + dt.timedelta(days=dice.choice((3, 5, 7)))
    wanted = [Wanted(qty=dice.choice((1, 1, 1, 2)), item=_pick(stage))]
    return Wish(customer, wanted, terms, day.moment(11, dice.randint(0, 59)), thumb, "web", paid=True)


def _for_the_week_ahead(stage: Stage, day: Day) -> list[Wish]:
    """Dealers who want more than is there, one of them on the telephone, one with a day that is too early."""
    (first, _), (second, _), (third, _), (fourth, _) = stage.dealers
    far, soon = day.date + dt.timedelta(days=21), day.date + SOON
    return [
        _more(stage, first, "CP2", 24, day.moment(14, 5), far),
        _more(stage, second, "RH25", 30, day.moment(14, 20), far, giving.Day(said_until=soon + dt.timedelta(days=2))),
        _more(stage, third, "SP15", 20, day.moment(14, 40), far,
              giving.Day(day=soon, knowingly=True, reason="they asked for this day")),
        _more(stage, fourth, "SL4", 10, day.moment(15, 0), far),
        _more(stage, first, "TG", 12, day.moment(15, 10), far),
    ]  # fmt: skip


def _more(
    stage: Stage, customer: Customer, code: str, more: int, at: dt.datetime, far: dt.date, given: giving.Day = AS_ASKED
) -> Wish:
    """Wish for more of a tool than is there."""
    tool = stage.tools[code]
    there = allocating.free_of(tool.pk) + allocating.can_take(tool.pk, allocating.recipe_of(tool.pk))[1]
    terms = Terms(reference=f"PO {stage.dice.randint(1000, 9999)}")
    return Wish(customer, [Wanted(qty=there + more, item=tool)], terms, at, far, given=given)
