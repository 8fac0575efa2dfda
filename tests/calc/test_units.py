"""Lengths are read and printed exactly, or refused in one sentence; so is whatever else is typed."""

import time
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.shared import units
from shop.shared.errors import Invalid

SIXTY_FOURTH = 396_875

READERS: list[Callable[[str], object]] = [
    units.parse_length,
    lambda text: units.parse_length(text, default_unit="in", exact=False, allow_zero=True),
    units.parse_mass,
    units.parse_volume,
    units.parse_money,
    lambda text: units.parse_money(text, 0),
    lambda text: units.parse_money(text, 3, allow_zero=False),
    lambda text: units.parse_whole(text, "pieces"),
]


def sentence(read: Callable[[], object]) -> str:
    """The sentence of a refusal, which names a field and ends once."""
    with pytest.raises(Invalid) as caught:
        read()
    said = caught.value.sentence
    assert set(caught.value.fields.values()) == {said}
    assert said.endswith(".")
    assert "\n" not in said
    return said


@pytest.mark.parametrize(
    ("text", "nm"),
    [
        ("12' 3 1/2\"", 3_746_500_000),
        ("12 ft 3 1/2 in", 3_746_500_000),
        ("12'-3 1/2\"", 3_746_500_000),
        ("12' - 3 1/2''", 3_746_500_000),
        ("12\u2032 3\u00bd\u2033", 3_746_500_000),
        ("12\u2019 3 1/2\u201d", 3_746_500_000),
        ("12\u00a0ft\u00a03\u00a01/2\u00a0in", 3_746_500_000),
        ("12 FT. 3 1/2 IN.", 3_746_500_000),
        ("2-1/4 in", 57_150_000),
        ("2'6-1/2\"", 774_700_000),
        ("30'", 9_144_000_000),
        ("18 ft 10", 5_740_400_000),
        ("18' 10 1/2", 5_753_100_000),
        ("3/4 in", 19_050_000),
        ("3\u20444 in", 19_050_000),
        ('1 3/8"', 34_925_000),
        ("\u00bd in", 12_700_000),
        ('1\u00bd"', 38_100_000),
        ("\u215c in", 9_525_000),
        ("0.375 in", 9_525_000),
        (".5in", 12_700_000),
        ("1/64 in", SIXTY_FOURTH),
        ("94.5 mm", 94_500_000),
        ("94,5 mm", 94_500_000),
        ("3\u2009746.5 mm", 3_746_500_000),
        ("3 746.5 mm", 3_746_500_000),
        ("1.250,5 mm", 1_250_500_000),
        ("1,250.5 mm", 1_250_500_000),
        ("6.09 m", 6_090_000_000),
        ("1.9 cm", 19_000_000),
        ("1 m 20 cm 5 mm", 1_205_000_000),
        ("100 m", 100_000_000_000),
        ("1 metre", 1_000_000_000),
    ],
)
def test_a_length_is_read_the_way_a_smith_writes_it(text: str, nm: int) -> None:
    assert units.parse_length(text) == units.Length(nm, text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("18", "has no unit: add ft, in, mm, cm or m"),
        ("\u215c", "has no unit"),
        ("1/0 in", "divides by nought"),
        ("1.5/2 in", "two whole numbers"),
        ("1/7 in", "write 9/64 in or 3.628571 mm"),
        ("1/128 in", "cannot be kept exactly"),
        ("-5 in", "cannot be negative"),
        ("\u22125 in", "cannot be negative"),
        ("0 in", "write a length above nought"),
        ("0 ft 0 in", "write a length above nought"),
        ("100.1 m", "write at most 100 m"),
        ("999999999999999 ft", "write at most 100 m"),
        ("9999999999999999 in", "more than 15 digits"),
        ("1" * 41, "is longer than 40 characters"),
        ("1\x00 in", "has a sign that is not used here"),
        ("1\n in", "has a sign that is not used here"),
        ("5 furlongs", "\u201cfurlongs\u201d, which is not a unit here"),
        ("1e5 in", "\u201ce\u201d, which is not a unit here"),
        ("\uff11\uff12 in", "use 0 to 9"),
        ("\u0663 in", "use 0 to 9"),
        ("\u00b2 in", "has a sign that is not used here"),
        ("\ud800 in", "has a sign that is not used here"),
        ("1,250 mm", "can be read two ways: write 1250 or 1.250"),
        ("11/2 in", "write 5 1/2 if that is meant"),
        ("1 9/8 in", "write 1 1/8 if that is meant"),
        ("1.5 1/2 in", "write one or the other"),
        ("5 ft 3 mm", "use one system"),
        ("3 in 2 ft", "larger unit first"),
        ("2 ft 2 ft", "larger unit first"),
        ("2.5 ft 3 in", "write a whole number of ft there"),
        ("4/4 in", "write 1 if that is meant"),
        ("2 ft 12 in", "write less than one ft"),
        ("18 ft 100", "write less than one ft after the ft"),
        ("1 m 20", "ends in a number without a unit"),
        ("3 4 in", "two numbers side by side"),
        ("2-3 in", "lacks a number where one is due"),
        ("1 - 1/2 in", "lacks a number where one is due"),
        ("5. in", "out of place"),
        ("1.2.3 in", "out of place"),
        ("in", "lacks a number where one is due"),
        ("   ", "is empty"),
        ("", "is empty"),
    ],
)
def test_a_length_that_cannot_be_used_is_refused_and_told_what_would_work(text: str, says: str) -> None:
    assert says in sentence(lambda: units.parse_length(text))


def test_a_refusal_names_its_own_field() -> None:
    with pytest.raises(Invalid) as caught:
        units.parse_length("18", field="trim_length")
    assert list(caught.value.fields) == ["trim_length"]
    assert caught.value.sentence.startswith("Trim length \u201c18\u201d has no unit")


def test_a_value_that_is_no_text_is_refused_like_any_other() -> None:
    for value in (None, 12, 1.5, ["1 in"], b"1 in"):
        assert "is not a text" in sentence(lambda value=value: units.parse_length(value))  # type: ignore[misc]


def test_a_bare_number_takes_the_unit_the_field_is_in() -> None:
    assert units.parse_length("18", default_unit="in").nm == 18 * 25_400_000
    assert units.parse_length("94,5", default_unit="mm").nm == 94_500_000
    assert units.parse_length("18 mm", default_unit="in").nm == 18_000_000
    assert units.parse_volume("750", default_unit="mL").ul == 750_000
    with pytest.raises(ValueError, match="default_unit"):
        units.parse_length("18", default_unit="furlong")


def test_a_length_need_not_be_exact_where_the_caller_says_so() -> None:
    assert units.parse_length("1/7 in", exact=False).nm == 3_628_571
    assert units.parse_length("1/128 in", exact=False).nm == 198_438  # 198 437.5, half to even
    assert units.parse_length("3/128 in", exact=False).nm == 595_312  # 595 312.5, half to even


def test_nought_is_a_length_only_where_it_may_be() -> None:
    assert units.parse_length("0 in", allow_zero=True).nm == 0
    assert "too small" in sentence(lambda: units.parse_length("0.000000001 mm"))


def test_every_sixty_fourth_up_to_twenty_feet_comes_back_as_printed() -> None:
    for count in range(1, 20 * 12 * 64 + 1):
        nm = count * SIXTY_FOURTH
        for feet in (True, False):
            printed = units.length_inches(nm, feet=feet)
            assert units.parse_length(printed).nm == nm, printed


def test_every_tenth_of_a_millimetre_up_to_six_metres_comes_back_as_printed() -> None:
    for tenth in range(1, 60_001):
        printed = units.length_mm(tenth * 100_000)
        assert units.parse_length(printed).nm == tenth * 100_000, printed


@pytest.mark.parametrize(
    ("nm", "printed"),
    [
        (3_746_500_000, "12 ft 3 1/2 in (3\u2009746.5 mm)"),
        (57_150_000, "2 1/4 in (57.2 mm)"),
        (9_144_000_000, "30 ft (9\u2009144 mm)"),
        (304_800_000 + SIXTY_FOURTH, "1 ft 1/64 in (305.2 mm)"),
        (94_500_000, "94.5 mm (\u2248 3.72 in)"),
        (2_540_000, "2.5 mm (0.1 in)"),
        (304_799_999, "304.8 mm (\u2248 1 ft)"),
        (1, "under 0.1 mm (\u2248 0 in)"),
        (0, "0 in (0 mm)"),
        (-25_400_000, "\u22121 in (\u221225.4 mm)"),
    ],
)
def test_a_length_prints_in_both_systems_without_false_precision(nm: int, printed: str) -> None:
    assert units.both(nm) == printed


def test_a_metric_shop_reads_millimetres_first() -> None:
    assert units.both(50_800_000, metric_first=True) == "50.8 mm (2 in)"
    assert units.length_inches(342_900_000, feet=False) == "13 1/2 in"


def test_the_units_are_the_legal_ones() -> None:
    """Source: NIST Handbook 44, Appendix C: inch 25.4 mm, pound 453.59237 g, US gallon 231 cubic inches."""
    assert units.parse_length("1 in").nm == 25_400_000
    assert units.parse_length("1/64 in").nm == 396_875
    assert Fraction("453592.37") == units.MG_PER_LB
    assert Fraction("453592.37") / 16 == units.MG_PER_OZ
    assert Fraction(231) * Fraction("2.54") ** 3 * 1000 == units.UL_PER_GALLON == Fraction("3785411.784")
    assert units.UL_PER_QUART * 4 == units.UL_PER_GALLON == units.UL_PER_FLUID_OUNCE * 128


SHOPLIKE = st.text(alphabet="0123456789 .,/'\"-#ftinmcglboz\u00bd\u2032\u00b5\u00a0", max_size=42)


@pytest.mark.parametrize("read", READERS)
@given(text=st.one_of(st.text(max_size=60), SHOPLIKE))
def test_whatever_is_typed_is_read_or_refused_and_nothing_else(read: Callable[[str], object], text: str) -> None:
    said, kept = ".", text
    try:
        kept = getattr(read(text), "typed", text)
    except Invalid as refusal:
        said = refusal.fields.popitem()[1]
    assert kept == text
    assert said.endswith(".")
    assert len(said) < 250


@given(st.integers(1, 100_000_000_000))
def test_a_length_in_millimetres_to_six_places_is_kept_exactly(nm: int) -> None:
    assert units.parse_length(f"{nm // 10**6}.{nm % 10**6:06d} mm").nm == nm


@given(st.integers(1, 240), st.integers(0, 63), st.sampled_from(["{} {}/64 in", "{}-{}/64 in", '{}  {}/64"']))
def test_a_mixed_number_is_the_sum_of_its_parts(inches: int, parts: int, form: str) -> None:
    assert units.parse_length(form.format(inches, parts)).nm == (inches * 64 + parts) * SIXTY_FOURTH


@pytest.mark.parametrize("text", ["1 " * 5_000_000, "9" * 5_000_000, "1," * 20, "1-" * 20, "' " * 20, "1 111" * 8])
def test_a_hostile_text_is_refused_at_once(text: str) -> None:
    started = time.process_time()
    sentence(lambda: units.parse_length(text))
    assert time.process_time() - started < 5


def test_a_metric_bar_is_not_shown_in_thousandths_of_an_inch() -> None:
    assert units.as_taped(units.parse_length("6115 mm").nm) == "6\u2009115 mm"
    assert units.as_taped(units.parse_length("20 ft 1/2 in").nm) == "20 ft 1/2 in"
