"""Writing in the grade book, asked for by a program."""

import pytest

from inventory.models import Grade, LimitRow
from shop.shared.models import AuditLine
from tests import makers
from tests.api.asking import Program, data, problem

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
AT = "grades/X45%20CR"  # a code may have a space in it
ROW = {
    "document": "Invented document",
    "edition": "16",
    "limits": "C .43-.50 Mn .60-.90 P .040",
    "source": "a copy of the document",
}


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    makers.make_grade("X45 CR")
    return made


def write(program: Program, **facts: object) -> dict:
    return data(program.post(f"{AT}/limits", {**ROW, **facts}), 201)


def where(row: dict) -> str:
    return f"{AT}/limits/{row['id']}"


def test_a_row_is_written_as_printed_and_read_back_in_ppm(program: Program) -> None:
    response = program.post(f"{AT}/limits", {**ROW, "note": "bars to 3 in", "carried": True})
    row = data(response, 201)
    assert row["as_printed"] == "C 0.43-0.50 Mn 0.60-0.90 P 0.040"
    assert [one["element"] for one in row["elements"]] == ["C", "Mn", "P"]
    assert (row["standing"], row["note"]) == ("partly carried over from another list", "bars to 3 in")
    assert data(program.get(response["Location"])) == row
    assert data(program.get(AT))["limits"] == [row]
    assert AuditLine.objects.get(action="grade limits written").by == f"key {program.key.prefix}"


def test_an_edition_that_is_left_out_is_not_stated(program: Program) -> None:
    row = data(program.post(f"{AT}/limits", {name: ROW[name] for name in ROW if name != "edition"}), 201)
    assert row["edition"] == "not stated"


def test_a_row_sent_twice_with_one_key_is_written_once(program: Program) -> None:
    key = "the-row-of-that-document"
    first = data(program.post(f"{AT}/limits", ROW, key=key), 201)
    assert data(program.post(f"{AT}/limits", ROW, key=key), 201) == first
    assert "edition 16" in problem(program.post(f"{AT}/limits", ROW), 422)["detail"]
    assert LimitRow.objects.filter(grade__code="X45 CR").count() == 1


def test_a_row_is_written_anew_as_it_was_read_and_not_over_what_somebody_else_wrote(program: Program) -> None:
    row = write(program, note="bars to 3 in", carried=True)
    tag = program.get(where(row))["ETag"]
    problem(program.ask("PUT", where(row), ROW), 428)
    made = data(program.ask("PUT", where(row), {**ROW, "limits": "C .40-.45"}, If_Match=tag))
    assert (made["id"], made["as_printed"], made["note"]) == (row["id"], "C 0.40-0.45", "")
    assert made["standing"] == "as printed in the source"
    told = problem(program.ask("PUT", where(row), ROW, If_Match=tag), 412)
    assert program.get(where(row))["ETag"] == f'"{told["version"]}"'
    problem(program.ask("DELETE", where(row), If_Match=tag), 412)
    data(program.ask("PUT", where(row), ROW, If_Match=f'"{told["version"]}"'))


def test_a_row_is_dropped_and_gone(program: Program) -> None:
    row = write(program)
    problem(program.ask("DELETE", where(row)), 428)
    assert program.ask("DELETE", where(row), If_Match=program.get(where(row))["ETag"]).status_code == 204
    problem(program.get(where(row)), 404)
    problem(program.ask("DELETE", where(row), If_Match="*"), 404)
    assert data(program.get(AT))["limits"] == []


def test_a_row_has_no_address_under_another_grade(program: Program) -> None:
    row = write(program)
    makers.make_grade("W1")
    for method, body in (("GET", None), ("PUT", ROW), ("DELETE", None)):
        problem(program.ask(method, f"grades/W1/limits/{row['id']}", body, If_Match="*"), 404)
    problem(program.post("grades/9999/limits", ROW), 404)
    problem(program.ask("PUT", "grades/9999/density", {"g_per_cm3": "7.8", "source": "x"}, If_Match="*"), 404)


@pytest.mark.parametrize(
    ("facts", "pointer"),
    [
        ({"limits": "C"}, "/limits"),
        ({"limits": "C .43-.50 C .40"}, "/limits"),
        ({"limits": "C .50-.43"}, "/limits"),
        ({"limits": "Xx .5"}, "/limits"),
        ({"limits": "C 1e9999"}, "/limits"),
        ({"source": " "}, "/source"),
        ({"document": None}, "/document"),
        ({"carried": "yes"}, "/carried"),
        ({"grade": "W1"}, "/grade"),
    ],
)
def test_what_is_no_row_is_refused_at_its_name(program: Program, facts: dict, pointer: str) -> None:
    row = write(program)
    before = data(program.get(AT))
    sent = {**ROW, "edition": "17", **facts}
    for told in (
        problem(program.post(f"{AT}/limits", sent), 422),
        problem(program.ask("PUT", where(row), sent, If_Match="*"), 422),
    ):
        assert [one["pointer"] for one in told["errors"]] == [pointer]
    assert data(program.get(AT)) == before


def test_a_grade_with_a_stroke_in_its_code_takes_limits_and_a_density(program: Program) -> None:
    makers.make_grade("1.2379/D2")
    response = program.post("grades/1.2379/D2/limits", ROW)
    assert data(program.get(response["Location"])) == data(response, 201)
    sent = {"g_per_cm3": "7.7", "source": "weighed in water"}
    assert data(program.ask("PUT", "grades/1.2379/D2/density", sent, If_Match="*")) == sent


def test_a_density_is_changed_as_it_was_read(program: Program) -> None:
    tag = program.get(f"{AT}/density")["ETag"]
    sent = {"g_per_cm3": "7.841", "source": "weighed in water"}
    problem(program.ask("PUT", f"{AT}/density", sent), 428)
    assert data(program.ask("PUT", f"{AT}/density", sent, If_Match=tag)) == sent
    assert data(program.get(AT))["density"] == sent
    assert Grade.objects.get(code="X45 CR").density_ug_per_cm3 == 7_841_000
    problem(program.ask("PUT", f"{AT}/density", sent, If_Match=tag), 412)


@pytest.mark.parametrize("density", ["0", "-7.85", "785", "7,85", "NaN", "1e1", "7_8", 7.85, None, "", "7.8500001"])
def test_what_is_no_density_is_refused_at_its_name(program: Program, density: object) -> None:
    sent = {"g_per_cm3": density, "source": "x"}
    told = problem(program.ask("PUT", f"{AT}/density", sent, If_Match="*"), 422)
    assert [one["pointer"] for one in told["errors"]] == ["/g_per_cm3"]
    assert not AuditLine.objects.filter(action="density changed").exists()


def test_a_key_that_only_reads_writes_nothing_in_the_grade_book(program: Program) -> None:
    row, reader = write(program), Program("stock:read")
    problem(reader.post(f"{AT}/limits", {**ROW, "edition": "17"}), 403)
    problem(reader.ask("PUT", where(row), ROW, If_Match="*"), 403)
    problem(reader.ask("DELETE", where(row), If_Match="*"), 403)
    problem(reader.ask("PUT", f"{AT}/density", {"g_per_cm3": "7.8", "source": "x"}, If_Match="*"), 403)
    assert data(reader.get(where(row))) == row


@pytest.mark.parametrize(
    "address", ["limits/0", "limits/-1", "limits/abc", "limits/1/2", "density/1", "limits/1/density/x"]
)
@pytest.mark.parametrize("method", ["GET", "PUT", "DELETE"])
def test_what_is_no_part_of_a_grade_is_not_taken_for_a_grades_code(program: Program, address: str, method: str) -> None:
    problem(program.ask(method, f"{AT}/{address}", If_Match="*"), 404)
