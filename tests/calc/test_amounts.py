"""Weights, volumes, money and pieces are read and printed to their smallest unit, or refused in one sentence."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.shared import units
from shop.shared.errors import Invalid


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
    ("text", "mg"),
    [
        ("1 lb", 453_592),
        ("100 lb", 45_359_237),
        ("50 lb", 22_679_618),  # 22 679 618.5, half to even
        ("150 lb", 68_038_856),  # 68 038 855.5, half to even
        ("3 lb 3.7 oz", 1_465_670),
        ("3 lb 4", 1_474_175),
        ("12#", 5_443_108),
        ("213.6 lbs", 96_887_330),
        ("1,47 kg", 1_470_000),
        ("500 g", 500_000),
        ("7 mg", 7),
        ("10 250 lb", 4_649_321_792),
    ],
)
def test_a_weight_is_rounded_half_even_to_the_milligram_and_keeps_its_text(text: str, mg: int) -> None:
    assert units.parse_mass(text) == units.Mass(mg, text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "has no unit"),
        ("10,250 lb", "can be read two ways"),
        ("3 lb 16 oz", "write less than one lb"),
        ("3 lb 20 oz", "write less than one lb"),
        ("3 lb 200 g", "use one system"),
        ("0.0001 mg", "too small"),
        ("100001 kg", "write at most 100 000 kg"),
        ("5 in", "not a unit here"),
    ],
)
def test_a_weight_that_cannot_be_used_is_refused(text: str, says: str) -> None:
    assert says in sentence(lambda: units.parse_mass(text))


def test_a_weight_prints_to_the_figures_asked_for() -> None:
    assert units.mass_lb(96_887_330) == "213.6 lb"
    assert units.mass_lb(96_887_330, figures=3) == "214 lb"
    assert units.mass_lb(4_649_321_792, figures=3) == "10\u2009250 lb"
    assert units.mass_lb(1_465_670, figures=3) == "3.23 lb"
    assert units.mass_kg(96_887_330) == "96.89 kg"
    assert units.mass_kg(-500_000) == "\u22120.5 kg"
    assert units.mass_lb(-96_887_330) == "\u2212213.6 lb"
    assert units.volume(-750_000) == "\u221225.36 fl oz (750 mL)"
    assert units.mass_kg(0) == "0 kg"
    assert units.mass_kg(999_960) == "1 kg"


@pytest.mark.parametrize(
    ("text", "ul", "printed"),
    [
        ("1 gal", 3_785_412, "1 gal (3.785 L)"),
        ("1 qt", 946_353, "32 fl oz (946.4 mL)"),
        ("8 fl. oz.", 236_588, "8 fl oz (236.6 mL)"),
        ("2 qt 8 fl oz", 2_129_294, "72 fl oz (2.129 L)"),
        ("0,75 L", 750_000, "25.36 fl oz (750 mL)"),
        ("750 ML", 750_000, "25.36 fl oz (750 mL)"),
        ("5 \u00b5L", 5, "0.0001691 fl oz (0.005 mL)"),
    ],
)
def test_a_volume_is_read_and_printed_in_both_systems(text: str, ul: int, printed: str) -> None:
    assert units.parse_volume(text) == units.Volume(ul, text)
    assert units.volume(ul) == printed


def test_ounces_of_weight_are_not_taken_for_a_volume() -> None:
    assert "fl oz" in sentence(lambda: units.parse_volume("8 oz"))


@pytest.mark.parametrize(
    ("text", "exponent", "minor"),
    [
        ("12.50", 2, 1250),
        ("12,50", 2, 1250),
        ("12,5", 2, 1250),
        ("1,25", 2, 125),
        ("1,250", 2, 125_000),
        ("1,250.00", 2, 125_000),
        ("1.250,00", 2, 125_000),
        ("1 250.00", 2, 125_000),
        ("1\u00a0250,00", 2, 125_000),
        ("1,250,000", 2, 125_000_000),
        ("0", 2, 0),
        (".05", 2, 5),
        ("1,250", 0, 1250),
        ("1.250", 3, 1250),
    ],
)
def test_an_amount_is_read_to_the_smallest_unit(text: str, exponent: int, minor: int) -> None:
    assert units.parse_money(text, exponent) == units.Money(minor, text)


@pytest.mark.parametrize(
    ("text", "exponent", "says"),
    [
        ("1.250", 2, "more than 2 decimals"),
        ("12.505", 2, "more than 2 decimals"),
        ("1250,500", 2, "more than 2 decimals"),
        ("0,500", 2, "more than 2 decimals"),
        ("12.5", 0, "more than 0 decimals"),
        ("1,250", 3, "can be read two ways"),
        ("12,34,567", 2, "out of place"),
        ("-3", 2, "cannot be negative"),
        ("$5", 2, "not used here"),
        ("5 USD", 2, "without a currency sign"),
        ("5 6", 2, "is not one number"),
        ("999999999999999", 2, "write at most"),
    ],
)
def test_an_amount_that_can_be_read_two_ways_is_refused(text: str, exponent: int, says: str) -> None:
    assert says in sentence(lambda: units.parse_money(text, exponent))


def test_nought_is_an_amount_unless_the_caller_says_not() -> None:
    assert "above nought" in sentence(lambda: units.parse_money("0.00", allow_zero=False))


def test_an_amount_prints_with_the_decimals_of_its_currency() -> None:
    assert units.money(125_000, "USD") == "1\u2009250.00 USD"
    assert units.money(-1250, "EUR") == "\u221212.50 EUR"
    assert units.money(1250, "JPY") == "1\u2009250 JPY"
    assert units.money(5, "KWD") == "0.005 KWD"


@given(st.integers(0, 10**11), st.sampled_from([0, 2, 3]))
def test_an_amount_comes_back_as_printed(minor: int, exponent: int) -> None:
    assert units.parse_money(units.amount(minor, exponent), exponent).minor == minor


def test_pieces_are_whole_numbers() -> None:
    assert [units.parse_whole(text, "pieces") for text in ("12", "1,250", "1 250", " 7 ")] == [12, 1250, 1250, 7]
    assert units.parse_whole("0", "pieces", least=0) == 0
    for text in ("1.0", "12,5", "1250,000", "0", "-1", "12 pcs", "1/2", "\u00bd", "1000001", ""):
        assert "Pieces" in sentence(lambda text=text: units.parse_whole(text, "pieces"))  # type: ignore[misc]


@given(st.text(max_size=12) | st.from_regex(r"\A[0-9]{1,12}\Z"))
def test_a_number_that_a_page_sent_back_is_plain_figures_or_no_number(text: str) -> None:
    found = units.plain_number(text)
    assert (found is not None) == (0 < len(text) <= 9 and set(text) <= set("0123456789"))
    assert found is None or found == int(text)


def test_figures_of_other_scripts_and_a_field_that_was_not_sent_are_no_number() -> None:
    assert [units.plain_number(text) for text in ("007", "999999999", "0")] == [7, 999_999_999, 0]
    assert [units.plain_number(text) for text in (None, "", "1234567890", "\u0663", "\u00b2", "+1", " 1", "1\n")] == [
        None
    ] * 8


def test_a_weight_is_said_as_a_scale_in_the_shop_shows_it() -> None:
    """By hand: 2 lb 1 oz is 33 times 28 349.523125 mg; a tenth of an ounce is 2 834.95 mg."""
    masses = (935_534, 907_185, 439_418, 1_417, 0, 907_185 - 1_418, -907_185)
    assert [units.mass_lb_oz(mg) for mg in masses] == [
        "2 lb 1 oz", "2 lb", "15.5 oz", "0 oz", "0 oz", "1 lb 15.9 oz", "\u22122 lb",
    ]  # fmt: skip


@given(st.integers(1_500, 10**10))
def test_a_weight_said_in_pounds_and_ounces_reads_back_to_half_a_tenth_of_an_ounce(mg: int) -> None:
    assert abs(units.parse_mass(units.mass_lb_oz(mg)).mg - mg) <= 1_418
