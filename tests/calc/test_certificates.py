"""Figures read off a certificate, and what the check makes of them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.calc import certificates, grades_seed
from inventory.calc.certificate_values import Bound, Figure, Unread, read, symbol
from inventory.calc.certificates import CertificateType, Finding, Verdict
from inventory.calc.grade_limits import (
    MOST_PPM,
    NOT_STATED,
    GradeLimits,
    Limit,
    find,
    limits,
    percent_text,
    with_ordered,
)

ROW = GradeLimits("G", "Document", "1", limits("C .43-.50 P .040 S .050 Ni .20-.40"), "made up for this test")


def judged(printed: str, limit: Limit) -> certificates.ElementResult:
    """The one line of a check against a row of one limit."""
    row = GradeLimits("G", "D", "1", (limit,), "made up for this test")
    found = certificates.check({limit.element: printed}, [row], grade="G", document="D", edition="1")
    return found.elements[0]


@pytest.mark.parametrize(
    "printed", ["0.43", ".43", "0,43", ",43", "0.43%", "0.43 %", " 0.430 ", "0.43 wt%", "4300 ppm"]
)
def test_a_figure_is_read_however_the_mill_prints_it(printed: str) -> None:
    assert read("C", printed) == Figure(Decimal("0.43"))


def test_a_comma_with_three_figures_is_a_decimal_comma_because_no_percentage_is_a_thousand() -> None:
    assert read("Mn", "1,250") == Figure(Decimal("1.25"))


def test_less_than_is_kept_as_less_than() -> None:
    assert read("Ni", "<0.01") == Figure(Decimal("0.01"), Bound.BELOW)
    assert read("Ni", "< 0,01 %") == Figure(Decimal("0.01"), Bound.BELOW)
    assert read("Ni", "≤0.01") == read("Ni", "<=0.01") == Figure(Decimal("0.01"), Bound.AT_MOST)


@pytest.mark.parametrize("printed", ["", " ", "-", "--", "—", "n/a", "N.A.", "NR"])
def test_an_empty_column_holds_nothing(printed: str) -> None:
    assert read("Ni", printed) is None


@pytest.mark.parametrize(
    "printed",
    [
        "O.43",
        "0.4.3",
        "1.234,5",
        "-0.1",
        "+0.1",
        "~0.4",
        "0.43*",
        "trace",
        "nil",
        ">0.4",
        "٠٫٤",
        "0 43",
        "(0.43)",
        "0.",
        "9" * 30,
    ],
)
def test_what_is_no_figure_is_refused_with_the_element_named(printed: str) -> None:
    found = read("Mn", printed)
    assert isinstance(found, Unread)
    assert found.why.startswith("Mn")


def test_more_than_all_of_the_steel_is_refused() -> None:
    assert isinstance(read("C", "100.1"), Unread)
    assert read("C", "100") == Figure(Decimal(100))


@given(st.text(max_size=30))
def test_no_text_breaks_the_reading(printed: str) -> None:
    found = read("C", printed)
    assert found is None or isinstance(found, (Figure, Unread))


@given(st.decimals(min_value=0, max_value=100, places=6, allow_nan=False))
def test_every_percentage_comes_back_exactly(value: Decimal) -> None:
    assert read("C", f"{value:f}") == Figure(value)
    assert read("C", f"{value:f}".replace(".", ",")) == Figure(value)


@pytest.mark.parametrize(
    ("name", "element"),
    [
        ("C", "C"),
        ("mn", "Mn"),
        ("CR%", "Cr"),
        ("Ni (%)", "Ni"),
        ("Sulfur", "S"),
        ("Cb", "Nb"),
        ("Xy", None),
        ("", None),
    ],
)
def test_elements_are_known_by_symbol_and_name(name: str, element: str | None) -> None:
    assert symbol(name) == element


@given(st.integers(0, MOST_PPM), st.integers(0, MOST_PPM), st.integers(0, MOST_PPM))
def test_a_figure_passes_exactly_when_it_is_from_the_least_to_the_most(one: int, two: int, ppm: int) -> None:
    least, most = sorted((one, two))
    found = judged(percent_text("C", ppm), Limit("C", least, most))
    assert found.finding is (Finding.PASS if least <= ppm <= most else Finding.FAIL)
    if found.finding is Finding.FAIL:
        assert found.off_percent == Decimal(ppm - most if ppm > most else ppm - least) / 10_000


def test_a_limit_itself_passes_and_the_next_figure_fails_without_rounding() -> None:
    carbon = Limit("C", 4300, 5000)
    assert judged("0.50", carbon).finding is judged("0.43", carbon).finding is Finding.PASS
    high, low = judged("0.500001", carbon), judged("0.4299", carbon)
    assert (high.finding, high.off_percent) == (Finding.FAIL, Decimal("0.000001"))
    assert (low.finding, low.off_percent) == (Finding.FAIL, Decimal("-0.0001"))
    assert high.why == "C “0.500001” is 0.000001 % above the most, 0.50 %."
    assert low.why == "C “0.4299” is 0.0001 % below the least, 0.43 %."


@pytest.mark.parametrize(
    ("printed", "limit", "finding"),
    [
        ("<0.01", Limit("Ni", None, 2000), Finding.PASS),
        ("<0.20", Limit("Ni", None, 2000), Finding.PASS),
        ("<0.30", Limit("Ni", None, 2000), Finding.UNCLEAR),
        ("<0.30", Limit("Ni", 2000, 4000), Finding.UNCLEAR),
        ("<0.20", Limit("Ni", 2000, 4000), Finding.FAIL),
        ("≤0.20", Limit("Ni", 2000, 4000), Finding.UNCLEAR),
        ("≤0.19", Limit("Ni", 2000, 4000), Finding.FAIL),
        ("<0.10", Limit("Ni", 2000, None), Finding.FAIL),
        ("<0.30", Limit("Ni", 2000, None), Finding.UNCLEAR),
        ("0.30", Limit("Ni", 2000, None), Finding.PASS),
    ],
)
def test_less_than_passes_only_where_everything_below_it_would(printed: str, limit: Limit, finding: Finding) -> None:
    assert judged(printed, limit).finding is finding


def test_less_than_the_least_says_so_without_a_difference_of_nought() -> None:
    assert judged("<0.20", Limit("Ni", 2000, 4000)).why == "Ni “<0.20” is below the least, 0.20 %."


def check(values: dict[str, str], *, document: str = "Document", edition: str = "1") -> certificates.CertificateCheck:
    """Check against the made-up row."""
    return certificates.check(values, [ROW], grade="G", document=document, edition=edition)


def test_the_elements_stand_in_the_order_of_the_table_whatever_the_order_of_the_paper() -> None:
    found = check({"Ni": "0.3", "s": "0.01", "P": ".02", "Al": "0.02", "Carbon": "0.45"})
    assert [line.element for line in found.elements] == ["C", "P", "S", "Ni"]
    assert [(line.element, line.finding) for line in found.others] == [("Al", Finding.NOT_OF_GRADE)]
    assert found.verdict is Verdict.PASS


@given(st.sets(st.sampled_from(["C", "P", "S", "Ni"]), max_size=3), st.sampled_from(["leave out", "", "-"]))
def test_a_missing_element_is_never_a_pass(reported: set[str], blank: str) -> None:
    good = {"C": "0.45", "P": "0.01", "S": "0.01", "Ni": "0.30"}
    values = {element: good[element] if element in reported else blank for element in good}
    if blank == "leave out":
        values = {element: good[element] for element in reported}
    found = check(values)
    assert found.verdict is Verdict.INCOMPLETE
    missing = {line.element for line in found.elements if line.finding is Finding.NOT_REPORTED}
    assert missing == set(good) - reported


def test_the_worst_line_decides() -> None:
    assert check({"C": "0.6", "P": "O.01"}).verdict is Verdict.FAIL
    assert check({"C": "0.45", "P": "O.01"}).verdict is Verdict.UNCLEAR
    assert check({"C": "0.45", "P": "0.01"}).verdict is Verdict.INCOMPLETE


def test_an_element_given_twice_with_two_figures_is_not_judged() -> None:
    assert check({"C": "0.45", "Carbon": "0.60"}).elements[0].finding is Finding.UNCLEAR
    assert check({"C": "0.45", "Carbon": "0.450"}).elements[0].finding is Finding.PASS
    assert check({"C": "0.45", "Carbon": "-"}).elements[0].finding is Finding.PASS


def test_a_name_that_is_no_element_is_a_line_of_its_own() -> None:
    found = check({"C": "0.45", "P": "0.01", "S": "0.01", "Ni": "0.30", "Unobtainium": "0.1"})
    assert [(line.element, line.finding) for line in found.others] == [("Unobtainium", Finding.UNCLEAR)]
    assert "Unobtainium" in found.others[0].why
    assert found.verdict is Verdict.PASS


def test_another_document_edition_or_grade_is_never_judged_by_this_one() -> None:
    values = {"C": "0.45", "P": "0.01", "S": "0.01", "Ni": "0.30"}
    for document, edition, named in (
        ("Other", "1", "Document"),
        ("Document", "2", "1"),
        ("Document", "", "1"),
        ("", "1", "Document"),
    ):
        found = check(values, document=document, edition=edition)
        assert (found.verdict, found.row, found.elements) == (Verdict.NO_LIMITS, None, ())
        assert named in found.why
        assert {line.finding for line in found.others} == {Finding.UNCLEAR}
    assert find([ROW], grade="H", document="Document", edition="1")[0] is None
    assert "H" in find([ROW], grade="H", document="Document", edition="1")[1]


def test_capitals_and_spaces_of_a_document_do_not_matter() -> None:
    assert find([ROW], grade="g", document=" DOCU ment", edition=" 1") == (ROW, "")


def test_two_rows_of_the_same_name_are_a_mistake_in_the_book() -> None:
    with pytest.raises(ValueError, match="twice"):
        find([ROW, ROW], grade="G", document="Document", edition="1")


def test_an_edition_that_is_not_stated_finds_the_row_that_says_so_too() -> None:
    found, _ = find(grades_seed.ROWS, grade="4340", document="ASTM A29/A29M", edition="")
    assert found is not None
    assert found.edition == NOT_STATED


def test_what_was_ordered_goes_before_the_general_limit() -> None:
    narrower = with_ordered(ROW, Limit("C", 4500, 4800))
    assert narrower.limit("C") == Limit("C", 4500, 4800)
    assert [limit.element for limit in narrower.limits] == ["C", "P", "S", "Ni"]
    added = with_ordered(ROW, Limit("Si", 1500, 3500))
    assert [limit.element for limit in added.limits] == ["C", "P", "S", "Ni", "Si"]
    assert "as ordered" in added.note
    assert ROW.limit("Si") is None


@pytest.mark.parametrize(
    ("element", "least", "most"),
    [("Xx", 1, 2), ("C", None, None), ("C", 2, 1), ("C", -1, 2), ("C", 1, MOST_PPM + 1), ("C", 1.5, 2)],
)
def test_a_limit_that_makes_no_sense_is_refused(element: str, least: int | None, most: int | None) -> None:
    with pytest.raises(ValueError, match=element):
        Limit(element, least, most)


def test_a_row_that_makes_no_sense_is_refused() -> None:
    for bad in ((), limits("C .1 C .2")):
        with pytest.raises(ValueError, match="once"):
            GradeLimits("G", "D", "1", bad, "source")
    with pytest.raises(ValueError, match="named"):
        GradeLimits("G", "D", "", limits("C .1"), "source")
    with pytest.raises(ValueError, match="in turn"):
        limits("C .1 Mn")
    with pytest.raises(ValueError, match="finer"):
        limits("C .00001")


def test_limits_are_printed_as_the_tables_print_them() -> None:
    assert [percent_text("P", 400), percent_text("C", 4300), percent_text("B", 5), percent_text("C", 12345)] == [
        "0.040",
        "0.43",
        "0.0005",
        "1.2345",
    ]


def test_every_kind_of_certificate_has_words() -> None:
    assert [kind.value for kind in CertificateType] == ["not stated", "2.1", "2.2", "3.1", "3.2"]
    assert all(kind.words for kind in CertificateType)
