"""Lead times are learned from what came, what still waits, and what was believed."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.lead_times import (
    DEFAULT_DAYS,
    SMOOTH_RECORDS,
    LeadTime,
    Record,
    fixed,
    given_not_come,
    kept,
    learn,
    of,
    rest_of,
)

TODAY = dt.date(2026, 11, 30)


def ago(days: int) -> dt.date:
    return TODAY - dt.timedelta(days=days)


def came(ordered: int, *after: tuple[int, float], promised: int | None = None) -> Record:
    """Make a line ordered so many days ago; shares came so many days later, promised for so many days later."""
    return Record(
        ago(ordered),
        None if promised is None else ago(ordered - promised),
        tuple((ago(ordered - days), share) for days, share in after),
    )


def test_nothing_known_is_the_lead_time_written_down_with_a_spread() -> None:
    lead = learn((), (), written=10, today=TODAY)
    assert (lead.records, lead.within(0.5)) == (0, 10)
    assert lead.within(0.1) < 10 < lead.within(0.9)
    assert learn((), (), written=None, today=TODAY).within(0.5) == DEFAULT_DAYS
    assert learn((), (), written=0, today=TODAY).days == (0,)


def test_many_records_outweigh_the_belief() -> None:
    lead = learn([came(300 - day, (20 + day % 2, 1.0)) for day in range(40)], (), written=5, today=TODAY)
    assert lead.records == 40
    assert lead.mean == pytest.approx(20.5, abs=0.7)
    assert 20 <= lead.within(0.5) <= lead.within(0.8) <= 22


def test_own_records_count_more_than_those_of_the_suppliers_other_items() -> None:
    long, short = [came(200, (30, 1.0))] * 4, [came(200, (6, 1.0))] * 4
    assert learn(long, short, written=18, today=TODAY).mean > learn(short, long, written=18, today=TODAY).mean
    by_others = learn((), long, written=10, today=TODAY).mean
    assert 10 < by_others < learn(long, (), written=10, today=TODAY).mean


def test_a_line_that_came_in_parts_counts_each_part_by_its_share() -> None:
    parted = learn([came(90, (10, 0.75), (40, 0.25))] * 10, (), written=17, today=TODAY)
    chances = dict(zip(parted.days, parted.chances, strict=True))
    assert chances[10] - chances[9] == pytest.approx(0.75 * 10 / (10 + SMOOTH_RECORDS), abs=0.02)
    assert chances[40] - chances[39] == pytest.approx(0.25 * 10 / (10 + SMOOTH_RECORDS), abs=0.02)


def test_what_still_waits_makes_it_longer_and_is_no_record_yet() -> None:
    before = learn([came(200, (10, 1.0))] * 5, (), written=10, today=TODAY)
    after = learn([*[came(200, (10, 1.0))] * 5, came(25)], (), written=10, today=TODAY)
    just = learn([*[came(200, (10, 1.0))] * 5, came(0)], (), written=10, today=TODAY)
    assert after.records == before.records == 5
    assert after.mean > before.mean + 0.5
    assert after.by(25) == pytest.approx((5 + SMOOTH_RECORDS) / (6 + SMOOTH_RECORDS), abs=0.02)
    assert just.mean == pytest.approx(before.mean, abs=0.3)


def test_what_always_came_at_once_and_now_waits_may_take_as_long_again() -> None:
    lead = learn([came(9, (0, 1.0)), came(9)], (), written=0, today=TODAY)
    assert (lead.days[0], lead.days[1], lead.days[-1]) == (0, 10, 19)
    assert lead.by(0) == pytest.approx((1 + SMOOTH_RECORDS) / (2 + SMOOTH_RECORDS))


def test_a_lead_time_says_within_how_many_days_it_comes() -> None:
    lead = LeadTime((2, 5), (0.9, 0.1), 2.3)
    assert (lead.within(0.9), lead.within(0.95), lead.within(1.1), lead.by(4)) == (2, 5, 5, 0.9)


def test_an_order_that_waits_is_judged_by_the_days_that_are_left() -> None:
    lead = of({5: 0.5, 10: 0.25, 20: 0.25})
    assert given_not_come(lead, 0) == lead
    rest = given_not_come(lead, 7)
    assert (rest.days, rest.chances) == ((3, 13), pytest.approx((0.5, 0.5)))
    assert given_not_come(lead, 10).days == (10,)


def test_an_order_that_waits_longer_than_any_did_may_come_any_day() -> None:
    rest = given_not_come(fixed(4), 9)
    assert (rest.days, rest.chances) == (tuple(range(1, 10)), pytest.approx((1 / 9,) * 9))
    assert given_not_come(fixed(20), 2000).days[-1] == 730


def test_promised_days_are_set_beside_the_days_it_came() -> None:
    found = kept(
        [came(50, (12, 1.0), promised=10), came(50, (8, 1.0), promised=10), came(50, (14, 1.0)), came(9, promised=5)]
    )
    assert found is not None
    assert (found.bias, found.spread, found.records) == (0.0, 2.0, 2)
    late = kept([came(50, (12, 0.5), (16, 0.5), promised=10)])
    assert late is not None
    assert (late.bias, late.spread, late.records) == (4.0, 2.0, 1)
    assert kept([came(50, (14, 1.0)), came(9, promised=5)]) is None


def test_an_order_with_a_day_comes_as_the_suppliers_promises_are_kept() -> None:
    lead = learn((), (), written=30, today=TODAY)
    late = [came(200, (19, 1.0), promised=12)] * 12
    sure = [came(200, (12, 1.0), promised=12)] * 12
    day = TODAY + dt.timedelta(days=10)
    by = {
        name: rest_of(lead, records, ordered=ago(2), promised=day, today=TODAY).within(0.5)
        for name, records in {"late": late, "sure": sure}.items()
    }
    assert by == {"late": 17, "sure": 10}
    plain = rest_of(lead, sure, ordered=ago(2), promised=None, today=TODAY)
    assert plain == given_not_come(lead, 2)


@given(
    st.lists(st.tuples(st.integers(0, 90), st.integers(0, 60)), max_size=6),
    st.lists(st.tuples(st.integers(0, 90), st.integers(0, 60)), max_size=6),
    st.none() | st.integers(0, 60),
)
def test_chances_are_chances_whatever_came(
    own: list[tuple[int, int]], others: list[tuple[int, int]], written: int | None
) -> None:
    records = [came(100, (days, 1.0)) if days else came(waits) for waits, days in own]
    support = [came(100, (days, 0.5)) if days else came(waits) for waits, days in others]
    lead = learn(records, support, written=written, today=TODAY)
    assert sum(lead.chances) == pytest.approx(1)
    assert lead.by(lead.days[-1]) == pytest.approx(1)
    over = [one for one in records if not one.open]
    plain, longer = (learn(rows, (), written=written, today=TODAY) for rows in (over, [*over, came(100, (99, 1.0))]))
    assert longer.mean >= plain.mean - 1e-9
    rest = given_not_come(lead, 12)
    assert rest.days[0] >= 1


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: came(9, (1, 0.7), (2, 0.7)), "together 1 at most"),
        (lambda: came(9, (1, 0.0)), "above 0"),
        (lambda: came(9, (-1, 1.0)), "before it is ordered"),
        (lambda: learn((), (), written=-1, today=TODAY), "0 days or more"),
        (lambda: given_not_come(fixed(3), -1), "0 days or more"),
        (lambda: fixed(-1), "0 or more"),
        (lambda: LeadTime((), (), 0.0), "a day or more"),
        (lambda: LeadTime((3,), (0.9,), 3.0), "together 1"),
        (lambda: of({3: 0.0}), "above 0"),
        (lambda: rest_of(fixed(3), (), ordered=ago(3), promised=ago(5), today=TODAY), "from the order on"),
    ],
)
def test_what_cannot_be_is_refused(call, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        call()
