"""The shop's hours, shut days, who is out and what is down, asked by a program."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Away, MachineDown, Pattern
from inventory.services import tooling_sets
from shop.shared import clock, shop_row
from shop.shared.models import ShutDays
from tests import forge, makers
from tests.api.asking import Program, data, problem

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
NOW = dt.datetime(2026, 11, 30, 18, 0, tzinfo=dt.UTC)  # Monday noon in the shop's zone


@pytest.fixture
def program(db: None, monkeypatch: pytest.MonkeyPatch) -> Program:
    monkeypatch.setattr(clock, "_frozen", NOW)
    return Program()


def pointers(answer: dict) -> set[str]:
    return {one["pointer"] for one in answer["errors"]}


def test_the_settings_are_as_the_owner_set_them(program: Program) -> None:
    found = data(program.get("settings"))
    assert (found["opens_at"], found["closes_at"], found["carrier_by"]) == ("08:00", "17:00", "15:00")
    assert (found["open_days"], found["carrier_days"]) == ([0, 1, 2, 3, 4], [0, 1, 2, 3, 4])
    assert (found["production_percent"], found["oven_alone"]) == (65, False)
    assert (found["sure_one_off"], found["sure_dealer"], found["slips_below"]) == (90, 95, 80)
    problem(Program("stock:read").get("settings"), 403)


def test_shut_days_are_added_listed_and_taken_away(program: Program) -> None:
    body = {"first": "2026-12-24", "last": "2027-01-01", "why": "works holiday"}
    answer = program.post("shut-days", body)
    made = data(answer, 201)
    assert made == {"id": made["id"], **body}
    one = data(program.post("shut-days", {"first": "2026-12-04", "why": "fair day"}), 201)
    assert one["last"] == "2026-12-04"
    assert [row["why"] for row in data(program.get("shut-days"))["rows"]] == ["fair day", "works holiday"]
    assert shop_row.hours(NOW).closing_on(dt.date(2026, 12, 28)) is None
    address = answer["Location"]
    tag = program.get(address)["ETag"]
    problem(program.ask("DELETE", address), 428)
    assert program.ask("DELETE", address, If_Match=tag).status_code == 204
    problem(program.get(address), 404)
    assert [row["why"] for row in data(program.get("shut-days"))["rows"]] == ["fair day"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"first": "2026-12-24"}, "/why"),
        ({"why": "fair"}, "/first"),
        ({"first": "2026-12-24", "last": "2026-12-23", "why": "fair"}, "/last"),
        ({"first": "2026-02-30", "why": "fair"}, "/first"),
        ({"first": "0001-01-01", "why": "fair"}, "/first"),
        ({"first": "2026-12-24", "last": None, "why": "fair"}, "/last"),
        ({"first": "2026-12-24", "why": ""}, "/why"),
        ({"first": "2026-12-24", "why": "fair", "until": "x"}, "/until"),
    ],
)
def test_shut_days_that_cannot_be_are_refused_by_field(program: Program, body: dict, pointer: str) -> None:
    assert pointer in pointers(problem(program.post("shut-days", body), 422))
    assert not ShutDays.objects.exists()


def test_days_that_are_shut_already_are_refused_with_their_name(program: Program) -> None:
    data(program.post("shut-days", {"first": "2026-12-04", "why": "fair day"}), 201)
    said = problem(program.post("shut-days", {"first": "2026-12-01", "last": "2026-12-09", "why": "again"}), 422)
    assert "fair day, 2026-12-04, is shut already" in said["detail"]


def test_somebody_is_out_and_back(program: Program) -> None:
    makers.make_person(name="Ines", login="ines")
    made = data(program.post("absences", {"person": "ines", "first": "2026-11-27", "last": "2026-12-03"}), 201)
    assert (made["name"], made["planned"]) == ("Ines", False)
    again = data(program.post("absences", {"person": "ines", "why": "a bad back"}), 201)
    assert (again["first"], again["last"], again["why"]) == ("2026-11-27", None, "a bad back")
    ahead = {"person": "ines", "first": "2026-12-14", "last": "2026-12-18", "planned": True}
    data(program.post("absences", ahead), 201)
    rows = data(program.get("absences"))["rows"]
    assert [(row["first"], row["last"], row["planned"]) for row in rows] == [
        ("2026-11-27", None, False),
        ("2026-12-14", "2026-12-18", True),
    ]
    stood = data(program.post(f"absences/{rows[0]['id']}/back"))
    assert (stood["id"], stood["last"]) == (rows[0]["id"], None)
    assert Away.objects.get(pk=rows[0]["id"]).last == dt.date(2026, 11, 29)
    assert problem(program.post(f"absences/{rows[0]['id']}/back"), 409)["type"].endswith("/over_already")
    problem(program.post("absences/999999/back"), 404)


def test_a_machine_is_down_and_runs_again(program: Program) -> None:
    with transaction.atomic():
        tooling_sets.add_machine("HAMMER", "power hammer", "hammer", at=NOW, by=makers.actor())
    made = data(program.post("machines-down", {"machine": "HAMMER", "why": "a belt has torn"}), 201)
    assert (made["first"], made["last"], made["why"]) == ("2026-11-30", None, "a belt has torn")
    assert data(program.get("machines-down"))["rows"] == [made]
    assert data(program.post(f"machines-down/{made['id']}/runs-again")) == made
    assert not MachineDown.objects.exists()
    problem(program.post(f"machines-down/{made['id']}/runs-again"), 404)


@pytest.mark.parametrize("address", ["absences", "machines-down"])
@pytest.mark.parametrize(
    ("days", "pointer"),
    [
        ({"first": "2026-12-01"}, "/first"),
        ({"planned": True}, "/last"),
        ({"last": "2026-11-29"}, "/last"),
        ({"first": "2024-01-01"}, "/first"),
        ({"last": "2999-01-01"}, "/last"),
        ({"why": "x" * 81}, "/why"),
        ({"planned": "yes"}, "/planned"),
        ({"first": 20261201}, "/first"),
    ],
)
def test_spells_that_cannot_be_are_refused_by_field(program: Program, address: str, days: dict, pointer: str) -> None:
    makers.make_person(name="Ines", login="ines")
    with transaction.atomic():
        tooling_sets.add_machine("HAMMER", "power hammer", "hammer", at=NOW, by=makers.actor())
    whose = {"person": "ines"} if address == "absences" else {"machine": "HAMMER"}
    assert pointer in pointers(problem(program.post(address, {**whose, **days}), 422))
    assert not Away.objects.exists()
    assert not MachineDown.objects.exists()


def test_nobody_and_no_machine_of_that_name_are_refused(program: Program) -> None:
    assert pointers(problem(program.post("absences", {"person": "nobody"}), 422)) == {"/person"}
    assert pointers(problem(program.post("machines-down", {"machine": "NONE"}), 422)) == {"/machine"}


def test_a_patterns_usual_run_is_changed_and_never_above_the_most(program: Program) -> None:
    code = forge.make_forge().pattern.code
    answer = program.get(f"patterns/{code}")
    assert (data(answer)["usual_run"], data(answer)["most_run"]) == (12, 60)
    changed = program.ask("PATCH", f"patterns/{code}", {"usual_run": 24, "most_run": 96}, If_Match=answer["ETag"])
    assert (data(changed)["usual_run"], data(changed)["most_run"]) == (24, 96)
    tag = changed["ETag"]
    refused = problem(program.ask("PATCH", f"patterns/{code}", {"usual_run": 97}, If_Match=tag), 422)
    assert pointers(refused) == {"/usual_run"}
    assert Pattern.objects.get(code=code).usual_run == 24
