"""The grade book and certificates, asked for by a program."""

import pytest
from django.db import transaction

from inventory.calc.grades_seed import ROWS
from inventory.models import Certificate, Melt
from inventory.services import certificates, grade_book
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, actor

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
GOOD = {"C": "0.46", "Mn": ".74", "P": "0,011", "S": "0.024 %"}


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    with transaction.atomic():
        grade_book.seed()
        grade_book.unknown_grade()
    return made


@pytest.fixture
def melt(program: Program) -> Melt:
    made = makers.make_melt("0A7731")
    Melt.objects.filter(pk=made.pk).update(certificate_awaited=True)
    return made


def body(**facts: object) -> dict[str, object]:
    typed = {"number": "C-1", "document": "ASTM A29/A29M", "edition": "16", **facts}
    figures = typed.pop("figures", GOOD)
    listed = [{"element": element, "printed": printed} for element, printed in figures.items()]  # type: ignore[attr-defined]
    return typed | ({"figures": listed} if listed else {})


def test_the_grade_book_is_read_in_ppm_and_as_printed(program: Program) -> None:
    rows = data(program.get("grades"))["rows"]
    assert len(rows) == 13, "steel that nobody can name is no grade"
    assert sum(len(row["limits"]) for row in rows) == len(ROWS)
    assert all(row["density"]["source"] and all(one["source"] for one in row["limits"]) for row in rows)
    w1 = data(program.get("grades/w1"))
    assert w1 == next(row for row in rows if row["code"] == "W1")
    assert w1["density"]["g_per_cm3"] == "7.84"
    made = data(program.get("grades/1045"))
    row = next(one for one in made["limits"] if one["edition"] == "16")
    assert row["as_printed"] == "C 0.43-0.50 Mn 0.60-0.90 P 0.040 S 0.050"
    assert row["elements"][0] == {
        "element": "C", "least_ppm": 4300, "most_ppm": 5000, "least_percent": "0.43", "most_percent": "0.50",
    }  # fmt: skip
    assert row["elements"][2]["least_ppm"] is None
    problem(program.get("grades/9999"), 404)


def test_a_grade_with_a_stroke_in_its_code_has_an_address(program: Program) -> None:
    makers.make_grade("1.2379/D2")
    assert data(program.get("grades/1.2379/D2"))["limits"] == []


def test_a_certificate_is_filed_and_read_back_element_by_element(program: Program, melt: Melt) -> None:
    asked = body(issued_on="2026-02-20", type="3.1", read_by="he", figures={**GOOD, "C": "0.52", "Cu": "0.2"})
    made = data(program.post(f"melts/{melt.pk}/certificates", asked), 201)
    assert (made["finding"], made["read_by"], made["type"]) == ("outside the limits", "HE", "3.1")
    assert made["melt"]["certificate_awaited"] is False
    carbon = made["elements"][0]
    assert (carbon["finding"], carbon["off_ppm"], carbon["most_percent"]) == ("fail", "200", "0.50")
    assert carbon["words"] == "C “0.52” is 0.02 % above the most, 0.50 %."
    assert [one["finding"] for one in made["elements"]] == ["fail", "pass", "pass", "pass", "not of this grade"]
    assert data(program.get(f"certificates/{made['id']}")) == made
    assert data(program.get(f"melts/{melt.pk}/certificates"))["rows"] == [made]


@pytest.mark.parametrize(
    ("facts", "finding"),
    [
        ({}, "within the limits"),
        ({"figures": {"C": "0.46"}}, "something is not reported"),
        ({"figures": {**GOOD, "P": "<0.05"}}, "a figure cannot be judged"),
        ({"edition": "of another year"}, "no limits for this document and edition"),
        ({"figures": {}, "read_by": "HE"}, "read and within limits"),
        ({"figures": {}}, "not read yet"),
    ],
)
def test_what_it_comes_to_is_said_at_once(program: Program, melt: Melt, facts: dict, finding: str) -> None:
    made = data(program.post(f"melts/{melt.pk}/certificates", body(**facts)), 201)
    assert made["finding"] == finding
    assert made["finding_now"] == (finding if made["elements"] or facts.get("edition") else None)


def test_limits_agreed_on_the_order_go_before_those_of_the_document(program: Program, melt: Melt) -> None:
    asked = body(as_ordered="C .44–.45", figures=GOOD)
    made = data(program.post(f"melts/{melt.pk}/certificates", asked), 201)
    assert (made["as_ordered"], made["finding"]) == ("C .44-.45", "outside the limits")
    assert (made["elements"][0]["least_percent"], made["elements"][0]["most_percent"]) == ("0.44", "0.45")


def test_a_certificate_sent_twice_with_one_key_is_filed_once(program: Program, melt: Melt) -> None:
    key = "the-certificate-of-that-melt"
    first = data(program.post(f"melts/{melt.pk}/certificates", body(), key=key), 201)
    assert data(program.post(f"melts/{melt.pk}/certificates", body(), key=key), 201) == first
    assert Certificate.objects.count() == 1


def test_one_taken_back_says_so_and_why(program: Program, melt: Melt) -> None:
    made = makers.file_certificate(melt, **GOOD)
    with transaction.atomic():
        certificates.withdraw(made, at=AT, by=actor(), reason="it is of melt 0A7732", awaited=True)
    shown = data(program.get(f"certificates/{made.pk}"))
    assert (shown["taken_back_at"], shown["taken_back_why"]) == ("2026-03-02T09:00:00Z", "it is of melt 0A7732")
    assert shown["melt"]["certificate_awaited"] is True


def test_limits_written_after_the_filing_change_what_is_found_now_and_nothing_else(
    program: Program, melt: Melt
) -> None:
    made = makers.file_certificate(melt, **GOOD)
    row = next(one for one in melt.grade.limit_rows.all() if one.edition == "16")
    typed = grade_book.TypedRow(row.document, row.edition, "C .40-.45", "a later copy")
    with transaction.atomic():
        grade_book.save_row(melt.grade, typed, row=row, at=AT, by=actor())
    shown = data(program.get(f"certificates/{made.pk}"))
    assert (shown["finding"], shown["finding_now"]) == ("within the limits", "outside the limits")


@pytest.mark.parametrize(
    ("facts", "pointer"),
    [
        ({"read_by": "H3"}, "/read_by"),
        ({"type": "9.9"}, "/type"),
        ({"issued_on": "2026-12-31"}, "/issued_on"),
        ({"figures": {}, "number": " "}, "/number"),
        ({"figures": {"C": "x" * 25}}, "/figures/0/printed"),
        ({"as_ordered": "C .44 C .45"}, "/as_ordered"),
        ({"as_ordered": "C " + "." * 120}, "/as_ordered"),
        ({"grade": "1045"}, "/grade"),
    ],
)
def test_what_is_no_certificate_is_refused_at_its_name(program: Program, melt: Melt, facts: dict, pointer: str) -> None:
    told = problem(program.post(f"melts/{melt.pk}/certificates", body(**facts)), 422)
    assert [one["pointer"] for one in told["errors"]] == [pointer]
    assert not Certificate.objects.exists()
    assert Melt.objects.get(pk=melt.pk).certificate_awaited


def test_an_element_twice_and_nothing_at_all_are_refused(program: Program, melt: Melt) -> None:
    twice = {"number": "1", "figures": [{"element": "C", "printed": "1"}, {"element": "C", "printed": "2"}]}
    told = problem(program.post(f"melts/{melt.pk}/certificates", twice), 422)
    assert told["errors"][0]["pointer"] == "/figures/1/element"
    told = problem(program.post(f"melts/{melt.pk}/certificates", {}), 422)
    assert told["errors"][0]["pointer"] == "/figures"
    assert not Certificate.objects.exists()


def test_steel_of_an_unknown_melt_and_a_melt_that_is_not_there_take_none(program: Program) -> None:
    unknown = makers.make_melt("unknown")
    problem(program.post(f"melts/{unknown.pk}/certificates", body()), 409)
    problem(program.post("melts/999999/certificates", body()), 404)
    problem(program.get("melts/999999/certificates"), 404)
    problem(program.get("certificates/999999"), 404)
