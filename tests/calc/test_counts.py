"""What is due to be counted, how far a count may be off, part tins, and what a share of right lines proves."""

import datetime as dt
from collections import defaultdict
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc.counts import accuracy, due, quarters, sampling, tolerance
from inventory.calc.counts.due import WEEKS, Thing

DAY = dt.date(2026, 11, 27)
WORDS = st.sampled_from(sorted(WEEKS))
LAST = st.none() | st.integers(0, 420).map(lambda ago: DAY - dt.timedelta(days=ago))
THINGS = st.lists(st.tuples(WORDS, LAST), max_size=40).map(
    lambda drawn: [Thing(f"I{at:02d}", counted, last) for at, (counted, last) in enumerate(drawn)]
)
TINS = st.builds(quarters.Tins, st.integers(0, 9), st.lists(st.integers(0, 3), max_size=6).map(tuple))


@given(THINGS, st.integers(1, 7), st.randoms())
def test_a_day_takes_a_handful_of_what_is_due_and_never_counted_goes_first(things, open_days, turn) -> None:
    found = due.due(things, DAY, open_days)
    by_code = {one.code: one for one in things}
    shown = [by_code[code] for code in found.codes]
    done = sum(one.last == DAY for one in things)
    ready = [one for one in things if one.last is None or one.last + dt.timedelta(weeks=WEEKS[one.counted]) <= DAY]
    assert len(set(found.codes)) == len(shown) == min(len(ready), max(0, found.handful - done))
    assert found.waiting == len(ready) - len(shown)
    assert all(one in ready for one in shown)
    left = [one for one in ready if one not in shown]
    if any(one.last for one in shown):
        assert all(one.last for one in left)
    turn.shuffle(things)
    assert due.due(things, DAY, open_days) == found


@given(THINGS.filter(bool))
def test_what_is_counted_leaves_the_rest_of_the_days_handful_as_it_was(things) -> None:
    before = due.due(things, DAY)
    if not before.codes or any(one.last is None for one in things):
        return
    first = before.codes[0]
    after = due.due([Thing(one.code, one.counted, DAY) if one.code == first else one for one in things], DAY)
    assert (after.codes, after.waiting) == (before.codes[1:], before.waiting)


@pytest.mark.parametrize("mix", [(60, 90, 150), (4, 3, 3), (65, 0, 0), (0, 0, 260), (200, 300, 500)])
def test_over_three_years_nothing_waits_more_than_a_quarter_of_its_time(mix) -> None:
    """Nothing was counted at first; the shop is open Monday to Friday and counts what a day asks for."""
    words = [word for word, many in zip(WEEKS, mix, strict=True) for _ in range(many)]
    things = {f"I{at:04d}": Thing(f"I{at:04d}", word) for at, word in enumerate(words)}
    gaps, most = defaultdict(list), 0
    for ahead in range(3 * 364):
        day = dt.date(2026, 1, 5) + dt.timedelta(days=ahead)
        if day.weekday() > 4:
            continue
        codes = due.due(things.values(), day).codes
        most = max(most, len(codes))
        for code in codes:
            one = things[code]
            if one.last:
                gaps[one.counted].append(Fraction((day - one.last).days, 7 * WEEKS[one.counted]))
            things[code] = Thing(code, one.counted, day)
        if ahead == 13 * 7 - 1:
            assert all(one.last for one in things.values())
    assert all(1 <= gap <= Fraction(5, 4) for found in gaps.values() for gap in found)
    assert most <= -(-len(words) // 65) + 1


def test_a_handful_by_hand() -> None:
    """60 often, 90 sometimes and 150 seldom: 60/13 + 90/26 + 150/52 = 10.96 a week, 2.19 a day, 2.74 with a quarter more."""
    words = ["often"] * 60 + ["sometimes"] * 90 + ["seldom"] * 150
    known = [Thing(str(at), word, DAY) for at, word in enumerate(words)]
    assert due.handful(known) == 3
    assert due.handful([*known, Thing("new", "often")]) == 5  # 301 in 65 days
    assert due.handful([]) == 0
    assert due.due([Thing("H", "often", DAY - dt.timedelta(weeks=13))], DAY).codes == ("H",)
    assert due.due([Thing("H", "often", DAY - dt.timedelta(days=90))], DAY).codes == ()


@pytest.mark.parametrize("open_days", [0, 8])
def test_a_week_has_one_to_seven_open_days(open_days) -> None:
    with pytest.raises(ValueError, match="1 to 7"):
        due.handful([], open_days)
    with pytest.raises(ValueError, match="often"):
        Thing("H", "daily")


@given(st.integers(0, 10**12), WORDS, st.integers(0, 10**7))
def test_a_tolerance_is_the_percent_or_the_step_and_includes_its_limit(book, counted, step) -> None:
    off = tolerance.allowed(book, counted, step)
    assert off >= step
    assert off == step or 100 * off <= tolerance.PERCENT[counted] * book < 100 * (off + 1)
    assert tolerance.agrees(book, book + off, off)
    assert not tolerance.agrees(book, book + off + 1, off)


def test_few_pieces_have_to_agree_exactly_and_a_pail_to_its_quarter() -> None:
    assert tolerance.allowed(99, "often", tolerance.STEP["piece"]) == 0
    assert tolerance.allowed(99, "seldom", tolerance.STEP["piece"]) == 4
    assert tolerance.allowed(0, "often", tolerance.STEP["mg"]) == 50_000
    assert tolerance.allowed(1_000_001, "often", tolerance.quarter(1_000_001)) == 250_001
    for wrong in ((-1, "often", 0), (1, "often", -1), (1, "daily", 0)):
        with pytest.raises(ValueError):
            tolerance.allowed(*wrong)
    with pytest.raises(ValueError):
        tolerance.quarter(0)


@given(TINS, st.integers(6, 10**9))
def test_tins_come_back_as_they_were_read_and_no_reading_makes_oil(tins, content) -> None:
    there = quarters.units(tins, content)
    assert 4 * there <= content * tins.quarters < 4 * (there + 1)
    assert quarters.like(there, content).quarters == tins.quarters
    assert quarters.units(quarters.Tins(0, (1, 1, 2)), content) == content
    apart = [quarters.units(quarters.Tins(0, (one,)), content) for one in tins.parts]
    assert sum(apart) + tins.full * content <= there


def test_tins_are_read_by_words() -> None:
    assert quarters.read(["full", "1/2", "full", "empty", "3/4"]) == quarters.Tins(2, (2, 0, 3))
    assert quarters.units(quarters.read(["full", "1/2"]), 3_785_412) == 5_678_118
    assert quarters.like(11, 8) == quarters.Tins(1, (2,))  # 1.375 tins: between a quarter and a half, the greater
    assert quarters.like(8, 8) == quarters.Tins(1)
    for wrong in (lambda: quarters.read(["half"]), lambda: quarters.Tins(0, (4,)), lambda: quarters.Tins(-1)):
        with pytest.raises(ValueError):
            wrong()
    for wrong in (
        lambda: quarters.units(quarters.Tins(1), -1),
        lambda: quarters.like(-1, 8),
        lambda: quarters.like(1, 0),
    ):
        with pytest.raises(ValueError):
            wrong()


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_an_interval_holds_its_share_and_what_is_sure_lies_below(drawn) -> None:
    right, lines = drawn
    low, high = accuracy.wilson(right, lines)
    assert 0 <= low <= right / lines <= high <= 1
    other = accuracy.wilson(lines - right, lines)
    assert (1 - high, 1 - low) == pytest.approx(other, abs=1e-12)
    least = accuracy.sure(right, lines)
    assert 0 <= least <= right / lines
    if right == lines:
        assert least == pytest.approx(0.05 ** (1 / lines), abs=1e-9)
    else:
        assert least < accuracy.sure(right + 1, lines)


def test_nothing_counted_has_no_accuracy() -> None:
    assert accuracy.accuracy([]) is None
    found = accuracy.accuracy([accuracy.Line(5, 5, 0)] * 59)
    assert found is not None
    assert (found.right, found.high, found.proven) == (59, 1.0, True)
    for wrong in ((1, 0), (-1, 5), (6, 5), (1, 5, 1.0)):
        with pytest.raises(ValueError):
            accuracy.wilson(*wrong)


@given(st.integers(1, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(1, n))))
def test_one_fewer_of_a_lot_would_not_be_sure(drawn) -> None:
    lot, bad = drawn
    seen = sampling.look_at_of(lot, bad)
    assert sampling.accepted_of(lot, bad, seen, 0) <= 0.05 + 1e-12
    assert seen == 1 or sampling.accepted_of(lot, bad, seen - 1, 0) > 0.05
    assert sampling.accepted_of(lot, bad, lot, bad) == 1.0


@given(st.integers(0, 60), st.integers(0, 8), st.floats(0, 1))
def test_more_bad_ones_pass_less_often(seen, most, share) -> None:
    chance = sampling.accepted(seen, most, share)
    assert 0 <= chance <= 1
    assert chance >= sampling.accepted(seen + 1, most, share) - 1e-12
    assert chance <= sampling.accepted(seen, most + 1, share) + 1e-12
    if most >= seen:
        assert chance == pytest.approx(1)


@given(st.floats(0.01, 0.995), st.floats(0.01, 0.995))
def test_one_fewer_of_very_many_would_not_be_sure(share, confidence) -> None:
    many = sampling.look_at(share, confidence)
    assert share**many <= 1 - confidence
    assert many == 1 or share ** (many - 1) > 1 - confidence


def test_samples_out_of_range_are_refused() -> None:
    for wrong in (
        lambda: sampling.look_at(1.0),
        lambda: sampling.look_at_of(5, 6),
        lambda: sampling.look_at_of(5, 0),
        lambda: sampling.accepted(5, 0, 1.1),
        lambda: sampling.accepted_of(5, 6, 1, 0),
    ):
        with pytest.raises(ValueError):
            wrong()
