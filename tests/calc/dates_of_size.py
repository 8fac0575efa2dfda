"""States of shops of any size as JSON, drawn from a seed: a mixed forge with the parts of every kind."""

import datetime as dt
import random
from typing import Any

FIRST = dt.date(2026, 12, 1)
STEPS = ("forge", "second forging", "grind", "harden", "temper", "polish", "haft", "oil", "pack")


def day(number: int) -> str:
    """Give a day as it is written."""
    return (FIRST + dt.timedelta(days=number)).isoformat()


def shop(
    seed: int, *, lines: int = 20, products: int = 4, batches: int = 6, steps: int = 8, most: int = 12
) -> dict[str, Any]:
    """Draw a document without questions."""
    draw = random.Random(seed)
    items = [f"tool {n}" for n in range(products)]
    made = [_product(draw, item, steps) for item in items]
    return {
        "hours": {"first_day": day(0), "closed": [day(24), day(31)]},
        "people": [{"code": f"p{n}", "ill": {"chance": 0.01, "lasts": [1, 1, 3]}, "out": [day(8 + n)]} for n in range(4)],
        "machines": [{"code": code, "breaks": {"chance": 0.01, "lasts": [1, 2]}} for code in ("hammer", "belt", "oven")],
        "products": made,
        "stock": {**{item: draw.randint(0, 4) for item in items}, "handle": draw.randint(0, 60), "blank": draw.randint(20, 400)},
        "batches": [
            {"code": f"b{n}", "item": draw.choice(items), "step": draw.randint(0, steps - 1), "pieces": draw.randint(1, 20)}
            for n in range(batches)
        ],
        "suppliers": [{"code": "wood", "late_days": [draw.randint(-2, 9) for _ in range(12)], "lead_days": 14}],
        "coming": [{"item": "handle", "pieces": 144, "day": day(draw.randint(-3, 12)), "supplier": "wood"}],
        "buys_from": {"handle": "wood", "blank": "wood"},
        "lines": [
            {"order": f"o{n}", "item": draw.choice(items), "pieces": draw.randint(0, most), "day": day(draw.randint(3, 60))}
            for n in range(lines)
        ],
    }  # fmt: skip


def _product(draw: random.Random, item: str, steps: int) -> dict[str, Any]:
    route = []
    for number in range(1, steps + 1):
        name = STEPS[(number - 1) % len(STEPS)]
        step: dict[str, Any] = {"number": number, "name": name, "minutes": draw.choice([2, 5, 9, 14]), "unsure": 0.05}
        step["varies"] = {"kind": draw.choice(["lognormal", "gamma"]), "numbers": [draw.choice([0.2, 0.4])]}
        if name == "forge":
            step |= {
                "machines": ["hammer"],
                "tooling": f"T{draw.randint(1, 3)}",
                "change": 40,
                "fire": {"batch": 4, "minutes": 20},
            }
        if name in ("harden", "temper"):
            step |= {"machines": ["oven"], "oven": {"share": 0.05, "heat_up": 45, "soak": 60, "kind": name}}
        if name in ("forge", "grind", "temper"):
            step |= {"good": 46, "bad": 4, "rework": 0.2, "rework_minutes": 5}
        if name == "haft":
            step |= {"uses": {"handle": 1}, "cure": 1440}
        route.append(step)
    return {"item": item, "pattern": item, "steps": route, "made_from": "blank", "bar_gives": draw.choice([1, 6])}
