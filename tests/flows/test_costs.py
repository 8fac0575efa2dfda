"""Cost follows the steel: from the landed bar to the tool and the customer, to the minor unit, nothing created or lost."""

import pytest
from django.db import transaction

from inventory.models import Lot, LotParent, Movement
from inventory.queries import running_costs
from inventory.queries.costs import Costs, left_before
from inventory.services.count_facts import Reject
from orders.models import Order
from orders.queries import margins
from shop.flows import checking, reversing
from tests import forge, makers
from tests.forge import FIRST, GROUND, HOUR, SECOND
from tests.makers import AT
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()


def made_run(made: forge.Forge, qty: int, *, scrap: int = 0, at: object = AT) -> list[Lot]:
    """Take a run to the shelf and haft all of it; return the tool lots."""
    run = made.start(qty)
    forge.count(run, FIRST, qty - scrap, *([Reject(scrap)] if scrap else []))
    good = qty - scrap
    for number in (SECOND, GROUND):
        forge.count(run, number, good)
    forge.harden(run, good)
    forge.temper(run, good)
    forge.check(run, good)
    forge.haft(made, run, good, at=AT + 5 * HOUR)
    forge.pack(run, good, at=AT + 30 * HOUR)
    return list(Lot.objects.filter(run=run, item=made.tool.item))


def test_the_cost_of_a_tool_is_its_blank_its_handle_and_its_wedges() -> None:
    """Blanks at 310, handles at 500 and wedges at 9 minor units, two wedges a tool: 310 + 500 + 18 = 828, by hand."""
    made = forge.make_forge(blanks=40, handles=40, wedges=100)
    (lot,) = made_run(made, 10)
    dealt = Costs().of(lot)
    assert dealt is not None
    assert (dealt.whole, dealt.apart, dealt.pieces) == (10 * 828, 0, 10)


def test_a_usual_loss_is_borne_by_the_good_and_what_is_beyond_is_kept_apart() -> None:
    """Of 25 blanks at 310, 2 lost are the usual 8 in 100: 23 heads bear all 7750. Of 5 lost, 3 are beyond: 930 apart."""
    made = forge.make_forge(blanks=60, handles=60, wedges=200)
    (usual,) = made_run(made, 25, scrap=2)
    head = LotParent.objects.get(child=usual, parent__item=made.head).parent
    dealt = Costs().of(head)
    assert dealt is not None
    assert (dealt.borne, dealt.apart, dealt.pieces) == (7_750, 0, 23)
    (bad,) = made_run(made, 25, scrap=5)
    head = LotParent.objects.get(child=bad, parent__item=made.head).parent
    dealt = Costs().of(head)
    assert dealt is not None
    assert (dealt.borne, dealt.apart, dealt.pieces) == (7_750 - 930, 930, 20)


@pytest.mark.parametrize("cost", [12_401, 12_437, 7, 1])
def test_odd_costs_come_to_the_whole_over_every_run_and_every_customer(cost: int) -> None:
    made = forge.make_forge(blanks=0, handles=0, wedges=0)
    steel = makers.put_in(made.blank, 37, melt=made.melt, cost_minor=cost)
    makers.put_in(made.tool.handle, 37, cost_minor=18_503)
    makers.put_in(made.tool.wedge, 74, cost_minor=667)
    tools = [*made_run(made, 13, scrap=1), *made_run(made, 11), *made_run(made, 13, scrap=2)]
    costs = Costs()
    heads = list(Lot.objects.filter(item=made.head).order_by("pk"))
    assert sum(costs.of(lot).whole for lot in heads if costs.of(lot)) == cost
    apart = sum(costs.of(lot).apart for lot in heads if costs.of(lot))
    handles = Lot.objects.get(item=made.tool.handle)
    wedges = Lot.objects.get(item=made.tool.wedge)
    used = costs.of(handles).upto(34) + costs.of(wedges).upto(68)
    assert sum(costs.of(lot).whole for lot in tools) == cost - apart + used
    assert left_before(steel, 2**40) == 37


def test_cost_is_conserved_when_pieces_are_sold_split_by_the_oven_and_counts_undone() -> None:
    made = forge.make_forge(blanks=30, handles=30, wedges=60)
    run = made.start(12)
    count = forge.count(run, FIRST, 11, Reject(1))
    with transaction.atomic():
        reversing.reverse(count.entry_id, stamp=makers.stamp())
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 12)
    forge.harden(run, 12)
    forge.temper(run, 7)
    forge.temper(run, 5, at=AT + 4 * HOUR)
    forge.check(run, 12)
    costs = Costs()
    lots = list(Lot.objects.filter(run=run, item=made.head).order_by("pk"))
    first = costs.of(lots[0])
    assert first is not None
    assert first.whole == 12 * 310
    leaves = sum(first.slice(left_before(lots[0], child.entry_id), child.parents.get().quantity) for child in lots[1:])
    gone = Movement.objects.filter(lot=lots[0], to_place__kind="worked up", entry__kind="oven")
    assert leaves == 310 * sum(m.qty for m in gone)


def test_the_cost_of_a_run_goes_to_good_pieces_apart_or_is_still_in_the_works() -> None:
    made = forge.make_forge(blanks=40)
    run = made.start(20)
    forge.count(run, FIRST, 15, Reject(5))
    found = running_costs.of_run(run)
    assert found.good + found.apart + found.open == found.steel + found.work
    assert found.steel == 20 * 310


def test_an_owner_sees_what_is_left_of_a_line_and_the_desk_does_not() -> None:
    made = forge.make_forge(blanks=40)
    made_run(made, 6)
    sent = makers.send(makers.make_order({made.tool.item: 4}))
    order = Order.objects.get(pk=sent.order_id)
    (margin,) = margins.of_order(order)
    assert margin.material == 4 * 828
    assert margin.left == 4 * 4_500 - 4 * 828
    assert "Left over" in client_of("owner").get(f"/order/{order.number}").content.decode()
    assert "Left over" not in client_of("desk").get(f"/order/{order.number}").content.decode()
    assert checking.check_book() == []


def test_a_reject_costs_what_stood_in_it_and_a_handle_only_its_handle() -> None:
    """Steel at 310 a blank, no price for belts or work: two heads at 310 are 620; three handles at 500 are 1500."""
    made = forge.make_forge(blanks=40, handles=40)
    made_run(made, 4)
    counted = {("first forging heat", "cheek split"): 2, ("hafted", "handle split"): 3}
    assert running_costs.reject_costs(counted, made.pattern) == {
        "cheek split at first forging heat": 620,
        "handle split at hafted": 1_500,
    }
