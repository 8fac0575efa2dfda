"""Desks that give days at the same moment: a stated chance is that of the joint queue, or the day was refused as stale."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import pytest
from django.db import connections

from inventory.models import Item, Step
from orders.calc.dates import asking as reckoning
from orders.models import Order, OrderLine, Promise, Question
from orders.queries import ship_day, shop_state
from orders.queries.shop_state import Stated
from orders.services.ordering import Terms, Wanted
from orders.services.promising import StaleAnswer
from shop.flows import checking
from shop.flows.ship_days import asking, giving
from shop.flows.ship_days.asking import Asked
from shop.flows.ship_days.giving import Day
from shop.shared import transactions
from tests import forge, makers
from tests.conftest import ON_POSTGRES
from tests.makers import AT
from tests.people import make_person, make_shop
from tests.recomputed import differences

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]
DESKS = 6 if ON_POSTGRES else 3
BY = makers.actor("race")
PPM = 1_000_000


@dataclass(frozen=True, slots=True)
class Tried:
    """What a desk got: the numbers of its orders, and how often it was told that its answer was stale."""

    orders: list[int]
    stale: int


def together(desks: list[Callable[[], Tried]]) -> list[Tried]:
    start = threading.Barrier(len(desks))

    def desk(act: Callable[[], Tried]) -> Tried:
        try:
            start.wait(30)
            return act()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(desks)) as pool:
        return [done.result() for done in [pool.submit(desk, act) for act in desks]]


def desk_for(item: Item, pieces: int) -> Callable[[], Tried]:
    """Ask, and let a desk give later, asking again as often as the answer has become stale meanwhile."""
    question = asking.ask(Asked(((item, pieces),)), at=AT, by=BY)
    return lambda: give(question, item, pieces)


def give(question: Question, item: Item, pieces: int) -> Tried:
    stale = 0
    while True:
        if question.state == Question.State.WAITING:  # other desks have all turns: the worker answers
            asking.work({"question": question.pk}, AT)
            question.refresh_from_db()
        assert question.state == Question.State.ANSWERED, question.why_failed
        try:
            with transactions.entry_point():
                buyer = makers.make_customer()
                order = giving.give(question, buyer, [Wanted(pieces, item)], Terms(), Day(), at=AT, by=BY)
            return Tried([order.number], stale)
        except StaleAnswer:
            stale += 1
            question = asking.ask_again(question, at=AT, by=BY)


def upto(stated: Stated, number: int) -> Stated:
    """Give the shop with the orders up to a number alone, the one of this number last."""
    for order in Order.objects.filter(number__gt=number):
        stated = stated.without(order.pk)
    return stated


@pytest.fixture(autouse=True)
def _shop() -> None:
    make_shop()
    make_person("owner", login="ada")
    make_person("hand", login="bo")


def slow_forge() -> forge.Forge:
    made = forge.make_forge(blanks=120, handles=120, wedges=300)
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=900)
    return made


def test_the_last_pieces_are_given_once_and_each_chance_is_that_of_the_joint_queue() -> None:
    made = slow_forge()
    makers.put_in(made.tool.item, 3)
    tried = together([desk_for(made.tool.item, 2) for _ in range(DESKS)])
    numbers = [number for one in tried for number in one.orders]
    assert sorted(numbers) == list(range(1, DESKS + 1))
    assert sum(one.stale for one in tried) >= DESKS - 1, (
        "all asked before anybody gave, and only the first was not stale"
    )
    finished = makers.stock(made.tool.item)
    assert (finished.sellable, finished.allocated) == (3, 3)
    lines = OrderLine.objects.order_by("queue_no")
    assert sum(line.reserved for line in lines) == 3
    stated = shop_state.state(at=AT)
    for promise in Promise.objects.select_related("order").order_by("order__number"):
        joint = upto(stated, promise.order.number)
        _, rated = reckoning.rate(joint.shop, seed=ship_day.SEED, futures=ship_day.FUTURES)
        chance = {joint.names[one.order].number: one.after for one in rated}[promise.order.number]
        assert round(chance * PPM) == promise.chance_ppm
    assert differences() == []
    assert checking.check_book(whole=True) == []


def test_days_of_two_patterns_that_share_the_forge_are_given_one_after_the_other() -> None:
    first, second = slow_forge(), slow_forge()
    tried = together([desk_for(first.tool.item, 6), desk_for(second.tool.item, 6)])
    assert sum(one.stale for one in tried) >= 1
    last = Promise.objects.select_related("order").order_by("-order__number").first()
    assert last is not None
    stated = shop_state.state(at=AT)
    _, rated = reckoning.rate(stated.shop, seed=ship_day.SEED, futures=ship_day.FUTURES)
    chances = {stated.names[one.order].number: one.after for one in rated}
    assert round(chances[last.order.number] * PPM) == last.chance_ppm
