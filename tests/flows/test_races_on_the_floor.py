"""Several tablets on the same run: no piece is counted twice, loaded twice or hafted twice, and the book stays whole."""

import pytest
from django.db.models import Sum

from inventory.models import Holding, Item, Machine, RunCount
from inventory.services.count_facts import Seen
from inventory.services.hafting import Hafted
from inventory.services.ovens import Fire, Into, NotThisStep
from inventory.services.run_counting import NotSoMany
from shop.flows import checking, floor
from tests import forge, makers
from tests.flows.test_races_at_the_door import CLIENTS, at_once
from tests.forge import CHECKED, FIRST, GROUND, SECOND
from tests.people import make_shop

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def _whole(transactional_db: None):
    make_shop()
    yield
    assert checking.check_book() == []


def test_tablets_that_count_the_same_run_count_each_piece_once() -> None:
    made = forge.make_forge(blanks=40)
    run = made.start(30)
    step = forge.step(run, FIRST)
    came = at_once([lambda: floor.count(run, step, Seen(4), stamp=makers.stamp()) for _ in range(CLIENTS)])
    assert came["done"] == min(CLIENTS, 7)
    assert came["done"] + came[NotSoMany.code] == CLIENTS
    assert RunCount.objects.aggregate(sum=Sum("good"))["sum"] == 4 * came["done"]
    there = Holding.objects.filter(lot__run=run).aggregate(sum=Sum("on_hand"))["sum"]
    assert there == 30


def test_two_tablets_on_one_run_with_rejects_and_a_later_point_lose_nothing() -> None:
    made = forge.make_forge(blanks=40)
    run = made.start(24)
    first, second = forge.step(run, FIRST), forge.step(run, SECOND)

    def early() -> object:
        return floor.count(run, first, Seen(2, [forge.Reject(1)]), stamp=makers.stamp())

    def late() -> object:
        return floor.count(run, second, Seen(3), stamp=makers.stamp(), catch_up=True)

    came = at_once([early if n % 2 else late for n in range(CLIENTS)])
    assert came["done"] >= 2
    counts = RunCount.objects.filter(run=run)
    scrapped = counts.aggregate(sum=Sum("scrap"))["sum"]
    there = Holding.objects.filter(lot__run=run).aggregate(sum=Sum("on_hand"))["sum"]
    assert there + scrapped == 24


def test_a_run_goes_into_one_temper_however_many_load_it() -> None:
    made = forge.make_forge()
    run = made.start(10)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 10)
    forge.harden(run, 10)
    fire = Fire(2_040, "204 °C", 120, 30, Machine.objects.get(code="OVEN1"))
    came = at_once([lambda: floor.temper_in([Into(run, 10)], fire, stamp=makers.stamp()) for _ in range(CLIENTS)])
    assert came == {"done": 1, NotThisStep.code: CLIENTS - 1}
    assert Holding.objects.get(lot__run=run, on_hand__gt=0).place.kind == "oven"


def test_heads_are_hafted_once_and_handles_never_go_below_nought() -> None:
    made = forge.make_forge(handles=10)
    run = made.start(12)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 12)
    forge.harden(run, 12)
    forge.temper(run, 12)
    forge.check(run, 12)
    hafted = Hafted(made.tool.item, Seen(3))
    came = at_once([lambda: floor.haft(run, hafted, stamp=makers.stamp()) for _ in range(CLIENTS)])
    assert came["done"] == 3, came
    assert makers.stock(made.tool.handle).sellable == 1
    tools = Holding.objects.filter(item__kind=Item.Kind.TOOL).aggregate(sum=Sum("on_hand"))["sum"]
    assert tools == 9
    assert RunCount.objects.filter(step__number=CHECKED).count() == 1


def test_blanks_go_into_one_run_or_another_and_never_into_both() -> None:
    made = forge.make_forge(blanks=20)
    wanted = forge.Start(made.head, made.blank, made.melt, 6)
    came = at_once([lambda: floor.start(wanted, stamp=makers.stamp()) for _ in range(CLIENTS)])
    assert came["done"] == 3
    assert makers.stock(made.blank).sellable == 2
