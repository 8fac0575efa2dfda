"""What can be promised of one item: no promise robs another, and more steel never makes it less."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.available import MOST, ByDay, Commitment, Supply, can_promise, due, least_ahead, steps
from orders.calc.netting import begin, free_of_receipts, net, projected
from tests.calc.promising import TODAY, arrivals, commitments, pushed_back, running_sum, supplies, walk

BELT = ("belt",)
ROWS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 60) | st.just(0)), min_size=1, max_size=15)


def _line(came: list[Supply], owed: list[Commitment]) -> ByDay:
    return can_promise(came, owed, today=TODAY)


def _as_due(owed: list[Commitment]) -> list[tuple[str, int, int]]:
    return [(row.what, due(row, today=TODAY), row.qty) for row in owed]


def test_what_is_owed_next_week_is_not_given_away_now() -> None:
    line = _line([Supply(TODAY, 10, "belt"), Supply(TODAY + 9, 5, "belt")], [Commitment(TODAY + 7, 8, 1, "belt")])
    assert (line.now, line.by(TODAY + 8), line.by(TODAY + 9), line.by(TODAY + 400)) == (2, 2, 7, 7)


def test_the_first_day_for_so_many_is_told_and_never_where_they_do_not_come() -> None:
    line = _line([Supply(TODAY, 10, "belt"), Supply(TODAY + 9, 5, "belt")], [Commitment(None, 4, 1, "belt")])
    assert [line.day_for(qty) for qty in (1, 6, 7, 11, 12)] == [TODAY, TODAY, TODAY + 9, TODAY + 9, None]


def test_nothing_can_be_promised_for_yesterday() -> None:
    assert _line([Supply(TODAY - 5, 3, "belt"), Supply(TODAY, 3, "belt")], []).by(TODAY - 1) == 0


def test_without_a_row_nothing_can_be_promised() -> None:
    assert _line([], []) == ByDay((TODAY,), (0,))


def test_the_days_of_the_calendar_serve_as_they_are() -> None:
    monday = dt.date(2025, 12, 1)
    line = can_promise([Supply(dt.date(2025, 12, 9).toordinal(), 6, "belt")], [], today=monday.toordinal())
    assert dt.date.fromordinal(line.day_for(6) or 0) == dt.date(2025, 12, 9)


def test_a_late_delivery_counts_as_coming_today_only_for_one_who_says_so() -> None:
    late, owed = [Supply(TODAY - 1, 7, "belt")], [Commitment(TODAY + 3, 2, 1, "belt")]
    assert can_promise(late, owed, today=TODAY).now == 0
    assert can_promise(late, owed, today=TODAY, late_counts=True).now == 5


@pytest.mark.parametrize("day", [None, TODAY - 30, TODAY])
def test_what_is_past_due_or_has_no_day_is_owed_today(day: int | None) -> None:
    line = _line([Supply(TODAY, 3, "belt"), Supply(TODAY + 4, 9, "belt")], [Commitment(day, 5, 1, "belt")])
    assert line == ByDay((TODAY, TODAY + 4), (0, 7))


def test_what_is_owed_and_not_covered_leaves_nothing_and_is_no_debt_of_the_figure() -> None:
    assert _line([Supply(TODAY, 3, "belt")], [Commitment(None, 5, 1, "belt")]) == ByDay((TODAY,), (0,))


@given(supplies(BELT), commitments(BELT), st.integers(TODAY, TODAY + 16))
def test_the_figure_is_the_most_that_robs_nobody(came: list[Supply], owed: list[Commitment], day: int) -> None:
    if walk(came, _as_due(owed)):
        most = _line(came, owed).by(day)
        assert walk(came, [*_as_due(owed), ("belt", day, most)])
        assert not walk(came, [*_as_due(owed), ("belt", day, most + 1)])


@given(supplies(BELT), commitments(BELT), st.integers(TODAY, TODAY + 16), st.integers(0, 40))
def test_a_promise_takes_itself_off_later_days_and_off_earlier_ones_what_they_would_rob(
    came: list[Supply], owed: list[Commitment], day: int, wanted: int
) -> None:
    line = _line(came, owed)
    most = line.by(day)
    qty = min(wanted, most)
    after = _line(came, [*owed, Commitment(day, qty, 9, "belt")])
    for other in range(TODAY, TODAY + 20):
        left = line.by(other) - qty if other >= day else min(line.by(other), most - qty)
        assert after.by(other) == left >= 0


@given(supplies(BELT), commitments(BELT), arrivals(BELT, rows=3), st.integers(0, 5), st.data())
def test_more_or_earlier_supply_lowers_no_figure(
    came: list[Supply], owed: list[Commitment], more: list[Supply], earlier: int, data: st.DataObject
) -> None:
    before, richer = _line(came, owed), _line([*came, *more], owed)
    sooner = [replace(row, day=max(TODAY, row.day - earlier)) if data.draw(st.booleans()) else row for row in came]
    at_once = _line(sooner, owed)
    for day in range(TODAY, TODAY + 20):
        assert before.by(day) <= min(richer.by(day), at_once.by(day))


@given(supplies(BELT), commitments(BELT))
def test_figures_never_fall_from_day_to_day_and_the_first_day_for_so_many_is_the_first(
    came: list[Supply], owed: list[Commitment]
) -> None:
    line = _line(came, owed)
    assert list(line.counts) == sorted(set(line.counts))
    assert list(line.days) == sorted(set(line.days))
    for qty in range(1, 30):
        day = line.day_for(qty)
        assert line.by(day - 1) < qty <= line.by(day) if day is not None else line.counts[-1] < qty


@given(st.integers(-50, 100), ROWS)
def test_pushing_back_and_the_least_ahead_are_the_same(on_hand: int, rows: list[tuple[int, int]]) -> None:
    orders, receipts = [owed for owed, _ in rows], [came for _, came in rows]
    ahead = least_ahead(np.array(projected(on_hand, orders, receipts))).tolist()
    assert running_sum(pushed_back(free_of_receipts(on_hand, orders, receipts))) == ahead


@given(st.integers(-20, 60), ROWS, st.integers(1, 25), st.integers(0, 20))
def test_what_is_planned_covers_every_period_by_whole_lots_and_no_lot_too_many(
    on_hand: int, rows: list[tuple[int, int]], lot: int, lead: int
) -> None:
    taken, receipts = [went for went, _ in rows], [came for _, came in rows]
    found = net(on_hand, taken, receipts, lot=lot)
    together = [came + more for came, more in zip(receipts, found.planned, strict=True)]
    assert list(found.balance) == projected(on_hand, taken, together)
    assert min(found.balance) >= 0
    assert all(more % lot == 0 and bool(more) == bool(found.short[at]) for at, more in enumerate(found.planned))
    assert all(after < lot for more, after in zip(found.planned, found.balance, strict=True) if more)
    begun, late = begin(found.planned, lead)
    assert len(begun) == len(rows)
    assert late + sum(begun) == sum(found.planned)
    assert begun[: max(0, len(rows) - lead)] == list(found.planned[lead:])


@given(commitments(BELT), commitments(BELT))
def test_two_lines_together_are_their_sum_on_every_day(some: list[Commitment], others: list[Commitment]) -> None:
    shelf = [Supply(TODAY, 30, "belt"), Supply(TODAY + 5, 30, "belt")]
    one, other = _line(shelf, some), can_promise(shelf, others, today=TODAY - 2)
    both = one.plus(other)
    assert [both.by(day) for day in range(90, 120)] == [one.by(day) + other.by(day) for day in range(90, 120)]


@pytest.mark.parametrize(
    "call",
    [
        lambda: Supply(TODAY, -1, "belt"),
        lambda: Supply(TODAY, MOST + 1, "belt"),
        lambda: Commitment(TODAY, -1, 0, "belt"),
        lambda: Commitment(None, MOST + 1, 0, "belt"),
        lambda: ByDay((TODAY,), (3,)).day_for(0),
        lambda: can_promise([Supply(TODAY, 1, "belt")], [Commitment(None, 1, 0, "oil")], today=TODAY),
        lambda: can_promise([Supply(TODAY, MOST, "belt"), Supply(TODAY, 1, "belt")], [], today=TODAY),
        lambda: steps([1, 2], [0]),
        lambda: net(0, [1], [0], lot=0),
        lambda: net(0, [1], []),
        lambda: begin([1], -1),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):
        call()  # type: ignore[operator]
