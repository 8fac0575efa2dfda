"""The weight gate, what came against the order, and the last day for a claim."""

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import delivery_check, steel
from inventory.calc.against_order import (
    Difference,
    DifferenceKind,
    Measure,
    OrderedSteel,
    ReceivedSteel,
    compare_with_order,
)
from inventory.calc.delivery_check import Weighing, WeightFinding
from inventory.calc.steel import DENSITY_UG_PER_CM3, Section, Shape
from inventory.calc.tolerances import System
from inventory.calc.workdays import claim_deadline
from shop.shared.units import MG_PER_KG, NM_PER_FOOT, NM_PER_INCH

ROUND_1_IN = Section(Shape.ROUND, NM_PER_INCH)
ROUND_7_8 = Section(Shape.ROUND, NM_PER_INCH * 7 // 8)
SIX_METRES = 6_000_000_000


def gate(section: Section, weighing: Weighing, system: System = System.INCH) -> delivery_check.WeightCheck:
    """The gate at the density a new grade begins with."""
    return delivery_check.weight_gate(section, weighing, density_ug_per_cm3=DENSITY_UG_PER_CM3, system=system)


def test_a_gate_worked_out_by_hand() -> None:
    """Two 50 mm squares, 1 m each, 7.85 g/cm³: ±0.5 mm, ±1 mm of tape each, half of a 1 kg division.

    By hand: 50² × 2000 × 7.85e-6 = 39.25 kg; 49.5² × 1998 × 7.85e-6 − 0.5 = 37.930456075 and
    50.5² × 2002 × 7.85e-6 + 0.5 = 40.578963925
    """
    found = gate(Section(Shape.SQUARE, 50_000_000), Weighing(2 * 10**9, 2, 39_000_000, 1_000_000, 10**6), System.METRIC)
    assert found.computed_mg == 39_250_000
    assert found.low_mg == 37_930_456
    assert found.high_mg == 40_578_964
    assert (found.finding, found.beyond_mg, found.difference_mg) == (WeightFinding.INSIDE, 0, -250_000)


def test_a_milligram_beyond_either_side_of_the_gate_is_told_with_its_sign() -> None:
    weighing = Weighing(SIX_METRES, 1, 0, 100_000, 1_000_000)
    first = gate(ROUND_1_IN, weighing)
    assert first.low_mg is not None
    assert first.high_mg is not None
    for mass, finding, beyond in (
        (first.low_mg, WeightFinding.INSIDE, 0),
        (first.high_mg, WeightFinding.INSIDE, 0),
        (first.low_mg - 1, WeightFinding.UNDER, -1),
        (first.high_mg + 1, WeightFinding.OVER, 1),
    ):
        found = gate(ROUND_1_IN, Weighing(SIX_METRES, 1, mass, 100_000, 1_000_000))
        assert (found.finding, found.beyond_mg) == (finding, beyond)


def test_a_section_without_a_size_limit_has_no_gate_and_no_alarm() -> None:
    hexagon = Section(Shape.HEXAGON, NM_PER_INCH)
    found = gate(hexagon, Weighing(SIX_METRES, 1, 1, 0, 0))
    assert (found.finding, found.low_mg, found.high_mg, found.beyond_mg) == (WeightFinding.NO_LIMIT, None, None, None)
    assert found.computed_mg == steel.mass_mg(hexagon, SIX_METRES)
    assert not found.shows_missing_bar


@given(st.integers(0, 10**6), st.integers(0, 10**7), st.integers(1, 50))
def test_a_coarser_scale_or_tape_only_widens_the_gate(division: int, tape: int, bars: int) -> None:
    fine = gate(ROUND_1_IN, Weighing(SIX_METRES * bars, bars, 0, 0, 0))
    coarse = gate(ROUND_1_IN, Weighing(SIX_METRES * bars, bars, 0, division, tape))
    assert fine.low_mg is not None
    assert fine.high_mg is not None
    assert coarse.low_mg is not None
    assert coarse.high_mg is not None
    assert coarse.low_mg <= fine.low_mg <= fine.computed_mg <= fine.high_mg <= coarse.high_mg


def test_it_says_when_so_many_bars_hide_a_missing_one() -> None:
    few = gate(ROUND_1_IN, Weighing(7 * SIX_METRES, 7, 0, 226_796, 1_587_500))
    many = gate(ROUND_1_IN, Weighing(60 * SIX_METRES, 60, 0, 226_796, 1_587_500))
    assert few.shows_missing_bar
    assert not many.shows_missing_bar


@pytest.mark.parametrize(
    "bad",
    [
        {"length_nm": 0},
        {"length_nm": 2 * 10**11 + 1},
        {"n_bars": 0},
        {"n_bars": 501},
        {"scale_mass_mg": -1},
        {"scale_division_mg": -1},
        {"tape_error_nm": -1},
        {"tape_error_nm": 0.5},
    ],
)
def test_a_weighing_out_of_range_is_refused(bad: dict[str, int]) -> None:
    good = {"length_nm": 10**9, "n_bars": 2, "scale_mass_mg": 1, "scale_division_mg": 1, "tape_error_nm": 1}
    with pytest.raises(ValueError, match=next(iter(bad))):
        Weighing(**{**good, **bad})


def test_a_density_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="density"):
        delivery_check.weight_gate(ROUND_1_IN, Weighing(1, 1, 1, 1, 1), density_ug_per_cm3=7_850, system=System.INCH)


TWENTY_FEET = 20 * NM_PER_FOOT
SEVEN = OrderedSteel("1045", ROUND_1_IN, bars=7, length_nm=7 * TWENTY_FEET, price_minor=70_000, spread_nm=0)


def came(
    bars: int, *, grade: str | None = "1045", section: Section = ROUND_1_IN, length: int = TWENTY_FEET
) -> ReceivedSteel:
    """So many bars of one melt."""
    return ReceivedSteel(grade, section, bars, bars * length)


def test_two_melts_that_add_up_are_as_ordered() -> None:
    assert compare_with_order(SEVEN, [came(4), came(3)], invoiced_minor=70_000) == ()


def test_a_short_delivery_is_short_and_its_price_goes_with_what_came() -> None:
    short = Difference(DifferenceKind.SHORT, Measure.BARS, 7, 6)
    assert compare_with_order(SEVEN, [came(6)], invoiced_minor=60_000) == (short,)
    found = compare_with_order(SEVEN, [came(6)], invoiced_minor=70_000)
    assert found == (short, Difference(DifferenceKind.PRICE, Measure.LENGTH, 60_000, 70_000))
    assert [difference.by for difference in found] == [-1, 10_000]


def test_one_bar_too_many_is_over() -> None:
    assert compare_with_order(SEVEN, [came(8)]) == (Difference(DifferenceKind.OVER, Measure.BARS, 7, 8),)


def test_nothing_came() -> None:
    assert compare_with_order(SEVEN, []) == (Difference(DifferenceKind.SHORT, Measure.BARS, 7, 0),)


def test_the_wrong_steel_is_named_and_does_not_count() -> None:
    thin, other, lost = came(1, section=ROUND_7_8), came(1, grade="1060"), came(1, grade=None)
    found = compare_with_order(SEVEN, [came(4), thin, other, lost])
    assert [(difference.kind, difference.part) for difference in found[:3]] == [
        (DifferenceKind.WRONG_SIZE, thin),
        (DifferenceKind.WRONG_GRADE, other),
        (DifferenceKind.UNKNOWN_GRADE, lost),
    ]
    assert found[3:] == (Difference(DifferenceKind.SHORT, Measure.BARS, 7, 4),)
    assert found[0].by is None


def test_a_bar_can_be_wrong_in_both_ways() -> None:
    found = compare_with_order(SEVEN, [came(7), came(1, grade="1060", section=ROUND_7_8)])
    assert [difference.kind for difference in found] == [DifferenceKind.WRONG_GRADE, DifferenceKind.WRONG_SIZE]


def test_random_lengths_are_short_only_beyond_their_spread() -> None:
    random = OrderedSteel("1045", ROUND_1_IN, bars=7, length_nm=7 * TWENTY_FEET, spread_nm=4 * NM_PER_FOOT)
    assert compare_with_order(random, [came(7, length=16 * NM_PER_FOOT)]) == ()
    found = compare_with_order(random, [came(7, length=16 * NM_PER_FOOT - 1)])
    assert [(difference.kind, difference.measure) for difference in found] == [(DifferenceKind.SHORT, Measure.LENGTH)]
    by_length = OrderedSteel("1045", ROUND_1_IN, length_nm=7 * TWENTY_FEET, spread_nm=NM_PER_FOOT)
    assert compare_with_order(by_length, [came(7, length=21 * NM_PER_FOOT)]) == ()
    assert compare_with_order(by_length, [came(7, length=21 * NM_PER_FOOT + 1)])[0].kind is DifferenceKind.OVER


def test_steel_ordered_by_weight_is_compared_by_weight() -> None:
    line = OrderedSteel("1045", ROUND_1_IN, mass_mg=500 * MG_PER_KG, price_minor=80_000, priced_by=Measure.MASS)
    part = ReceivedSteel("1045", ROUND_1_IN, 20, None, 480 * MG_PER_KG)
    found = compare_with_order(line, [part], invoiced_minor=76_800)
    assert found == (Difference(DifferenceKind.SHORT, Measure.MASS, 500 * MG_PER_KG, 480 * MG_PER_KG),)


def test_what_was_not_measured_is_not_compared() -> None:
    part = ReceivedSteel("1045", ROUND_1_IN, 7)
    assert compare_with_order(SEVEN, [part], invoiced_minor=1) == ()


@given(st.integers(1, 10**9), st.integers(1, 50), st.integers(0, 50))
def test_a_part_of_a_line_costs_its_part_of_the_price(price: int, bars: int, got: int) -> None:
    line = OrderedSteel("1045", ROUND_1_IN, bars=bars, price_minor=price, priced_by=Measure.BARS)
    due = round(Fraction(price * got, bars))
    kinds = [found.kind for found in compare_with_order(line, [came(got)], invoiced_minor=due)]
    assert DifferenceKind.PRICE not in kinds
    dearer = compare_with_order(line, [came(got)], invoiced_minor=due + 1)[-1]
    assert (dearer.kind, dearer.by) == (DifferenceKind.PRICE, 1)


def test_lines_and_parts_that_make_no_sense_are_refused() -> None:
    for bad in ({}, {"bars": 0}, {"bars": 1, "spread_nm": -1}, {"bars": 1, "price_minor": -1}):
        with pytest.raises(ValueError, match="order line"):
            OrderedSteel("1045", ROUND_1_IN, **bad)
    with pytest.raises(ValueError, match="from 0"):
        ReceivedSteel("1045", ROUND_1_IN, -1)
    with pytest.raises(ValueError, match="from 0"):
        ReceivedSteel("1045", ROUND_1_IN, 1, -1)
    with pytest.raises(ValueError, match="invoiced_minor"):
        compare_with_order(SEVEN, [], invoiced_minor=-1)


def test_a_claim_closes_after_so_many_working_days() -> None:
    """Friday 27 June 2025 with the holiday of 4 July, counted off a calendar by hand."""
    closing = {0: "06-27", 1: "06-30", 4: "07-03", 5: "07-07", 6: "07-08", 10: "07-14"}
    for days, day in closing.items():
        found = claim_deadline(dt.date(2025, 6, 27), days, {dt.date(2025, 7, 4)})
        assert found == dt.date.fromisoformat(f"2025-{day}")


@given(st.dates(dt.date(2000, 1, 1), dt.date(2100, 1, 1)), st.integers(1, 60), st.sets(st.integers(1, 60), max_size=20))
def test_a_claim_never_closes_on_a_day_off(arrived: dt.date, days: int, off: set[int]) -> None:
    holidays = {arrived + dt.timedelta(days=day) for day in off}
    last = claim_deadline(arrived, days, holidays)
    between = [arrived + dt.timedelta(days=day) for day in range(1, (last - arrived).days + 1)]
    assert sum(day.weekday() < 5 and day not in holidays for day in between) == days
    assert last.weekday() < 5
    assert last not in holidays


def test_a_deadline_out_of_range_is_refused() -> None:
    for bad in (-1, 401):
        with pytest.raises(ValueError, match="working_days"):
            claim_deadline(dt.date(2025, 6, 27), bad)
