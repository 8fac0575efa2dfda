"""Many at once: nothing is sold twice, nobody is refused what was there, and nobody blocks another for ever.

On PostgreSQL sixteen clients write at the same time, each a thread with a connection of its own. SQLite lets one write
at a time and the others wait for it, so more than eight writers only wait longer.
"""

import datetime as dt
import itertools
import random
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import pytest
from django.db import OperationalError, connection, connections

from inventory.models import Holding, Item, ItemStock
from inventory.services.allocating import NotEnough
from orders.models import Customer, Hold, Order, OrderLine
from orders.services import holding, ordering
from orders.services.ordering import Terms, Wanted
from shop.flows import sweeping
from shop.shared import transactions
from shop.shared.models import Series
from tests import makers
from tests.conftest import LONG, ON_POSTGRES
from tests.makers import AT
from tests.recomputed import differences

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]
CLIENTS = (64 if LONG else 16) if ON_POSTGRES else 8
# SQLite's writers do not queue: each tries again after a nap of up to a tenth of a second. One that asks anew at the very
# moment of its answer would keep the others out, which no client across a network can do.
PAUSE = 0.0 if ON_POSTGRES else 0.005
BY = makers.actor("race")


@dataclass
class Race:
    """What many clients got: how many were served, refused, and what went wrong."""

    served: list[object] = field(default_factory=list)
    refused: list[NotEnough] = field(default_factory=list)
    broken: list[BaseException] = field(default_factory=list)


def run(requests: list[Callable[[], object]]) -> Race:
    """Send the requests from as many clients at once as the database is meant for; they start together."""
    race, start = Race(), threading.Barrier(CLIENTS)
    shares = [requests[number::CLIENTS] for number in range(CLIENTS)]

    def client(share: list[Callable[[], object]]) -> None:
        try:
            start.wait(30)
            for request in share:
                try:
                    with transactions.entry_point():
                        made = request()
                    race.served.append(made)
                except NotEnough as refusal:
                    race.refused.append(refusal)
                except (OperationalError, RuntimeError) as problem:
                    race.broken.append(problem)
                time.sleep(PAUSE)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(CLIENTS) as pool:
        for done in [pool.submit(client, share) for share in shares]:
            done.result()
    assert race.broken == []
    assert len(race.served) + len(race.refused) == len(requests)
    return race


def test_single_pieces_out_of_a_thousand_in_twenty_lots_are_served_a_thousand_times() -> None:
    handle = makers.make_item()
    for _ in range(20):
        makers.put_in(handle, 50)
    asked = (10_000 if ON_POSTGRES else 4_000) if LONG else 1_300
    race = run([lambda: holding.put_by(handle, 1, minutes=1_440, at=AT, made_by="race").pk] * asked)
    assert (len(race.served), len(race.refused)) == (1_000, asked - 1_000)
    assert all(refusal.facts == {"available": 0, "requested": 1} for refusal in race.refused)
    assert (makers.stock(handle).allocated, makers.stock(handle).sellable) == (1_000, 1_000)
    assert Hold.objects.count() == 1_000
    assert differences() == []


def test_a_hundred_orders_that_all_fit_are_all_taken() -> None:
    """Each takes from the same lots; locking lot by lot would have them take a part each and give up."""
    items = [makers.make_item() for _ in range(3)]
    for item in items:
        for _ in range(10):
            makers.put_in(item, 10)
    customer = makers.make_customer()
    chance = random.Random(1)

    def order() -> Callable[[], object]:
        wanted = [Wanted(qty=1, item=item) for item in chance.sample(items, 3)]
        return lambda: ordering.take(customer, wanted, Terms(), at=AT, by=BY, wait=False).number

    race = run([order() for _ in range(100)])
    assert race.refused == []
    assert sorted(race.served) == list(range(1, 101)), "numbers without a gap"
    assert Series.objects.get(name="order").next_number == 101
    assert [makers.stock(item).allocated for item in items] == [100, 100, 100]
    assert differences() == []


@dataclass(frozen=True)
class Asked:
    """A request for several items and its answer: between which two moments, and what was said to be too little."""

    wanted: dict[int, int]
    began: float
    ended: float
    order: int | None
    short: int | None = None
    available: int = 0


def test_orders_of_several_lines_are_taken_whole_or_refused_for_a_reason_that_was_true() -> None:
    """Everything that was committed is put in one row by the items' versions, which each write raises under its lock.

    A refusal is right where the item it names stood as low as it says in at least one state of the book between the
    request's start and its answer. Pieces come back too, so that the stock goes down and up.
    """
    items = {item.pk: item for item in (makers.make_item() for _ in range(4))}
    for item in items.values():
        for _ in range(5):
            makers.put_in(item, 12)
    customer, chance = makers.make_customer(), random.Random(2)
    log, answers = _History(items), []

    def request(wanted: dict[int, int]) -> Callable[[], object]:
        def ask() -> object:
            began = time.perf_counter()
            try:
                lines = [Wanted(qty=qty, item=items[pk]) for pk, qty in wanted.items()]
                order = ordering.take(customer, lines, Terms(), at=AT, by=BY, wait=False)
            except NotEnough as refusal:
                short = next(pk for pk, item in items.items() if item.code == refusal.facts["item"])
                available = refusal.facts["available"]
                assert isinstance(available, int)
                answers.append(Asked(wanted, began, time.perf_counter(), None, short, available))
                raise
            log.took(order.pk, wanted)
            answers.append(Asked(wanted, began, time.perf_counter(), order.pk))
            return order.pk

        return ask

    def give_back() -> object:
        order = Order.objects.filter(closed_at=None).order_by("?").first()
        if order is None:
            return None
        try:
            ordering.cancel_order(order, at=AT, by=BY)
        except ordering.Closed:
            return None
        log.took(order.pk, {line.item_id: -line.ordered for line in order.lines.all()})
        return None

    total = (10_000 if ON_POSTGRES else 2_000) if LONG else 300
    requests: list[Callable[[], object]] = []
    for number in range(total):
        wanted = {pk: chance.randint(1, 4) for pk in chance.sample(list(items), chance.randint(2, 3))}
        requests.append(give_back if number > 60 and number % 4 == 0 else request(wanted))
    race = run(requests)
    assert race.refused, "the stock was meant to run out"
    taken = [a for a in answers if a.order is not None]
    assert len(taken) > 40
    assert differences() == []
    for order in Order.objects.filter(closed_at=None):
        assert all(line.reserved == line.ordered for line in order.lines.all())
    for asked in answers:
        if asked.short is not None:
            assert asked.available < asked.wanted[asked.short]
            assert asked.available in log.free_between(asked.short, asked.began, asked.ended), asked


class _History:
    """What each committed request took of each item, in the order of the versions that it gave the item's row."""

    def __init__(self, items: dict[int, Item]) -> None:
        self.start = {pk: makers.stock(item).version for pk, item in items.items()}
        self.free = {pk: makers.stock(item).sellable for pk, item in items.items()}
        self.changes: dict[int, dict[int, tuple[int, float]]] = {pk: {} for pk in items}

    def took(self, order: int, wanted: dict[int, int]) -> None:
        """Note, still inside the transaction and so under the lock, the version this request gave to each item."""
        now = time.perf_counter()
        for pk, version in ItemStock.objects.filter(pk__in=wanted).values_list("item_id", "version"):
            self.changes[pk][version] = (wanted[pk], now)

    def free_between(self, pk: int, began: float, ended: float) -> set[int]:
        """Return how many were free in each state between two moments.

        A change is noted a little before its commit, under the lock. The state before the request is therefore the
        one of the last change noted before it began, or of one before that if the commit was still to come.
        """
        free, states = self.free[pk], []
        for version in sorted(self.changes[pk]):
            qty, at = self.changes[pk][version]
            states.append((free, at))
            free -= qty
        states.append((free, float("inf")))
        # Each state ends when the next change is committed: at the latest when the one after that was noted.
        found, before = set(), 0.0
        for (level, _ends), after in itertools.zip_longest(states, states[1:]):
            until = after[1] if after else float("inf")
            if before <= ended and until >= began:
                found.add(level)
            before = _ends
        return found


def test_holds_lapse_are_swept_and_ordered_from_at_once_and_nobody_blocks_another() -> None:
    """Tools from shared parts, lapses, sweeps, arrivals and cancellations all at the same time: no deadlock, no piece twice."""
    first = makers.make_tool()
    second = makers.make_item(Item.Kind.TOOL)
    with transactions.entry_point():
        makers.catalogue.set_recipe(second, {first.handle: 1, first.wedge: 1}, at=AT, by=BY)
    for _ in range(4):
        makers.put_in_parts(first, 10, 15, 40)
    makers.put_in(first.item, 5)
    items, customer, chance = [first.item, second, first.handle, first.wedge], makers.make_customer(), random.Random(3)
    clock = itertools.count()

    def at() -> dt.datetime:
        return AT + dt.timedelta(seconds=next(clock))

    def ask() -> Callable[[], object]:
        item, other = chance.sample(items, 2)
        qty = chance.randint(1, 4)
        lines = [Wanted(qty=qty, item=item), Wanted(qty=1, item=other)]
        return chance.choice(
            [
                lambda: ordering.take(customer, lines, Terms(), at=at(), by=BY).pk,
                lambda: ordering.take(customer, lines, Terms(), at=at(), by=BY, wait=False).pk,
                lambda: holding.put_by(item, qty, minutes=1, at=at(), made_by="race").pk,
                lambda: makers.reserving.sweep(at=at()),
                lambda: _cancel_any(chance.random(), at()),
                lambda: _arrive(item, qty, at()),
            ]
        )

    run([ask() for _ in range((4_000 if ON_POSTGRES else 1_000) if LONG else 300)])
    end = AT + dt.timedelta(days=1)
    sweeping.sweep(lambda: end)
    assert differences(tidied_at=end) == []


def _cancel_any(where: float, at: dt.datetime) -> object:
    orders = list(Order.objects.filter(closed_at=None).order_by("pk"))
    if orders:
        try:
            ordering.cancel_order(orders[int(where * len(orders))], at=at, by=BY)
        except ordering.Closed:
            return None
    return None


def _arrive(item: Item, qty: int, at: dt.datetime) -> object:
    locks = makers.reserving.lock_and_tidy({item.pk}, at=at)
    arrival = makers.arriving.Arrival(
        item=item, qty=qty, place=makers.place("SHELF"), melt=makers.make_melt() if item.kind == "head" else None
    )
    stamp = makers.stamp(at=at)
    makers.arriving.arrive("moved in", [arrival], source=makers.place("MOVE-IN"), locks=locks, stamp=stamp)
    return len(makers.reserving.serve_waiting(locks))


@pytest.fixture(autouse=True)
def _told_to_wait_for_a_lock_and_not_for_ever() -> Iterator[None]:
    """A deadlock shows as an error of the database, never as a test that hangs: both databases give up by themselves."""
    if ON_POSTGRES:
        with connection.cursor() as cursor:
            cursor.execute("SHOW lock_timeout")
            assert cursor.fetchone() == ("10s",)
    yield
    assert Customer.objects.count() <= 1
    assert not Holding.objects.filter(allocated__lt=0).exists()
    assert not OrderLine.objects.filter(reserved__lt=0).exists()
