"""Small shops drawn at random: a few people, tools and steps, an oven, cures, deliveries, illness, breakdowns, a sheet."""

import datetime as dt
from random import Random

from hypothesis import strategies as st

from orders.calc.dates.chance import Law
from orders.calc.dates.route import Fire, Oven, Product, Step
from orders.calc.dates.state import (
    DAY,
    Batch,
    Coming,
    Hours,
    Line,
    Machine,
    Person,
    Pin,
    Shop,
    Spells,
    Supplier,
)
from tests.calc.dates_making import ALWAYS, MONDAY

MATERIALS = ("blank", "steel", "handle")
LAWS = (
    None, Law("lognormal", (0.3,)), Law("gamma", (3.0,)), Law("counted", (0.5, 1.0, 2.0)),
    Law("triangular", (0.5, 1.0, 2.0)), Law("pert", (0.5, 1.0, 3.0)), Law("normal", (0.3,)),
)  # fmt: skip


def a_shop(rng: Random) -> Shop:
    """Draw a shop."""
    people = tuple(
        Person(f"P{n}", frozenset(rng.sample(range(12), rng.choice([0, 0, 2]))), _spells(rng), rng.choice([0, 0, 0, 2]))
        for n in range(rng.randint(1, 4))
    )
    machines = tuple(
        Machine(code, frozenset(rng.sample(range(9), rng.choice([0, 0, 1]))), _spells(rng), rng.choice([0, 0, 900]))
        for code in ("ANVIL", "GRINDER", "OVEN")
    )
    products = tuple(_product(rng, n, len(people)) for n in range(rng.randint(1, 3)))
    batches = tuple(
        Batch(f"run {n}", one.item, rng.choice([0, *(step.number for step in one.steps)]), rng.randint(1, 12),
              rng.choice([0, 0, 700, 3000]), rng.random() < 0.2, rng.choice([0.0, 0.0, 20.0]))
        for n in range(rng.randint(0, 4)) for one in [rng.choice(products)]
    )  # fmt: skip
    items = [one.item for one in products]
    lines = tuple(
        Line(f"order {n * 2 // 3}", rng.choice([*items, *items, "handle"]), rng.randint(0, 9), rng.choice([None, 5]))
        for n in range(rng.randint(1, 6))
    )
    runs = [batch.code for batch in batches] + [f"{item}+1" for item in items]
    pins = tuple(Pin(rng.choice(runs), rng.randint(1, 5), rng.randint(-1, 6)) for _ in range(rng.choice([0, 0, 1, 3])))
    return Shop(
        _hours(rng), people, machines, products,
        {item: rng.randint(0, 9) for item in [*items, *MATERIALS]}, batches,
        tuple(Coming(rng.choice(MATERIALS), rng.randint(1, 20), rng.randint(1, 12), rng.choice(["mill", "wood"]))
              for _ in range(rng.randint(0, 3))),
        (Supplier("mill", (0, 1, 1, 6), 9), Supplier("wood", (0, 3), 4)),
        {item: rng.choice(["mill", "wood"]) for item in MATERIALS if rng.random() < 0.6},
        lines, pins, {"ANVIL": rng.choice(["D1", "D2"])} if rng.random() < 0.3 else {},
        now=rng.choice([480, 480, 0, 700, 1200]), starts_sure=rng.choice([0.5, 0.8, 0.95]),
        pack_minutes=rng.choice([0, 30]), top_up_waits=rng.choice([1.0, 2.0]), horizon_days=90,
    )  # fmt: skip


def _hours(rng: Random) -> Hours:
    if rng.random() < 0.2:
        return ALWAYS
    closed = frozenset({MONDAY + dt.timedelta(days=rng.randint(0, 20))})
    return Hours(
        MONDAY, (0, 1, 2, 3, 4), rng.choice([420, 480, 487]), rng.choice([960, 1020, 1021]), rng.choice([0.65, 0.7, 1.0]),
        closed, rng.choice([(0, 1, 2, 3, 4), (1, 4)]), rng.choice([900, 1200]),
    )  # fmt: skip


def _spells(rng: Random) -> Spells:
    return rng.choice([Spells(), Spells(0.03, (1, 2, 2, 6)), Spells(0.15, (1, 3))])


def _product(rng: Random, number: int, people: int) -> Product:
    steps = tuple(_step(rng, place, people) for place in range(1, rng.randint(3, 7) + 1))
    made_from = rng.choice(["", "blank", "steel"])
    return Product(
        f"tool{number}", f"pattern{rng.randint(0, number)}", steps, made_from, rng.choice([4, 60]), rng.choice([1, 4])
    )


def _step(rng: Random, number: int, people: int) -> Step:
    kind = rng.choice(["forge", "grind", "oven", "cure", "check", "haft", "oil"])
    given: dict[str, object] = {
        "minutes": rng.choice([0.5, 2.0, 7.5, 40.0]), "varies": rng.choice(LAWS), "unsure": rng.choice([0.0, 0.2]),
        "set_up": rng.choice([1.0, 15.0]), "people": rng.choice([1, 1, 1, min(2, people)]),
        "hands": rng.choice([(), (), ("P0",)]),
    }  # fmt: skip
    if given["hands"] and given["people"] == 2:
        given["hands"] = ("P0", "P1")
    if kind == "forge":
        fire = rng.choice([None, Fire(3, 25.0)])
        given |= {"machines": ("ANVIL",), "tooling": rng.choice(["", "D1", "D2"]), "change": 30.0, "fire": fire}
    elif kind == "grind":
        given |= {"machines": ("GRINDER",)}
    elif kind == "oven":
        oven = Oven(rng.choice([0.05, 0.2, 0.34, 0.4]), 30, rng.choice([60, 120]), "204", rng.random() < 0.4)
        given |= {"machines": ("OVEN",), "oven": oven}
    elif kind == "cure":
        given |= {"cure": rng.choice([90, 720, 2 * DAY])}
    elif kind == "check":
        rework, minutes = rng.choice([(0.0, 0.0), (0.5, 8.0)])
        given |= {"good": 45.0, "bad": rng.choice([2.0, 12.0]), "rework": rework, "rework_minutes": minutes}
    elif kind == "haft":
        given |= {"uses": (("handle", rng.choice([1.0, 1.05])),)}
    return Step(number, kind, **given)  # type: ignore[arg-type]


shops = st.randoms(use_true_random=False).map(a_shop)
