"""Tools and their parts together: least over parts, nothing twice, the first in the queue first."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from orders.calc.available import MOST, ByDay, Commitment, Supply, can_promise
from orders.calc.pegging import Pegged, Recipe, Served, peg
from tests.calc.promising import (
    HAMMER,
    ITEMS,
    PARTS,
    RECIPES,
    SET,
    TODAY,
    WANTED,
    Owed,
    arrivals,
    as_met,
    commitments,
    supplies,
    try_all,
    walk,
)

DAYS = range(TODAY, TODAY + 20)
MANY = max(200, settings().max_examples)  # books in which tools share parts and something is short are rare
TWO = (Recipe("hammer", (("head", 1), ("handle", 1)), 1), Recipe("set", (("handle", 1),)))


def _peg(came: list[Supply], owed: list[Commitment]) -> Pegged:
    return peg(came, owed, RECIPES, today=TODAY)


def _shelf(**pieces: int) -> list[Supply]:
    return [Supply(TODAY, qty, name.replace("_", " ")) for name, qty in pieces.items()]


def _in_time(pegged: Pegged) -> bool:
    return all(
        not row.never and all(day <= max(TODAY, row.commitment.day or TODAY) for day, _ in row.pieces)
        for row in pegged.served
    )


def test_a_tool_is_what_is_finished_and_what_the_scarcest_part_makes_after_its_days() -> None:
    """Heads make 7, handles 5, nine wedges 4 sets; two days of curing; three are finished."""
    line = _peg(_shelf(hammer=3, hammer_head=7, handle=5, wedge=9), []).of("hammer")
    assert line == ByDay((TODAY, TODAY + 2), (3, 7))


def test_parts_that_come_make_tools_after_they_came() -> None:
    came = [*_shelf(hammer_head=9, wedge=18), Supply(TODAY + 5, 4, "handle"), Supply(TODAY + 9, 9, "handle")]
    assert _peg(came, []).of("hammer") == ByDay((TODAY, TODAY + 7, TODAY + 11), (0, 4, 9))


def test_a_handle_promised_with_a_hammer_makes_no_set() -> None:
    shelf = _shelf(hammer_head=6, set_head=9, handle=10, wedge=12)
    before = _peg(shelf, [])
    assert (before.of("hammer").by(TODAY + 2), before.of("set").now, before.of("handle").now) == (6, 9, 10)
    after = _peg(shelf, [Commitment(TODAY + 30, 6, 1, "hammer")])
    assert (after.of("hammer").by(TODAY + 2), after.of("set").now, after.of("handle").now) == (0, 4, 4)


def test_parts_owed_later_make_no_tools_now_however_many_finished_ones_come_in_between() -> None:
    """Ten handles, eight of them owed on the fifth day; eight finished sets come on the third. By hand."""
    came = [*_shelf(set_head=10, handle=10), Supply(TODAY + 3, 8, "set")]
    pegged = _peg(came, [Commitment(TODAY + 5, 8, 1, "handle")])
    assert pegged.of("set") == ByDay((TODAY, TODAY + 3), (2, 10))


def test_handles_are_spoken_for_from_the_day_the_hammers_have_to_be_begun() -> None:
    """Hammers owed on the eleventh day are begun on the ninth, the day before more handles come. By hand."""
    came = [*_shelf(hammer_head=5, handle=5, wedge=10), Supply(TODAY + 10, 5, "handle")]
    pegged = _peg(came, [Commitment(TODAY + 11, 3, 1, "hammer"), Commitment(TODAY + 11, 1, 2, "hammer")])
    assert pegged.of("handle") == ByDay((TODAY, TODAY + 10), (1, 6))
    assert pegged.of("wedge") == ByDay((TODAY,), (2,))


def test_a_tool_that_is_finished_in_time_leaves_its_parts_alone() -> None:
    came = [*_shelf(set_head=5, handle=5), Supply(TODAY + 3, 2, "set")]
    after = _peg(came, [Commitment(TODAY + 3, 2, 1, "set")])
    assert (after.of("handle").now, after.of("set")) == (5, ByDay((TODAY,), (5,)))


def test_a_tool_owed_before_the_finished_one_comes_takes_parts_and_leaves_the_finished_one() -> None:
    came = [*_shelf(set_head=5, handle=5), Supply(TODAY + 3, 2, "set")]
    after = _peg(came, [Commitment(TODAY + 2, 2, 1, "set")])
    assert (after.of("handle").now, after.of("set")) == (3, ByDay((TODAY, TODAY + 3), (3, 5)))


def test_the_first_in_the_queue_is_served_first_and_the_other_waits() -> None:
    came = [*_shelf(hammer_head=5, set_head=5, handle=5, wedge=10), Supply(TODAY + 8, 5, "handle")]
    hammers, sets = Commitment(TODAY + 4, 5, 1, "hammer"), Commitment(TODAY + 1, 5, 2, "set")
    assert _peg(came, [sets, hammers]).served == (
        Served(hammers, ((TODAY + 4, 5),), 0),
        Served(sets, ((TODAY + 8, 5),), 0),
    )
    turned = _peg(came, [replace(sets, queue=0), hammers])
    assert [row.whole for row in turned.served] == [TODAY + 1, TODAY + 10]


def test_of_two_at_the_same_place_in_the_queue_the_one_named_first_is_served_first() -> None:
    owed = [Commitment(None, 2, 1, "set"), Commitment(None, 2, 1, "hammer")]
    shelf = _shelf(hammer=1, set=1, hammer_head=1, set_head=1, handle=1, wedge=2)
    assert [row.never for row in _peg(shelf, owed).served] == [0, 1]
    assert [row.never for row in _peg(shelf, owed[::-1]).served] == [0, 1]


def test_what_comes_late_is_given_as_it_comes() -> None:
    came = [*_shelf(belt=2), Supply(TODAY + 3, 2, "belt"), Supply(TODAY + 6, 9, "belt")]
    (row,) = _peg(came, [Commitment(None, 6, 1, "belt")]).served
    assert (row.pieces, row.never, row.whole) == (((TODAY, 2), (TODAY + 3, 2), (TODAY + 6, 2)), 0, TODAY + 6)
    (row,) = _peg(came, [Commitment(TODAY + 3, 20, 1, "belt")]).served
    assert (row.pieces, row.never, row.whole) == (((TODAY + 3, 4), (TODAY + 6, 9)), 7, None)


def test_hammers_without_a_head_in_sight_keep_their_handles_from_later_askers() -> None:
    shelf = _shelf(set_head=9, handle=10, wedge=99)
    owed = [Commitment(None, 6, 1, "hammer")]
    pegged = _peg(shelf, owed)
    assert (pegged.of("handle").now, pegged.of("set").now, pegged.of("wedge").now) == (4, 4, 87)
    assert (pegged.served[0].never, pegged.served[0].whole) == (6, None)
    restocked = _peg([*shelf, Supply(TODAY + 9, 20, "handle")], owed)
    assert (restocked.of("handle").now, restocked.of("handle").by(TODAY + 9)) == (10, 24)
    assert _peg(shelf, [replace(owed[0], qty=40)]).of("handle").now == 0


def test_a_wish_without_a_head_in_sight_keeps_no_handles() -> None:
    wish = Commitment(None, 6, 0, "hammer")
    pegged = peg(_shelf(handle=10), [], RECIPES, today=TODAY, wishes=[wish])
    assert (pegged.of("handle").now, pegged.served) == (10, (Served(wish, (), 6),))


def test_heads_that_let_a_late_order_be_met_take_the_handles_it_had_to_leave() -> None:
    """The one way in which supply lowers a figure: the order that waited stands before whoever asks now."""
    came = [*_shelf(set_head=9, handle=6, wedge=99), Supply(TODAY + 9, 20, "handle")]
    owed = [Commitment(TODAY + 3, 6, 1, "hammer")]
    heads_late, heads_now = Supply(TODAY + 9, 6, "hammer head"), Supply(TODAY, 6, "hammer head")
    assert _peg([*came, heads_late], owed).of("set").now == 6
    assert _peg([*came, heads_now], owed).of("set").now == 0


def test_an_item_nobody_named_cannot_be_promised() -> None:
    assert _peg([], []).of("anvil") == ByDay((TODAY,), (0,))
    assert _peg([], []).of("wedge") == ByDay((TODAY,), (0,))


def test_late_parts_count_only_for_one_who_says_so() -> None:
    late = [Supply(TODAY - 2, 5, "set head"), Supply(TODAY - 2, 5, "handle")]
    assert peg(late, [], RECIPES, today=TODAY).of("set").now == 0
    assert peg(late, [], RECIPES, today=TODAY, late_counts=True).of("set").now == 5


@settings(max_examples=MANY)
@given(supplies(), commitments(), st.sampled_from(WANTED), st.integers(TODAY, TODAY + 18))
def test_a_figure_can_be_promised_and_everything_owed_is_met_as_before(
    came: list[Supply], owed: list[Commitment], what: str, day: int
) -> None:
    pegged = _peg(came, owed)
    most = pegged.of(what).by(day)
    assert walk(came, as_met(pegged))
    assert walk(came, [*as_met(pegged), (what, day, most)])
    asked = Commitment(day, most, 9, what)
    after = _peg(came, [*owed, asked])
    assert after.served == (*pegged.served, Served(asked, ((day, most),) if most else (), 0))


@settings(max_examples=MANY)
@given(supplies(), commitments(), st.sampled_from(WANTED), st.integers(TODAY, TODAY + 18))
def test_one_more_than_the_figure_robs_somebody(
    came: list[Supply], owed: list[Commitment], what: str, day: int
) -> None:
    pegged = _peg(came, owed)
    assume(not any(row.never for row in pegged.served))
    assert not walk(came, [*as_met(pegged), (what, day, pegged.of(what).by(day) + 1)])


@settings(max_examples=MANY)
@given(
    supplies(("hammer", "set", "head", "handle"), most=3, days=(0, 3), rows=6),
    commitments(("hammer", "set", "handle"), most=2, days=(0, 3), rows=3),
    st.sampled_from(("hammer", "set", "head", "handle")),
    st.integers(TODAY, TODAY + 4),
)
def test_in_small_shops_no_way_of_making_up_gives_one_more(
    came: list[Supply], owed: list[Commitment], what: str, day: int
) -> None:
    pegged = peg(came, owed, TWO, today=TODAY)
    assume(not any(row.never for row in pegged.served))
    most = pegged.of(what).by(day)
    for qty in (most, most + 1):
        asked: Owed = [*as_met(pegged), (what, day, qty)]
        assert try_all(came, asked, TWO) == walk(came, asked, TWO) == (qty == most)


@settings(max_examples=MANY)
@given(supplies(), commitments(), st.sampled_from(WANTED), st.integers(TODAY, TODAY + 18), st.integers(0, 9))
def test_a_promise_takes_itself_off_its_own_item_and_nothing_falls_below_nought(
    came: list[Supply], owed: list[Commitment], what: str, day: int, wanted: int
) -> None:
    pegged = _peg(came, owed)
    line = pegged.of(what)
    qty = min(wanted, line.by(day))
    after = _peg(came, [*owed, Commitment(day, qty, 9, what)])
    for other in DAYS:
        left = line.by(other) - qty if other >= day else min(line.by(other), line.by(day) - qty)
        assert after.of(what).by(other) == left
        assert all(0 <= after.of(item).by(other) <= pegged.of(item).by(other) for item in ITEMS)


@given(supplies(), commitments(), arrivals(rows=4), st.integers(0, 5), st.data())
def test_where_all_is_met_in_time_more_or_earlier_supply_lowers_no_figure_and_the_queue_changes_none(
    came: list[Supply], owed: list[Commitment], more: list[Supply], earlier: int, data: st.DataObject
) -> None:
    in_time = [row.commitment for row in _peg(came, owed).served if _in_time(Pegged(TODAY, {}, (row,)))]
    before = _peg(came, in_time)
    assert _in_time(before)
    sooner = [replace(row, day=max(TODAY, row.day - earlier)) if data.draw(st.booleans()) else row for row in came]
    turned = [replace(row, queue=-row.queue) for row in in_time[::-1]]
    assert _peg(came, turned).lines == before.lines
    for richer in (_peg([*came, *more], in_time), _peg(sooner, in_time)):
        assert all(before.of(item).by(day) <= richer.of(item).by(day) for item in ITEMS for day in DAYS)


@given(supplies(("hammer", *PARTS)), commitments(("hammer",)), arrivals(("hammer", *PARTS), rows=4))
def test_a_tool_that_shares_no_part_loses_nothing_by_more_supply_even_where_it_is_owed_late(
    came: list[Supply], owed: list[Commitment], more: list[Supply]
) -> None:
    before, richer = _peg(came, owed).of("hammer"), _peg([*came, *more], owed).of("hammer")
    assert all(before.by(day) <= richer.by(day) for day in DAYS)


@given(supplies(("belt",)), commitments(("belt",)))
def test_an_item_without_parts_has_the_plain_figure_whoever_is_served_first(
    came: list[Supply], owed: list[Commitment]
) -> None:
    pegged = peg(came, owed, today=TODAY)
    assert pegged.of("belt") == can_promise(came, owed, today=TODAY)


@given(supplies(), commitments())
def test_what_is_owed_is_met_or_not_to_the_last_piece_and_never_before_its_day(
    came: list[Supply], owed: list[Commitment]
) -> None:
    served = _peg(came, owed).served
    assert sorted(map(id, owed)) == sorted(id(row.commitment) for row in served)
    for row in served:
        assert row.never + sum(qty for _, qty in row.pieces) == row.commitment.qty
        assert all(qty > 0 and day >= max(TODAY, row.commitment.day or TODAY) for day, qty in row.pieces)


@settings(max_examples=MANY)
@given(supplies(days=(0, 12)), commitments())
def test_a_part_is_never_promised_twice_whether_the_tools_it_goes_into_can_be_made_or_not(
    came: list[Supply], owed: list[Commitment]
) -> None:
    def less_owed(what: str) -> int:
        return sum(row.qty for row in came if row.what == what) - sum(row.qty for row in owed if row.what == what)

    pegged = _peg(came, owed)
    for part in PARTS:
        to_make = [(recipe, per) for recipe in RECIPES for name, per in recipe.parts if name == part]
        claimed = sum(per * max(0, -less_owed(recipe.tool)) for recipe, per in to_make)
        assert pegged.of(part).counts[-1] <= max(0, less_owed(part) - claimed)


@given(supplies(), st.integers(TODAY, TODAY + 18))
def test_with_nothing_owed_a_tool_is_finished_ones_and_the_least_over_its_parts(came: list[Supply], day: int) -> None:
    def there(what: str, by: int) -> int:
        return sum(row.qty for row in came if row.what == what and TODAY <= row.day <= by)

    pegged = _peg(came, [])
    for recipe in (HAMMER, SET):
        sets = min(there(part, day - recipe.days) // per for part, per in recipe.parts)
        assert pegged.of(recipe.tool).by(day) == there(recipe.tool, day) + sets


def test_the_largest_numbers_still_add_up() -> None:
    came = [Supply(TODAY, MOST, "bell"), Supply(TODAY, MOST, "bronze")]
    line = peg(came, [Commitment(None, MOST, 1, "bell")], [Recipe("bell", (("bronze", 1),))], today=TODAY)
    assert line.of("bell").now == MOST
    heavy = peg(came, [Commitment(None, 3, 1, "bell")], [Recipe("bell", (("bronze", MOST),))], today=TODAY)
    assert (heavy.of("bell").now, heavy.of("bronze").now) == (MOST - 2, MOST)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Recipe("set", ()),
        lambda: Recipe("set", (("head", 1), ("head", 1))),
        lambda: Recipe("set", (("set", 1),)),
        lambda: Recipe("set", (("head", 0),)),
        lambda: Recipe("set", (("head", MOST + 1),)),
        lambda: Recipe("set", (("head", 1),), -1),
        lambda: peg([], [], [SET, SET], today=TODAY),
        lambda: peg([], [], [SET, Recipe("handle", (("board", 1),))], today=TODAY),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):
        call()  # type: ignore[operator]
