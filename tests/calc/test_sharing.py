"""Sharing what is too little: all there is is given out, nobody gets more than wanted, lines that go whole go whole."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.sharing import Claim, by_date, moved, proportional

D = dt.date(2026, 3, 2)


def claim(line: int, wants: int, *, day: int | None = None, whole: bool = False) -> Claim:
    return Claim(line, wants, line, None if day is None else D + dt.timedelta(days=day), whole)


@st.composite
def claims(draw: st.DrawFn) -> list[Claim]:
    count = draw(st.integers(1, 8))
    return [
        Claim(
            number,
            draw(st.integers(1, 30)),
            draw(st.integers(1, 1000)) * 10 + number,
            draw(st.none() | st.integers(0, 5).map(lambda days: D + dt.timedelta(days=days))),
            draw(st.booleans()),
        )
        for number in range(count)
    ]


def test_by_date_serves_the_earliest_day_first_then_the_queue_and_lines_without_a_day_last() -> None:
    lines = [claim(1, 4), claim(2, 5, day=9), claim(3, 3, day=2), claim(4, 5, day=9)]
    assert by_date(lines, 10) == {3: 3, 2: 5, 4: 2, 1: 0}


def test_by_date_a_line_that_goes_whole_is_passed_over_when_it_cannot_be_filled() -> None:
    lines = [claim(1, 6, day=1, whole=True), claim(2, 3, day=2), claim(3, 3, day=3)]
    assert by_date(lines, 5) == {1: 0, 2: 3, 3: 2}


def test_what_nobody_else_can_use_gathers_at_the_first_line_that_goes_whole() -> None:
    lines = [claim(1, 6, day=1, whole=True), claim(2, 3, day=2)]
    assert by_date(lines, 5) == {1: 2, 2: 3}
    assert proportional([claim(1, 6, whole=True), claim(2, 8, whole=True)], 5) == {1: 5, 2: 0}


def test_proportional_gives_odd_pieces_to_the_largest_remainders() -> None:
    """10 among 5, 6 and 4 are 3 1/3, 4 and 2 2/3: the odd piece goes to the line of four."""
    assert proportional([claim(1, 5), claim(2, 6), claim(3, 4)], 10) == {1: 3, 2: 4, 3: 3}


def test_lines_that_go_whole_are_filled_out_of_what_they_would_get_together() -> None:
    """20 among 30: the two whole lines want 15 and would get 10 together, so the first is filled and the 5 that are
    left over go to the others.
    """
    lines = [claim(1, 9, day=1, whole=True), claim(2, 6, day=2, whole=True), claim(3, 10, day=3), claim(4, 5, day=4)]
    assert proportional(lines, 20) == {1: 9, 2: 0, 3: 7, 4: 4}


def test_moved_names_only_what_changes() -> None:
    lines = [claim(1, 4), claim(2, 4), claim(3, 2)]
    assert moved(lines, {1: 4, 2: 0, 3: 1}, {1: 2, 2: 2, 3: 1}) == {1: -2, 2: 2}


@given(claims(), st.integers(0, 300))
def test_all_there_is_is_given_out_and_nobody_gets_more_than_wanted(lines: list[Claim], there: int) -> None:
    for shares in (by_date(lines, there), proportional(lines, there)):
        assert set(shares) == {one.line for one in lines}
        assert sum(shares.values()) == min(there, sum(one.wants for one in lines))
        assert all(0 <= shares[one.line] <= one.wants for one in lines)
        broken = [one for one in lines if one.whole and 0 < shares[one.line] < one.wants]
        assert len(broken) <= 1
        if broken:  # it only gathers what no line that takes parts could use
            assert all(shares[one.line] == one.wants for one in lines if not one.whole)


@given(claims(), st.integers(0, 300))
def test_without_whole_lines_every_share_is_within_one_piece_of_its_exact_part(lines: list[Claim], there: int) -> None:
    plain = [Claim(one.line, one.wants, one.place, one.day) for one in lines]
    total = sum(one.wants for one in plain)
    for one in plain:
        exact = one.wants * min(there, total) / total
        assert abs(proportional(plain, there)[one.line] - exact) < 1


def test_what_is_no_claim_is_refused() -> None:
    with pytest.raises(ValueError, match="one piece or more"):
        claim(1, 0)
    with pytest.raises(ValueError, match="named once"):
        by_date([claim(1, 2), claim(1, 3)], 2)
    with pytest.raises(ValueError, match="0 or more"):
        proportional([claim(1, 2)], -1)
