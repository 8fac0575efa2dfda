"""Twenty weeks at the saw: the planner against two rules of thumb, with the remnants of each carried on.

All figures are of one invented shop: 3.66 m bars of 30 mm round, 5 mm squared off the mill's end, a 2 mm kerf, 300 mm
the shortest remnant, about 25 m of blanks of three to six lengths between 40 and 160 mm a week. Lengths are in tenths
of a millimetre. Source: none, the shop and its orders are made up.
"""

import math
import random
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pytest

from inventory.calc.cut_problem import Piece, Plan, Prices, Problem, Stock
from inventory.calc.cut_verifier import check
from tests.calc.cut_rules import greedy
from tests.calc.cut_solving import planned

pytestmark = [pytest.mark.bench, pytest.mark.long]
SEEDS, WEEKS = 10, 20
BAR, TRIM, KERF, LEAST = 36_600, 50, 20, 3_000
A_WEEK = 250_000  # about 25 m of blanks
FULL_BARS = 14  # on the rack every week; more than any rule opens
T_NINE = 2.262  # Student's t, nine degrees of freedom, 95 % both sides; any statistical table
KG_A_UNIT = 7_850 * math.pi * 0.015**2 * 1e-4  # 7 850 kg/m3, common practice, no source
PRICES = Prices(remnant=1_000, handled=300, full=2_000)
Rule = Callable[[Problem], Plan]


@dataclass
class Year:
    """What one rule has used and left."""

    opened: int = 0
    handled: int = 0
    scrap: int = 0
    longest_rack: int = 0
    remnants: list[tuple[int, int]] = field(default_factory=list)  # length, week

    @property
    def net(self) -> int:
        """Steel used: what was opened less what still lies on the rack."""
        return self.opened * BAR - sum(length for length, _ in self.remnants)


def orders(seed: int) -> list[tuple[Piece, ...]]:
    """Make the weeks' orders: lengths to the millimetre, one in four with a half, shares drawn at random."""
    rng = random.Random(f"rolling {seed}")
    weeks = []
    for _ in range(WEEKS):
        lengths = sorted({rng.randint(40, 160) * 10 + rng.choice([0, 0, 0, 5]) for _ in range(rng.randint(3, 6))})
        shares = [rng.uniform(0.3, 1) for _ in lengths]
        wanted = A_WEEK * rng.uniform(0.8, 1.2)
        counts = [
            max(1, round(wanted * share / sum(shares) / length)) for share, length in zip(shares, lengths, strict=True)
        ]
        weeks.append(tuple(Piece(length, count) for length, count in zip(lengths, counts, strict=True)))
    return weeks


def run(rule: Rule, weeks: Sequence[tuple[Piece, ...]], prices: Prices = PRICES) -> Year:
    """Cut twenty weeks by one rule."""
    year = Year()
    for week, pieces in enumerate(weeks):
        fulls = tuple(Stock(f"F{n}", BAR, True, TRIM) for n in range(FULL_BARS))
        rack = tuple(Stock(f"R{n}", length, False, age=7 * (week - of)) for n, (length, of) in enumerate(year.remnants))
        problem = Problem((*fulls, *rack), pieces, KERF, LEAST, prices, name=f"week {week}")
        plan = rule(problem)
        assert check(problem, plan).faults == ()
        assert not any(plan.missing)
        used = {bar.source for bar in plan.bars}
        year.opened += sum(name.startswith("F") for name in used)
        year.handled += len(used)
        year.scrap += sum(bar.left for bar in plan.bars if not bar.remnant)
        lying = [row for n, row in enumerate(year.remnants) if f"R{n}" not in used]
        year.remnants = [*lying, *((bar.left, week) for bar in plan.bars if bar.remnant)]
        year.longest_rack = max(year.longest_rack, len(year.remnants))
    return year


def shortest_first(problem: Problem) -> Plan:
    return greedy(problem, shortest_first=True)


def longest_first(problem: Problem) -> Plan:
    return greedy(problem, shortest_first=False)


def interval(differences: Sequence[float]) -> tuple[float, float]:
    """Give mean and half the width of its 95 % interval."""
    return statistics.mean(differences), T_NINE * statistics.stdev(differences) / math.sqrt(len(differences))


def row(name: str, years: Sequence[Year]) -> str:
    def mean(number: Callable[[Year], float]) -> float:
        return statistics.mean(number(year) for year in years)

    net = mean(lambda year: year.net)
    return (
        f"{name:16}{mean(lambda y: y.opened):8.1f}{net / 1e4:9.2f}{net * KG_A_UNIT:9.1f}"
        f"{mean(lambda y: y.scrap) / 1e4:8.2f}{mean(lambda y: y.scrap) * KG_A_UNIT:8.1f}{mean(lambda y: y.handled):9.1f}"
        f"{mean(lambda y: len(y.remnants)):8.1f}{max(len(y.remnants) for y in years):6d}"
    )


HEAD = f"{'':16}{'opened':>8}{'net m':>9}{'net kg':>9}{'scrap m':>8}{'kg':>8}{'handled':>9}{'left':>8}{'most':>6}"


def test_the_planner_saves_steel_over_twenty_weeks_and_hoards_no_remnants(capsys: pytest.CaptureFixture[str]) -> None:
    weeks = [orders(seed) for seed in range(SEEDS)]
    years = {
        name: [run(rule, year) for year in weeks]
        for name, rule in (("shortest first", shortest_first), ("longest first", longest_first), ("one price", planned))
    }
    best = years.pop("one price")
    saved = {}
    for name, other in years.items():
        pairs = list(zip(other, best, strict=True))
        saved[name] = interval([100 * (rule.net - plan.net) / rule.net for rule, plan in pairs])
    handled = interval([a.handled - b.handled for a, b in zip(years["shortest first"], best, strict=True)])
    with capsys.disabled():
        print(f"\n{SEEDS} shops, {WEEKS} weeks each, means\n{HEAD}")
        for name, rows in (*years.items(), ("one price", best)):
            print(row(name, rows))
        for name, (mean, half) in saved.items():
            print(f"net steel below {name}: {mean:.2f} % ± {half:.2f} (95 %)")
        print(f"bars handled below shortest first: {handled[0]:.1f} ± {handled[1]:.1f}")
    assert all(mean >= 0.5 and mean > half for mean, half in saved.values())
    assert handled[0] >= 0
    assert all(len(year.remnants) <= 10 for year in best)
