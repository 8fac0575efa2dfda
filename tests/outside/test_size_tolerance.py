"""Size tolerances against the published tables, written out here a second time as the sources print them."""

from fractions import Fraction

import pytest

from inventory.calc import tolerances
from inventory.calc.steel import Section, Shape
from inventory.calc.tolerances import SizeFinding, System
from shop.shared.units import NM_PER_INCH, NM_PER_MM, parse_length

# Over, to, plus, minus, out-of-round, all inches. Source: ASTM A484 hot-rolled rounds and squares as shown at
# unifiedalloys.com; a mill chart headed ASTM for carbon squares prints the same steps (scribd 146696884). That
# ASTM A29 Table A1.1 is the same is from memory.
A484 = [
    ("5/16", "7/16", ".006", ".006", ".009"),
    ("7/16", "5/8", ".007", ".007", ".010"),
    ("5/8", "7/8", ".008", ".008", ".012"),
    ("7/8", "1", ".009", ".009", ".013"),
    ("1", "1-1/8", ".010", ".010", ".015"),
    ("1-1/8", "1-1/4", ".011", ".011", ".016"),
    ("1-1/4", "1-3/8", ".012", ".012", ".018"),
    ("1-3/8", "1-1/2", ".014", ".014", ".021"),
    ("1-1/2", "2", "1/64", "1/64", ".023"),
    ("2", "2-1/2", "1/32", "0", ".023"),
    ("2-1/2", "3-1/2", "3/64", "0", ".035"),
]
# Source: portlandbolt.com hot-rolled round bar tolerances, headed ASTM A6 there.
WIDER = [
    ("0", "5/16", ".005", ".005", ".008"),
    ("3-1/2", "4-1/2", "1/16", "0", ".046"),
    ("4-1/2", "5-1/2", "5/64", "0", ".058"),
    ("5-1/2", "6-1/2", "1/8", "0", ".070"),
    ("6-1/2", "8-1/4", "5/32", "0", ".085"),
    ("8-1/4", "9-1/2", "3/16", "0", ".100"),
    ("9-1/2", "10", "1/4", "0", ".120"),
]
# Over, to, plus or minus, out-of-round, mm. Source: ASTM A29-04 Table A2.1 as shown at lucefin.com.
A29_METRIC = [(0, 7, ".13", ".20"), (7, 11, ".15", ".22"), (11, 15, ".18", ".27"), (15, 19, ".20", ".30")]
# Nominal, 1 % and 1.5 % rounded to the tenth, mm. Source: the same table, over 19 to 250 mm, note a; halves as ASTM E29.
A29_SHARE = [
    (20, ".2", ".3"),
    (25, ".2", ".4"),
    (30, ".3", ".4"),
    (50, ".5", ".8"),
    (80, ".8", "1.2"),
    (100, "1.0", "1.5"),
    (250, "2.5", "3.8"),
]


def inches(text: str) -> int:
    """Inches in nm, read the way the shop types them."""
    return parse_length(text, default_unit="in", allow_zero=True).nm


def mm(text: str) -> int:
    """Millimetres in nm."""
    return int(Fraction(text) * NM_PER_MM)


@pytest.mark.parametrize("shape", [Shape.ROUND, Shape.SQUARE])
@pytest.mark.parametrize(("over", "to", "plus", "minus", "out"), A484 + WIDER)
def test_inch_sizes_may_be_off_as_the_table_says(
    over: str, to: str, plus: str, minus: str, out: str, shape: Shape
) -> None:
    for nominal in (inches(over) + 1, (inches(over) + inches(to)) // 2, inches(to)):
        allowed = tolerances.size(Section(shape, nominal), System.INCH)
        assert allowed is not None
        assert allowed.plus_nm == inches(plus)
        assert allowed.minus_nm == min(inches(minus), nominal - 1)
        assert allowed.out_of_round_nm == inches(out)


@pytest.mark.parametrize(("over", "to", "off", "out"), A29_METRIC)
def test_metric_sizes_to_19_mm_may_be_off_as_the_table_says(over: int, to: int, off: str, out: str) -> None:
    for nominal in (over * NM_PER_MM + NM_PER_MM // 2, to * NM_PER_MM):
        allowed = tolerances.size(Section(Shape.ROUND, nominal), System.METRIC)
        assert allowed is not None
        assert (allowed.plus_nm, allowed.minus_nm, allowed.out_of_round_nm) == (mm(off), mm(off), mm(out))


@pytest.mark.parametrize(("nominal", "off", "out"), A29_SHARE)
def test_larger_metric_sizes_may_be_off_by_a_hundredth(nominal: int, off: str, out: str) -> None:
    allowed = tolerances.size(Section(Shape.SQUARE, nominal * NM_PER_MM), System.METRIC)
    assert allowed is not None
    assert (allowed.plus_nm, allowed.minus_nm, allowed.out_of_round_nm) == (mm(off), mm(off), mm(out))


@pytest.mark.parametrize(("over", "to", "plus", "minus", "out"), A484)
def test_a_bar_at_either_edge_of_its_row_is_good_and_a_mil_further_is_not(
    over: str, to: str, plus: str, minus: str, out: str
) -> None:
    section, mil = Section(Shape.ROUND, inches(to)), NM_PER_INCH // 1000
    largest, smallest = inches(to) + inches(plus), inches(to) - inches(minus)
    for edge in (largest, smallest):
        assert tolerances.check(section, System.INCH, edge, edge).ok
    thick = tolerances.check(section, System.INCH, largest + mil, largest)
    assert (thick.finding, thick.over_nm) == (SizeFinding.OVER, mil)
    thin = tolerances.check(section, System.INCH, smallest, smallest - mil)
    assert (thin.finding, thin.under_nm) == (SizeFinding.UNDER, mil)
    oval = tolerances.check(section, System.INCH, largest, largest - inches(out) - mil)
    assert oval.out_of_round_over_nm == mil


def test_a_two_and_a_half_inch_bar_may_not_be_thin_at_all() -> None:
    """Above 2 in the table is plus only. Source: ASTM A484 as above."""
    section = Section(Shape.ROUND, inches("2-1/2"))
    found = tolerances.check(section, System.INCH, inches("2.499"), inches("2.5"))
    assert (found.finding, found.under_nm) == (SizeFinding.UNDER, inches(".001"))


def test_the_two_systems_are_not_mixed() -> None:
    """ASTM A29-12 1.3 as copied: each system is used independently of the other. 50.8 mm is 2 in."""
    section = Section(Shape.ROUND, inches("2"))
    inch, metric = tolerances.size(section, System.INCH), tolerances.size(section, System.METRIC)
    assert inch is not None
    assert metric is not None
    assert (inch.plus_nm, metric.plus_nm) == (inches("1/64"), mm(".5"))


def test_every_limit_names_its_table() -> None:
    for size, system, document in (
        ("1", System.INCH, "ASTM A484"),
        ("4", System.INCH, "ASTM A6 as headed"),
        ("1", System.METRIC, "ASTM A29-04 Table A2.1"),
    ):
        allowed = tolerances.size(Section(Shape.ROUND, inches(size)), system)
        assert allowed is not None
        assert allowed.document == document
    small = tolerances.size(Section(Shape.ROUND, inches("1")), System.INCH)
    assert small is not None
    assert "from memory" in small.source
