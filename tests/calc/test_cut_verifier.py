"""The verifier of cut plans: a sound plan passes with the numbers a person works out, each planted fault is named."""

import itertools
import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inventory.calc.cut_problem import (
    Buyable,
    CutBar,
    Dual,
    Level,
    Locked,
    Order,
    Piece,
    Plan,
    Prices,
    Problem,
    Standing,
    Stock,
)
from inventory.calc.cut_verifier import check, restated
from tests.calc.cut_rules import cut, greedy, value
from tests.calc.cut_strategies import problems

IN = 25_400_000
SIXTEENTH = IN // 16

# Millimetres. One full bar, two remnants, one length to buy; 5 mm are squared off the full bars.
SHOP = Problem(
    stock=(
        Stock("F1", 3660, full=True, trim=5, heat="A17", age=40),
        Stock("R1", 700, full=False, heat="A17", age=90),
        Stock("R2", 412, full=False, heat="B02", age=10),
    ),
    pieces=(Piece(120, 5, "2026-12-01"), Piece(204, 4, "2026-12-08", run="K7"), Piece(900, 1)),
    kerf=2,
    min_remnant=300,
    prices=Prices(remnant=100, handled=30, full=200),
    buyable=(Buyable("3 m", 3000, price=4500, trim=5, most=1),),
)
# R2: 204 + 2 + 204 = 410, the 2 left go into the last cut.         nothing left
# R1: 5 x (120 + 2) = 610.                                           90 left, scrap
# F1: 3655 behind the squaring cut, 2 x (204 + 2) = 412.           3243 left, a remnant
# 3 m: 2995 behind the squaring cut, 902 for the piece.            2093 left, a remnant
GOOD = cut(SHOP, [("R2", [1, 1]), ("R1", [0] * 5), ("F1", [1, 1]), ("3 m", [2])])
# The loss is 90 scrap + 2 x 100 + 4 x 30 + 2 x 200 = 810. Ages on the rack 90, 40, 10 have ranks 0, 1, 2, the bought bar
# has 3: R2 2 + R1 0 + F1 1 + bought 3 = 6.
BY_HAND = {"short": 0, "cost": 4500, "loss": 810, "longest": -3243, "patterns": 4, "age": 6}


def test_a_plan_worked_out_by_hand_is_sound() -> None:
    assert [(bar.left, bar.remnant) for bar in GOOD.bars] == [(0, False), (90, False), (3243, True), (2093, True)]
    assert check(SHOP, GOOD).faults == ()
    assert value(GOOD) == BY_HAND
    dates = [row.due for row in GOOD.standings if row.level is Level.SHORT]
    assert dates == ["2026-12-01", "2026-12-08", ""]


def test_the_strict_order_counts_the_same_cuts_apart() -> None:
    strict = replace(SHOP, order=Order.STRICT)
    plan = restated(strict, GOOD)
    assert check(strict, plan).sound
    rest = {"short": 0, "cost": 4500, "full": 2, "scrap": 90, "nrem": 2, "used": 4}
    assert value(plan) == {**rest, "longest": -3243, "patterns": 4, "age": 6}


def test_pieces_not_cut_are_short_on_their_date() -> None:
    plan = cut(SHOP, [("R2", [1]), ("R1", [0] * 4)])
    # R2: 412 - 206 = 206 scrap; R1: 700 - 4 x 122 = 212 scrap; 206 + 212 + 2 x 30 = 478.
    assert plan.missing == (1, 3, 1)
    assert [row.value for row in plan.standings] == [1, 3, 1, 0, 478, 0, 2, 2]
    assert check(SHOP, plan).sound


def test_nothing_asked_for_is_a_sound_plan_of_nothing() -> None:
    problem = replace(SHOP, pieces=(), stock=(), buyable=())
    assert check(problem, cut(problem, [])).sound
    named = Plan((), (), (Standing(Level.SHORT, 0, 0, proven=True), *cut(problem, []).standings), True, 0, "")
    assert check(problem, named).sound


def test_lines_of_one_length_and_bars_of_one_usable_length_are_one_way_to_cut() -> None:
    problem = replace(
        SHOP,
        stock=(Stock("a", 1005, full=True, trim=5), Stock("b", 1000, full=False), Stock("c", 1001, full=False)),
        pieces=(Piece(100, 3), Piece(100, 3, "2026-12-01"), Piece(200, 3)),
    )
    plan = cut(problem, [("a", [0, 2]), ("b", [2, 1]), ("c", [0, 2])])
    assert value(plan)["patterns"] == 2  # a and b are 1000 behind their squaring cuts, c is 1001


def test_bars_of_one_age_have_one_rank() -> None:
    bars = tuple(Stock(name, 100, full=False, age=age) for name, age in zip("abcd", (30, 30, 20, 10), strict=True))
    problem = replace(SHOP, stock=bars, pieces=(Piece(90, 4),))
    assert value(cut(problem, [(name, [0]) for name in "abcd"]))["age"] == 0 + 0 + 1 + 2


# ---- the kerf, the vice and the end of the bar ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "left"),
    [
        (409, None),  # 204 + 2 + 204 = 410 is wanted
        (410, 0),
        (411, 0),  # 1 left, the blade takes it
        (412, 0),
        (413, 1),
        (711, 299),
        (712, 300),
    ],
)
def test_the_last_kerf_runs_out_of_the_bar(length: int, left: int | None) -> None:
    problem = replace(SHOP, stock=(Stock("R", length, full=False),))
    stated = CutBar("R", False, (1, 1), left or 0, remnant=left == 300)
    verdict = check(problem, restated_or_bare(problem, stated))
    if left is None:
        assert verdict.faults == ("Bar 'R': piece 2 (line 1, 204 long) does not fit, 203 is left.",)
    else:
        assert verdict.faults == ()


@pytest.mark.parametrize(("length", "sound"), [(471, False), (472, True), (771, True)])
def test_the_vice_holds_its_part_behind_the_last_cut(length: int, sound: bool) -> None:
    # Two pieces take 2 x 206 = 412 and the vice holds 60.
    problem = replace(SHOP, stock=(Stock("R", length, full=False),), tail_hold=60)
    plan = restated_or_bare(problem, CutBar("R", False, (1, 1), length - 412, remnant=length - 412 >= 300))
    verdict = check(problem, plan)
    assert verdict.sound is sound
    assert sound or "less than a kerf and the 60 the vice must hold" in verdict.faults[0]


def test_what_the_vice_must_hold_is_no_remnant() -> None:
    problem = replace(SHOP, stock=(Stock("R", 506, full=False),), tail_hold=300)
    plan = restated(problem, Plan((CutBar("R", False, (1,), 300, True),), (5, 3, 1), (), True, 0, ""))
    assert any("no remnant" in fault for fault in check(problem, plan).faults)
    assert value(plan)["loss"] == 300 + 30


def restated_or_bare(problem: Problem, bar: CutBar) -> Plan:
    plan = Plan((bar,), (5, 2, 1), (), True, 0, "by hand")
    try:
        return restated(problem, plan)
    except ValueError:
        return plan


def test_exact_fits_in_sixteenths_of_an_inch_fit_and_a_sixteenth_too_short_does_not() -> None:
    """In nanometres a sixteenth is a whole number, 1 587 500; a shop that rounds to 0.1 mm gets many of these wrong."""
    rng = random.Random(16)
    fit = refused = 0
    for _ in range(2_000):
        lengths = [rng.randint(16, 120) * SIXTEENTH for _ in range(rng.randint(1, 8))]
        kerf = rng.choice([SIXTEENTH, 2 * SIXTEENTH, 1_500_000, 2_000_000])
        trim = rng.choice([0, 0, 3 * SIXTEENTH])
        exact = sum(lengths) + (len(lengths) - 1) * kerf + trim
        pieces = tuple(Piece(length, 1) for length in lengths)
        for bar, sound in ((exact, True), (exact - SIXTEENTH, False)):
            problem = Problem((Stock("b", bar, True, trim),), pieces, kerf, 300_000_000, Prices(0, 0, 0))
            stated = CutBar("b", False, tuple(range(len(lengths))), 0, remnant=False)
            plan = Plan((stated,), (0,) * len(lengths), (), True, 0, "")
            faults = check(problem, restated(problem, plan) if sound else plan).faults
            fit += sound and not faults
            refused += not sound and len(faults) == 1 and "does not fit" in faults[0]
    assert (fit, refused) == (2_000, 2_000)


# ---- each fault by its name -----------------------------------------------------------------------------------------


def with_bar(number: int, **changes: object) -> Callable[[Plan], Plan]:
    def change(plan: Plan) -> Plan:
        bars = list(plan.bars)
        bars[number] = replace(bars[number], **changes)  # type: ignore[arg-type]
        return replace(plan, bars=tuple(bars))

    return change


def with_level(level: Level, **changes: object) -> Callable[[Plan], Plan]:
    def change(plan: Plan) -> Plan:
        rows = [replace(row, **changes) if row.level is level else row for row in plan.standings]  # type: ignore[arg-type]
        return replace(plan, standings=tuple(rows))

    return change


def and_again(number: int) -> Callable[[Plan], Plan]:
    return lambda plan: replace(plan, bars=(*plan.bars, plan.bars[number]))


FAULTS: list[tuple[Callable[[Plan], Plan], str]] = [
    (with_bar(1, source="R9"), "Bar 'R9' is not on the rack."),
    (with_bar(1, bought=True), "Bar 'R1' is not among those to buy."),
    (with_bar(3, bought=False), "Bar '3 m' is not on the rack."),
    (with_bar(0, pieces=()), "Bar 'R2' stands in the plan without a piece; such a bar is not touched."),
    (with_bar(0, pieces=(1, 3)), "Bar 'R2' has a piece of line 3, and the demand has no such line."),
    (with_bar(0, pieces=(1, -1)), "Bar 'R2' has a piece of line -1, and the demand has no such line."),
    (with_bar(0, pieces=(1, 1, 0)), "Bar 'R2': piece 3 (line 0, 120 long) does not fit, 0 is left."),
    (with_bar(1, left=92), "Bar 'R1': 92 is stated as left, the saw leaves 90."),
    (with_bar(1, remnant=True), "Bar 'R1': the 90 left over is no remnant, the plan says otherwise."),
    (with_bar(2, remnant=False), "Bar 'F1': the 3243 left over is a remnant, the plan says otherwise."),
    (and_again(1), "Bar 'R1' is cut 2 times and is there once."),
    (and_again(3), "Bar '3 m' is bought 2 times; 1 can be had."),
    (with_bar(2, pieces=(1, 1, 1)), "Line 1: 5 pieces are cut and 4 are asked for."),
    (with_bar(2, pieces=(1,)), "Line 1: 0 pieces are stated as missing, 1 are."),
    (lambda plan: replace(plan, missing=(0, 1, 0)), "Line 1: 1 pieces are stated as missing, 0 are."),
    (lambda plan: replace(plan, missing=(0, 0)), "Missing pieces are given for 2 lines, the demand has 3."),
    (with_level(Level.LOSS, value=809), "Level loss: the plan states 809, the cuts make 810."),
    (with_level(Level.COST, value=0), "Level cost: the plan states 0, the cuts make 4500."),
    (with_level(Level.LONGEST, value=3243), "Level longest: the plan states 3243, the cuts make -3243."),
    (with_level(Level.PATTERNS, value=3), "Level patterns: the plan states 3, the cuts make 4."),
    (with_level(Level.AGE, value=5), "Level age: the plan states 5, the cuts make 6."),
    (with_level(Level.SHORT, value=1), "Level short by 2026-12-01: the plan states 1, the cuts make 0."),
    (with_level(Level.LOSS, bound=811), "Level loss: no plan should be under 811, and this one is at 810."),
    (with_level(Level.LOSS, bound=700, proven=True), "Level loss: 810 is called proven with the bound 700."),
    (with_level(Level.AGE, proven=True), "Level age: 6 is called proven with the bound None."),
    (
        lambda plan: replace(plan, standings=plan.standings[1:]),
        "The plan gives its levels as short by 2026-12-08, short, cost, loss, longest, patterns, age; they are short by ",
    ),
    (lambda plan: replace(plan, standings=()), "The plan gives its levels as none; they are"),
    (lambda plan: replace(plan, duals=(Dual(Level.LOSS, (0, 0), 1),)), "The dual of level loss has 2 worths for 3"),
    (lambda plan: replace(plan, duals=(Dual(Level.LOSS, (0, 0, 0), 0),)), "its scale is 1 or more"),
    (lambda plan: replace(plan, duals=(Dual(Level.LOSS, (0, 0, 0), 1, 1),)), "its price of a full bar 0 or less"),
]


@pytest.mark.parametrize(("change", "sentence"), FAULTS, ids=[sentence for _, sentence in FAULTS])
def test_a_planted_fault_is_named(change: Callable[[Plan], Plan], sentence: str) -> None:
    faults = check(SHOP, change(GOOD)).faults
    assert [fault for fault in faults if sentence in fault] != []


def test_a_settled_bar_is_cut_as_settled_and_in_that_order() -> None:
    problem = replace(SHOP, locked=(Locked("R1", (0, 1, 0)), Locked("R2", ())))
    settled = [("R1", [0, 1, 0]), ("F1", [0, 0, 0, 1, 1, 1, 2])]
    assert check(problem, cut(problem, settled)).sound
    for name, other in [
        ("R1", [("R1", [0, 0, 1]), settled[1]]),
        ("R1", [settled[1]]),
        ("R2", [settled[0], ("R2", [1]), ("F1", [0, 0, 0, 1, 1, 2])]),
    ]:
        (fault,) = check(problem, cut(problem, other)).faults
        assert fault.startswith(f"Bar '{name}' is settled (lines ")


def test_a_run_from_two_mill_heats_is_named() -> None:
    problem = replace(SHOP, one_heat=True)
    (fault,) = check(problem, GOOD).faults  # K7 from R2 (B02) and F1 (A17); lines 0 and 2 are runs of their own
    assert fault == "The pieces of run 'K7' come from 2 mill heats: 'A17', 'B02'."
    assert check(problem, cut(problem, [("R1", [0, 0, 0]), ("F1", [0, 0, 1, 1, 1, 1]), ("3 m", [2])])).sound
    (fault,) = check(problem, cut(problem, [("R1", [0, 0]), ("3 m", [0, 0, 0])])).faults
    assert fault == "The pieces of line 0 come from 2 mill heats: 'A17', of bought bars."


def test_bought_bars_are_of_one_heat_and_bars_of_unknown_heat_of_another() -> None:
    rack = (Stock("a", 250, full=False), Stock("b", 250, full=False))
    problem = Problem(rack, (Piece(200, 2),), 2, 300, Prices(0, 0, 0), one_heat=True)
    problem = replace(problem, buyable=(Buyable("x", 250, 1), Buyable("y", 300, 1)))
    names = ("a", "b", "x", "y")
    sound = {pair for pair in itertools.combinations(names, 2) if check(problem, of_two(problem, pair)).sound}
    assert sound == {("a", "b"), ("x", "y")}


def of_two(problem: Problem, pair: tuple[str, str]) -> Plan:
    return cut(problem, [(name, [0]) for name in pair])


def test_heats_that_settled_bars_already_mix_are_no_fault_of_the_plan() -> None:
    problem = replace(SHOP, one_heat=True, locked=(Locked("R2", (1,)), Locked("F1", (1,))))
    assert check(problem, cut(problem, [("R2", [1]), ("F1", [1]), ("R1", [1])])).sound
    assert not check(problem, cut(problem, [("R2", [1]), ("F1", [1]), ("3 m", [1])])).sound


# ---- what a plan claims ---------------------------------------------------------------------------------------------


def test_the_plan_is_given_back_with_the_values_counted_anew() -> None:
    claimed = tuple(replace(row, value=row.value, bound=row.value, proven=True) for row in GOOD.standings)
    assert restated(SHOP, replace(GOOD, standings=claimed)).standings == claimed
    wrong = tuple(replace(row, value=800, bound=800) if row.level is Level.LOSS else row for row in claimed)
    rows = {row.level: row for row in restated(SHOP, replace(GOOD, standings=wrong)).standings}
    assert (rows[Level.COST].bound, rows[Level.COST].proven) == (4500, True)
    assert (rows[Level.LOSS].value, rows[Level.LOSS].bound, rows[Level.LOSS].proven) == (810, 800, False)
    assert (rows[Level.AGE].bound, rows[Level.AGE].proven) == (None, False)  # it held with a loss of 800


def test_a_plan_that_cannot_be_cut_has_no_values() -> None:
    broken = with_bar(0, pieces=(1, 1, 0))(GOOD)
    assert check(SHOP, broken).figures == ()
    with pytest.raises(ValueError, match="does not fit"):
        restated(SHOP, broken)


def test_a_bound_that_no_dual_shows_is_noted_and_is_no_fault() -> None:
    plan = with_level(Level.LOSS, bound=700)(GOOD)
    verdict = check(SHOP, plan)
    assert verdict.sound
    assert verdict.notes == ("Level loss: bound 700 is not certified by duals, they show 0.",)
    longest = check(SHOP, with_level(Level.LONGEST, bound=-3650)(GOOD))
    assert longest.notes == ("Level longest: bound -3650 is not certified by duals, they show nothing.",)


@pytest.mark.parametrize("level", [Level.SHORT, Level.SCRAP, Level.PATTERNS])
def test_a_dual_of_a_level_that_is_none_or_no_sum_is_noted(level: Level) -> None:
    verdict = check(SHOP, replace(GOOD, duals=(Dual(level, (0, 0, 0), 1),)))
    assert verdict.sound
    (note,) = verdict.notes
    assert note.startswith(f"The dual of level {level.value} shows nothing")


# ---- bounds from duals, worked out by hand --------------------------------------------------------------------------

PLAIN = Problem((), (Piece(3, 4),), 0, 100, Prices(0, 0, 0), order=Order.STRICT)


def bars(*lengths: int, full: bool = False) -> tuple[Stock, ...]:
    return tuple(Stock(f"{'F' if full else 'R'}{n}", length, full) for n, length in enumerate(lengths))


def certified(problem: Problem, cuts: list[tuple[str, list[int]]], *given: Dual) -> int | None:
    plan = replace(cut(problem, cuts), duals=given)
    verdict = check(problem, plan)
    assert verdict.faults == ()
    return next(row.certified for row in verdict.figures if row.level is given[0].level)


def test_a_dual_shows_a_bound_rounded_up_to_a_whole_number() -> None:
    # Bars of 10 give one, two or three pieces of 3 and 7, 4 or 1 scrap. Worth a third each: 7 - 1/3, 4 - 2/3 and
    # 1 - 1 are none below 0, so four pieces cost 4/3 at least, in whole units 2. (Whole plans make 8.)
    problem = replace(PLAIN, stock=bars(10, 10))
    cuts = [("R0", [0, 0, 0]), ("R1", [0])]
    assert certified(problem, cuts, Dual(Level.SCRAP, (1,), 3)) == 2
    assert certified(problem, cuts, Dual(Level.HANDLED, (1,), 3)) == 2
    # Worth 1 each the way of three is at 1 - 3 = -2: four pieces cost 4 - 2 x 2 = 0 at least; worth nothing, 0.
    assert certified(problem, cuts, Dual(Level.SCRAP, (1,), 1)) == 0
    assert certified(problem, cuts, Dual(Level.SCRAP, (0,), 1)) == 0
    # The best of several counts, and how large the scale is does not.
    both = (Dual(Level.SCRAP, (1,), 1), Dual(Level.SCRAP, (1,), 3))
    assert certified(problem, cuts, *both) == certified(problem, cuts, *reversed(both)) == 2
    assert certified(problem, cuts, Dual(Level.SCRAP, (10**30,), 3 * 10**30)) == 2


def test_a_bound_is_rounded_up_to_a_value_the_level_can_have() -> None:
    # Bars of 10, pieces of 4: two leave 2, one leaves 6; all scrap is even. Worth 1 each: 6 - 1, 2 - 2; three pieces
    # cost 3, so 4.
    problem = replace(PLAIN, stock=bars(10, 10), pieces=(Piece(4, 3),))
    cuts = [("R0", [0, 0]), ("R1", [0])]
    assert certified(problem, cuts, Dual(Level.SCRAP, (1,), 1)) == 4
    # With one price of 30 a bar and 4 a remnant the loss is even too: (30 + 2) / 2 = 16 a piece, 48 for three.
    priced = replace(problem, order=Order.ONE_PRICE, prices=Prices(4, 30, 10))
    assert certified(priced, cuts, Dual(Level.LOSS, (16,), 1)) == 48
    assert certified(priced, cuts, Dual(Level.LOSS, (47,), 3)) == 48  # 47 rounded up to an even number


def test_the_price_of_a_full_bar_counts_with_the_full_bars_the_plan_opens() -> None:
    # Full bars of 9 give three pieces and no scrap, remnants of 4 one piece and 1 scrap; six pieces. One full bar must
    # be opened, 3 scrap is the least then: worth 1 each, a full bar 3 dear: 6 x 1 - 3 = 3.
    problem = replace(PLAIN, stock=(*bars(4, 4, 4), *bars(9, 9, full=True)), pieces=(Piece(3, 6),))
    cuts = [("F0", [0, 0, 0]), *[(f"R{n}", [0]) for n in range(3)]]
    assert certified(problem, cuts, Dual(Level.SCRAP, (1,), 1, -3)) == 3
    # A level before the full bars are counted may open both of them: 6 x 1 - 2 x 3 and nothing is shown.
    assert certified(problem, cuts, Dual(Level.FULL, (0,), 1, -3)) == 0
    # A third of a full bar for a piece, and the remnants help with three: 6/3 - 3 x 1/3 = 1.
    assert certified(problem, cuts, Dual(Level.FULL, (1,), 3)) == 1


def test_bars_to_buy_are_counted_by_what_they_may_cost() -> None:
    # Four pieces of 3, bars of 10 at 500 hold three: 4/3 x 500 = 666 2/3, and prices come in steps of 500.
    problem = replace(PLAIN, buyable=(Buyable("10", 10, 500),))
    cuts = [("10", [0, 0, 0]), ("10", [0])]
    assert certified(problem, cuts, Dual(Level.COST, (500,), 3)) == 1000
    # Worth 167 the way of three is at -1; a plan of at most 1000 buys two: 668 - 2, so 1000 again.
    assert certified(problem, cuts, Dual(Level.COST, (167,), 1)) == 1000
    # Once the cost is 1000, two bars can be had, full bars both. 4 x 1/3 makes 2 of them.
    assert certified(problem, cuts, Dual(Level.FULL, (1,), 3)) == 2
    assert certified(problem, cuts, Dual(Level.AGE, (0,), 1)) == 0
    # Free bars, as many as wanted: no more than pieces.
    free = replace(problem, buyable=(Buyable("10", 10, 0),))
    assert certified(free, cuts, Dual(Level.COST, (1,), 1)) == 0
    few = replace(problem, buyable=(Buyable("10", 10, 0, most=2),))
    assert certified(few, cuts, Dual(Level.HANDLED, (1,), 3)) == 2


def test_a_settled_bar_counts_as_it_is_settled() -> None:
    # R0 gives one piece and 7 scrap, whatever a better plan would do; three more from R1, 1 scrap. Worth a third each:
    # 4/3 + (7 - 1/3) + 0 = 8, what the plan makes.
    problem = replace(PLAIN, stock=(*bars(10, 10), *bars(20, full=True)), locked=(Locked("R0", (0,)), Locked("F0", ())))
    assert certified(problem, [("R0", [0]), ("R1", [0, 0, 0])], Dual(Level.SCRAP, (1,), 3)) == 8


def test_a_settled_bar_that_leaves_a_remnant_counts_its_price() -> None:
    problem = replace(PLAIN, stock=bars(10), pieces=(Piece(3, 1),), min_remnant=7, locked=(Locked("R0", (0,)),))
    assert certified(problem, [("R0", [0])], Dual(Level.REMNANTS, (0,), 1)) == 1


def test_missing_pieces_are_taken_to_be_the_dearest_of_their_date() -> None:
    # One bar of 10, a piece of 3 and a piece of 10 on one date: one is missing, whichever. A bound for all such plans
    # takes the dearer as missing: only 3 x 1 ... the bar is left alone at worth 0.
    problem = replace(PLAIN, stock=bars(10), pieces=(Piece(3, 1, "2026-12-01"), Piece(10, 1, "2026-12-01")))
    assert certified(problem, [("R0", [0])], Dual(Level.SCRAP, (7, 7), 1)) == 0
    # On two dates it is known which: 7 for the first piece.
    apart = replace(problem, pieces=(Piece(3, 1, "2026-12-01"), Piece(10, 1, "2026-12-08")))
    assert certified(apart, [("R0", [0])], Dual(Level.SCRAP, (7, 0), 1)) == 7


def test_the_kerf_and_the_vice_are_in_the_bound() -> None:
    # Kerf 1: three pieces take 3 + 1 + 3 + 1 + 3 = 11 of a bar of 11, no scrap; held by 2, only two and 11 - 8 = 3.
    problem = replace(PLAIN, stock=bars(11), pieces=(Piece(3, 3),), kerf=1)
    assert certified(problem, [("R0", [0, 0, 0])], Dual(Level.SCRAP, (1,), 1)) == 0
    held = replace(problem, tail_hold=2, pieces=(Piece(3, 2),))
    assert certified(held, [("R0", [0, 0])], Dual(Level.SCRAP, (3,), 2)) == 3


def test_no_bound_is_shown_where_no_piece_fits_or_the_lengths_are_too_fine() -> None:
    short = replace(PLAIN, stock=bars(2), pieces=(Piece(3, 1),))
    assert certified(short, [], Dual(Level.SCRAP, (5,), 1)) == 0
    nothing = replace(PLAIN, stock=(), pieces=(Piece(3, 1),))
    assert certified(nothing, [], Dual(Level.SCRAP, (5,), 1)) == 0
    fine = replace(PLAIN, stock=bars(9_000_000), pieces=(Piece(3_000_000, 1), Piece(2_999_999, 1)))
    assert certified(fine, [("R0", [0, 1])], Dual(Level.SCRAP, (5, 5), 1)) == 0


@given(problem=problems(one_heat=False), data=st.data())
def test_no_plan_altered_by_one_piece_passes(problem: Problem, data: st.DataObject) -> None:
    plan = greedy(problem, shortest_first=data.draw(st.booleans()))
    assume(plan.bars)
    at = data.draw(st.integers(0, len(plan.bars) - 1))
    pieces = list(plan.bars[at].pieces)
    index = data.draw(st.integers(0, len(problem.pieces) - 1))
    change = data.draw(st.sampled_from(["more", "fewer", "another"]))
    if change == "more":
        pieces.insert(data.draw(st.integers(0, len(pieces))), index)
    elif change == "fewer":
        del pieces[data.draw(st.integers(0, len(pieces) - 1))]
    else:
        assume(pieces[0] != index)
        pieces[0] = index
    assert not check(problem, with_bar(at, pieces=tuple(pieces))(plan)).sound
