"""How long it takes to say what can be promised of a whole shop, and that twice the days take about twice as long."""

import random
import time

import pytest

from orders.calc.available import Commitment, Supply
from orders.calc.channel_shares import Share, keep
from orders.calc.pegging import Recipe

pytestmark = [pytest.mark.bench, pytest.mark.long]
PARTS, TOOLS, OTHERS = 80, 60, 60
RECIPES = [Recipe(f"T{n}", ((f"P{n}", 1), (f"P{60 + n % 18}", 1), (f"P{78 + n % 2}", 2)), n % 4) for n in range(TOOLS)]
ITEMS = [*(f"P{n}" for n in range(PARTS)), *(f"T{n}" for n in range(TOOLS)), *(f"B{n}" for n in range(OTHERS))]
SHARES = [Share(f"T{n}", channel, 4, 30) for n in range(TOOLS) for channel in ("dealers", "web")]


def seconds(days: int, owed: int) -> float:
    """Give the processor time for 200 items, each supplied every fortnight, 60 tools of shared parts and 120 shares."""
    rng = random.Random(f"promising {days}")
    came = [Supply(day, rng.randint(10, 60), item) for item in ITEMS for day in range(rng.randint(0, 13), days, 14)]
    lines = [Commitment(rng.randrange(days), rng.randint(1, 12), n, rng.choice(ITEMS)) for n in range(owed)]
    begun = time.process_time()
    kept = keep(came, lines, SHARES, RECIPES, today=0)
    taken = time.process_time() - begun
    assert len(kept.common.lines) == len(ITEMS)
    return taken


def test_two_hundred_items_over_four_hundred_days_are_told_in_half_a_second(capsys: pytest.CaptureFixture[str]) -> None:
    """A thousand open lines, far more than the shop has. Source of the limit: none, a page is to open at once."""
    short, long = (min(seconds(days, 1_000) for _ in range(3)) for days in (400, 800))
    with capsys.disabled():
        print(f"\n200 items, 1,000 lines: {short:.3f} s over 400 days, {long:.3f} s over 800")
    assert short < 0.5
    assert long < 3 * short
