"""Yardsticks of the record of days given, against values computed apart from it (SciPy and exact enumeration)."""

from statistics import NormalDist, fmean

import numpy as np
import pytest

from orders.calc import record, record_measures
from orders.calc.record import Promise
from orders.calc.record_measures import band, pinball, proving, unevenness, upto

# Binomial quantiles with at most .5 % in each tail at a true .9; SciPy, binom.ppf.
BANDS = {
    100: (82, 97), 200: (168, 190), 500: (432, 466), 865: (755, 800),
    1_000: (875, 924), 2_000: (1_765, 1_834), 3_000: (2_657, 2_742), 10_000: (8_922, 9_077),
}  # fmt: skip


@pytest.mark.parametrize("of", BANDS)
def test_so_many_of_so_many_are_kept_at_nine_in_ten(of: int) -> None:
    assert band(of, 0.9) == BANDS[of]


def test_the_chance_of_such_a_band_is_that_of_the_library() -> None:
    """P(82..97 of 100) .993474361168, P(8922..9077 of 10000) .990689921951; SciPy."""
    for of, chance in ((100, 0.9934743611681155), (10_000, 0.9906899219507181)):
        low, high = BANDS[of]
        assert upto(of, 0.9)[high] - upto(of, 0.9)[low - 1] == pytest.approx(chance, abs=1e-9)


def test_a_share_of_865_lies_within_two_points_of_nine_in_ten_not_quite_nineteen_times_in_twenty() -> None:
    """.946302690378 for 762..795 of 865, enumerated; the normal formula, which asks for 865, promises .95."""
    assert upto(865, 0.9)[795] - upto(865, 0.9)[761] == pytest.approx(0.946302690378386, abs=1e-9)


def test_2510_promises_prove_nine_in_ten_within_two_points() -> None:
    """Two one-sided exact 5 % tests against .88 and .92: 2,236 to 2,286, power .9075685 at a true .9; enumerated."""
    assert proving(2_510, 0.88, 0.92) == (2_236, 2_286)
    power = upto(2_510, 0.9)[2_286] - upto(2_510, 0.9)[2_235]
    assert power == pytest.approx(0.9075685191798173, abs=1e-9)
    assert proving(100, 0.88, 0.92) is None


def test_one_tenth_of_a_thousand_places_holds_82_to_119() -> None:
    """Binomial(1000, .1), central 95 %; SciPy."""
    assert band(1_000, 0.1, tail=0.025) == (82, 119)


def test_a_late_day_costs_the_chance_an_early_one_the_rest() -> None:
    """Ten days said with nine in ten; came on the 8th, 10th, 13th: .2, 0, 2.7. Arithmetic on Koenker and Bassett's loss."""
    assert [pinball(0.9, 10, came) for came in (8, 10, 13)] == pytest.approx([0.2, 0.0, 2.7], abs=1e-12)


@pytest.mark.parametrize(
    ("sure", "least"),
    [(0.5, 0.3989422804014327), (0.8, 0.2799619204078083), (0.9, 0.17549833193248685), (0.95, 0.10313564037537139)],
)
def test_the_true_day_costs_least(sure: float, least: float) -> None:
    """The mean loss of the true quantile of N(0, 1) is its density there; identity, checked by quadrature."""
    normal, parts = NormalDist(), 200_000
    came = [normal.inv_cdf((part + 0.5) / parts) for part in range(parts)]
    costs = [fmean(pinball(sure, normal.inv_cdf(sure) + off, day) for day in came) for off in (-0.1, 0, 0.1)]
    assert costs[1] == pytest.approx(least, abs=2e-5)
    assert costs[1] < min(costs[0], costs[2])


def test_all_chances_together_cost_twice_as_much_as_the_ranked_probability_score() -> None:
    """CRPS of N(10, 2) at 8, 10, 13; closed form of Gneiting and Raftery 2007, two libraries agree."""
    law, parts = NormalDist(10, 2), 20_000
    chances = [(part + 0.5) / parts for part in range(parts)]
    for came, score in ((8, 1.2048827152552326), (10, 0.46738995451021825), (13, 1.9888480079549058)):
        assert 2 * fmean(pinball(p, law.inv_cdf(p), came) for p in chances) == pytest.approx(score, abs=1e-4)


def test_ten_equally_likely_days_score_1_38() -> None:
    """CRPS of 8 9 9 10 10 11 12 14 15 20 at 13, energy form; a library agrees."""
    days, parts = [8, 9, 9, 10, 10, 11, 12, 14, 15, 20], 1_000
    costs = [pinball((at + (part + 0.5) / parts) / 10, day, 13) for at, day in enumerate(days) for part in range(parts)]
    assert 2 * fmean(costs) == pytest.approx(1.38, abs=1e-9)


def test_the_limit_of_the_places_is_that_of_the_table() -> None:
    """Chi-square, 9 degrees, 99 %: 21.665994; an example of 100 places comes to 3.0. SciPy."""
    assert pytest.approx(21.665994333461924, abs=1e-5) == record.PIT_LIMIT
    assert unevenness([8, 12, 9, 11, 10, 7, 13, 10, 9, 11]) == pytest.approx(3.0, abs=1e-12)


SENT = {3: 0.5, 4: 0.35, 5: 0.1, 6: 0.05}  # own example: a day with its chance


def thousand(seed: int, count: int = 1_000, **more: object) -> list[Promise]:
    days = np.random.default_rng(seed).choice(list(SENT), size=count, p=list(SENT.values()))
    curve = ((3, 0.5), (4, 0.85), (5, 0.95), (6, 1.0))
    return [Promise(0, 5, curve, int(day), f"{at % 50}", **more) for at, day in enumerate(days)]  # type: ignore[arg-type]


def test_whole_days_are_kept_more_often_than_was_wanted_and_as_often_as_was_stated() -> None:
    """Wanted nine in ten; the first day that sure is day 5, which covers .95. Arithmetic on the definition of a quantile."""
    found = record.record(thousand(7, 20_000), last=10, seed=1).all
    assert found is not None
    assert found.stated == pytest.approx(0.95)
    low, high = band(20_000, 0.95)
    assert low <= found.kept <= high
    assert not low <= 0.9 * 20_000 <= high
    assert found.off is not None
    assert found.off[0] < 0 < found.off[1]


def test_places_of_whole_days_are_as_even_as_those_of_moments() -> None:
    """Kolmogorov-Smirnov of 1,000 places, 95 %: .042777 (SciPy, kstwo); each tenth holds 82 to 119."""
    uneven = 0
    for seed in range(40):
        promises = thousand(seed)
        grading = record._Grading(10, seed)
        uniform = record.streams.stream(seed, "places").random(1_000)
        parts = [grading._part(one) for one in promises]
        places = np.sort([low + part * (high - low) for (low, high), part in zip(parts, uniform, strict=True)])
        steps = np.arange(1, 1_001) / 1_000
        uneven += max((steps - places).max(), (places - steps + 0.001).max()) > 0.042776500461245
    assert uneven <= record_measures.band(40, 0.05)[1]
