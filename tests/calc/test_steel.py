"""Bar weights follow geometry: they grow with size, add up over parts, and turn back into lengths."""

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import steel
from inventory.calc.steel import Section, Shape
from shop.shared.units import NM_PER_INCH

SIZES = st.integers(1_000_000, 300_000_000)  # 1 mm to 300 mm
LENGTHS = st.integers(0, 10_000_000_000)  # to 10 m
DENSITIES = st.integers(7_000_000, 9_000_000)


@st.composite
def sections(draw: st.DrawFn) -> Section:
    shape = draw(st.sampled_from(Shape))
    return Section(shape, draw(SIZES), draw(SIZES) if shape is Shape.FLAT else 0)


def test_a_litre_of_steel_weighs_its_density() -> None:
    """A 100 mm square bar 100 mm long is one litre: 7.85 kg by definition of the density, no source needed."""
    assert steel.mass_mg(Section(Shape.SQUARE, 10**8), 10**8) == 7_850_000
    assert steel.mass_mg(Section(Shape.FLAT, 5 * 10**7, 2 * 10**8), 10**8) == 7_850_000


def test_a_regular_section_lies_between_its_inner_and_outer_circles() -> None:
    """Of one size across flats, the more sides a section has the closer it comes to the circle inside it."""
    areas = [
        steel.area_nm2(Section(shape, 10**8)) for shape in (Shape.ROUND, Shape.OCTAGON, Shape.HEXAGON, Shape.SQUARE)
    ]
    assert areas == sorted(areas)
    assert round(areas[0] * 4) == 31_415_926_535_897_932


def test_the_constants_are_right_to_forty_places() -> None:
    for root, square in ((steel.ROOT_2, 2), (steel.ROOT_3, 3)):
        assert abs(root**2 - square) < Fraction(1, 10**39)
    fifth, rest = _arctan(5), _arctan(239)
    assert abs(16 * fifth - 4 * rest - steel.PI) < Fraction(1, 10**39)  # Machin's formula


def _arctan(inverse: int) -> Fraction:
    """Arctangent of 1/inverse by its series, to 60 places for 5."""
    return sum((Fraction((-1) ** k, (2 * k + 1) * inverse ** (2 * k + 1)) for k in range(45)), Fraction(0))


@given(sections(), LENGTHS, st.integers(1, 10**9), DENSITIES)
def test_a_longer_bar_never_weighs_less(section: Section, length: int, more: int, density: int) -> None:
    assert steel.mass_mg(section, length, density) <= steel.mass_mg(section, length + more, density)


@given(sections(), LENGTHS, st.integers(1, 10**8), DENSITIES)
def test_a_thicker_bar_never_weighs_less(section: Section, length: int, more: int, density: int) -> None:
    thicker = Section(section.shape, section.size_nm + more, section.width_nm)
    assert steel.mass_mg(section, length, density) <= steel.mass_mg(thicker, length, density)


@given(sections(), LENGTHS, DENSITIES, st.integers(1, 10**6))
def test_a_denser_steel_never_weighs_less(section: Section, length: int, density: int, more: int) -> None:
    assert steel.mass_mg(section, length, density) <= steel.mass_mg(section, length, density + more)


@given(sections(), st.lists(st.integers(0, 10**9), min_size=1, max_size=30), DENSITIES)
def test_the_pieces_of_a_bar_weigh_what_the_bar_does_within_rounding(
    section: Section, parts: list[int], density: int
) -> None:
    pieces = sum(steel.mass_mg(section, part, density) for part in parts)
    assert abs(pieces - steel.mass_mg(section, sum(parts), density)) <= Fraction(len(parts) + 1, 2)


@given(sections(), st.integers(0, 10**8), DENSITIES)
def test_the_length_for_a_weight_is_the_shortest_that_holds_it(section: Section, wanted: int, density: int) -> None:
    per_nm = steel.area_nm2(section) * density / 10**24
    if wanted / per_nm > steel.MOST_LENGTH_NM:
        with pytest.raises(ValueError, match="100 m"):
            steel.length_for_mass(section, wanted, density)
        return
    length = steel.length_for_mass(section, wanted, density)
    assert length * per_nm >= wanted
    assert length == 0 or (length - 1) * per_nm < wanted


@given(sections(), DENSITIES)
def test_the_weight_of_a_metre_is_the_weight_per_metre(section: Section, density: int) -> None:
    assert steel.mass_per_length(section, density) == steel.mass_mg(section, 10**9, density)


def test_a_stored_shape_name_makes_the_same_section() -> None:
    assert Section("hexagon", NM_PER_INCH) == Section(Shape.HEXAGON, NM_PER_INCH)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("shape", "size", "width"),
    [
        ("round", 0, 0),
        ("round", -1, 0),
        ("round", 2_000_000_001, 0),
        ("round", NM_PER_INCH, 5),
        ("flat", NM_PER_INCH, 0),
        ("flat", 0, NM_PER_INCH),
        ("triangle", NM_PER_INCH, 0),
        ("round", 25.4e6, 0),
        ("round", True, 0),
    ],
)
def test_a_section_that_cannot_be_is_refused(shape: Shape, size: int, width: int) -> None:
    with pytest.raises(ValueError):
        Section(shape, size, width)


def test_figures_out_of_range_are_refused() -> None:
    bar = Section(Shape.ROUND, NM_PER_INCH)
    calls: list[Callable[[], int]] = [
        lambda: steel.mass_mg(bar, -1),
        lambda: steel.mass_mg(bar, steel.MOST_LENGTH_NM + 1),
        lambda: steel.mass_mg(bar, 1, 999_999),
        lambda: steel.mass_per_length(bar, 25_000_001),
        lambda: steel.length_for_mass(bar, -1),
        lambda: steel.length_for_mass(bar, 10**15),
        lambda: steel.density_from_lb_per_in3(Fraction(3)),
    ]
    for call in calls:
        with pytest.raises(ValueError):
            call()


def test_a_density_in_pounds_per_cubic_inch_is_converted() -> None:
    """0.2836 lb/in³ is 7.85 g/cm³ to four figures; the pound and the inch are exact (NIST Handbook 44, Appendix C)."""
    assert steel.density_from_lb_per_in3(Fraction("0.2836")) == 7_850_021
    assert steel.density_from_lb_per_in3(Fraction("0.282")) == 7_805_733
