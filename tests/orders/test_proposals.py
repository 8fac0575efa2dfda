"""Today's purchase orders: whose goods the money buys first, what a price is known for, and sentences that can be reckoned."""

import pytest

from inventory.models import Item, Supplier, SupplierPrice
from inventory.queries import prices
from orders.queries.reorder import proposals
from shop.flows import buying_words
from shop.flows.night import stock_lines
from shop.shared import shop_row
from tests import makers
from tests.orders.test_reorder import NOW, TODAY, bottled_gas, used_weekly
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


@pytest.fixture(autouse=True)
def shop(db: None) -> None:
    make_shop()


def sold(price: int, *, start: int = 1, bundle: int = 1, **facts: object) -> Item:
    """Make a handle that a supplier of its own sells."""
    supplier = Supplier.objects.create(name=f"Invented supplier {makers.next_number()}")
    item = makers.make_item(Item.Kind.HANDLE, supplier=supplier, lead_days=7, **facts)
    note(item, price, start=start, bundle=bundle)
    return item


def note(item: Item, price: int, *, start: int, bundle: int = 1) -> None:
    SupplierPrice.objects.create(
        supplier=item.supplier, item=item, from_qty=start, price_minor=price, bundle=bundle, noted_on=TODAY
    )


def lines() -> dict[str, proposals.ProposedLine]:
    return {line.need.item.code: line for one in proposals.proposals(at=NOW) for line in one.lines}


def spend(minor: int) -> None:
    row = shop_row.the_shop()
    row.spend_minor = minor
    row.save(update_fields=["spend_minor"])


def test_what_is_due_of_a_later_supplier_is_paid_before_more_of_the_first():
    urgent = sold(500)
    used_weekly(urgent, 14, there=0)
    later = sold(740, reorder_point=9)
    first = lines()[urgent.code]
    spend(500 * first.need.decision.least + 7_400)
    found = lines()
    assert found[urgent.code].units == first.need.decision.least < first.units
    assert (found[later.code].units, found[later.code].value) == (10, 7_400)
    assert "of the money for buying is left for it." in buying_words.reasons(found[urgent.code], "USD")
    assert "money" not in {why.kind for why in found[later.code].why}


def test_what_is_due_is_told_so_that_it_can_be_reckoned_from_the_page():
    item = sold(500)
    used_weekly(item, 14, there=20)
    line = lines()[item.code]
    decision, due = line.need.decision, line.why[0].facts
    assert due["to_point"] == decision.point - 20
    assert due["to_point"] + due["until_next_look"] + due["cover"] == line.units
    said = buying_words.reasons(line, "USD")
    assert said.startswith(
        f"{due['to_point']} from 20 up to the point of {decision.point}, {due['until_next_look']} until"
    )


def test_at_an_own_point_the_one_beyond_it_is_said():
    item = sold(500, reorder_point=2)
    makers.put_in(item, 2)
    assert buying_words.reasons(lines()[item.code], "USD") == "At its point of 2: 1 beyond it."


def test_a_price_that_starts_higher_gives_no_value_and_says_so():
    item = sold(500, start=10, reorder_point=2)
    (one,) = proposals.proposals(at=NOW)
    (line,) = one.lines
    assert (line.units, line.value, one.value) == (3, None, 0)
    assert "The noted price holds from 10 on." in buying_words.reasons(line, "USD", costs=False)
    assert prices.of_line(list(item.prices.all()), item, 3, None) is None


def test_a_bundle_of_a_dear_row_forces_itself_on_nobody():
    item = sold(100, reorder_point=2)
    note(item, 80, start=144, bundle=144)
    assert lines()[item.code].units == 3
    noted = list(item.prices.all())
    assert [prices.of_line(noted, item, many, None) for many in (143, 144, 150)] == [14_300, 11_520, 15_000]


def test_more_that_costs_less_is_said_only_to_who_may_see_costs():
    item = sold(500, reorder_point=9)
    note(item, 300, start=12)
    line = lines()[item.code]
    assert line.units == 12
    assert "12 cost 14.00 USD less than 10." in buying_words.reasons(line, "USD")
    assert "USD" not in buying_words.reasons(line, "USD", costs=False)


def test_one_box_is_bought_of_what_keeps_for_less_than_a_box():
    item = sold(500, buy_unit="box", issue_per_buy=1_000, shelf_life_days=30)
    used_weekly(item, 10, there=0)
    line = lines()[item.code]
    assert line.units == 1_000
    most = next(why.facts["most"] for why in line.why if why.kind == "most")
    assert 35 <= most <= 45
    assert (
        f"About {most} of a box of 1\u2009000 are used while they keep; ask for a smaller pack."
        in buying_words.reasons(line, "USD")
    )


def test_what_has_no_room_is_no_thing_to_order_and_says_why():
    gas = bottled_gas(most_inside=0)
    (one,) = proposals.proposals(at=NOW)
    assert (one.bought, [line.need.item for line in one.kept_back]) == ((), [gas])
    (part, *_) = stock_lines.order_and_make(at=NOW, today=TODAY)
    assert part.counted == part.said == "one thing due that cannot be bought"
    assert "Cannot be bought now." in part.lines[0].words
