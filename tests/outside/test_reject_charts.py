"""Charts of rejects against worked examples of handbooks and textbooks."""

import random

import pytest

from inventory.calc.reject_charts import (
    Counted,
    RunningSum,
    reference,
    share_chart,
    worst_first,
)

# NIST/SEMATECH e-Handbook 6.3.3.2 (mean .2313, 30 samples of 50: seen quoted); the same counts in SAS sample program SHWOC2,
# which takes them from Montgomery, Introduction to Statistical Quality Control (seen). Limits from memory.
CANS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]


def test_the_share_chart_of_the_handbook() -> None:
    chart = share_chart([Counted(50, rejects) for rejects in CANS])
    assert chart.mean == pytest.approx(0.2313, abs=5e-5)
    assert (chart.samples[0].low, chart.samples[0].high) == pytest.approx((0.0524, 0.4102), abs=5e-5)
    assert [at + 1 for at in chart.signals] == [15, 23]


def test_without_the_two_signals_a_third_is_found() -> None:
    kept = [rejects for at, rejects in enumerate(CANS, 1) if at not in {15, 23}]
    revised = share_chart([Counted(50, rejects) for rejects in kept])
    assert revised.mean == pytest.approx(0.2150, abs=5e-5)
    assert (revised.samples[0].low, revised.samples[0].high) == pytest.approx((0.0407, 0.3893), abs=5e-5)
    whole = share_chart([Counted(50, rejects) for rejects in CANS], mean=revised.mean)
    assert [at + 1 for at in whole.signals] == [15, 21, 23]


def test_limits_fit_the_size_of_each_count() -> None:
    """Pyzdek and Keller, The Handbook for Quality Management, Table 9.6 (data seen, 1,544 of 8,000; limits computed)."""
    sizes = [250] * 10 + [500] * 3 + [250] * 8 + [500] * 4
    rejects = [47, 42, 55, 51, 46, 61, 39, 44, 41, 51, 88, 101, 101, 40, 48, 47, 50, 48, 57, 45, 43, 105, 98, 100, 96]
    chart = share_chart([Counted(of, bad) for of, bad in zip(sizes, rejects, strict=True)])
    assert chart.mean == pytest.approx(0.193)
    assert (chart.samples[0].low, chart.samples[0].high) == pytest.approx((0.118120, 0.267880), abs=1e-6)
    assert (chart.samples[10].low, chart.samples[10].high) == pytest.approx((0.140052, 0.245948), abs=1e-6)
    assert chart.signals == []


def test_what_a_reject_is_worth_in_the_running_sum() -> None:
    """Two in a hundred against five: 30.4716 (formula of Reynolds and Stoumbos 1999 from memory, computed)."""
    assert reference(0.02, 0.05) == pytest.approx(30.471644578798813, abs=1e-9)


@pytest.mark.parametrize(
    ("at", "means"),
    [(60, (530.5241455519766, 85.96365855399118, 32.44698398229906)),
     (90, (1655.8809218649158, 138.50474729211373, 46.07777880993753))],
)  # fmt: skip
def test_pieces_until_the_running_sum_signals(at: int, means: tuple[float, float, float]) -> None:
    """Computed elsewhere by the Markov chain of Brook and Evans, and by simulation."""
    found = [RunningSum(30, at).pieces_to_signal(share) for share in (0.02, 0.05, 0.10)]
    assert found == pytest.approx(means, abs=1e-6)


def test_the_running_sum_signals_about_when_the_chain_says() -> None:
    dice, chart = random.Random(1847), RunningSum(30, 60)
    lengths = []
    for _ in range(400):
        signal = chart.run([dice.random() < 0.10 for _ in range(600)])[1]
        assert signal is not None
        lengths.append(signal + 1)
    assert sum(lengths) / len(lengths) == pytest.approx(32.45, rel=0.12)


def test_the_running_sum_goes_on_from_where_it_stood() -> None:
    chart = RunningSum(5, 8)
    pieces = [False, True, False, True, True, False]
    whole = chart.run(pieces)
    first, _ = chart.run(pieces[:3])
    assert chart.run(pieces[3:], begin=first)[0] == whole[0]
    # 0, 4, 3, 7, 11, 10: the fifth piece signals; counted by hand.
    assert whole == (10, 4)


def test_the_worst_cause_comes_first_and_equal_ones_by_name() -> None:
    assert worst_first({"cold shut": 300, "mis-strike": 600, "crack": 300, "bent": 0}) == [
        ("mis-strike", 600, 0.5),
        ("cold shut", 300, 0.75),
        ("crack", 300, 1.0),
        ("bent", 0, 1.0),
    ]
    assert worst_first({}) == []


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Counted(0, 0),
        lambda: Counted(5, 6),
        lambda: share_chart([]),
        lambda: share_chart([Counted(5, 1)], mean=2),
        lambda: RunningSum(1, 5),
        lambda: RunningSum(5, 8).pieces_to_signal(0),
        lambda: reference(0.05, 0.02),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(ValueError, match="."):
        wrong()
