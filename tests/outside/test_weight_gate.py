"""The weight gate over every row of the size tables: good bars raise no alarm, what is missing is seen.

Sources of the size rows stand in tests/outside/test_size_tolerance.py. Lengths, scale and tape are the shop's own
figures: random lengths of 16 to 24 ft, a scale that shows half pounds, a tape that may be 1/16 in off.
"""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.calc import delivery_check, tolerances
from inventory.calc.delivery_check import Weighing, WeightFinding
from inventory.calc.size_tables import INCH_ROWS, METRIC_ROWS, METRIC_SHARE_OVER_NM, METRIC_SHARE_TO_NM
from inventory.calc.steel import DENSITY_UG_PER_CM3, Section, Shape, area_nm2
from inventory.calc.tolerances import System
from shop.shared.units import NM_PER_FOOT, NM_PER_INCH, NM_PER_SIXTY_FOURTH, parse_length

HALF_POUND = 226_796  # mg
SIXTEENTH = NM_PER_INCH // 16
SHORTEST, LONGEST = 16 * NM_PER_FOOT, 24 * NM_PER_FOOT
TWENTY_FEET = 20 * NM_PER_FOOT
PER_MG = Fraction(DENSITY_UG_PER_CM3, 10**24)
ENDS = [
    *((System.INCH, size) for row in INCH_ROWS for size in (row.over_nm + 1, row.to_nm) if size > NM_PER_INCH // 10),
    *((System.METRIC, size) for row in METRIC_ROWS for size in (row.over_nm + 1, row.to_nm) if size > 10**6),
    (System.METRIC, METRIC_SHARE_OVER_NM + 1),
    (System.METRIC, METRIC_SHARE_TO_NM),
]
STOCK = [
    "3/8", "7/16", "1/2", "9/16", "5/8", "3/4", "7/8", "1", "1-1/8", "1-1/4", "1-3/8", "1-1/2", "1-5/8", "1-3/4",
    "1-7/8", "2", "2-1/4", "2-1/2", "2-3/4", "3", "3-1/4", "3-1/2",
]  # fmt: skip


def inches(text: str) -> int:
    """A size in nm, read the way the shop types it."""
    return parse_length(text, default_unit="in").nm


def unit_area(shape: Shape) -> Fraction:
    """Area of the shape over the product of its two diameters; an ellipse or oblong has the same."""
    return area_nm2(Section(shape, 10**9)) / 10**18


def mass(shape: Shape, one: int, two: int, length: int) -> Fraction:
    """True mass in mg of a bar with two diameters."""
    return unit_area(shape) * one * two * length * PER_MG


def shown(true_mg: Fraction, division: int) -> int:
    """What a scale shows that rounds to its division."""
    return round(true_mg / division) * division


def gate(section: Section, lengths: list[int], scale: int, system: System, *, division: int = HALF_POUND):
    """The gate of a bundle at the density a new grade begins with."""
    weighing = Weighing(sum(lengths), len(lengths), scale, division, SIXTEENTH)
    return delivery_check.weight_gate(section, weighing, density_ug_per_cm3=DENSITY_UG_PER_CM3, system=system)


@pytest.mark.parametrize("shape", [Shape.ROUND, Shape.SQUARE])
@pytest.mark.parametrize(("system", "size"), ENDS)
def test_good_bars_at_the_edge_of_their_tolerance_raise_no_alarm_at_any_size(
    system: System, size: int, shape: Shape
) -> None:
    section = Section(shape, size)
    allowed = tolerances.size(section, system)
    assert allowed is not None
    for edge, tape in ((allowed.least_nm, -SIXTEENTH), (allowed.most_nm, SIXTEENTH)):
        for bars in (1, 2, 7, 50):
            true = mass(shape, edge, edge, TWENTY_FEET + tape) * bars
            for division in (1, 100_000, HALF_POUND, 10**6):
                found = gate(section, [TWENTY_FEET] * bars, shown(true, division), system, division=division)
                assert found.finding is WeightFinding.INSIDE


@st.composite
def bundles(draw: st.DrawFn, least_nm: int = 1, most_bars: int = 12):
    """A section of a table and good bars of it: two diameters inside the tolerance each, taped lengths, true lengths."""
    system = draw(st.sampled_from(System))
    most = INCH_ROWS[-1].to_nm if system is System.INCH else METRIC_SHARE_TO_NM
    rows = [row for row in (INCH_ROWS if system is System.INCH else METRIC_ROWS) if row.to_nm > least_nm]
    row = draw(st.sampled_from(rows))
    size = draw(
        st.sampled_from([max(least_nm, row.over_nm + 1), row.to_nm])
        | st.integers(max(least_nm, row.over_nm + 1), row.to_nm)
        | st.integers(least_nm, most)
    )
    section = Section(draw(st.sampled_from([Shape.ROUND, Shape.SQUARE])), size)
    allowed = tolerances.size(section, system)
    assert allowed is not None
    good = st.integers(allowed.least_nm, allowed.most_nm) | st.sampled_from([allowed.least_nm, allowed.most_nm])
    bars = draw(
        st.lists(
            st.tuples(good, good, st.integers(SHORTEST, LONGEST), st.integers(-SIXTEENTH, SIXTEENTH)),
            min_size=2,
            max_size=most_bars,
        )
    )
    return system, section, bars


@settings(max_examples=300)
@given(bundles(), st.integers(1, 10**6))
def test_good_bars_anywhere_inside_their_tolerance_raise_no_alarm(bundle, division: int) -> None:
    system, section, bars = bundle
    true = sum((mass(section.shape, one, two, taped + off) for one, two, taped, off in bars), Fraction(0))
    found = gate(section, [taped for _, _, taped, _ in bars], shown(true, division), system, division=division)
    assert found.finding is WeightFinding.INSIDE


@settings(max_examples=300)
@given(bundles(least_nm=inches("3/8"), most_bars=7), st.data())
def test_a_bar_missing_of_up_to_seven_is_always_seen(bundle, data: st.DataObject) -> None:
    """Wherever the others lie in their tolerance, and even where the shortest bar of random lengths is the one missing."""
    system, section, bars = bundle
    missing = data.draw(st.integers(0, len(bars) - 1))
    there = [bar for at, bar in enumerate(bars) if at != missing]
    true = sum((mass(section.shape, one, two, taped + off) for one, two, taped, off in there), Fraction(0))
    found = gate(section, [taped for _, _, taped, _ in bars], shown(true, HALF_POUND), system)
    assert found.finding is WeightFinding.UNDER
    assert found.shows_missing_bar


def scale_of(shape: Shape, sizes: list[int]) -> int:
    """What the scale shows for 20 ft bars of these sizes."""
    return shown(sum((mass(shape, size, size, TWENTY_FEET) for size in sizes), Fraction(0)), HALF_POUND)


@pytest.mark.parametrize("bars", range(1, 8))
@pytest.mark.parametrize(("smaller", "nominal"), [*pairwise(STOCK)])
def test_one_bar_of_the_next_size_down_is_seen_among_up_to_seven_at_nominal(
    smaller: str, nominal: str, bars: int
) -> None:
    size = inches(nominal)
    scale = scale_of(Shape.ROUND, [size] * (bars - 1) + [inches(smaller)])
    found = gate(Section(Shape.ROUND, size), [TWENTY_FEET] * bars, scale, System.INCH)
    assert found.finding is WeightFinding.UNDER


@pytest.mark.parametrize(("smaller", "nominal"), [*pairwise(STOCK)])
def test_a_whole_bundle_of_the_next_size_down_is_seen_however_thick_it_was_rolled(smaller: str, nominal: str) -> None:
    thin = tolerances.size(Section(Shape.ROUND, inches(smaller)), System.INCH)
    assert thin is not None
    scale = scale_of(Shape.ROUND, [thin.most_nm] * 7)
    found = gate(Section(Shape.ROUND, inches(nominal)), [TWENTY_FEET] * 7, scale, System.INCH)
    assert found.finding is WeightFinding.UNDER


def test_one_thin_bar_among_six_thick_ones_can_hide_from_the_scale_so_every_bar_is_measured() -> None:
    """What a weight cannot tell: six 2 in rounds at the upper edge make up for one of 1-7/8 in."""
    section = Section(Shape.ROUND, inches("2"))
    allowed = tolerances.size(section, System.INCH)
    assert allowed is not None
    scale = scale_of(Shape.ROUND, [allowed.most_nm] * 6 + [inches("1-7/8")])
    assert gate(section, [TWENTY_FEET] * 7, scale, System.INCH).finding is WeightFinding.INSIDE
    assert not tolerances.check(section, System.INCH, inches("1-7/8"), inches("1-7/8")).ok


def widest_effect(size: int) -> Fraction:
    """How far a good bar's mass can be from the computed one, as a share."""
    allowed = tolerances.size(Section(Shape.ROUND, size), System.INCH)
    assert allowed is not None
    return max(abs(Fraction(edge, size) ** 2 - 1) for edge in (allowed.least_nm, allowed.most_nm))


@pytest.mark.parametrize(("size", "percent"), [("1", "1.8"), ("1-1/2", "1.9"), ("2", "1.6"), ("2-1/4", "2.8")])
def test_what_the_size_tolerance_does_to_the_mass(size: str, percent: str) -> None:
    """Computed from the ASTM A484 rows: about twice the relative tolerance."""
    assert abs(widest_effect(inches(size)) * 100 - Fraction(percent)) < Fraction(5, 100)


def test_a_flat_two_percent_would_blame_good_bars() -> None:
    """At 3/8 to 3/4 in and at every stock size over 2 in; from 7/8 to 2 in it would not. Sizes of the ASTM A484 rows."""
    blamed = [size for size in STOCK if widest_effect(inches(size)) > Fraction(2, 100)]
    assert blamed == [size for size in STOCK if inches(size) <= inches("3/4") or inches(size) > inches("2")]


def test_just_over_an_inch_and_a_half_a_flat_two_percent_blames_good_bars_too() -> None:
    assert widest_effect(inches("1-1/2") + NM_PER_SIXTY_FOURTH) > Fraction(2, 100)
    assert widest_effect(inches("1-9/16")) > Fraction(2, 100)


@pytest.mark.parametrize("size", STOCK)
def test_above_two_inches_the_gate_is_open_upwards_only(size: str) -> None:
    """Plus-only tolerance above 2 in. Source: ASTM A484 as above."""
    found = gate(Section(Shape.ROUND, inches(size)), [TWENTY_FEET], 0, System.INCH, division=0)
    assert found.low_mg is not None
    low = 1 - Fraction(found.low_mg, found.computed_mg)
    assert (low < Fraction(1, 1000)) == (inches(size) > inches("2"))
