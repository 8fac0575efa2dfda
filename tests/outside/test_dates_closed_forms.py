"""Ship dates where the chances are known in closed form: the calculator's quantiles against them.

Source of the cases: closed forms worked out for this project and simulated apart with two million draws each; the values
printed here are theirs. A day of the case is a day of a shop that works round the clock; the lower quantile of the futures'
ready minutes is looked at, and the formula decides.

The bound: of n futures the k-th smallest time, k = n p rounded up, has a chance F of the formula that is itself a
Beta(k, n - k + 1) number (order statistics; David & Nagaraja, from memory). Each check allows all but one in a million of
that law, two-sided; the seeds are fixed, so a check that passes passes always. A ready time is rounded up to the minute, so
the formula is asked at the minute and at the one before.

Said with a trick: redo until good (7) as further runs of one piece that wait for nobody, at most four tries in all; a weekly
oven (13) as a weekly carrier, working days stretched by seven fifths; a top-up of three days (16) as a run of four at three
quarters of its minutes; the mixed maximum (6) and the trap of three lines (20) as an order of three lines made by three people.

What the calculator cannot say: pieces redone one by one inside a run (8), for a run goes whole from step to step; tries of
random length (9), for further runs take their mean minutes; a queue in its steady state (10), for the queue is today's and no
order comes later; the wait of somebody who comes at a random hour (14), for dates are counted from now.
"""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
import pytest

from inventory.calc.good_rates import incomplete_beta
from orders.calc.dates import worktime
from orders.calc.dates.answers import Curve
from orders.calc.dates.asking import FUTURES as ASKED
from orders.calc.dates.chance import Law
from orders.calc.dates.route import Product, Step
from orders.calc.dates.state import DAY, Batch, Coming, Hours, Line, Person, Shop, Supplier
from tests.calc.dates_making import ALWAYS, always_open, by_hand_of, curve, known, lower_quantile, passed, product

FUTURES = 20_000
TAIL = 5e-7  # either side: one in a million in all
SURES = (0.5, 0.8, 0.9, 0.95)
NORMAL = NormalDist()
Cdf = Callable[[float], float]
Whole = npt.NDArray[np.int64]
EXPONENTIAL = Law("gamma", (1.0,))


def ready(shop: Shop, seed: int = 11) -> Whole:
    """Give the minute at which the last line is there, by future."""
    return np.maximum.reduce(passed(replace(shop, horizon_days=120), seed, FUTURES).ready)


def line_of(*steps: Step, item: str = "axe") -> Product:
    numbered = (replace(step, number=place) for place, step in enumerate(steps, 1))
    return product(item, *numbered)


def days(mean: float, law: Law | None = None) -> Step:
    """Make a step that takes so many days on the average, as the law says."""
    return Step(1, "worked", mean * DAY, law)


def agrees(times: Whole, cdf: Cdf, printed: dict[float, float]) -> None:
    """Hold the quantiles of the futures to the formula, and the formula to the printed values."""
    for sure, value in printed.items():
        assert cdf(value) == pytest.approx(sure, abs=2e-6)
        place = math.ceil(sure * len(times) - 1e-9)
        found = lower_quantile(times, sure)
        assert incomplete_beta(place, len(times) - place + 1, cdf(found / DAY)) >= TAIL, (sure, found / DAY, value)
        assert incomplete_beta(place, len(times) - place + 1, cdf((found - 1) / DAY)) <= 1 - TAIL, (
            sure,
            found / DAY,
            value,
        )


def as_often(count: int, of: int, chance: float) -> bool:
    """Say whether a count is within all but one in a million of the binomial law."""
    below = incomplete_beta(count, of - count + 1, chance) if count else 1.0  # P(at least so many)
    above = 1 - incomplete_beta(count + 1, of - count, chance) if count < of else 1.0  # P(at most so many)
    return min(below, above) >= TAIL


def test_fixed_times_add_up_in_every_future() -> None:
    assert set(ready(always_open(line_of(days(2), days(3), days(1.5))))) == {int(6.5 * DAY)}  # mc.01


def test_normal_stages_in_a_row() -> None:
    stages = [days(mean, Law("normal", (sd / mean,))) for mean, sd in ((3, 0.5), (5, 1), (2, 0.25))]  # mc.02
    agrees(
        ready(always_open(line_of(*stages))),
        lambda x: NORMAL.cdf((x - 10) / 1.3125**0.5),  # cut off at 0, five spreads away
        {0.5: 10.0, 0.8: 10.964198252332498, 0.9: 11.468201764024323, 0.95: 11.884416563156943},
    )


def test_a_lognormal_stage() -> None:
    stage = days(4 * math.exp(0.08), Law("lognormal", (0.4,)))  # mc.03: the median is 4, so the mean is 4.3331
    agrees(
        ready(always_open(line_of(stage))),
        lambda x: NORMAL.cdf(math.log(x / 4) / 0.4) if x > 0 else 0.0,
        {0.5: 4.0, 0.8: 5.600987125115741, 0.9: 6.678644096220732, 0.95: 7.723254263211467},
    )


def erlang(shape: int, mean: float) -> Cdf:
    return lambda x: 1 - math.exp(-x / mean) * sum((x / mean) ** n / math.factorial(n) for n in range(shape))


ERLANG = {0.5: 9.34181776559197, 0.8: 13.441957574973113, 0.9: 15.987179172105265, 0.95: 18.307038053275146}  # mc.04


def test_five_exponential_stages_in_a_row() -> None:
    agrees(ready(always_open(line_of(*[days(2, EXPONENTIAL)] * 5))), erlang(5, 2), ERLANG)


def test_the_last_of_five_alike_that_one_person_does() -> None:
    jobs = [line_of(days(2, EXPONENTIAL), item=f"axe {n}") for n in range(5)]
    agrees(ready(always_open(*jobs, people=(Person("A"),))), erlang(5, 2), ERLANG)


def of_three(*products: Product) -> Shop:
    """Make a shop in which each line of one order has a person of its own."""
    mine = [by_hand_of(one, f"P{n}") for n, one in enumerate(products)]
    return always_open(*mine, lines=tuple(Line("order", one.item, 1) for one in mine))


def test_an_order_is_there_with_the_slowest_of_four() -> None:
    agrees(
        ready(of_three(*(line_of(days(3, EXPONENTIAL), item=f"axe {n}") for n in range(4)))),
        lambda x: (1 - math.exp(-x / 3)) ** 4 if x > 0 else 0.0,
        {0.5: 5.514599437466386, 0.8: 8.741992877308936, 0.9: 10.9494085338712, 0.95: 13.08868326120616},  # mc.05
    )


def test_an_order_is_there_with_the_slowest_of_three_of_different_laws() -> None:
    shop = of_three(
        line_of(days(6, Law("normal", (1 / 6,))), item="axe"),
        line_of(days(6, Law("gamma", (4.0,))), item="hammer"),
        line_of(days(2, EXPONENTIAL), item="tongs"),
    )
    gamma, exponential = erlang(4, 1.5), erlang(1, 2)
    agrees(
        ready(shop),
        lambda x: NORMAL.cdf(x - 6) * gamma(x) * exponential(x),
        {0.5: 6.78098459849226, 0.8: 8.501834384406708, 0.9: 10.160499372093911, 0.95: 11.75370071533012},  # mc.06
    )


def test_redo_until_good_takes_a_geometric_number_of_tries() -> None:
    shop = always_open(line_of(replace(days(1.5), **known(0.8))), top_up_waits=1.0)  # mc.07
    times = ready(shop)
    for sure, value in ((0.5, 1.5), (0.79, 1.5), (0.9, 3.0), (0.95, 3.0), (0.99, 4.5)):
        assert lower_quantile(times, sure) == value * DAY == 1.5 * DAY * math.ceil(math.log(1 - sure) / math.log(0.2))
    for tries in range(1, 5):
        assert as_often(int(np.count_nonzero(times <= 1.5 * tries * DAY)), FUTURES, 1 - 0.2**tries)
    assert as_often(int(np.count_nonzero(times > 6 * DAY)), FUTURES, 0.2**4), "the fourth try is the last"


def triangular(x: float) -> float:
    return (x - 2) ** 2 / 6 if x <= 3 else 1 - (8 - x) ** 2 / 30


def test_a_triangular_stage() -> None:
    agrees(
        ready(always_open(line_of(days(1, Law("triangular", (2, 3, 8)))))),
        triangular,
        {0.5: 4.127016653792583, 0.8: 5.550510257216822, 0.9: 6.267949192431123, 0.95: 6.775255128608411},  # mc.11
    )


def test_a_pert_stage_whose_spread_is_not_a_sixth_of_its_range() -> None:
    times = ready(always_open(line_of(days(1, Law("pert", (2, 3, 8))))))
    agrees(
        times,
        lambda x: incomplete_beta(5 / 3, 13 / 3, (x - 2) / 6),
        {0.5: 3.5117238628476617, 0.8: 4.537498940697729, 0.9: 5.111609256489743, 0.95: 5.575872361474197},  # mc.12
    )
    assert times.mean() / DAY == pytest.approx(11 / 3, abs=5 * 1.01575 / FUTURES**0.5)  # five standard errors
    assert times.std() / DAY == pytest.approx(1.01574900036674, abs=5 * 1.01575 / (2 * FUTURES) ** 0.5)


def test_what_waits_for_a_weekly_turn_goes_with_the_first_after_it_is_ready() -> None:
    weekly = replace(ALWAYS, carrier_weekdays=(6,))  # mc.13: the end of each seventh day from a Monday on
    shop = always_open(line_of(days(2 * 7 / 5, EXPONENTIAL)), hours=weekly, horizon_days=120)
    (sent,) = passed(shop, 11, FUTURES).sent
    turn = (sent + 1) * 5 // 7
    for sure, value in ((0.5, 5), (0.8, 5), (0.9, 5), (0.95, 10), (0.99, 10)):
        assert lower_quantile(turn, sure) == value
    for slot in range(1, 4):
        exact = 1 - math.exp(-2.5 * slot)
        assert as_often(int(np.count_nonzero(turn <= 5 * slot)), FUTURES, exact)
    assert turn.mean() == pytest.approx(5.44712744916926, abs=5 * turn.std() / FUTURES**0.5)


def test_days_of_a_supplier_and_of_the_shop_add_up_and_no_day_is_interpolated() -> None:
    shop = always_open(
        product("axe", Step(1, "worked", DAY, Law("counted", (1,) * 6 + (2,) * 3 + (4,))), made_from="blank"),
        coming=(Coming("blank", 1, 3, "mill"),), suppliers=(Supplier("mill", (0,) * 5 + (2,) * 3 + (6,) * 2),),
    )  # fmt: skip
    times = ready(shop)
    assert set(times % DAY) == {0}
    for day, exact in {4: 0.30, 5: 0.45, 6: 0.63, 7: 0.77, 9: 0.80, 10: 0.92, 11: 0.98, 13: 1.0}.items():  # mc.15
        assert as_often(int(np.count_nonzero(times <= day * DAY)), FUTURES, exact) or (
            day == 13 and times.max() == 13 * DAY
        )
    found = [lower_quantile(times, sure) // DAY for sure in SURES]
    assert (found[0], found[2], found[3]) == (6, 10, 11)
    assert found[1] in (9, 10), "day 9 has exactly 80 in 100, so the futures may say either"


def test_a_top_up_of_three_days_makes_up_for_a_run_that_gave_too_few() -> None:
    shop = always_open(
        product("axe", Step(1, "worked", set_up=4 * DAY, **known(0.9))), batches=(Batch("run", "axe", 0, 13),),
        lines=(Line("order", "axe", 10),), starts_sure=0.965, top_up_waits=0.75,
    )  # fmt: skip
    times = ready(shop)
    assert as_often(int(np.count_nonzero(times == 4 * DAY)), FUTURES, 0.9658392790770001)  # mc.16
    assert (lower_quantile(times, 0.9), lower_quantile(times, 0.99)) == (4 * DAY, 7 * DAY)
    assert np.count_nonzero(times > 7 * DAY) < 0.05 * np.count_nonzero(times > 4 * DAY), "a top-up is 96.5 in 100 sure"


def test_working_days_fall_on_the_calendar_around_a_holiday() -> None:
    friday, holiday = dt.date(2025, 6, 27), dt.date(2025, 7, 4)
    hours = Hours(friday, production=1.0, closed=frozenset({holiday}), carrier_cutoff=DAY)
    printed = {1: "2025-06-30", 4: "2025-07-03", 5: "2025-07-07", 6: "2025-07-08", 10: "2025-07-14"}  # mc.17
    for working_days, date in printed.items():
        shop = always_open(
            line_of(Step(1, "worked", working_days * 540.0)), hours=hours, now=18 * 60, lines=(Line("order", "axe", 1),)
        )
        assert friday + dt.timedelta(days=curve(shop, "order", count=100).day(0.9)) == dt.date.fromisoformat(date)
    varies = Law("counted", tuple(float(n) for n in range(1, 21)))
    shop = always_open(line_of(Step(1, "worked", 270.0, varies)), hours=hours, now=18 * 60)
    times = passed(shop, 11, FUTURES)
    half_days = np.sort(ready(replace(shop, hours=replace(ALWAYS, first_day=friday), now=0)) // 270)
    time = worktime.of(hours, shop.horizon_days)
    for (
        sure
    ) in SURES:  # the date of a quantile is the quantile of the dates: the same draws on a calendar without nights
        worked = float(half_days[math.ceil(sure * FUTURES) - 1] * 270)
        assert lower_quantile(times.ready[0], sure) == time.clock_at(time.worked[shop.now] + worked)


SEEDS, FEW = 300, 1_000
MEAN = 2_000  # minutes


def curves_of_an_exponential(futures: int) -> list[float]:
    """Give the true chance of the day with nine in ten that the curve gives, seed by seed; a "day" here is a minute."""
    shop = always_open(line_of(Step(1, "worked", MEAN, EXPONENTIAL)))
    found = []
    for seed in range(SEEDS):
        (times,) = passed(shop, seed, futures).ready
        day = Curve.of(times, int(times.max()) + 1).day(0.9)
        assert day is not None
        found.append(
            1 - math.exp(-(day - 0.5) / MEAN)
        )  # rounded up to the minute: half a minute too late on the average
    return found


def test_a_day_of_a_thousand_futures_is_as_sure_as_an_order_statistic() -> None:
    chances = np.array(curves_of_an_exponential(FEW))
    assert chances.mean() == pytest.approx(0.8991008991008991, abs=5 * 0.009515 / SEEDS**0.5)  # mc.18: Beta(900, 101)
    assert chances.std() == pytest.approx(0.009515114163359808, abs=5 * 0.009515 / (2 * SEEDS) ** 0.5)
    assert as_often(int(np.count_nonzero((chances > 0.8797120634813074) & (chances < 0.9169798860881977))), SEEDS, 0.95)
    place = math.ceil(0.9 * FEW)
    ranks = np.sort([incomplete_beta(place, FEW - place + 1, chance) for chance in chances])
    gap = np.abs(ranks - (np.arange(SEEDS) + 0.5) / SEEDS).max() + 0.5 / SEEDS
    assert gap < 2.69 / SEEDS**0.5  # Kolmogorov's bound, one in a million: sqrt(ln(2e6) / 2) (from memory)


def test_so_many_futures_leave_one_point_of_error_at_nine_in_ten() -> None:
    z = NORMAL.inv_cdf(0.975)
    assert [math.ceil(z * z * 0.09 / error**2) for error in (0.005, 0.01)] == [13_830, 3_458]  # mc.19
    assert ASKED >= 3_458
    assert z * (0.09 / ASKED) ** 0.5 == pytest.approx(0.0093, abs=5e-5)
    chances = np.array(curves_of_an_exponential(3_458))
    assert as_often(int(np.count_nonzero(np.abs(chances - 0.9) <= 0.01)), SEEDS, 0.95)


def test_three_lines_with_nine_in_ten_each_are_seven_in_ten_together() -> None:
    law = Law("lognormal", (0.4,))
    shop = of_three(*(line_of(days(4 * math.exp(0.08), law), item=f"axe {n}") for n in range(3)))
    filled = passed(shop, 11, FUTURES)
    nine_in_ten = 4 * math.exp(0.4 * NORMAL.inv_cdf(0.9)) * DAY
    for line in filled.ready:
        assert as_often(int(np.count_nonzero(line <= nine_in_ten)), FUTURES, 0.9)
    together = np.maximum.reduce(filled.ready)
    assert as_often(int(np.count_nonzero(together <= nine_in_ten)), FUTURES, 0.729)  # mc.20
    agrees(
        together,
        lambda x: NORMAL.cdf(math.log(x / 4) / 0.4) ** 3 if x > 0 else 0.0,
        {0.9: 4 * math.exp(0.4 * NORMAL.inv_cdf(0.9654893846056297))},
    )
    assert (filled.sent[0] == together // DAY).all(), "the order goes with its last line"


def test_three_lines_that_are_slow_for_the_same_reason_are_nine_in_ten_together() -> None:
    steps = [replace(one, pattern="one pattern") for one in (
        line_of(replace(days(4 * math.exp(0.08)), unsure=0.4), item=f"axe {n}") for n in range(3))]  # fmt: skip
    together = np.maximum.reduce(passed(of_three(*steps), 11, FUTURES).ready)
    nine_in_ten = 4 * math.exp(0.4 * NORMAL.inv_cdf(0.9)) * DAY
    assert as_often(int(np.count_nonzero(together <= nine_in_ten)), FUTURES, 0.9)  # mc.20, fully dependent


TAYLOR = ((5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5))  # activities 1, 3, 5, 7 of the printed network
MILWAUKEE = ((1, 2, 3), (1, 2, 3), (1, 4, 7), (3, 4, 11), (1, 2, 3))  # A, C, E, G, H


@pytest.mark.parametrize(
    ("path", "mean", "variance", "deadline", "chance"),
    [  # Taylor, Introduction to Management Science (a copy seen); Heizer & Render, Operations Management (from memory)
        (TAYLOR, 24.0, 5.0, 28.0, 0.9631808649398487),
        (MILWAUKEE, 15.0, 28 / 9, 16.0, 0.714624805970913),
    ],
)
def test_a_printed_path_of_three_point_estimates(
    path: tuple[tuple[int, int, int], ...], mean: float, variance: float, deadline: float, chance: float
) -> None:
    times = ready(always_open(line_of(*(days(1, Law("pert", tuple(map(float, one)))) for one in path)))) / DAY
    usual = [(least + 4 * likely + most) / 6 for least, likely, most in path]
    assert sum(usual) == pytest.approx(mean)
    assert sum(((most - least) / 6) ** 2 for least, _, most in path) == pytest.approx(variance)
    # the variance of the beta law itself, (m - a)(b - m) / 7, is not the printed rule's ((b - a) / 6)²
    exact = sum((m - least) * (most - m) / 7 for m, (least, _, most) in zip(usual, path, strict=True))
    assert times.mean() == pytest.approx(mean, abs=5 * (exact / FUTURES) ** 0.5)
    assert times.var() == pytest.approx(
        exact, rel=0.06
    )  # five standard errors of a variance, its fourth moment at most 3.4
    # the book takes the sum for normal with its own variance; the futures said .938 for its .963, and .721 for its .715
    found = np.count_nonzero(times <= deadline) / FUTURES
    assert found == pytest.approx(chance, abs=0.03)
    assert found == pytest.approx(NORMAL.cdf((deadline - mean) / exact**0.5), abs=0.02), (
        "normal, with the law's variance"
    )
    assert NORMAL.cdf((deadline - mean) / variance**0.5) == pytest.approx(chance, abs=1e-9)


def test_a_normal_project_of_a_printed_mean_and_variance() -> None:
    times = ready(always_open(line_of(days(21, Law("normal", (2 / 21,))))))
    for day, exact in {17: 0.022750131948179195, 20: 0.3085375387259869, 23: 0.8413447460685429,
                       25: 0.9772498680518208}.items():  # fmt: skip
        assert as_often(int(np.count_nonzero(times <= day * DAY)), FUTURES, exact)
    agrees(times, lambda x: NORMAL.cdf((x - 21) / 2), {0.95: 24.289707253902943})
