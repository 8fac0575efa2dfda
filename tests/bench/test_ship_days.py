"""What an answer about a ship day and a new rating cost over the book, in passes of the bare calculator of the same run.

Processor time of this process on the database under test; a pass plans the shop once and plays its futures once.
"""

import datetime as dt
import time
from collections.abc import Callable

import pytest

from inventory.models import Item, Step
from inventory.services.count_facts import Reject
from orders.calc.dates import filling, scenarios
from orders.calc.dates.dispatch import propose
from orders.calc.dates.futures import Futures
from orders.models import Customer, Question, RatedPromise
from orders.queries import ship_day, shop_state
from orders.services.ordering import Terms
from shop.flows.ship_days import asking, rating
from shop.flows.ship_days.asking import Asked
from tests import forge, makers
from tests.forge import FIRST
from tests.makers import AT
from tests.people import make_person, make_shop

pytestmark = [pytest.mark.bench, pytest.mark.long, pytest.mark.django_db]
ORDERS, RUNS, PATTERNS = 200, 12, 4
ANSWER, RATING = 4.0, 2.0
ROUNDS = 3
BY = makers.actor()


def busy_shop() -> list[forge.Forge]:
    """Two hundred orders with days given over four patterns, three runs of each on the floor."""
    make_shop()
    for login in ("ada", "bo", "cy", "di"):
        make_person("hand", login=login)
    made = [forge.make_forge(blanks=1_200, handles=1_200, wedges=3_000) for _ in range(PATTERNS)]
    Step.objects.exclude(work__in=("temper", "harden", "oil")).update(seconds_each=240)
    customer = makers.make_customer()
    for number in range(ORDERS):
        tool = made[number % PATTERNS].tool.item
        _order(customer, tool, 1 + number % 5, 20 + number // 2)
    for number in range(RUNS):
        run = made[number % PATTERNS].start(24)
        if number % 2:
            forge.count(run, FIRST, 23, Reject(1, forge.cause(run, "cheek split")))
    return made


def _order(customer: Customer, tool: Item, pieces: int, days: int) -> None:
    day = AT.date() + dt.timedelta(days=days)
    makers.make_order({tool: pieces}, customer=customer, terms=Terms(day_given=day))


def least(*works: Callable[[], object]) -> list[float]:
    """Give the least processor time of each, taken in turns."""
    found: list[list[float]] = [[] for _ in works]
    for _ in range(ROUNDS):
        for place, work in enumerate(works):
            begun = time.process_time()
            work()
            found[place].append(time.process_time() - begun)
    return [min(one) for one in found]


def test_an_answer_and_a_new_rating_cost_a_few_passes(capsys: pytest.CaptureFixture[str]) -> None:
    made = busy_shop()
    tool = made[0].tool.item
    shop = shop_state.state(at=AT).shop
    run = made[1].start(24)
    counts = iter(range(1, 24))

    def a_pass() -> None:
        plan, futures = propose(shop), Futures(shop, ship_day.SEED, ship_day.FUTURES)
        filling.fill(shop, plan, futures, scenarios.play(shop, plan, futures))

    def answer() -> None:
        found = asking.ask(Asked(((tool, 6),)), at=AT, by=BY)
        asking.work({"question": found.pk}, AT)
        assert Question.objects.get(pk=found.pk).state == Question.State.ANSWERED

    def rate_again() -> None:
        forge.count(run, FIRST, 1 + next(counts) % 2)
        assert rating.run_if_due(lambda: AT)

    def state() -> None:
        shop_state.state(at=AT)

    bare, asked, rated, told = least(a_pass, answer, rate_again, state)
    assert RatedPromise.objects.count() == ORDERS
    with capsys.disabled():
        print(
            f"\na pass {bare:.2f} s ({len(shop.lines)} lines, {len(shop.batches)} runs under way);"
            f" an answer {asked / bare:.1f} passes (limit {ANSWER}), rating {ORDERS} orders after a count"
            f" {rated / bare:.1f} passes (limit {RATING}), telling the shop {told / bare:.2f}"
        )
    assert asked < ANSWER * bare
    assert rated < RATING * bare
