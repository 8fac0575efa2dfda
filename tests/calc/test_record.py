"""The record of days given grades every promise whose day is over by what was stated of it, and only those."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc import record_measures
from orders.calc.record import PIT_LIMIT, Figures, Missed, Promise, record

# Sent two to nine days after the question: own example of a true curve.
LAW = (0.05, 0.2, 0.25, 0.2, 0.15, 0.05, 0.05, 0.05)
CURVE = tuple((2 + at, float(share)) for at, share in enumerate(np.minimum(1, np.cumsum(LAW)), 0))


def promise(sent: int | None, **more: object) -> Promise:
    facts = {"asked": 0, "day": 6, "curve": ((5, 0.7), (6, 0.85)), "cluster": "w1", **more}
    return Promise(sent=sent, **facts)  # type: ignore[arg-type]


def some(found: Figures | None) -> Figures:
    assert found is not None
    return found


def drawn(
    count: int, *, seed: int, weeks: int = 40, curve: tuple[tuple[int, float], ...] = CURVE, off: int = 0
) -> list[Promise]:
    """Draw promises of which the curve is true, or sent so many days later than it says."""
    rng = np.random.default_rng(seed)
    found = []
    for at in range(count):
        asked = int(rng.integers(0, 200))
        sent = asked + 2 + int(rng.choice(len(LAW), p=LAW)) + off
        mine = tuple((asked + day, share) for day, share in curve)
        found.append(Promise(asked, asked + 6, mine, sent, f"{at % weeks}"))
    return found


def test_the_figures_of_five_promises_are_those_counted_by_hand() -> None:
    promises = [
        promise(4, cluster="w1", plain=3),
        promise(6, cluster="w1", kind="dealer", plain=3),
        promise(9, cluster="w2", plain=8),
        promise(None, cluster="w3", kind="dealer", made_to_order=True, plain=5),
        promise(2, day=20, curve=((19, 0.5), (20, 0.9))),  # sent, but its day is still to come
    ]
    found = record(promises, last=10, seed=1)
    ours = some(found.all)
    assert (ours.of, ours.kept, ours.clusters, found.to_come) == (4, 2, 3, 1)
    assert ours.stated == pytest.approx(0.85)
    # late by 3 and, not sent by the tenth, by at least 5; early by 2
    assert ours.missed == Missed(2, 4.0, 5, 1, 2.0, 1)
    assert (ours.lead_mean, ours.lead_median) == (6, 6)
    assert ours.loss == pytest.approx((0.1 * 2 + 0 + 0.9 * 3 + 0.9 * 5) / 4)
    assert [(kind, one.of, one.kept) for kind, one in found.kinds] == [("", 2, 1), ("dealer", 2, 1)]
    assert (some(found.made_to_order).of, some(found.from_stock).of) == (1, 3)
    (only,) = found.bins
    assert (only.least, only.most, only.of, only.kept) == (0.8, 0.9, 4, 2)
    assert found.beside is not None
    mine, plain = found.beside
    assert (mine.kept, plain.kept) == (2, 0)
    assert (plain.lead_mean, plain.stated, plain.off) == ((3 + 3 + 8 + 5) / 4, None, None)
    assert found.spread.uneven is None


def test_a_rule_whose_day_is_still_to_come_is_compared_on_neither_side() -> None:
    found = record([promise(4, plain=30), promise(4, plain=4)], last=10, seed=1)
    assert found.beside is not None
    assert [one.of for one in found.beside] == [1, 1]


def test_nothing_to_grade_gives_no_figures() -> None:
    found = record([promise(3, day=20, curve=((20, 0.9),))], last=10, seed=1)
    assert (found.all, found.bins, found.beside, found.to_come) == (None, (), None, 1)


def test_true_curves_are_kept_as_stated_and_their_days_fall_evenly() -> None:
    found = record(drawn(3_000, seed=3), last=400, seed=5)
    ours = some(found.all)
    assert ours.stated == pytest.approx(0.85)
    assert ours.off is not None
    assert ours.off[0] < 0 < ours.off[1]
    assert ours.share is not None
    assert ours.share[0] < ours.kept / ours.of < ours.share[1]
    assert found.spread.uneven is not None
    assert found.spread.uneven < PIT_LIMIT
    assert sum(found.spread.counts) == 3_000
    (only,) = found.bins
    assert only.band[0] <= only.kept <= only.band[1]


def test_true_curves_stay_even_where_little_of_them_is_known_and_the_record_ends_early() -> None:
    coarse = tuple(step for step in CURVE if step[0] in (5, 6))
    for last, curve in ((400, coarse), (90, CURVE), (90, coarse)):
        uneven = [record(drawn(1_500, seed=n, curve=curve), last=last, seed=n).spread.uneven or 0 for n in range(20)]
        assert sum(one > PIT_LIMIT for one in uneven) <= record_measures.band(20, 0.01)[1]


def test_days_that_are_two_days_too_early_are_found_out() -> None:
    found = record(drawn(300, seed=3, off=2), last=400, seed=5)
    ours = some(found.all)
    assert ours.off is not None
    assert ours.off[1] < -0.2
    assert found.spread.uneven is not None
    assert found.spread.uneven > PIT_LIMIT
    (only,) = found.bins
    assert only.kept < only.band[0]


def test_weeks_that_share_their_luck_make_the_interval_wider() -> None:
    rng = np.random.default_rng(9)
    bad = rng.random(40) < 0.15
    together = [promise(9 if bad[at % 40] else 5, cluster=f"{at % 40}") for at in range(800)]
    apart = [promise(one.sent, cluster=f"{at}") for at, one in enumerate(together)]
    (wide, narrow) = (some(record(promises, last=30, seed=1).all).share for promises in (together, apart))
    assert wide is not None
    assert narrow is not None
    assert wide[1] - wide[0] > 2 * (narrow[1] - narrow[0])
    assert some(record([promise(5)] * 9, last=30, seed=1).all).share is None, "one week says nothing of others"


def test_the_interval_covers_the_truth_about_as_often_as_it_says() -> None:
    """Forty weeks, each bad with 15 in 100, in which nothing is kept; 85 in 100 are kept in the long run."""
    inside = 0
    for seed in range(100):
        bad = np.random.default_rng(seed).random(40) < 0.15
        promises = [promise(9 if bad[at % 40] else 5, cluster=f"{at % 40}") for at in range(80)]
        off = some(record(promises, last=30, seed=seed).all).off
        assert off is not None
        inside += off[0] <= 0 <= off[1]
    assert inside >= 86  # a percentile interval of forty clusters is a little narrow; .5 % of a true 95 lie below 89


def test_the_same_promises_give_the_same_record() -> None:
    assert record(drawn(200, seed=1), last=150, seed=2) == record(drawn(200, seed=1), last=150, seed=2)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.builds(
            lambda day, sent, week, kind: promise(
                sent, day=day, curve=((day - 1, 0.6), (day, 0.9)), cluster=f"{week}", kind=kind
            ),
            st.integers(1, 20), st.none() | st.integers(0, 30), st.integers(0, 3), st.sampled_from(["", "dealer"]),
        ),
        max_size=30,
    ),
    st.integers(0, 25),
)  # fmt: skip
def test_every_promise_is_kept_late_or_still_to_come(promises: list[Promise], last: int) -> None:
    found = record(promises, last=last, seed=1)
    over = found.all.of if found.all else 0
    assert over + found.to_come == len(promises)
    assert sum(one.of for _, one in found.kinds) == over
    assert sum(one.of for one in found.bins) == over
    assert sum(found.spread.counts) == over
    if found.all:
        assert found.all.kept + found.all.missed.late == over
        assert found.all.missed.open <= found.all.missed.late


@pytest.mark.parametrize(
    "wrong",
    [
        {"curve": ((5, 0.7),)}, {"curve": ((6, 0.85), (5, 0.7))}, {"curve": ((5, 0.9), (6, 0.8))},
        {"curve": ((5, -0.1), (6, 0.8))}, {"curve": ((6, 1.1),)}, {"wanted": 1.0}, {"asked": 7}, {"sent": -1},
    ],
)  # fmt: skip
def test_a_promise_that_cannot_have_been_is_an_error(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        promise(**{"sent": 4, **wrong})  # type: ignore[arg-type]


def test_measures_refuse_what_is_out_of_range() -> None:
    for call in (
        lambda: record_measures.upto(-1, 0.5), lambda: record_measures.upto(3, 1.5), lambda: record_measures.pinball(1, 2, 3),
        lambda: record_measures.unevenness([5]), lambda: record_measures.unevenness([0, 0]),
    ):  # fmt: skip
        with pytest.raises(ValueError):
            call()


def test_what_is_stated_as_certain_or_impossible_has_a_band_too() -> None:
    assert record_measures.band(12, 1.0) == (12, 12)
    assert record_measures.band(12, 0.0) == (0, 0)
    assert record_measures.proving(1_000, -0.02, 0.02) == (0, 12)
    assert record_measures.proving(1_000, 0.98, 1.02) == (988, 1_000)
