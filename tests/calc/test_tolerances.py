"""Two diameters against the size tables: inside, over, under, out of round, and no limit."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import tolerances
from inventory.calc.size_tables import INCH_ROWS, METRIC_ROWS, METRIC_SHARE_OVER_NM
from inventory.calc.steel import Section, Shape
from inventory.calc.tolerances import SizeFinding, System
from shop.shared.units import NM_PER_INCH

INCH = NM_PER_INCH
MIL = INCH // 1000
ROUND_2_IN = Section(Shape.ROUND, 2 * INCH)


def test_the_rows_of_a_table_follow_each_other_without_a_gap() -> None:
    for rows in (INCH_ROWS, METRIC_ROWS):
        assert rows[0].over_nm == 0
        assert all(row.to_nm == after.over_nm for row, after in pairwise(rows))
    assert METRIC_ROWS[-1].to_nm == METRIC_SHARE_OVER_NM


@given(st.sampled_from(INCH_ROWS), st.data())
def test_a_size_is_judged_by_its_own_row_to_the_last_nanometre(row, data) -> None:
    nominal = data.draw(st.sampled_from([row.over_nm + 1, row.to_nm]) | st.integers(row.over_nm + 1, row.to_nm))
    allowed = tolerances.size(Section(Shape.SQUARE, nominal), System.INCH)
    assert allowed is not None
    assert (allowed.plus_nm, allowed.out_of_round_nm, allowed.document) == (
        row.plus_nm,
        row.out_of_round_nm,
        row.document,
    )
    assert allowed.least_nm == max(1, nominal - row.minus_nm)


@pytest.mark.parametrize(
    ("first", "second", "finding", "over", "under", "out_over"),
    [
        (2000, 2000, SizeFinding.OK, 0, 0, 0),
        (2015, 1985, SizeFinding.OK, 0, 0, 7),  # 0.030 between the two, 0.023 allowed
        (2020, 2010, SizeFinding.OVER, 4375, 0, 0),  # the most is 2.015625 in
        (1980, 1990, SizeFinding.UNDER, 0, 4375, 0),
        (2020, 1980, SizeFinding.BOTH, 4375, 4375, 17),
    ],
)
def test_two_diameters_of_a_two_inch_round(
    first: int, second: int, finding: SizeFinding, over: int, under: int, out_over: int
) -> None:
    """First and second in thousandths of an inch, over and under in millionths, out-of-round in thousandths."""
    found = tolerances.check(ROUND_2_IN, System.INCH, first * MIL, second * MIL)
    assert found.finding is finding
    assert (found.over_nm * 1000, found.under_nm * 1000) == (over * MIL, under * MIL)
    assert found.out_of_round_nm == abs(first - second) * MIL
    assert found.out_of_round_over_nm == out_over * MIL
    assert found.ok is (finding is SizeFinding.OK and not out_over)


@given(st.integers(1, 10 * INCH), st.integers(-INCH // 8, INCH // 8), st.integers(-INCH // 8, INCH // 8))
def test_it_does_not_matter_which_diameter_is_measured_first(nominal: int, one: int, two: int) -> None:
    section = Section(Shape.ROUND, nominal)
    first, second = max(1, nominal + one), max(1, nominal + two)
    found = tolerances.check(section, System.INCH, first, second)
    assert found == tolerances.check(section, System.INCH, second, first)
    allowed = found.allowed
    assert allowed is not None
    inside = all(allowed.least_nm <= measured <= allowed.most_nm for measured in (first, second))
    assert (found.finding is SizeFinding.OK) == inside


@pytest.mark.parametrize(
    ("section", "system"),
    [
        (Section(Shape.ROUND, 10 * INCH + 1), System.INCH),
        (Section(Shape.ROUND, 250_000_001), System.METRIC),
        (Section(Shape.HEXAGON, INCH), System.INCH),
        (Section(Shape.OCTAGON, INCH), System.INCH),
        (Section(Shape.FLAT, INCH, 2 * INCH), System.METRIC),
    ],
)
def test_a_section_outside_the_table_has_no_limit_and_is_never_called_good(section: Section, system: System) -> None:
    assert tolerances.size(section, system) is None
    found = tolerances.check(section, system, section.size_nm, section.size_nm)
    assert (found.finding, found.ok, found.allowed) == (SizeFinding.NO_LIMIT, False, None)


@pytest.mark.parametrize("bad", [0, -1, 2_000_000_001, 25.4])
def test_a_measure_out_of_range_is_refused(bad: int) -> None:
    with pytest.raises(ValueError, match="measured size"):
        tolerances.check(ROUND_2_IN, System.INCH, bad, 2 * INCH)


def test_a_wire_thinner_than_its_tolerance_keeps_a_size_above_nought() -> None:
    allowed = tolerances.size(Section(Shape.ROUND, 100_000), System.METRIC)
    assert allowed is not None
    assert allowed.least_nm == 1
