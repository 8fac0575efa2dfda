"""Shares kept for dealers and for the web: nobody is promised another's, all promises together never exceed supply."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.calc.available import ByDay, Commitment, Supply, can_promise
from orders.calc.channel_shares import Kept, Share, keep
from orders.calc.pegging import peg
from tests.calc.promising import ITEMS, RECIPES, TODAY, commitments, supplies

DAYS = range(TODAY, TODAY + 20)
CHANNELS = ("dealers", "web")
SHELF = [Supply(TODAY, 4, "belt"), Supply(TODAY + 9, 20, "belt")]
DEALERS, WEB = Share("belt", "dealers", 10, TODAY + 14), Share("belt", "web", 5, TODAY + 14)
ASKS = st.lists(
    st.tuples(
        st.sampled_from(ITEMS),
        st.sampled_from([None, *CHANNELS]),
        st.integers(TODAY, TODAY + 18),
        st.integers(0, 12),
    ),
    max_size=6,
)


def _shares(items: tuple[str, ...]) -> st.SearchStrategy[list[Share]]:
    until = st.integers(TODAY - 2, TODAY + 20)
    row = st.builds(Share, st.sampled_from(items), st.sampled_from(CHANNELS), st.integers(0, 9), until)
    return st.lists(row, max_size=4, unique_by=lambda share: (share.what, share.channel))


def _keep(came: list[Supply], owed: list[Commitment], shares: list[Share]) -> Kept:
    return keep(came, owed, shares, RECIPES, today=TODAY)


def _promise(
    owed: list[Commitment], shares: list[Share], what: str, channel: str | None, day: int, qty: int
) -> tuple[list[Commitment], list[Share]]:
    left = [s.after(qty) if (s.what, s.channel) == (what, channel) and s.until >= TODAY else s for s in shares]
    return [*owed, Commitment(day, qty, 9, what)], left


def test_a_share_is_kept_from_everybody_else() -> None:
    kept = _keep(SHELF, [], [DEALERS])
    assert kept.of("belt") == kept.of("belt", "web") == ByDay((TODAY, TODAY + 9), (0, 14))
    assert kept.of("belt", "dealers") == ByDay((TODAY, TODAY + 9), (4, 24))


def test_it_is_let_go_the_day_after_its_last() -> None:
    for last, common in ((TODAY, 14), (TODAY - 1, 24)):
        assert _keep(SHELF, [], [replace(DEALERS, until=last)]).of("belt").by(TODAY + 9) == common


def test_it_is_kept_from_days_after_its_last_too_while_its_channel_may_still_ask() -> None:
    kept = _keep(SHELF, [], [replace(DEALERS, until=TODAY + 1)])
    assert kept.of("belt").by(TODAY + 300) == 14


def test_what_is_scarce_goes_to_the_share_that_stands_first() -> None:
    kept = _keep(SHELF, [], [WEB, DEALERS])
    assert (kept.of("belt", "web").now, kept.of("belt", "dealers").now, kept.of("belt").now) == (4, 0, 0)
    assert (kept.of("belt", "web").by(TODAY + 9), kept.of("belt", "dealers").by(TODAY + 9)) == (14, 19)
    turned = _keep(SHELF, [], [DEALERS, WEB])
    assert (turned.of("belt", "web").now, turned.of("belt", "dealers").now) == (0, 4)


def test_what_its_channel_is_promised_comes_off_the_share_first_and_then_off_what_all_may_have() -> None:
    assert [DEALERS.after(qty).left for qty in (0, 7, 10, 12)] == [10, 3, 0, 0]
    owed, shares = _promise([], [DEALERS], "belt", "dealers", TODAY + 9, 12)
    after = _keep(SHELF, owed, shares)
    assert (after.of("belt", "dealers").by(TODAY + 9), after.of("belt").by(TODAY + 9)) == (12, 12)


def test_those_who_are_owed_already_come_before_any_share() -> None:
    owed = [Commitment(TODAY + 9, 20, 1, "belt")]
    kept = _keep(SHELF, owed, [DEALERS])
    assert (kept.of("belt").counts, kept.of("belt", "dealers").counts) == ((0,), (4,))
    assert kept.common.served[0].whole == TODAY + 9


def test_a_share_of_a_tool_keeps_the_parts_it_would_be_made_of() -> None:
    shelf = [Supply(TODAY, qty, what) for what, qty in (("set head", 9), ("hammer head", 9), ("handle", 9))]
    kept = _keep(shelf, [], [Share("set", "dealers", 6, TODAY)])
    assert (kept.of("handle").now, kept.of("set").now, kept.of("set", "dealers").now) == (3, 3, 9)


@given(supplies(("belt",)), commitments(("belt",)), _shares(("belt",)))
def test_what_all_may_have_and_every_share_are_together_what_there_is(
    came: list[Supply], owed: list[Commitment], shares: list[Share]
) -> None:
    kept, whole = _keep(came, owed, shares), can_promise(came, owed, today=TODAY)
    for day in DAYS:
        parts = [line.by(day) for line in kept.own.values()]
        assert kept.of("belt").by(day) + sum(parts) == whole.by(day)
        in_order = [share for share in shares if share.until >= TODAY]
        before = 0
        for share, part in zip(in_order, parts, strict=True):
            assert part == max(0, min(share.left, whole.by(day) - before))
            before += share.left


@given(supplies(), commitments(), _shares(ITEMS), ASKS)
def test_all_promises_together_never_exceed_the_supply(
    came: list[Supply], owed: list[Commitment], shares: list[Share], asks: list[tuple[str, str | None, int, int]]
) -> None:
    met = peg(came, owed, RECIPES, today=TODAY).served
    promised = []
    for what, channel, day, wanted in asks:
        qty = min(wanted, _keep(came, owed, shares).of(what, channel).by(day))
        owed, shares = _promise(owed, shares, what, channel, day, qty)
        promised.append(owed[-1])
    served = peg(came, owed, RECIPES, today=TODAY).served
    assert served[: len(met)] == met
    assert [row.commitment for row in served[len(met) :]] == promised
    assert all(row.never == 0 and row.whole in {None, row.commitment.day} for row in served[len(met) :])


@given(supplies(("belt",)), commitments(("belt",)), _shares(("belt",)), ASKS)
def test_a_promise_to_one_channel_leaves_the_share_of_another(
    came: list[Supply], owed: list[Commitment], shares: list[Share], asks: list[tuple[str, str | None, int, int]]
) -> None:
    for _, channel, day, wanted in asks:
        before = _keep(came, owed, shares)
        qty = min(wanted, before.of("belt", channel).by(day))
        owed, shares = _promise(owed, shares, "belt", channel, day, qty)
        after = _keep(came, owed, shares)
        for (what, other), line in before.own.items():
            if other != channel:
                assert all(after.own[what, other].by(at) >= line.by(at) for at in DAYS)


@given(supplies(), commitments(), _shares(ITEMS))
def test_with_shares_no_item_is_promised_beyond_what_it_had_without_them(
    came: list[Supply], owed: list[Commitment], shares: list[Share]
) -> None:
    kept, without = _keep(came, owed, shares), peg(came, owed, RECIPES, today=TODAY)
    assert kept.common.served == without.served
    for item in ITEMS:
        for day in DAYS:
            own = sum(kept.own[item, name].by(day) for name in CHANNELS if (item, name) in kept.own)
            assert kept.of(item).by(day) + own <= without.of(item).by(day)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Share("belt", "web", -1, TODAY),
        lambda: Share("belt", "web", 3, TODAY, 4),
        lambda: Share("belt", "web", 3, TODAY, -1),
        lambda: keep([], [], [WEB, WEB], today=TODAY),
        lambda: keep([], [], [replace(WEB, channel="")], today=TODAY),
    ],
)
def test_what_cannot_be_is_refused(call: object) -> None:
    with pytest.raises(ValueError):
        call()  # type: ignore[operator]
