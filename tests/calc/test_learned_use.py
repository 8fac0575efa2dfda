"""What a piece uses up, from bottles changed, and how long it takes, from minutes noted."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.learned_use import Interval, Pace, Record, Use, learn, pace, pieces_from

RECORDS = st.lists(
    st.builds(Record, st.integers(1, 600), st.integers(1, 3), st.integers(1, 60)), min_size=1, max_size=12
)


def test_without_a_bottle_changed_the_belief_stands() -> None:
    assert learn([], Fraction(700)) == Use(Fraction(700), pytest.approx(700 / 50**0.5), 0, 0)


def test_bottles_changed_draw_the_figure_to_what_was_used() -> None:
    """Three bottles of 1000 over 100 pieces each: 10 a piece, drawn from a belief of 20 worth 50 pieces. By hand."""
    found = learn([Interval(1_000, 100)] * 3, Fraction(20))
    assert found.each == Fraction(20 * 50 + 3_000, 350)
    assert (found.pieces, found.intervals, found.spread) == (300, 3, 0.0)
    assert abs(learn([Interval(1_000, 100)] * 3_000, Fraction(20)).each - 10) < Fraction(1, 100)


def test_an_interval_without_a_piece_teaches_nothing() -> None:
    assert learn([Interval(500, 0)], Fraction(3)).each == 3


def test_the_spread_is_the_scatter_of_the_ratio() -> None:
    """Cochran's ratio estimator by hand: used 90, 110, 100 over 10 each; ratio 10, scatter 100, spread sqrt(100/3)/10."""
    found = learn([Interval(90, 10), Interval(110, 10), Interval(100, 10)], Fraction(10))
    assert found.spread == pytest.approx((100 / 3) ** 0.5 / 10)


def test_how_long_an_amount_lasts() -> None:
    assert pieces_from(1_000, Use(Fraction(10), 1.0, 0, 0)) == (100, 83, 125)
    assert pieces_from(1_000, Use(Fraction(10), 6.0, 0, 0)) == (100, 45, 200)
    assert pieces_from(5, Use(Fraction(0), 0.0, 0, 0)) is None


@given(
    st.lists(st.builds(Interval, st.integers(0, 10**6), st.integers(0, 500)), max_size=12),
    st.fractions(0, 10**4, max_denominator=100),
)
def test_what_is_learned_lies_between_the_belief_and_what_was_counted(
    intervals: list[Interval], believed: Fraction
) -> None:
    told = [one for one in intervals if one.pieces]
    counted = Fraction(sum(i.used for i in told), sum(i.pieces for i in told)) if told else believed
    assert min(believed, counted) <= learn(intervals, believed).each <= max(believed, counted)


def test_without_a_record_the_believed_minutes_stand() -> None:
    assert pace([], 540, 25) == Pace(540, 25, 0)


def test_one_record_draws_the_mean_a_quarter_of_the_way_and_tells_no_spread() -> None:
    """By hand: 10 pieces in 60 min are 360 s each; three records' worth of 600 s and one of 360 s make 540 s."""
    assert pace([Record(60, 1, 10)], 600, 25) == Pace(540, 25, 1)


def test_two_people_take_twice_the_time_of_one() -> None:
    assert pace([Record(30, 2, 10)], 600, 25) == pace([Record(60, 1, 10)], 600, 25)


def test_a_record_of_many_pieces_weighs_more_than_one_of_few() -> None:
    """By hand: 30 pieces at 120 s, 10 at 240 s: 6000 s over 40; the belief is worth 60 pieces of 150 s, so 150 s."""
    found = pace([Record(60, 1, 30), Record(40, 1, 10)], 150, 0)
    assert found.seconds_each == 150
    # Their own mean is 150 s: .2 off for three quarters of the pieces, .6 for one quarter: .12 x 2 records, over 4.
    assert found.spread_percent == round(100 * (0.24 / 4) ** 0.5)


def test_many_records_leave_nothing_of_the_belief() -> None:
    found = pace([Record(9, 1, 1), Record(11, 1, 1)] * 2_000, 60, 80)
    assert abs(found.seconds_each - 600) <= 1
    assert found.spread_percent == 10


def test_records_that_agree_narrow_the_spread_however_wrong_the_belief() -> None:
    spreads = [pace([Record(60, 1, 10)] * count, 7_200, 30).spread_percent for count in (1, 4, 16, 64)]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[0] == 30
    assert spreads[-1] < 10


@given(RECORDS, st.integers(0, 10_000), st.integers(0, 100))
def test_the_pace_lies_between_the_belief_and_what_was_noted(records: list[Record], believed: int, spread: int) -> None:
    noted = Fraction(sum(one.seconds for one in records), sum(one.pieces for one in records))
    found = pace(records, believed, spread)
    assert round(min(noted, Fraction(believed))) <= found.seconds_each <= round(max(noted, Fraction(believed)))
    assert found == pace(records[::-1], believed, spread)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Interval(-1, 0),
        lambda: Interval(0, -1),
        lambda: learn([], Fraction(-1)),
        lambda: learn([], Fraction(1), 0),
        lambda: pieces_from(-1, Use(Fraction(1), 0.0, 0, 0)),
        lambda: Record(0, 1, 1),
        lambda: Record(1, 0, 1),
        lambda: Record(1, 1, 0),
        lambda: pace([], -1, 25),
        lambda: pace([], 1, -1),
        lambda: pace([], 1, 25, 0),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):
        call()  # type: ignore[operator]
