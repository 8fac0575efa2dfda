"""Price breaks, bundles, packs that outlast their goods, and what due goods cost bare: each by hand."""

import dataclasses

import pytest

from inventory.calc.buying.basket import allowance, bare_cost, propose
from inventory.calc.buying.terms import ABOUT_COSTS, Basket, Carriage, Limits, Line, Price, Terms, Wanted

BULK = (Price(1, 100), Price(144, 80, 144))


def only(basket: Basket) -> Line:
    """Return the line of a basket of one."""
    (line,) = basket.lines
    return line


def bought(goods: Wanted, terms: Terms | None = None, limits: Limits | None = None) -> Line:
    """Return what is proposed of one thing."""
    return only(propose([goods], terms or Terms(cover_days=28), limits))


@pytest.mark.parametrize("per_day", [0.0, 0.001])
def test_more_that_costs_less_in_all_is_taken_though_nobody_needs_it(per_day):
    """10 at 5.00 are 50.00, 12 at 3.00 are 36.00."""
    ten = Wanted("A", 10, per_day, prices=(Price(1, 500), Price(12, 300)))
    line = bought(ten, Terms(order_cost=0, cover_days=0))
    assert (line.units, line.value) == (12, 3_600)
    assert (
        line.why[-1].facts == {"units": 12, "than": 10 + (per_day > 0), "less": 1_400 + 500 * (per_day > 0)} or per_day
    )


def test_more_that_costs_less_is_not_taken_where_it_has_no_room():
    ten = Wanted("A", 10, 0, prices=(Price(1, 500), Price(12, 300)))
    assert bought(dataclasses.replace(ten, most=11)).units == 10
    stored = dataclasses.replace(ten, stored_as="flammable")
    assert bought(stored, limits=Limits({"flammable": 11})).units == 10


def test_more_that_costs_less_is_taken_also_where_money_does_not_reach_for_less():
    ten = Wanted("A", 10, 0, prices=(Price(1, 500), Price(12, 300)))
    line = bought(ten, limits=Limits(money=4_000))
    assert (line.units, [why.kind for why in line.why]) == (12, ["due", "price"])
    poor = bought(ten, limits=Limits(money=3_000))
    assert (poor.units, [why.kind for why in poor.why]) == (6, ["due", "money"])


def test_carriage_counts_in_what_costs_less_in_all():
    """50.00 go free; 36.00 with carriage of 20.00 are more."""
    ten = Wanted("A", 10, 0, prices=(Price(1, 500), Price(12, 300)))
    assert bought(ten, Terms(carriage=(Carriage(2_000), Carriage(0, 5_000)))).units == 10


def test_what_a_price_would_be_below_its_start_is_no_reason_to_buy_more():
    three = Wanted("A", 3, 0, prices=(Price(10, 500), Price(12, 100)))
    assert bought(three).units == 3
    assert not three.priced(3)


def test_a_bundle_belongs_to_its_price():
    """One a week, three missing: nobody buys 144 for it; who uses five a day takes 144 of 143."""
    assert bought(Wanted("A", 3, 1 / 7, prices=BULK)).units == 7
    line = bought(Wanted("A", 3, 5, prices=BULK))
    assert (line.units, line.value, line.why[-1].facts["by"]) == (144, 11_520, 144)


def test_a_price_by_the_bundle_holds_for_whole_bundles_only():
    one = Wanted("A", 3, 1, prices=BULK)
    assert [one.price(units) for units in (143, 144, 150, 288)] == [100, 80, 100, 80]
    assert one.value(150) == 15_000


def test_a_few_fewer_are_taken_where_they_make_a_whole_bundle():
    """147 would cost 147.00; 144 cost 115.20 and are more than is due."""
    line = bought(Wanted("A", 7, 5, prices=BULK))
    assert (line.units, line.why[-1].kind) == (144, "price")
    assert bought(Wanted("A", 147, 0, prices=BULK)).units == 147


def test_money_reaches_for_a_bundle_where_it_does_not_for_fewer():
    assert bought(Wanted("A", 150, 0, prices=BULK), limits=Limits(money=12_000)).units == 144
    assert bought(Wanted("A", 150, 0, prices=BULK), limits=Limits(money=11_000)).units == 110


def test_one_pack_is_bought_of_what_keeps_for_less_than_a_pack():
    """Ten a week that keep 30 days: 42 of a box of 1000 are used."""
    screws = Wanted("A", 20, 10 / 7, pack=1_000, prices=(Price(1, 500),), most=42, most_why="shelf life")
    line = bought(screws)
    assert (line.units, line.why[-1].kind) == (1_000, "most")
    assert line.why[-1].facts == {"most": 42, "bought": 1_000, "short": 0, "what": "shelf life"}
    for none in ({"most": 0}, {"most_why": "room"}):
        assert bought(dataclasses.replace(screws, **none)).units == 0


def test_room_alone_is_no_reason_to_speak_of_money():
    gas = Wanted("GAS", 20, 1, prices=(Price(1, 500),), stored_as="lp gas")
    found = propose([gas], Terms(), Limits({"lp gas": 0}, 100_000))
    assert (only(found).units, found.notes) == (0, ())
    short = propose([gas], Terms(), Limits({"lp gas": 100}, 300))
    assert [note.kind for note in short.notes] == ["money"]


def test_within_a_basket_money_goes_to_what_is_due_before_what_comes_along():
    due = Wanted("BELT", 10, 1, prices=(Price(1, 740),))
    along = Wanted("HANDLE", 0, 1, left_days=3, prices=(Price(1, 6_000),), pack=12)
    found = propose([along, due], Terms(), Limits(money=7_400))
    assert [(line.key, line.units) for line in found.lines] == [("BELT", 10)]


def test_what_is_due_costs_bare_what_it_takes_at_the_least():
    goods = [
        Wanted("A", 10, 5, prices=(Price(1, 500), Price(12, 300))),
        Wanted("B", 0, 5, left_days=1, prices=(Price(1, 500),)),
        Wanted("C", 30, 5, prices=(Price(1, 10),), most=20),
    ]
    assert bare_cost(goods, Terms(carriage=(Carriage(700),))) == 3_600 + 200 + 700
    assert bare_cost(goods[1:2], Terms(carriage=(Carriage(700),))) == 0


@pytest.mark.parametrize(
    ("left", "bare", "later", "given"),
    [(10_000, 3_000, [2_000, 1_000], 7_000), (5_000, 3_000, [4_000], 3_000), (2_000, 3_000, [4_000], 2_000), (500, 0, [900], 0)],
)  # fmt: skip
def test_bare_goods_of_all_come_before_what_is_beyond(left, bare, later, given):
    assert allowance(left, bare, later) == given


def test_kinds_that_tell_costs_are_named_in_one_place():
    assert {"price", "minimum", "freight", "money"} == ABOUT_COSTS
