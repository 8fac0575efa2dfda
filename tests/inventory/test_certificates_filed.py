"""Certificates filed with a melt: read against the document and edition they name, awaited, taken back."""

import datetime as dt
import time

import pytest
from django.db import transaction

from inventory.calc.grade_limits import percent_text
from inventory.calc.grades_seed import ROWS
from inventory.models import Certificate, LimitRow, Melt
from inventory.queries import cuttable, findings, grade_book, papers
from inventory.services import certificates, purchasing
from inventory.services import grade_book as book
from inventory.services.certificates import NoKnownMelt, TypedCertificate
from inventory.services.delivery_lines import Paper, PaperLine
from inventory.services.grade_book import TypedRow
from shop.flows import delivering
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import AuditLine, Shop
from tests import makers
from tests.makers import AT, actor
from tests.people import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]
Finding = Certificate.Finding


@pytest.fixture(autouse=True)
def _grades(db: None) -> None:
    make_shop()
    with transaction.atomic():
        book.seed()


def inside(row: LimitRow) -> dict[str, str]:
    """Return figures in the middle of every limit of a row, as a mill prints them."""
    middle = {}
    for one in row.elements.all():
        least, most = one.least_ppm or 0, one.most_ppm if one.most_ppm is not None else (one.least_ppm or 0) * 2
        middle[one.element] = percent_text(one.element, (least + most) // 2)
    return middle


def file(row: LimitRow, figures: dict[str, str], **facts: str) -> Certificate:
    melt = makers.make_melt(grade=row.grade)
    typed = TypedCertificate(
        number="C-1", document=facts.get("document", row.document), edition=facts.get("edition", row.edition),
        figures=figures,
    )  # fmt: skip
    with transaction.atomic():
        return certificates.file(melt, typed, at=AT, by=actor())


def test_a_new_shop_begins_with_the_thirteen_grades_and_their_sources() -> None:
    assert LimitRow.objects.count() == len(ROWS)
    assert LimitRow.objects.values("grade").distinct().count() == 13
    assert not LimitRow.objects.filter(source="").exists()
    with transaction.atomic():
        assert book.seed() == 0


@pytest.mark.parametrize("number", range(len(ROWS)))
def test_each_row_passes_fails_misses_an_element_and_is_no_other_edition(number: int) -> None:
    row = LimitRow.objects.prefetch_related("elements").order_by("pk")[number]
    good = inside(row)
    assert file(row, good).finding == Finding.PASS
    first = row.elements.order_by("place")[0]
    above = (first.most_ppm or 0) + 100
    assert file(row, {**good, first.element: percent_text(first.element, above)}).finding == Finding.FAIL
    last = row.elements.order_by("-place")[0]
    missing = {element: printed for element, printed in good.items() if element != last.element}
    assert file(row, missing).finding == Finding.INCOMPLETE
    assert file(row, good, edition="of another year").finding == Finding.NO_LIMITS


def test_a_certificate_that_is_only_read_says_by_whom() -> None:
    melt = makers.make_melt()
    with transaction.atomic():
        certificates.wait_for(melt, awaited=True, at=AT, by=actor())
        made = certificates.file(melt, TypedCertificate(read_by="he"), at=AT, by=actor())
    melt.refresh_from_db()
    assert (made.finding, made.read_by, melt.certificate_awaited) == (Finding.BY_EYE, "HE", False)
    assert findings.paper_found(made, melt).good is True


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        (TypedCertificate(), "file"),
        (TypedCertificate(read_by="H3"), "read_by"),
        (TypedCertificate(number="1", paper_type="9.9"), "paper_type"),
        (TypedCertificate(number="1", issued_on=AT.date() + dt.timedelta(days=2)), "issued_on"),
    ],
)
def test_what_is_no_certificate_is_refused(typed: TypedCertificate, field: str) -> None:
    with pytest.raises(Invalid) as caught, transaction.atomic():
        certificates.file(makers.make_melt(), typed, at=AT, by=actor())
    assert field in caught.value.fields
    assert not Certificate.objects.exists()


@pytest.mark.parametrize(
    ("ordered", "carbon", "found"),
    [("", "0.85", Finding.PASS), ("C .95–1.05", "0.85", Finding.FAIL), ("C .95-1.05", "1.00", Finding.PASS)],
)
def test_what_was_agreed_on_the_order_goes_before_the_table(ordered: str, carbon: str, found: str) -> None:
    """A W1 bought with the suffix 9.5 has its carbon between 0.95 and 1.05 percent: grades_seed.W1_CARBON_BY_SUFFIX."""
    row = LimitRow.objects.filter(grade__code="W1").order_by("pk")[0]
    typed = TypedCertificate(
        document=row.document, edition=row.edition, as_ordered=ordered, figures={**inside(row), "C": carbon}
    )
    with transaction.atomic():
        made = certificates.file(makers.make_melt(grade=row.grade), typed, at=AT, by=actor())
    assert made.finding == found
    check = findings.check_of(made, made.melt)
    assert check is not None
    assert certificates._FINDINGS[check.verdict] == found


@pytest.mark.parametrize("ordered", ["C", "C much", ".95-1.05", "C .95-1.05 C .9", "C 1.05-.95", "Q1 .2", "C 99999"])
def test_what_cannot_be_read_as_agreed_limits_is_refused(ordered: str) -> None:
    with pytest.raises(Invalid) as refusal, transaction.atomic():
        certificates.file(makers.make_melt(), TypedCertificate(number="C-1", as_ordered=ordered), at=AT, by=actor())
    assert list(refusal.value.fields) == ["as_ordered"]


def test_an_unknown_mill_heat_has_no_certificate() -> None:
    with pytest.raises(NoKnownMelt), transaction.atomic():
        certificates.file(makers.make_melt("unknown"), TypedCertificate(number="1"), at=AT, by=actor())


def test_a_certificate_taken_back_counts_for_nothing_and_stays() -> None:
    melt = makers.make_melt()
    made = makers.file_certificate(melt, C="0.90")
    assert melt.pk in cuttable.melts_held([melt.pk])
    with transaction.atomic():
        certificates.withdraw(made, at=AT, by=actor(), reason="of another heat")
    assert cuttable.melts_held([melt.pk]) == {}
    assert certificates.standing(melt) is None
    with pytest.raises(Invalid), transaction.atomic():
        certificates.withdraw(made, at=AT, by=actor(), reason="again")


def test_a_shop_that_saws_nothing_before_the_certificate_holds_what_is_awaited() -> None:
    melt = makers.make_melt()
    Melt.objects.filter(pk=melt.pk).update(certificate_awaited=True)
    assert cuttable.melts_held([melt.pk]) == {}
    Shop.objects.update(saw_before_certificate=False)
    assert "has not come" in cuttable.melts_held([melt.pk])[melt.pk]


def test_a_row_of_limits_is_written_changed_and_dropped() -> None:
    grade = makers.make_grade("9260")
    typed = TypedRow("EN 10089", "2002", "C .56-.64 Mn .70-1.00 Si 1.80-2.20", "a copy of the standard")
    with transaction.atomic():
        row = book.save_row(grade, typed, at=AT, by=actor())
    assert grade_book.as_typed(row) == "C 0.56-0.64 Mn 0.70-1.00 Si 1.80-2.20"
    with transaction.atomic():
        row = book.save_row(grade, TypedRow("EN 10089", "2002", "C .50", "a copy"), row=row, at=AT, by=actor())
    assert grade_book.as_typed(row) == "C 0.50"
    with pytest.raises(Invalid), transaction.atomic():
        book.save_row(grade, TypedRow("EN 10089", "2002", "C .50", "a copy"), at=AT, by=actor())
    with transaction.atomic():
        book.drop_row(row, at=AT, by=actor())
    assert not LimitRow.objects.filter(grade=grade).exists()


@pytest.mark.parametrize(
    ("document", "edition"), [("astm  a29 / a29m", "16"), ("ASTM A29/A29M", " NOT stated"), ("ASTM A29/A29M", "")]
)
def test_a_row_that_differs_in_capitals_and_spaces_only_is_the_same_row(document: str, edition: str) -> None:
    """Two such rows would leave every certificate of the grade without an answer."""
    typed = TypedRow(document, edition, "C .43-.50", "a copy")
    with pytest.raises(Invalid) as caught, transaction.atomic():
        book.save_row(makers.make_grade("1045"), typed, at=AT, by=actor())
    assert "edition" in caught.value.fields


def test_a_row_dropped_meanwhile_is_neither_changed_nor_dropped_again() -> None:
    row = LimitRow.objects.select_related("grade")[0]
    with transaction.atomic():
        book.drop_row(LimitRow.objects.get(pk=row.pk), at=AT, by=actor())
    lines = AuditLine.objects.count()
    with pytest.raises(NotFound), transaction.atomic():
        book.save_row(row.grade, TypedRow("D", "1", "C .50", "a copy"), row=row, at=AT, by=actor())
    with pytest.raises(NotFound), transaction.atomic():
        book.drop_row(row, at=AT, by=actor())
    assert AuditLine.objects.count() == lines


def test_a_certificate_outside_the_limits_says_so_after_its_row_was_dropped() -> None:
    row = LimitRow.objects.get(grade__code="1045", document="ASTM A29/A29M", edition="16")
    made = file(row, {"C": "0.90"})
    with transaction.atomic():
        book.drop_row(row, at=AT, by=actor())
    found = findings.paper_found(made, made.melt)
    assert found.good is False
    assert "outside the limits of ASTM A29/A29M, edition 16" in found.claim


def test_steel_that_nobody_can_name_is_no_grade_of_the_book() -> None:
    with transaction.atomic():
        book.unknown_grade()
    assert "UNKNOWN" not in {grade.code for grade in grade_book.grades()}
    assert papers.grade("unknown") is None
    assert papers.grade(" w1 ") is not None


def test_what_is_taken_back_says_why_and_may_leave_the_right_one_awaited() -> None:
    melt = makers.make_melt()
    first, second = makers.file_certificate(melt, C="0.45"), makers.file_certificate(melt, C="0.46")
    with transaction.atomic():
        certificates.withdraw(second, at=AT, by=actor(), reason="of melt 7", awaited=True)
        certificates.withdraw(first, at=AT, by=actor(), reason="of melt 8")
    shown = {one.pk: papers.why_taken_back(one) for one in papers.of_melt(melt)}
    assert shown == {second.pk: "of melt 7", first.pk: "of melt 8"}
    assert Melt.objects.get(pk=melt.pk).certificate_awaited


def test_awaited_are_the_melts_of_bars_that_are_here_with_the_delivery_they_came_by() -> None:
    with transaction.atomic():
        firm = purchasing.supplier_named("Invented Steel", at=AT, by=actor())
        line = {"grade": "1045", "shape": "round", "size": "2 in", "bars": "2 @ 20 ft", "certificate": "to come"}
        papers_of = [PaperLine(**line, heat_number="A1"), PaperLine(**{**line, "certificate": ""}, heat_number="A2")]
        came = delivering.receive(firm, Paper(papers_of), stamp=makers.stamp()).delivery
    found = papers.awaited()
    assert [(one.melt.heat_number, one.delivery, one.bars) for one in found] == [("A1", came, 2)]
    for bar in found[0].melt.lots.all():
        makers.lose(bar, bar.bar.length_nm, place="RACK")
    assert papers.awaited() == []


@pytest.mark.parametrize(
    "limits",
    [
        "",
        "C",
        "C x",
        "C .5-.4",
        "C .5 C .6",
        "Xx .5",
        "C 0.00001",
        "C -1",
        "C 101",
        "C 1e900000",
        "C NaN",
        "C ٣",
        "C .",
    ],
)
def test_limits_that_cannot_be_are_refused_at_once(limits: str) -> None:
    begun = time.monotonic()
    with pytest.raises(Invalid) as caught, transaction.atomic():
        book.save_row(makers.make_grade(), TypedRow("D", "1", limits, "s"), at=AT, by=actor())
    assert "limits" in caught.value.fields
    assert time.monotonic() - begun < 1


@pytest.mark.parametrize("density", ["", "0.9", "26", "x", "1e400", "nan", "-7"])
def test_a_density_that_no_steel_has_is_refused(density: str) -> None:
    with pytest.raises(Invalid) as caught, transaction.atomic():
        book.set_density(makers.make_grade(), density, "a sheet", at=AT, by=actor())
    assert "density" in caught.value.fields


def test_a_density_without_a_source_is_refused() -> None:
    with pytest.raises(Invalid) as caught, transaction.atomic():
        book.set_density(makers.make_grade(), "7.84", " ", at=AT, by=actor())
    assert "source" in caught.value.fields
