"""Starts and rates against published intervals and against values worked out with other libraries.

The grid of data/starts_grid.json and the values below marked "computed" were worked out for this project with scipy, mpmath
and rational numbers, apart from this code. Sixteen cases of the grid meet their confidence exactly, where a careless sum of
floating-point numbers says one piece more.
"""

import json
from fractions import Fraction
from pathlib import Path

import pytest

from inventory.calc.good_rates import Rate, counted
from inventory.calc.starts import Point, chance, plain, starts

GRID = json.loads((Path(__file__).parent / "data" / "starts_grid.json").read_text("utf-8"))["rows"]
UNIFORM, JEFFREYS = Rate(Fraction(1), Fraction(1)), Rate(Fraction(1, 2), Fraction(1, 2))


def test_every_case_of_the_grid_starts_as_many_as_the_exact_numbers_say() -> None:
    wrong = []
    for needed, rate, sure, count, enough, one_fewer, _ in GRID:
        found = starts(needed, sure, [Point(rate)])
        assert found is not None
        if found.count != count or abs(found.chance - enough) > 1e-9 or abs(found.one_fewer - one_fewer) > 1e-9:
            wrong.append((needed, rate, sure, count, found))
    assert wrong == []
    assert sum(row[-1] for row in GRID) >= 10, "the cases that are met exactly are the point of the grid"


@pytest.mark.parametrize(
    ("good", "of", "needed", "sure", "jeffreys", "uniform", "by_mean"),
    [  # computed; beta-binomial, as in Gelman et al., Bayesian Data Analysis
        (46, 50, 10, 0.90, (13, 0.9619187399006679), (13, 0.9530616321970193), 12),
        (18, 20, 10, 0.90, (14, 0.9462555435951041), (14, 0.9275911143100177), 13),
        (9, 10, 10, 0.90, (14, 0.9006020700668588), (15, 0.9065217391304349), 13),
        (9, 10, 4, 0.95, (7, 0.9672708954648293), (7, 0.9526143790849674), 6),
        (180, 200, 10, 0.90, (13, 0.958608250209268), (13, 0.9562038557372375), 13),
        (20, 20, 12, 0.95, (14, 0.9778174334376357), (15, 0.9768270944741533), None),
        (0, 0, 4, 0.90, (154, 0.9003032619413656), (39, 0.9), None),
    ],
)
def test_rates_learned_from_counts_start_more_than_known_ones(
    good: int, of: int, needed: int, sure: float, jeffreys: tuple[int, float], uniform: tuple[int, float],
    by_mean: int | None,
) -> None:  # fmt: skip
    for before, (count, enough) in ((JEFFREYS, jeffreys), (UNIFORM, uniform)):
        rate = counted(before, good, of - good)
        found = starts(needed, sure, [Point(rate)])
        assert found is not None
        assert (found.count, found.chance) == (count, pytest.approx(enough, abs=1e-9))
    if by_mean is not None:
        known = starts(needed, sure, [Point(good / of)])
        assert known is not None
        assert known.count == by_mean


def test_the_next_piece_is_good_by_the_rule_of_succession() -> None:
    """Laplace's rule: (good + 1) in (all + 2); with Jeffreys' prior (good + 1/2) in (all + 1)."""
    assert counted(UNIFORM, 9, 1).mean == pytest.approx(10 / 12)
    assert counted(JEFFREYS, 9, 1).mean == pytest.approx(9.5 / 11)


def test_four_operations_in_a_row_are_one_with_the_product_of_their_yields() -> None:
    """Rolled yield .8669472; 24 good at 90 in 100 want 30 starts; rounding up from the last one back gives 29 (computed)."""
    points = [Point(rate) for rate in (0.98, 0.95, 0.97, 0.96)]
    found = starts(24, 0.9, points)
    assert found is not None
    assert (found.count, found.chance) == (30, pytest.approx(0.9053916663797862, abs=1e-9))
    assert chance(29, 24, points) == pytest.approx(0.8197510933388497, abs=1e-9)
    assert plain(24, points).count == 28


@pytest.mark.parametrize(
    ("good", "of", "low", "high", "off"),
    [
        (5, 25, 0.068, 0.407, 5e-4),  # Conover's tables, as cited by influentialpoints.com (seen)
        (81, 263, 0.2527, 0.3676, 5e-5),  # Newcombe 1998, Statistics in Medicine 17:857-872, Table I (from memory)
        (15, 148, 0.0578, 0.1617, 5e-5),
        (0, 20, 0.0, 0.1684, 5e-5),
        (1, 29, 0.0009, 0.1776, 5e-5),
        (9, 10, 0.5549838829718047, 0.9974714214555382, 1e-9),  # computed
        (180, 200, 0.8497872121322442, 0.9378406337459338, 1e-9),
        (10, 10, 0.6915028921812392, 1.0, 1e-9),
    ],
)
def test_the_interval_of_a_rate_from_counts_alone(good: int, of: int, low: float, high: float, off: float) -> None:
    """Clopper and Pearson 1934 (from memory): its ends are quantiles of the rates with one more bad, one more good piece."""
    least = Rate(Fraction(good), Fraction(of - good + 1)).quantile(0.025) if good else 0.0
    most = Rate(Fraction(good + 1), Fraction(of - good)).quantile(0.975) if good < of else 1.0
    assert (least, most) == (pytest.approx(low, abs=off), pytest.approx(high, abs=off))


@pytest.mark.parametrize(
    ("good", "of", "low", "high"),
    [  # computed; Jeffreys intervals as in Brown, Cai and DasGupta 2001, Statistical Science 16:101-133
        (9, 10, 0.6186852289333836, 0.9889883262368389),
        (18, 20, 0.7161467426957477, 0.9786275119775252),
        (46, 50, 0.8209338503819862, 0.9723929090077877),
        (180, 200, 0.8527013848346694, 0.9358335838515768),
        (450, 500, 0.8714007845977302, 0.9239863465427255),
    ],
)
def test_the_interval_of_a_learned_rate(good: int, of: int, low: float, high: float) -> None:
    assert counted(JEFFREYS, good, of - good).interval() == pytest.approx((low, high), abs=1e-9)


def test_no_reject_in_so_many_leaves_room_for_some() -> None:
    """One-sided 95 %: 1 - .05^(1/n) (exact)."""
    for count in (10, 30, 60, 100):
        assert Rate(Fraction(count), Fraction(1)).quantile(0.05) == pytest.approx(0.05 ** (1 / count), abs=1e-12)
