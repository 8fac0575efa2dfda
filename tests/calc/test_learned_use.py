"""What a piece uses up, from bottles changed."""

from fractions import Fraction

import pytest

from inventory.calc.learned_use import Interval, Use, learn, pieces_from


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


@pytest.mark.parametrize(
    "call",
    [
        lambda: Interval(-1, 0),
        lambda: Interval(0, -1),
        lambda: learn([], Fraction(-1)),
        lambda: learn([], Fraction(1), 0),
        lambda: pieces_from(-1, Use(Fraction(1), 0.0, 0, 0)),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):
        call()  # type: ignore[operator]
