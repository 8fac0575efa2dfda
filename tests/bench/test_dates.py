"""What a ship date costs: against drawing the same random numbers alone, and as the order book grows.

Processor time of this process, both sides in the same run, the best of several; no server takes part.
"""

import time
from collections.abc import Callable
from functools import partial

import numpy as np
import pytest

from orders.calc.dates import filling, scenarios, streams
from orders.calc.dates.asking import FUTURES, ask
from orders.calc.dates.chance import Law
from orders.calc.dates.dispatch import propose
from orders.calc.dates.filling import Filled
from orders.calc.dates.futures import Futures
from orders.calc.dates.ideas import ideas
from orders.calc.dates.plan import Plan
from orders.calc.dates.route import Oven, Product, Step
from orders.calc.dates.state import Batch, Coming, Hours, Line, Machine, Person, Shop, Spells, Supplier
from tests.calc.dates_making import MONDAY

pytestmark = [pytest.mark.bench, pytest.mark.long]
LINES, RUNS, TOOLS = 200, 60, 10
SLOWER, GROWS, TEN = 8.0, 2.3, 10.0


def shop(times: int = 1) -> Shop:
    """Make a shop of 60 open runs and ten tools of twelve steps each; so many times the lines for the same pieces."""
    lines = [(n, 4 + n * 7 % 9) for n in range(LINES)]
    products = tuple(
        Product(f"tool{k}", f"pattern{k}", _route(k), f"blank{k}", usual=30, most=30, bar_gives=4) for k in range(TOOLS)
    )
    stock = {"handle": 2_000} | {f"blank{k}": 30 for k in range(TOOLS)}
    return Shop(
        Hours(MONDAY),
        tuple(Person(f"P{n}", ill=Spells(0.01, (1, 2, 3))) for n in range(4)),
        tuple(
            Machine(code, breaks=Spells(0.005)) for code in ("FORGE", "HAMMER", "GRINDER", "QUENCH", "OVEN", "BENCH")
        ),
        products,
        stock,
        tuple(Batch(f"run{n}", f"tool{n % TOOLS}", n * 2 % 10 if n % 3 else 0, 20 + n % 9) for n in range(RUNS)),
        tuple(Coming(f"blank{k}", 60, 10, "mill") for k in range(TOOLS)),
        (Supplier("mill", (0, 0, 0, 1, 2, 3, 7), 20),),
        {f"blank{k}": "mill" for k in range(TOOLS)},
        tuple(
            Line(f"order{n // 2} part {part}", f"tool{n % TOOLS}", pieces // times + (part < pieces % times))
            for n, pieces in lines
            for part in range(times)
        ),
    )


def _route(k: int) -> tuple[Step, ...]:
    """Make a route: forged twice, the eye, normalised, ground, hardened, tempered, checked, hafted, oiled, packed."""
    law, dies, gas = Law("lognormal", (0.25,)), f"dies{k}", ("FORGE", "HAMMER")
    return (
        Step(1, "drawn out", 3.3, law, 0.05, 20, dies, 30, machines=gas, good=95, bad=3),
        Step(2, "shaped", 2.7, law, 0.05, 5, dies, 30, machines=gas, good=95, bad=2),
        Step(3, "eye", 1, law, 0.05),
        Step(4, "normalised", 1, law, 0.05, cure=120),
        Step(5, "ground", 9, law, 0.05, 5, machines=("GRINDER",), good=98, bad=1),
        Step(6, "hardened", 5, law, 0.05, 30, machines=("FORGE", "QUENCH")),
        Step(7, "tempered", 1, law, 0.05, 10, machines=("OVEN",), oven=Oven(1 / 30, 30, 120, "204")),
        Step(8, "checked", 2.5, law, 0.05, 5, good=95, bad=3, rework=0.5, rework_minutes=8),
        Step(9, "hafted", 14, law, 0.05, 10, machines=("BENCH",), uses=(("handle", 1.05),)),
        Step(10, "oiled", 1.5, law, 0.05, 5, cure=720),
        Step(11, "labelled", 1, law, 0.05),
        Step(12, "packed", 4, law, 0.05, good=99, bad=1),
    )


def one_pass(of: Shop, plan: Plan) -> Filled:
    futures = Futures(of, 1, FUTURES)
    return filling.fill(of, plan, futures, scenarios.play(of, plan, futures))


def plain_draws(of: Shop, plan: Plan) -> np.ndarray:
    """Draw what a pass draws for its runs, of the same laws from streams of the same names, and add it up."""
    total, speeds, rates = np.zeros(FUTURES), {}, {}
    for one in plan.operations:
        run, step = plan.runs[one.run], one.step
        key = (run.product.pattern, step.number)
        assert step.varies is not None
        if key not in speeds:
            speeds[key] = Law("lognormal", (step.unsure,)).draw(streams.stream(1, "speed", *key), FUTURES)
            if step.good:
                rates[key] = streams.stream(1, "rate", *key).beta(step.good, step.bad, FUTURES)
        total += speeds[key] * step.varies.draw(streams.stream(1, "minutes", run.code, step.number), FUTURES)
        if step.good:
            total += rates[key] + streams.stream(1, "good", run.code, step.number).random(FUTURES)
    for number, _ in enumerate(of.coming):
        total += streams.stream(1, "late", "mill", number).random(FUTURES)
    for thing in (*of.people, *of.machines):
        total += streams.stream(1, "away", thing.code).random(FUTURES)
    return total


def seconds(*works: Callable[[], object], rounds: int) -> list[float]:
    """Give the least processor time of each, asked in turns so that what else the machine does falls on all."""
    found = [[] for _ in works]
    for _ in range(rounds):
        for place, work in enumerate(works):
            begun = time.process_time()
            work()
            found[place].append(time.process_time() - begun)
    return [min(one) for one in found]


def test_a_pass_costs_no_more_than_eight_times_its_random_numbers_and_grows_with_the_book(
    capsys: pytest.CaptureFixture[str],
) -> None:
    small, big = shop(), shop(2)
    plan = propose(small)
    assert len(big.lines) == 2 * len(small.lines)
    runs = {run.code for run in plan.runs}
    assert len(runs) >= RUNS
    fixed, plain, doubled, planning = seconds(
        partial(one_pass, small, plan), partial(plain_draws, small, plan), partial(one_pass, big, plan),
        partial(propose, small), rounds=7,
    )  # fmt: skip
    asking, thinking = seconds(
        partial(ask, small, [Line("asked", "tool3", 5)], sure=0.9, seed=1),
        partial(ideas, small, [Line("asked", "tool3", 5)], sure=0.9, seed=1),
        rounds=2,
    )
    with capsys.disabled():
        print(
            f"\n{LINES} lines, {len(runs)} runs, {len(plan.operations)} operations, {FUTURES} futures: a pass {fixed:.2f} s,"
            f" {fixed / plain:.1f} times the plain draws ({plain:.2f} s); twice the lines {doubled / fixed:.2f} times;"
            f" planning {planning / fixed:.2f}, asking {asking / fixed:.1f}, ideas {thinking / fixed:.1f} passes"
        )
    assert fixed <= SLOWER * plain
    assert doubled <= GROWS * fixed
    assert thinking <= TEN * fixed
