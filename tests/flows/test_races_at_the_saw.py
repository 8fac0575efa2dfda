"""Many at the saw at once: a bar goes to one plan or one cut, a plan is taken, sawn and dropped once, the book stays whole."""

import pytest

from inventory.models import Bar, Blade, Cut, CutPlan, CutPlanBar, Item
from inventory.services import saws, steel_items
from inventory.services.cut_asking import Question, Wanted
from inventory.services.cut_planning import PlanHasMovedOn, RackHasChanged
from inventory.services.cutting import Blanks, NotToBeCut, SawJob
from shop.flows import checking, cut_answering, cut_plans, sawing
from shop.flows.cut_plans import AtTheSaw
from shop.shared import transactions
from shop.shared.units import NM_PER_INCH
from tests import makers
from tests.flows.test_races_at_the_door import CLIENTS, at_once
from tests.makers import AT, actor, stamp
from tests.people import make_shop

pytestmark = [pytest.mark.race, pytest.mark.django_db(transaction=True)]
KERF = NM_PER_INCH // 16


@pytest.fixture(autouse=True)
def _whole(transactional_db: None):
    make_shop()
    yield
    assert checking.check_book() == []


def rack(*inches: int) -> tuple[Item, Item]:
    """Put bars of one melt on the rack; return the steel and a blank of it."""
    steel = makers.make_item(Item.Kind.BAR)
    melt = makers.make_melt("0048213", grade=steel.grade)
    for length in inches:
        makers.put_in(steel, length * NM_PER_INCH, melt=melt)
    with transactions.entry_point():
        blank = steel_items.blank_item(makers.make_grade(), makers.make_section(), 10 * NM_PER_INCH, at=AT, by=actor())
    return steel, blank


def answered(steel: Item, blank: Item, count: int) -> CutPlan:
    with transactions.entry_point():
        plan = cut_plans.ask(Question(steel, [Wanted(blank, count)], KERF, seconds=2), at=AT, by=actor())
    cut_answering.work({"plan": plan.pk}, AT)
    plan.refresh_from_db()
    return plan


def test_two_plans_of_the_same_bars_taken_from_many_tablets_go_to_one() -> None:
    steel, blank = rack(42, 43)
    plans = [answered(steel, blank, 8), answered(steel, blank, 7)]
    came = at_once(
        [
            lambda plan=plans[n % 2]: cut_plans.take(plan.number, 0, version=None, at=AT, by=actor())
            for n in range(CLIENTS)
        ]
    )
    assert came["done"] == 1
    assert came["done"] + came[PlanHasMovedOn.code] + came[RackHasChanged.code] == CLIENTS
    assert sorted(CutPlan.objects.values_list("state", flat=True)) == ["answered", "taken"]
    assert CutPlanBar.objects.count() == 2


def test_a_bar_is_sawn_or_taken_for_a_plan_and_never_both() -> None:
    steel, blank = rack(42)
    plan, bar = answered(steel, blank, 4), Bar.objects.get()

    def saw() -> object:
        return sawing.cut(bar, SawJob(KERF, [Blanks(blank, 4)], scrap=True), stamp=stamp())

    def take() -> object:
        return cut_plans.take(plan.number, 0, version=None, at=AT, by=actor())

    came = at_once([saw if n % 2 else take for n in range(CLIENTS)])
    assert came["done"] == 1
    assert came["done"] + sum(came[kind.code] for kind in (NotToBeCut, PlanHasMovedOn, RackHasChanged)) == CLIENTS
    assert Cut.objects.count() + CutPlanBar.objects.count() == 1


def test_a_plan_is_sawn_from_many_tablets_once() -> None:
    steel, blank = rack(42, 43)
    plan = answered(steel, blank, 8)
    with transactions.entry_point():
        bars = cut_plans.take(plan.number, 0, version=None, at=AT, by=actor())
    done = [AtTheSaw(one.bar.number) for one in bars]
    came = at_once([lambda: cut_plans.sawn(plan.number, done, version=None, stamp=stamp()) for _ in range(CLIENTS)])
    assert came == {"done": 1, PlanHasMovedOn.code: CLIENTS - 1}
    assert Cut.objects.count() == 2
    assert makers.stock(blank).sellable == 8


def test_a_bar_of_a_plan_that_is_dropped_in_the_same_moment_is_sawn_or_let_go() -> None:
    steel, blank = rack(42, 43)
    plan = answered(steel, blank, 8)
    with transactions.entry_point():
        first, second = cut_plans.take(plan.number, 0, version=None, at=AT, by=actor())

    def saw() -> object:
        return cut_plans.sawn(plan.number, [AtTheSaw(first.bar.number)], version=None, stamp=stamp())

    def drop() -> object:
        return cut_plans.drop(plan.number, version=None, at=AT, by=actor())

    came = at_once([saw if n % 2 else drop for n in range(CLIENTS)])
    assert set(came) == {"done", PlanHasMovedOn.code}
    plan.refresh_from_db()
    assert plan.state == ("sawn" if Cut.objects.exists() else "dropped")
    second.refresh_from_db()
    assert second.state == "left alone"


def test_a_blade_written_down_from_many_tablets_is_one_row() -> None:
    def write() -> object:
        return saws.save_blade(Blade(name="band saw", kerf_nm=KERF, measured_on=AT.date()), at=AT, by=actor())

    came = at_once([write for _ in range(CLIENTS)])
    assert came == {"done": 1, "invalid": CLIENTS - 1}
    assert Blade.objects.count() == 1
