"""What holds of ship dates in every future, whatever the shop: more of anything, with the plan kept, is never later.

The plan is kept with its sequence, people, loads and sizes of runs; the streams are those of the seed. What does not hold:

- Re-planned, more can be later (any dispatch rule: Graham 1969, from memory). So the properties keep the plan.
- Where illness begins less often, spells move: somebody ill on day 3, where nobody waits for him, is ill on day 5 instead, when
  his step comes up. Fewer days away means here: those who are ill are not ill at all, or known days out fall away.
- A delivery promised for day 2 that may come two days early and is not here today comes on day 0 in some future. Promised
  for day 1 it can no more be two days early: it comes on day 1. The properties have suppliers who are never early.
- A better rate gives more pieces, which take longer at the next bench; rates are left as they are.
- A step that takes no time at all, when its person is back on Tuesday, is said to be done on Monday at closing time, and a
  longer Monday makes that later by the clock. Steps of drawn shops take half a minute or more.
"""

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from math import prod
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deploy.environment import ROOT
from orders.calc.dates.answers import Curve
from orders.calc.dates.dispatch import propose
from orders.calc.dates.filling import Filled
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Step
from orders.calc.dates.state import DAY, Batch, Coming, Line, Person, Shop, Spells, Supplier
from tests.calc.dates_making import always_open, curve, known, passed, product, with_steps
from tests.calc.dates_strategies import MATERIALS, a_shop, shops
from tests.conftest import LONG

few = settings(max_examples=1_000 if LONG else 20, deadline=None)
FUTURES = 50
Changed = tuple[Shop, Plan]


def never_later(better: Filled, before: Filled) -> None:
    for after, was in zip([*better.ready, *better.sent], [*before.ready, *before.sent], strict=True):
        assert (after <= was).all()


def stocked(shop: Shop, plan: Plan, rng: Random, *, material: bool) -> Changed:
    stock = {
        item: had + (rng.randint(0, 5) if (item in MATERIALS) is material else 0) for item, had in shop.stock.items()
    }
    return replace(shop, stock=stock), plan


def more_tools(shop: Shop, plan: Plan, rng: Random) -> Changed:
    return stocked(shop, plan, rng, material=False)


def more_steel_and_handles(shop: Shop, plan: Plan, rng: Random) -> Changed:
    return stocked(shop, plan, rng, material=True)


def lorries_a_day_earlier(shop: Shop, plan: Plan, rng: Random) -> Changed:
    return replace(shop, coming=tuple(replace(one, day=one.day - 1) for one in shop.coming)), plan


def quicker_suppliers(shop: Shop, plan: Plan, rng: Random) -> Changed:
    suppliers = tuple(
        replace(one, lead_days=one.lead_days - 1, late_days=tuple(max(0, late - 1) for late in one.late_days))
        for one in shop.suppliers
    )
    return replace(shop, suppliers=suppliers), plan


def longer_days(shop: Shop, plan: Plan, rng: Random) -> Changed:
    opens = max(0, shop.hours.opens - rng.choice([0, 13, 60]))
    closes = min(DAY, shop.hours.closes + rng.choice([7, 60]))
    return replace(shop, hours=replace(shop.hours, opens=opens, closes=closes)), plan


def a_carrier_every_day(shop: Shop, plan: Plan, rng: Random) -> Changed:
    hours = replace(shop.hours, carrier_weekdays=tuple(range(7)), carrier_cutoff=DAY)
    return replace(shop, hours=hours, pack_minutes=shop.pack_minutes // 2), plan


def steps_changed(shop: Shop, plan: Plan, change: Callable[[Step], Step]) -> Changed:
    products = tuple(replace(one, steps=tuple(map(change, one.steps))) for one in shop.products)
    return replace(shop, products=products), with_steps(plan, change)


def quicker_hands(shop: Shop, plan: Plan, rng: Random) -> Changed:
    def quicker(step: Step) -> Step:
        return replace(
            step,
            minutes=step.minutes * 0.83,
            rework_minutes=step.rework_minutes * 0.7,
            cure=int(step.cure * 0.9),
            fire=step.fire and replace(step.fire, minutes=step.fire.minutes * 0.9),
            oven=step.oven and replace(step.oven, soak=step.oven.soak - 7),
        )

    return steps_changed(shop, plan, quicker)


def an_oven_left_alone(shop: Shop, plan: Plan, rng: Random) -> Changed:
    return steps_changed(shop, plan, lambda step: replace(step, oven=step.oven and replace(step.oven, unattended=True)))


def nobody_ill(shop: Shop, plan: Plan, rng: Random) -> Changed:
    well = rng.choice(shop.people)
    people = tuple(replace(one, ill=Spells(), ill_for=0) if one is well else one for one in shop.people)
    return replace(shop, people=people), plan


def fewer_days_out(shop: Shop, plan: Plan, rng: Random) -> Changed:
    people = tuple(replace(one, out=frozenset(sorted(one.out)[1:])) for one in shop.people)
    return replace(shop, people=people), plan


def machines_that_run(shop: Shop, plan: Plan, rng: Random) -> Changed:
    machines = tuple(replace(one, breaks=Spells(), busy=0, down=frozenset()) for one in shop.machines)
    return replace(shop, machines=machines), plan


def an_earlier_day_on_the_sheet(shop: Shop, plan: Plan, rng: Random) -> Changed:
    return replace(shop, pins=tuple(replace(one, day=one.day - 1) for one in shop.pins)), plan


CHANGES = (
    more_tools, more_steel_and_handles, lorries_a_day_earlier, quicker_suppliers, longer_days, a_carrier_every_day,
    quicker_hands, an_oven_left_alone, nobody_ill, fewer_days_out, machines_that_run, an_earlier_day_on_the_sheet,
)  # fmt: skip


def restful(shop: Shop, change: Callable[[Shop, Plan, Random], Changed]) -> Shop:
    """Leave the unrest out where days become longer: it stretches minutes of work, and a cure leaves more of these over."""
    return replace(shop, unrest=0.0) if change is longer_days else shop


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
@few
@given(shop=shops, seed=st.integers(0, 2**32))
def test_no_order_is_later_in_any_future_for(
    change: Callable[[Shop, Plan, Random], Changed], shop: Shop, seed: int
) -> None:
    shop = restful(shop, change)
    plan = propose(shop)
    better, same = change(shop, plan, Random(seed))
    never_later(passed(better, seed, FUTURES, same), passed(shop, seed, FUTURES, plan))


def test_the_drawn_shops_are_such_that_each_change_makes_some_order_earlier() -> None:
    helped = dict.fromkeys(CHANGES, 0)
    for seed in range(40):
        shop = a_shop(Random(seed))
        plan = propose(shop)
        for change in CHANGES:
            shop = restful(shop, change)
            before = passed(shop, seed, FUTURES, plan)
            better, same = change(shop, plan, Random(seed))
            after = passed(better, seed, FUTURES, same)
            never_later(after, before)
            rows = zip([*after.ready, *after.sent], [*before.ready, *before.sent], strict=True)
            helped[change] += any((one < was).any() for one, was in rows)
    assert min(helped.values()) >= 1, {change.__name__: count for change, count in helped.items()}


def test_less_illness_is_earlier_on_the_average_though_not_in_each_future() -> None:
    shop = always_open(
        product("axe", Step(1, "forged", DAY)), batches=(Batch("run", "axe", 0, 1, ready=3 * DAY),),
        people=(Person("A"),),
    )  # fmt: skip
    often, seldom = (
        passed(replace(shop, people=(Person("A", ill=Spells(chance, (3,))),))).ready[0] for chance in (0.2, 0.15)
    )
    assert seldom.mean() < often.mean()
    assert (seldom > often).any()


@given(
    counts=st.lists(st.integers(0, 9), min_size=1, max_size=30), never=st.integers(0, 9),
    sures=st.lists(st.floats(0.001, 0.999), min_size=2, max_size=10),
)  # fmt: skip
def test_a_surer_day_is_never_earlier_and_each_is_the_first_that_is_sure_enough(
    counts: list[int], never: int, sures: list[float]
) -> None:
    sent = np.repeat(np.arange(len(counts) + 1), [*counts, never])
    if not len(sent):
        return
    found = Curve.of(sent, len(counts))
    days = [found.day(sure) for sure in sorted(sures)]
    assert [len(counts) if day is None else day for day in days] == sorted(
        len(counts) if day is None else day for day in days
    )
    for sure, day in zip(sorted(sures), days, strict=True):
        if day is None:
            assert found.counts[-1] / len(sent) < sure
        else:
            assert found.sure(day) >= sure - 1e-9
            assert found.sure(day - 1) < sure
    assert found.never == pytest.approx(never / len(sent))
    assert [found.sure(day) for day in (-1, len(counts) + 9)] == [0, found.counts[-1] / len(sent)]


def test_a_chance_of_nothing_or_of_certainty_is_refused() -> None:
    for sure in (0.0, 1.0):
        with pytest.raises(ValueError, match="between 0 and 1"):
            Curve((1,), 1).day(sure)


def digest(seeds: range) -> str:
    """Give a print of all days of some drawn shops."""
    seen = hashlib.sha256()
    for seed in seeds:
        filled = passed(a_shop(Random(seed)), seed, FUTURES)
        for row in (*filled.ready, *filled.sent):
            seen.update(row.tobytes())
    return seen.hexdigest()


def test_the_same_shop_has_the_same_dates_in_another_process() -> None:
    code = "from tests.calc.test_dates_properties import digest; print(digest(range(12)))"
    environment = {**os.environ, "PYTHONHASHSEED": "77", "PYTHONPATH": str(ROOT)}
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, env=environment, check=True, cwd=ROOT)
    assert said.stdout.decode().strip() == digest(range(12))


@few
@given(shop=shops, place=st.integers(0, 6), seed=st.integers(0, 2**32))
def test_an_order_that_comes_from_the_shelf_changes_no_number_of_another(shop: Shop, place: int, seed: int) -> None:
    chisel = product("chisel", Step(1, "forged", 600.0, machines=("ANVIL",)), made_from="blank")
    stocked = replace(shop, products=(*shop.products, chisel), stock={**shop.stock, "chisel": 5, "rope": 5})
    place = min(place, len(shop.lines))
    shelf = (Line("unrelated", "chisel", 5), Line("unrelated", "rope", 4))
    asked = replace(stocked, lines=(*shop.lines[:place], *shelf, *shop.lines[place:]))
    was, now = passed(shop, seed, FUTURES), passed(asked, seed, FUTURES)
    ready = [row for row, line in zip(now.ready, asked.lines, strict=True) if line.order != "unrelated"]
    assert all((row == before).all() for row, before in zip(ready, was.ready, strict=True))
    for order, row in zip(was.orders, was.sent, strict=True):
        assert (now.sent[now.orders.index(order)] == row).all()


@few
@given(shop=shops, item=st.sampled_from(MATERIALS), seed=st.integers(0, 2**32))
def test_a_late_delivery_leaves_what_is_not_made_of_it_as_it_was(shop: Shop, item: str, seed: int) -> None:
    plan = propose(shop)
    late = replace(
        shop, coming=tuple(replace(one, day=one.day + 9) if one.item == item else one for one in shop.coming)
    )
    was, now = passed(shop, seed, FUTURES, plan), passed(late, seed, FUTURES, plan)
    made_of_it = {
        one.item
        for one in shop.products
        if item == one.made_from or item in dict(use for s in one.steps for use in s.uses)
    }
    for line, before, after in zip(shop.lines, was.ready, now.ready, strict=True):
        if line.item in made_of_it or line.item == item:
            assert (after >= before).all()
        else:
            assert (after == before).all()


def test_more_counts_bring_the_chance_to_the_one_of_the_known_rate() -> None:
    for worth in (1, 10, 100, 10_000):
        shop = always_open(
            product("axe", Step(1, "forged", 60, good=9.0 * worth, bad=1.0 * worth), made_from="blank"),
            batches=(Batch("run", "axe", 0, 10),), lines=(Line("1", "axe", 10),),
        )  # fmt: skip
        # beta-binomial: the chance that ten of ten come off well (from memory; any textbook of Bayesian statistics)
        exact = prod((9 * worth + n) / (10 * worth + n) for n in range(10))
        found = 1 - curve(shop, "1", count=20_000).never
        assert abs(found - exact) <= 5 * (exact * (1 - exact) / 20_000) ** 0.5  # five standard errors
    assert abs(exact - 0.9**10) < 1e-4


def test_what_no_steel_can_come_for_is_never_sent() -> None:
    axe = product("axe", Step(1, "forged", 60, **known(0.9)), made_from="blank")
    shop = always_open(axe, lines=(Line("1", "axe", 10),), stock={"blank": 9}, starts_sure=0.01)
    assert curve(shop, "1").never == 1
    just = replace(shop, stock={"blank": 10})
    exact = 1 - 0.9**10  # one reject, and there is no steel for another
    assert abs(curve(just, "1", count=20_000).never - exact) <= 5 * (exact * (1 - exact) / 20_000) ** 0.5
    comes = replace(just, coming=(Coming("blank", 30, 9, "mill"),), suppliers=(Supplier("mill"),))
    found = curve(comes, "1", count=20_000)
    assert found.never < 0.01
    assert abs(1 - found.sure(8) - exact) <= 5 * (exact * (1 - exact) / 20_000) ** 0.5
    assert found.sure(9) > 0.99, "with the lorry come the blanks for what was rejected"
    bought = replace(just, buys_from={"blank": "mill"}, suppliers=(Supplier("mill", (0,), 12),))
    assert curve(bought, "1").day(0.99) == 12
    sold = replace(comes, lines=(Line("0", "blank", 30), *shop.lines))
    found = curve(sold, "1", count=20_000)
    assert found.day(0.01) == 9, "the blanks of today go to the line before it"
    assert abs(found.never - exact) <= 5 * (exact * (1 - exact) / 20_000) ** 0.5


def test_a_run_that_cannot_be_finished_is_not_made_up_for() -> None:
    axe = product("axe", Step(1, "forged", 60, hands=("nobody",)))
    assert curve(always_open(axe), "order of axe").never == 1
    half = product("axe", Step(1, "forged", 60), Step(2, "hafted", 60, uses=(("handle", 1.0),)))
    shop = always_open(half, lines=(Line("1", "axe", 3), Line("2", "axe", 3)), stock={"handle": 3, "axe": 0})
    shop = replace(shop, products=(replace(half, most=3, usual=3),))
    assert [curve(shop, order).never for order in ("1", "2")] == [0, 1]
