"""One supplier's goods bought together: every reason by hand, limits kept, and the cost beside trying everything."""

import dataclasses
import datetime as dt
import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc.buying.basket import bare_cost, cover_days, propose
from inventory.calc.buying.draft import Draft
from inventory.calc.buying.terms import YEAR_DAYS, Basket, Carriage, Limits, Price, Terms, Wanted

TODAY, DAY = dt.date(2026, 11, 27), dt.timedelta(days=1)
HANDLES = Wanted("HA16", least=20, per_day=2, stands_days=5, prices=(Price(1, 6_000),), pack=12)
BELTS = Wanted("BELT", least=0, per_day=0.5, left_days=10, stands_days=20, prices=(Price(1, 4_000),), pack=10)


def line(basket: Basket, key: str):
    """Return the line of an item."""
    return next(one for one in basket.lines if one.key == key)


def kinds(basket: Basket, key: str) -> list[str]:
    """Return the reasons of an item's line."""
    return [why.kind for why in line(basket, key).why]


def test_nothing_due_orders_nothing():
    assert propose([BELTS], Terms(order_cost=1_500)) == Basket((), 0, 0)


def test_what_is_due_is_bought_in_whole_dozens_for_the_cheapest_cycle():
    terms = Terms(order_cost=1_500)
    days = cover_days([HANDLES], terms)
    assert days == pytest.approx(
        YEAR_DAYS * (2 * 1_500 / (2 * YEAR_DAYS * 0.2 * 500)) ** 0.5
    )  # the square root formula
    found = line(propose([HANDLES], terms), "HA16")
    assert found.units == HANDLES.rounded(20 + 2 * days)
    assert found.units % 12 == 0


def test_what_is_due_soon_joins_and_what_is_not_stays_away():
    far = Wanted("WAX", least=0, per_day=1, left_days=300, prices=(Price(1, 500),))
    found = propose([HANDLES, BELTS, far], Terms(order_cost=6_000))
    assert kinds(found, "BELT") == ["joined"]
    assert [one.key for one in found.lines] == ["HA16", "BELT"]


def test_a_price_break_is_taken_only_where_it_saves_more_than_it_keeps():
    cheap = Wanted("BOX", least=10, per_day=1, prices=(Price(1, 100), Price(100, 80)))
    found = line(propose([cheap], Terms(order_cost=100)), "BOX")
    assert found.units >= 100
    assert "price" in [why.kind for why in found.why]
    slow = Wanted("BOX", least=10, per_day=0.05, prices=(Price(1, 100), Price(100, 80)))
    assert line(propose([slow], Terms(order_cost=100)), "BOX").units < 100


def test_the_smallest_order_is_reached_with_what_is_used_up_soonest():
    found = propose([HANDLES, BELTS], Terms(minimum=40_000, order_cost=100))
    assert found.value >= 40_000
    assert any("minimum" in kinds(found, one.key) for one in found.lines)
    nobody = propose([Wanted("HA16", least=2, per_day=0.001, prices=(Price(1, 10),))], Terms(minimum=10**9))
    assert [why.kind for why in nobody.notes] == ["minimum out of reach"]


def test_carriage_is_saved_where_keeping_the_rest_costs_less():
    terms = Terms(order_cost=100, carriage=(Carriage(4_000), Carriage(0, from_minor=36_000)))
    found = propose([HANDLES], terms)
    assert found.freight == 0
    assert "freight" in kinds(found, "HA16")
    dear = Terms(order_cost=100, holding=5.0, carriage=(Carriage(400), Carriage(0, from_minor=300_000)))
    assert propose([HANDLES], dear).freight == 400


def test_shelf_life_and_room_cut_and_say_what_is_short():
    oil = Wanted(
        "OIL", least=50, per_day=1, prices=(Price(1, 100),), most=30, most_why="shelf life", stored_as="flammable"
    )
    found = line(propose([oil], Terms(order_cost=100)), "OIL")
    assert found.units == 30
    assert next(why.facts["short"] for why in found.why if why.kind == "most") == 20
    less = line(propose([oil], Terms(order_cost=100), Limits(room={"flammable": 12})), "OIL")
    assert less.units == 12
    facts = {"room": 12, "what": "flammable", "short": 38, "left": 12, "rest": 18, "days": 18}
    assert less.why[-1].facts == facts


def test_what_has_no_price_is_bought_for_the_usual_days():
    found = line(propose([Wanted("TAG", least=5, per_day=2)], Terms(cover_days=28)), "TAG")
    assert (found.units, found.value) == (5 + 56, 0)
    assert "no price" in [why.kind for why in found.why]


def test_goods_of_one_storage_share_its_room_and_what_ends_first_has_it():
    goods = [
        Wanted("LACQUER", least=50, per_day=1, prices=(Price(1, 10),), stored_as="flammable", ends=TODAY + 9 * DAY),
        Wanted("THINNER", least=50, per_day=1, prices=(Price(1, 10),), stored_as="flammable", ends=TODAY + DAY),
    ]
    found = propose(goods, Terms(minimum=1_000_000, cover_days=0), Limits(room={"flammable": 60}))
    assert sum(one.units for one in found.lines) == 60
    assert line(found, "THINNER").units > line(found, "LACQUER").units
    assert "minimum" not in kinds(found, "THINNER")


def test_money_goes_to_what_ends_first_however_long_it_then_lasts():
    goods = [
        Wanted("A", least=10, per_day=1, stands_days=3, prices=(Price(1, 100),), ends=TODAY + 9 * DAY),
        Wanted("B", least=10, per_day=0.1, stands_days=3, prices=(Price(1, 100),), ends=TODAY),
    ]
    found = propose(goods, Terms(order_cost=100), Limits(money=1_200))
    assert [(one.key, one.units) for one in found.lines] == [("A", 2), ("B", 10)]
    assert line(found, "A").why[-1].facts["short"] == 8


def test_what_has_no_price_is_not_cut_to_save_money():
    goods = [Wanted("TAG", least=40, per_day=1), Wanted("A", least=10, per_day=1, prices=(Price(1, 100),))]
    found = propose(goods, Terms(), Limits(money=500))
    assert (line(found, "TAG").units >= 40, line(found, "A").units) == (True, 5)


def test_an_order_under_the_smallest_one_always_says_why():
    terms = Terms(minimum=4_000, order_cost=100)
    spoils = Wanted("OIL", least=20, per_day=1, stands_days=2.5, prices=(Price(1, 100),), most=30)
    (note,) = propose([spoils], terms).notes
    assert note.kind == "minimum out of reach"
    assert {name: note.facts[name] for name in ("reach", "wait_days", "lasts_days")} == {
        "reach": 3_000, "wait_days": 10, "lasts_days": 2,
    }  # fmt: skip
    (note,) = propose([HANDLES], Terms(minimum=50_000), Limits(money=20_000)).notes
    assert (note.kind, note.facts["money"]) == ("minimum over money", 20_000)
    (note,) = propose([Wanted("TAG", least=5, per_day=1)], terms).notes
    assert note.kind == "minimum not known"


def test_a_price_break_that_money_or_room_would_cut_again_is_not_taken():
    cheap = Wanted("BOX", least=10, per_day=1, prices=(Price(1, 100), Price(100, 80)), stored_as="flammable")
    terms = Terms(order_cost=100)
    for limits in (Limits(money=7_000), Limits(room={"flammable": 99})):
        assert kinds(propose([cheap], terms, limits), "BOX").count("price") == 0
    assert "price" in kinds(propose([cheap], terms, Limits({"flammable": 100}, 8_000)), "BOX")


def test_the_carriage_that_saves_most_is_taken_not_the_first_that_saves():
    """Two steps are in reach: 100 less from 32,000 on, 3,000 less from 36,000 on."""
    terms = Terms(order_cost=100, carriage=(Carriage(3_000), Carriage(2_900, 32_000), Carriage(0, 36_000)))
    found = propose([HANDLES], terms)
    assert found.freight == 0
    assert [why.facts["saves"] for why in line(found, "HA16").why if why.kind == "freight"] == [3_000]


def test_goods_by_the_milligram_cost_what_they_cost_and_are_raised_at_once():
    """450 g are due at 0.002 for a milligram; reaching 50,000 takes 25 kg, not so many steps of a milligram."""
    wax = Wanted("WAX", least=450_000, per_day=100_000.0, prices=(Price(1, 0.002),))
    found = propose([wax], Terms(minimum=50_000))
    assert found.value == 50_000
    assert line(found, "WAX").units == pytest.approx(25_000_000, rel=1e-4)


def test_bars_are_bought_for_what_can_be_sawn_of_them():
    """Ends take 18 in 100: 60 ft in blanks are not in 3 bars of 20 ft but in 4."""
    bars = Wanted("BAR", least=60, per_day=0.0, prices=(Price(1, 5_000),), pack=20, lost=0.18)
    assert line(propose([bars], Terms()), "BAR").units == 80
    short = line(propose([bars], Terms(), Limits(money=10_000)), "BAR")
    assert (short.units, short.why[-1].facts["short"]) == (40, 28)


prices = st.lists(
    st.tuples(st.integers(1, 40), st.integers(1, 500), st.sampled_from((1, 1, 4, 10))),
    min_size=1, max_size=3, unique_by=lambda p: p[0],
)  # fmt: skip
wanted = st.builds(
    lambda key, least, day, left, stands, told, pack, bundle, most, why: Wanted(
        key, least, day, 0 if least else left, stands,
        tuple(
            Price(start, minor, by if n else 1)
            for n, (start, minor, by) in enumerate(sorted(told, key=lambda one: (one[0], -one[1])))
        ),
        pack, bundle, most, why,
    ),
    st.sampled_from("ABCDE"), st.integers(0, 40), st.sampled_from((0.0, 0.1, 0.5, 2.0)), st.floats(1, 60),
    st.floats(0, 60), prices, st.sampled_from((1, 3, 12)), st.sampled_from((1, 2)),
    st.none() | st.integers(0, 200), st.sampled_from(("", "shelf life")),
)  # fmt: skip
baskets = st.lists(wanted, min_size=1, max_size=4, unique_by=lambda one: one.key)
shop_terms = st.builds(
    lambda minimum, carriage, above, cost: Terms(minimum, (Carriage(carriage), Carriage(0, above)), cost),
    st.sampled_from((0, 500, 5_000)), st.integers(0, 900), st.integers(1, 9_000), st.integers(0, 3_000),
)  # fmt: skip


@settings(max_examples=150)
@given(goods=baskets, terms=shop_terms, money=st.none() | st.integers(0, 20_000))
def test_every_basket_is_whole_packs_and_keeps_its_limits(goods, terms, money):
    found = propose(goods, terms, Limits(money=money))
    assert found == propose(goods, terms, Limits(money=money))
    by_key = {one.key: one for one in goods}
    for one in found.lines:
        good = by_key[one.key]
        assert one.units % good.step == 0
        assert one.value == good.value(one.units)
        if good.most is not None:
            assert one.units <= good.most or (good.spoils and one.units == good.step)
        if one.units < good.least:
            assert any(why.facts.get("short", 0) == good.least - one.units for why in one.why)
    assert found.value == sum(one.value for one in found.lines)
    if money is not None:
        assert found.value + found.freight <= money
    assert {one.key for one in goods if one.least} <= {one.key for one in found.lines}


@settings(max_examples=150)
@given(goods=baskets, terms=shop_terms, money=st.none() | st.integers(0, 20_000), room=st.integers(0, 120))
def test_no_reason_tells_of_what_was_cut_again_and_no_small_order_goes_unsaid(goods, terms, money, room):
    goods = [dataclasses.replace(one, stored_as="flammable") if n % 2 else one for n, one in enumerate(goods)]
    found = propose(goods, terms, Limits({"flammable": room}, money))
    by_key = {one.key: one for one in goods}
    assert sum(one.units for one in found.lines if by_key[one.key].stored_as) <= room
    for one in found.lines:
        for why in one.why:
            assert why.kind != "price" or one.units >= why.facts["units"]
            assert why.kind not in {"minimum", "freight"} or one.units >= why.facts["more"] > 0
        if {"minimum", "freight", "price"} & {why.kind for why in one.why}:
            assert "money" not in {why.kind for why in one.why}
    if any(one.units for one in found.lines) and found.value < terms.minimum:
        assert any(note.kind.startswith("minimum") for note in found.notes)


falling = prices.map(
    lambda told: tuple(
        Price(start, minor, by)
        for start, minor, by in zip(
            sorted(p[0] for p in told),
            sorted((p[1] for p in told), reverse=True),
            (p[2] if n else 1 for n, p in enumerate(told)),
            strict=True,
        )
    )
)


@settings(max_examples=150)
@given(
    goods=st.lists(st.tuples(wanted, falling), min_size=1, max_size=4, unique_by=lambda one: one[0].key),
    terms=shop_terms, money=st.integers(0, 20_000), more=st.integers(1, 20_000),
)  # fmt: skip
def test_more_money_never_leaves_less_of_what_is_due(goods, terms, money, more):
    told = [dataclasses.replace(one, prices=falls) for one, falls in goods]

    def there(limit: int) -> dict[str, int]:
        units = {one.key: one.units for one in propose(told, terms, Limits(money=limit)).lines}
        return {one.key: min(one.least, units.get(one.key, 0)) for one in told}

    poor, rich = there(money), there(money + more)
    assert all(rich[key] >= units for key, units in poor.items())


@settings(max_examples=150)
@given(
    goods=st.lists(st.tuples(wanted, falling), min_size=1, max_size=4, unique_by=lambda one: one[0].key), terms=shop_terms,
)  # fmt: skip
def test_the_bare_cost_of_what_is_due_pays_for_all_of_it(goods, terms):
    told = [dataclasses.replace(one, prices=falls) for one, falls in goods]
    found = propose(told, terms, Limits(money=bare_cost(told, terms)))
    by_key = {one.key: one for one in told}
    for line in found.lines:
        one = by_key[line.key]
        assert line.units >= min(one.rounded(one.least), Draft([one], terms).most(one.key))


def yearly(terms: Terms, goods: list[Wanted], units: dict[str, int]) -> float:
    """Return what an order costs by the year: ordering and carriage spread over its cover, prices, and keeping."""
    if not any(units.values()):
        return float("inf")
    value = sum(one.value(units[one.key]) for one in goods)
    days = min((one.stands_days + units[one.key] / one.per_day) for one in goods if one.per_day)
    kept = 0.0
    for one in goods:
        price = one.price(units[one.key]) or 0
        kept += terms.holding * price * (units[one.key] / one.pack) / 2
    used = sum((one.price(units[one.key]) or 0) / one.pack * one.per_day * YEAR_DAYS for one in goods)
    return (terms.order_cost + terms.freight(value)) * YEAR_DAYS / days + kept + used


@pytest.mark.parametrize("order_cost", [300, 1_500, 6_000])
@pytest.mark.parametrize("carriage", [0, 800])
def test_the_yearly_cost_is_near_the_best_of_all_orders(order_cost, carriage):
    """Two goods due with nothing left: all orders of up to 60 packs of each are tried; within 6 in 100 of the best."""
    goods = [
        Wanted("A", least=3, per_day=1, prices=(Price(1, 900), Price(20, 850))),
        Wanted("B", least=2, per_day=0.5, prices=(Price(1, 600),)),
    ]
    terms = Terms(order_cost=order_cost, carriage=(Carriage(carriage), Carriage(0, from_minor=30_000)))
    basket = propose(goods, terms)
    mine = yearly(terms, goods, {one.key: one.units for one in basket.lines})
    best = min(yearly(terms, goods, {"A": a, "B": b}) for a, b in itertools.product(range(3, 121), range(2, 121)))
    assert mine <= best * 1.06


def test_reaching_a_smallest_order_costs_little_more_than_the_best_way_there():
    """200 drawn pairs of goods: all ways to the smallest order are tried; most are the best, none is 6 in 100 dearer.

    Compared is what keeping all of the order costs until it is used, per unit of value bought.
    """
    drawn, gaps = random.Random(8), []
    for _ in range(200):
        goods = [
            Wanted(name, least=drawn.randint(1, 10), per_day=drawn.choice((0.3, 1.0, 2.0)), stands_days=drawn.randint(0, 20),
                   prices=(Price(1, drawn.randint(50, 400)),), pack=drawn.choice((1, 2, 5)))
            for name in "AB"
        ]  # fmt: skip
        base = {one.key: one.units for one in propose(goods, Terms()).lines}
        worth = sum(one.value(base[one.key]) for one in goods)
        terms = Terms(minimum=worth + drawn.randint(500, 5_000))
        units = {one.key: one.units for one in propose(goods, terms).lines}
        if sum(one.value(units[one.key]) for one in goods) < terms.minimum:
            continue
        ways = itertools.product(*(range(base[one.key], base[one.key] + 200, one.step) for one in goods))
        best = min(kept(goods, way) for way in ways if worth_of(goods, way) >= terms.minimum)
        gaps.append(kept(goods, [units[one.key] for one in goods]) / best - 1)
    assert len(gaps) > 150
    assert sorted(gaps)[len(gaps) // 2] <= 1e-9
    assert max(gaps) <= 0.06


def worth_of(goods: list[Wanted], units) -> int:
    """Return the value of an order."""
    return sum(one.value(many) for one, many in zip(goods, units, strict=True))


def kept(goods: list[Wanted], units) -> float:
    """Return what an order costs to keep until it is used."""
    return sum(
        one.value(many) * (one.stands_days + many / one.per_day / 2) for one, many in zip(goods, units, strict=True)
    )
