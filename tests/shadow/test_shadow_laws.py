"""The laws do what they say, by exact binomial bounds (one in ten thousand on each side), and leave alone what they do not."""

from collections import Counter, defaultdict
from dataclasses import replace

import pytest

from tests.shadow import fates
from tests.shadow.drawing import draw_shop
from tests.shadow.facts import OVEN, WEEK, Soak, Work
from tests.shadow.hand_built import Asking, band, forge, shop_of
from tests.shadow.laws import FOLLOWS_THE_LAWS, HIDDEN, LATE_BELIEF, Laws
from tests.shadow.mornings import simulate
from tests.shadow.sight import NewRun, Seen, Sheet, Task
from tests.shadow.truths import Shop, StepTruth, SupplyTruth

REJECTS = 0.05


def counting(laws: Laws) -> Shop:
    """Return a shop of one counted step at which one in twenty is lost, over half a year."""
    shop = shop_of((forge(1, belief=(47.5, 2.5)),), weeks=26)
    return replace(shop, steps={("A", 0): StepTruth(1, 1 - REJECTS)}, laws=laws)


def fifty_a_day(seen: Seen) -> Sheet:
    """Open a run every morning and do it."""
    return Sheet((NewRun(f"d{seen.day}", "A", 50),), {"P1": (Task(f"d{seen.day}", 0),)})


def rejects_by_week(laws: Laws) -> Counter[int]:
    """Return the rejects of each week's 250 pieces."""
    history = simulate(counting(laws), Asking(fifty_a_day))
    assert len(history.runs) == 26 * 5
    lost: Counter[int] = Counter()
    for run in history.runs:
        assert run.ended is not None
        lost[run.opened // 1_440 // WEEK] += run.scrap[0]
    return lost


def test_four_weeks_of_a_half_year_have_twice_the_rejects_and_the_others_do_not() -> None:
    bad = fates.bad_weeks(1, HIDDEN, 0)
    assert len(bad) == 4
    lost = rejects_by_week(HIDDEN)
    in_bad = sum(pieces for week, pieces in lost.items() if week in bad)
    assert in_bad in band(4 * 250, 2 * REJECTS)
    assert in_bad not in band(4 * 250, REJECTS)
    assert lost.total() - in_bad in band(22 * 250, REJECTS)


def test_a_shop_that_follows_the_laws_has_no_bad_weeks() -> None:
    assert rejects_by_week(FOLLOWS_THE_LAWS).total() in band(26 * 250, REJECTS)


def test_bad_weeks_differ_from_shop_to_shop_and_every_half_year_has_four() -> None:
    drawn = [fates.bad_weeks(seed, HIDDEN, block) for seed in range(20) for block in (0, 1)]
    assert {len(weeks) for weeks in drawn} == {4}
    assert len(set(drawn)) == 40
    assert all(26 <= week < 52 for weeks in drawn[1::2] for week in weeks)


def test_one_delivery_in_ten_comes_two_weeks_later_than_it_would_have() -> None:
    shop = replace(shop_of((forge(),)), supplies={"blank": SupplyTruth()})
    late = Counter(fates.days_late(replace(shop, laws=HIDDEN), "blank", day, 0) for day in range(2_000))
    assert set(late) == {0, 14}
    assert late[14] in band(2_000, 0.1)
    assert {fates.days_late(shop, "blank", day, 0) for day in range(2_000)} == {0}


def test_lateness_and_bad_handles_come_as_often_as_is_true() -> None:
    truth = SupplyTruth(late=((0, 0.6), (2, 0.3), (7, 0.1)), bad=0.08)
    shop = replace(shop_of((forge(),)), supplies={"handle": truth})
    late = Counter(fates.days_late(shop, "handle", day, number) for day in range(500) for number in range(2))
    assert all(late[days] in band(1_000, chance) for days, chance in truth.late)
    good = sum(fates.usable(shop, "handle", 12, day, 0) for day in range(200))
    assert 2_400 - good in band(2_400, 0.08)


def test_people_fall_ill_as_often_as_is_true_and_twice_as_often_in_the_winter_weeks() -> None:
    """Illnesses of one day, so that every day of everybody is a trial of its own."""
    shop = replace(shop_of((forge(),), people=4), sick={f"P{at}": 0.04 for at in range(1, 5)})
    days = list(range(520))
    winter = [day for day in days if 6 <= day // 7 % 52 <= 17]
    for laws, chance in ((FOLLOWS_THE_LAWS, 0.04), (HIDDEN, 0.08)):
        ill = fates.ill(replace(shop, laws=laws), days)
        assert sum(len(ill[day]) for day in winter) in band(4 * len(winter), chance)
        assert sum(len(ill[day]) for day in days if day not in winter) in band(4 * (520 - len(winter)), 0.04)


def test_winter_is_the_same_twelve_weeks_of_every_year() -> None:
    assert [week for week in range(104) if fates.is_winter(HIDDEN, week * 7 + 3)] == [*range(6, 18), *range(58, 70)]


def test_an_illness_lasts_as_many_open_days_as_drawn() -> None:
    shop = replace(shop_of((forge(),), spells=(0.0, 0.0, 1.0)), sick={"P1": 0.01})
    ill = fates.ill(shop, list(range(3_000)))
    spells = "".join("x" if ill[day] else " " for day in range(3_000)).split()
    assert spells
    assert all(len(one) % 3 == 0 for one in spells[:-1])


def test_breakdowns_come_in_clusters_where_the_laws_say_so() -> None:
    """Repairs of one day. In the ten days after one the chance is 6 times 2 in 100, on other days it is 2 in 100."""
    shop = replace(shop_of((forge(machines=("hammer",)),)), breakdown={"hammer": 0.02}, laws=HIDDEN)
    days = list(range(20_000))
    down = fates.down(shop, days)
    assert all(not down[day].get(OVEN) for day in days)
    failed = [day for day in days if "hammer" in down[day]]
    assert all(down[day]["hammer"] == day + 1 for day in failed)
    after = {day + later for day in failed for later in range(1, 11)} & set(days)
    assert len(after & set(failed)) in band(len(after), 0.12)
    assert len(set(failed) - after) in band(20_000 - len(after), 0.02)
    calm = fates.down(replace(shop, laws=FOLLOWS_THE_LAWS), days)
    assert sum("hammer" in calm[day] for day in days) in band(20_000, 0.02)


def test_minutes_of_a_bench_drift_by_fifteen_in_a_hundred_within_half_a_year_and_stay_there() -> None:
    shop = replace(shop_of((forge(),)), laws=HIDDEN)
    signs = set()
    for seed in range(20):
        one = replace(shop, seed=seed)
        at_end = fates.drift(one, "fire", 26 * 7)
        assert abs(at_end - 1) == pytest.approx(0.15)
        assert fates.drift(one, "fire", 13 * 7) - 1 == pytest.approx((at_end - 1) / 2)
        assert fates.drift(one, "fire", 400) == at_end
        signs.add(at_end > 1)
    assert signs == {True, False}
    assert fates.drift(replace(shop, laws=FOLLOWS_THE_LAWS), "fire", 182) == 1


def test_one_step_in_twenty_takes_twice_as_long_in_the_hidden_world() -> None:
    shop = shop_of((forge(2),))
    slow = [fates.minutes(replace(shop, laws=HIDDEN), f"r{at}", "A", 0, 10, 0) for at in range(1_000)]
    assert set(slow) == {20, 40}
    assert slow.count(40) in band(1_000, 0.05)
    assert {fates.minutes(shop, f"r{at}", "A", 0, 10, 0) for at in range(1_000)} == {20}


def test_counts_are_wrong_as_often_as_the_laws_say_and_by_one() -> None:
    shop = replace(shop_of((forge(),)), laws=HIDDEN)
    off = Counter(fates.miscount(shop, f"r{at}", 0, 20, 19) for at in range(2_000))
    assert set(off) == {-1, 0, 1}
    assert off[1] + off[-1] in band(2_000, 0.04)
    assert fates.miscount(shop_of((forge(),)), "r1", 0, 20, 19) == 0


def test_minutes_of_a_run_spread_about_the_true_mean() -> None:
    """Half of lognormal minutes lie below mean * exp(-spread^2 / 2)."""
    shop = shop_of((forge(2, spread=0.5),))
    drawn = [fates.minutes(shop, f"r{at}", "A", 0, 10, 0) for at in range(1_000)]
    assert sum(one < 20 * 2.718281828459045**-0.125 for one in drawn) in band(1_000, 0.5)


SHOPS = range(80)


def test_truths_are_drawn_from_the_beliefs_the_manager_is_told() -> None:
    """Of good rates and minutes as many lie below the median of the belief as above; late shares average its weights."""
    shops = [draw_shop(seed) for seed in SHOPS]
    minutes: list[float] = []
    late: dict[int, float] = defaultdict(float)
    rates: dict[tuple[float, float], list[float]] = {}
    for shop in shops:
        for (name, step), truth in shop.steps.items():
            card = shop.facts.pattern(name).route[step]
            assert isinstance(card, Work)
            minutes.append(truth.minutes / card.minutes)
            assert card.belief is not None
            rates.setdefault(card.belief, []).append(truth.good)
        for supply in shop.supplies.values():
            for days, chance in supply.late:
                late[days] += chance
    assert sum(one < 1 for one in minutes) in band(len(minutes), 0.5)
    for (good, bad), drawn in rates.items():
        mean = good / (good + bad)
        error = (mean * (1 - mean) / (good + bad + 1) / len(drawn)) ** 0.5
        assert abs(sum(drawn) / len(drawn) - mean) < 4 * error
    weights = sum(weight for _, weight in LATE_BELIEF)
    for days, weight in LATE_BELIEF:
        assert late[days] / sum(late.values()) == pytest.approx(weight / weights, abs=0.05)


def test_two_worlds_of_one_seed_are_the_same_shop() -> None:
    assert replace(draw_shop(5, HIDDEN), laws=FOLLOWS_THE_LAWS) == draw_shop(5, FOLLOWS_THE_LAWS)


def test_shops_differ_and_every_route_can_be_worked() -> None:
    shops = [draw_shop(seed) for seed in SHOPS]
    assert {len(shop.facts.people) for shop in shops} == set(range(1, 7))
    assert {len(shop.facts.patterns) for shop in shops} == {2, 3, 4}
    assert {shop.facts.unattended for shop in shops} == {True, False}
    for shop in shops:
        facts, open_minutes = shop.facts, shop.facts.calendar.shuts - shop.facts.calendar.opens
        for step in (step for pattern in facts.patterns for step in pattern.route):
            if isinstance(step, Work):
                assert sum(step.bench in person.benches for person in facts.people) >= step.people
                assert set(step.machines) <= set(facts.machines)
            if isinstance(step, Soak):
                assert step.soak + step.heat_up < open_minutes
        assert all(facts.calendar.is_open(line.asked) for line in shop.lines)


def test_as_much_is_asked_for_as_last_year() -> None:
    """Pieces asked for over pieces expected, over many shops; orders are few and large, so single shops differ."""
    shops = [draw_shop(seed) for seed in SHOPS]
    asked = sum(line.qty for shop in shops for line in shop.lines)
    assert asked / sum(26 * sum(shop.facts.weekly.values()) for shop in shops) == pytest.approx(1, abs=0.05)
