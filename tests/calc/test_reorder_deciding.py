"""When to order and how long stock lasts: what holds for every item, and the plain cases worked out by hand."""

import datetime as dt
from dataclasses import replace
from math import ceil
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc import lead_times
from inventory.calc.lead_times import fixed, of
from inventory.calc.reorder import closed
from inventory.calc.reorder.deciding import Asked, Cause, Coming, Decision, decide
from inventory.calc.reorder.lead_demand import Demand, Scenarios, lumps
from inventory.calc.reorder.point import point, wanted
from inventory.calc.reorder.rundown import run_down

TODAY = dt.date(2026, 11, 30)
FEW = 300
LUMPY = (0, 0, 12, 0, 0, 1, 0, 0, 0, 30, 0, 2, 0, 0, 0, 5) * 4
STEADY = tuple(int(week) for week in np.random.default_rng(3).poisson(21, 104))

histories = st.lists(st.sampled_from([0, 0, 0, 1, 2, 3, 20, 75]), min_size=1, max_size=60).map(tuple)
leads = st.dictionaries(st.integers(0, 60), st.floats(0.05, 1.0), min_size=1, max_size=5).map(of)
services = st.sampled_from([0.5, 0.9, 0.95, 0.98])


def demand(history: tuple[int, ...], times: float = 1.0, **more) -> Demand:
    return Demand(per_week=(times * sum(history) / len(history),) * 52, history=history, **more)


def day(days: int) -> dt.date:
    return TODAY + dt.timedelta(days=days)


@given(histories, leads, services, st.integers(0, 60), st.integers(1, 60), st.integers(0, 9))
@settings(max_examples=60)
def test_more_stock_is_never_ordered_for_earlier(history, lead, service, free, more, seed) -> None:
    asked = Asked(free, demand(history), lead, service, seed)
    less, rich = (decide(replace(asked, free=much), today=TODAY, scenarios=FEW) for much in (free, free + more))
    last = dt.date.max
    assert (rich.order_by or last) >= (less.order_by or last)
    assert (rich.lasts_until or last) >= (less.lasts_until or last)
    assert (rich.last_safe_day or last) >= (less.last_safe_day or last)
    assert rich.point == less.point
    assert less.order_now or not rich.order_now


@given(histories, leads, services, st.integers(0, 30), st.floats(1.0, 4.0), st.integers(0, 9), st.integers(1, 7))
@settings(max_examples=60)
def test_the_point_never_falls_with_service_lead_time_or_demand(
    history, lead, service, later, times, seed, review
) -> None:
    drawn = Scenarios(demand(history), seed, FEW)
    found = point(drawn, lead, service=service, review=review).units
    longer = of({days + later: chance for days, chance in zip(lead.days, lead.chances, strict=True)})
    assert point(drawn, longer, service=service, review=review).units >= found
    assert point(drawn, lead, service=0.99, review=review).units >= found
    assert point(Scenarios(demand(history, times), seed, FEW), lead, service=service, review=review).units >= found
    assert point(drawn, lead, service=service, review=review + 1).units >= found - 1  # drawn anew, within rounding


@given(st.integers(3, 90), st.integers(8, 40), st.floats(0.2, 0.9), st.sampled_from([0.9, 0.95, 0.98]))
@settings(max_examples=40)
def test_a_more_spread_lead_time_never_asks_for_less(per_day, days, share, service) -> None:
    """Of what is taken every day; a slow item may come through a short lead time without being asked for at all."""
    drawn = Scenarios(Demand(per_week=(7.0 * per_day,) * 52, history=(7 * per_day,) * 52), 4)
    far = max(2, round(days * share))
    points = [point(drawn, of({days - off: 0.5, days + off: 0.5}), service=service).units for off in (0, far // 2, far)]
    assert points == sorted(points)


def test_the_same_seed_gives_the_same_answer() -> None:
    asked = Asked(40, demand(LUMPY), of({5: 0.5, 20: 0.5}), 0.95, 17, coming=(Coming(10, of({3: 0.5, 9: 0.5})),))
    assert decide(asked, today=TODAY) == decide(replace(asked), today=TODAY)
    assert decide(asked, today=TODAY).point == pytest.approx(
        decide(replace(asked, seed=18), today=TODAY).point, rel=0.15
    )


@pytest.mark.parametrize(("lead", "free"), [(5, 17), (5, 18), (5, 30), (0, 2), (0, 3), (12, 60)])
def test_demand_that_is_all_known_and_a_sure_lead_time_are_plain_subtraction(lead: int, free: int) -> None:
    """Three a day: an order of the evening of day t comes on day t + lead; days up to it are served from what is there."""
    known = Demand(known=tuple((each, 3) for each in range(1, 300)))
    found = decide(Asked(free, known, fixed(lead), 0.95, 1), today=TODAY)
    assert found.point == 3 * (lead + 1) - 1
    assert found.lasts_until == found.last_safe_day == day(free // 3)
    assert found.order_now is (free // 3 <= lead)
    assert found.order_by == day(max(0, free // 3 - lead))
    assert found.why.cause is (Cause.KNOWN if found.order_now else Cause.ENOUGH)
    assert found.why.chance == float(free >= 3 * lead)


def test_what_is_on_order_serves_from_the_day_after_it_came() -> None:
    known = Demand(known=((4, 10), (5, 10)))
    asked = Asked(0, known, fixed(2), 0.9, 1)
    assert decide(asked, today=TODAY).lasts_until == day(3)
    assert decide(replace(asked, coming=(Coming(10, fixed(3)),)), today=TODAY).lasts_until == day(4)
    assert decide(replace(asked, coming=(Coming(20, fixed(3)),)), today=TODAY).lasts_until is None
    assert decide(replace(asked, coming=(Coming(20, fixed(4)),)), today=TODAY).lasts_until == day(3)
    halves = decide(replace(asked, coming=(Coming(20, of({2: 0.8, 20: 0.2})),)), today=TODAY)
    assert (halves.lasts_until, halves.last_safe_day) == (None, day(3))


def test_an_item_nobody_asked_for_is_not_ordered() -> None:
    found = decide(Asked(0, Demand(), fixed(10), 0.95, 1), today=TODAY)
    assert (found.order_now, found.least, found.point, found.order_by, found.lasts_until) == (False, 0, 0, None, None)
    assert found.why.cause is Cause.NOTHING_EXPECTED
    never = decide(Asked(5, Demand(per_week=(0.0,) * 52, history=(0,) * 30), fixed(10), 0.95, 1), today=TODAY)
    assert never.why.cause is Cause.NOTHING_EXPECTED


def test_nothing_forecast_takes_nothing_under_the_point() -> None:
    assert Scenarios(Demand(), 1, 5).undershoot(1).tolist() == [0] * 5
    assert closed.least((0.5, 0.4), 0.95) == 1


def test_what_is_owed_is_ordered_even_where_nothing_more_is_expected() -> None:
    found = decide(Asked(2, Demand(), fixed(10), 0.95, 1, waited=9, coming=(Coming(3, fixed(4)),)), today=TODAY)
    assert (found.position, found.order_now, found.least, found.order_by) == (-4, True, 4, TODAY)
    assert (found.why.cause, found.lasts_until, found.why.coming) == (Cause.OWED, TODAY, 3)


def test_a_day_far_ahead_waits_for_its_evening() -> None:
    asked = Asked(0, Demand(known=((60, 8),)), fixed(10), 0.95, 1)
    early = decide(asked, today=TODAY)
    assert (early.order_now, early.order_by, early.why.cause) == (False, day(49), Cause.ENOUGH)
    late = decide(replace(asked, demand=Demand(known=((11, 8),))), today=TODAY)
    assert (late.order_now, late.least, late.why.cause) == (True, 8, Cause.KNOWN)


def test_it_is_to_be_ordered_when_the_position_is_expected_at_its_own_point() -> None:
    """119 lb, a point of 80, 59 a week: 39 lb last 4.6 days."""
    steady = Demand(per_week=(59.0,) * 52, history=(59,) * 52)
    asked = Asked(119, steady, fixed(1), 0.95, 1, own_point=80)
    assert decide(asked, today=TODAY).order_by in (day(4), day(5))
    assert decide(replace(asked, own_point=None), today=TODAY).order_by > day(7)
    assert decide(replace(asked, free=81), today=TODAY).order_by == day(1)
    assert decide(replace(asked, free=80), today=TODAY).order_by == TODAY


def test_a_lead_time_nobody_knows_is_the_shops_default() -> None:
    found = decide(Asked(40, demand(STEADY), None, 0.95, 1), today=TODAY)
    believed = lead_times.learn((), (), written=lead_times.DEFAULT_DAYS, today=TODAY)
    assert (found.why.lead_usual, found.why.lead_records) == (believed.mean, 0)


def test_the_owners_own_point_holds_where_it_is_higher() -> None:
    asked = Asked(100, demand(STEADY), fixed(7), 0.95, 1)
    plain = decide(asked, today=TODAY)
    higher = decide(replace(asked, own_point=120), today=TODAY)
    lower = decide(replace(asked, own_point=1), today=TODAY)
    assert (plain.order_now, higher.order_now, higher.point, higher.why.cause) == (False, True, 120, Cause.AT_OWN_POINT)
    assert (higher.position + higher.least, lower) == (120 + ceil(sum(STEADY) / len(STEADY) / 7), plain)
    resting = decide(Asked(4, Demand(), fixed(7), 0.95, 1, own_point=5), today=TODAY)
    assert (resting.order_now, resting.least, resting.why.cause) == (True, 2, Cause.AT_OWN_POINT)


def test_an_order_lifts_the_position_over_the_point_until_the_next_look() -> None:
    asked = Asked(3, demand(STEADY), fixed(7), 0.95, 1, review=7)
    found = decide(asked, today=TODAY)
    assert found.order_now
    assert found.up_to == found.point + ceil(sum(STEADY) / len(STEADY))
    assert not decide(replace(asked, free=found.up_to), today=TODAY).order_now


def test_single_units_at_random_come_near_the_normal_form() -> None:
    """400 a day for 16 days: Poisson 6,400, standard deviation 80, and the undershoot of a mean day's 400 units."""
    drawn = Scenarios(Demand(per_week=(2_800.0,) * 52, sure=True), 2, 8_000)
    totals = drawn.forecast(np.full(8_000, 16.0))
    for service in (0.5, 0.9, 0.95, 0.98):
        assert wanted(totals, service) == pytest.approx(NormalDist(6_400, 80).inv_cdf(service), abs=6)
    assert float(drawn.undershoot(1).mean()) == pytest.approx(200, abs=6)


def test_the_undershoot_of_lumps_is_half_the_lump_an_average_unit_lies_in() -> None:
    """Lumps of 1 and 21 as often, far apart: (1 + 441) / (2 * 22) less half a unit, about 9.5 units."""
    history = (0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 21) * 8
    drawn = Scenarios(demand(history), 3, 8_000)
    assert drawn.lumps.sizes in {(1, 21), (1,) * 8 + (21,) * 8}
    assert float(drawn.undershoot(1).mean()) == pytest.approx(9.6, abs=0.7)


def test_lumps_stay_lumps_in_a_part_of_a_week() -> None:
    taken = Scenarios(demand(LUMPY), 3).forecast(np.full(2_000, 2.0))
    assert set(np.unique(taken).tolist()) >= {0, 1, 2, 5, 12, 30}
    assert 3 not in np.unique(taken[taken < 5]).tolist() or (taken == 3).mean() < 0.01


def test_a_fast_steady_item_is_no_lump_and_a_trend_is_no_chance() -> None:
    rng = np.random.default_rng(8)
    growing = tuple(int(week) for week in rng.poisson(np.linspace(5, 60, 156)))
    season = tuple(int(week) for week in rng.poisson(30 + 25 * np.sin(np.arange(156) * 2 * np.pi / 52)))
    assert [lumps(history).swing == pytest.approx(1.0, abs=0.35) for history in (STEADY, growing, season)] == [True] * 3


@given(histories, leads, st.integers(-30, 60), st.integers(0, 40))
@settings(max_examples=25)
def test_the_run_down_agrees_with_the_decision(history, lead, free, qty) -> None:
    coming = (Coming(qty, lead_times.given_not_come(lead, 0)),) if qty and lead.days[-1] else ()
    asked = Asked(max(0, free), demand(history), lead, 0.9, 5, coming=coming, waited=max(0, -free))
    found = run_down(asked, today=TODAY, days=60)
    told: Decision = decide(asked, today=TODAY)
    assert (found.lasts_until, found.last_safe_day) == (told.lasts_until, told.last_safe_day)
    assert all(row.low <= row.median <= row.high for row in found.days)
    assert [row.short for row in found.days] == sorted(row.short for row in found.days)
    assert found.days[0].median == found.days[0].low == free
    more = run_down(asked, today=TODAY, days=60, proposed=Coming(50, fixed(10)))
    assert [row.median for row in more.days[:10]] == [row.median for row in found.days[:10]]
    assert all(row.median == plain.median + 50 for row, plain in zip(more.days[10:], found.days[10:], strict=True))


def test_a_forecast_that_missed_the_past_by_more_is_less_sure() -> None:
    """21 a week at random: the error of 4 weeks' sum is the root of 84 by chance alone, 9.2; by 40 the level is off."""
    lucky, off = (Scenarios(demand(STEADY, error=error, horizon=4), 3) for error in (9.2, 40.0))
    at = np.full(2_000, 28.0)
    assert lucky.forecast(at).std() == pytest.approx((84 + (84 / (21 * 26) ** 0.5) ** 2) ** 0.5, rel=0.08)
    assert off.forecast(at).std() == pytest.approx(40, rel=0.12)
    assert off.forecast(at).mean() == pytest.approx(84, rel=0.03)


def test_a_season_is_asked_for_when_it_comes() -> None:
    weeks = tuple(2.0 if week < 8 else 30.0 for week in range(52))
    drawn = Demand(per_week=weeks, history=STEADY, into_week=3)
    at = np.array([0.0, 4.0, 53.0, 60.0, 7 * 52.0, 14 * 52.0])
    assert drawn.mean(at).tolist() == pytest.approx(
        [0, 4 * 2 / 7, 16 - 6 / 7, 16 - 6 / 7 + 30, sum(weeks), 2 * sum(weeks)]
    )


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: Demand(known=((0, 3),)), "day 1 or later"),
        (lambda: Demand(per_week=(-1.0,)), "0 or more"),
        (lambda: Demand(into_week=7), "0 to 6"),
        (lambda: Demand(error=-1.0), "0 or more"),
        (lambda: closed.poisson(-1, {1: 1.0}), "0 or more"),
        (lambda: closed.spread(1, -1, 1, 1), "0 or more"),
        (lambda: Coming(0, fixed(1)), "a unit or more"),
        (lambda: Asked(-1, Demand(), None, 0.9, 1), "0 or more"),
        (lambda: Asked(1, Demand(), None, 1.0, 1), "within 0 and 1"),
        (lambda: Scenarios(Demand(), 1, 0), "a scenario or more"),
        (lambda: point(Scenarios(Demand(), 1), fixed(1), service=0.0), "between 0 and 1"),
        (lambda: run_down(Asked(1, Demand(), None, 0.9, 1), today=TODAY, days=365), "1 to 364"),
    ],
)
def test_what_cannot_be_is_refused(call, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        call()
