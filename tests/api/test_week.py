"""The week asked by a program: read by day and place, lines pinned behind others and taken out again."""

import pytest

from inventory.models import Run
from orders.models import WeekPin
from shop.shared import clock
from tests import forge, makers
from tests.api.asking import Program, data, problem
from tests.makers import AT
from tests.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program(db: None, monkeypatch: pytest.MonkeyPatch) -> Program:
    monkeypatch.setattr(clock, "_frozen", AT)
    program = Program()
    make_person("hand", "ines")
    made = forge.make_forge(blanks=60)
    made.start(10)
    ground = made.start(8)
    for number in (forge.FIRST, forge.SECOND, forge.GROUND):
        forge.count(ground, number, 8)
    makers.make_order({made.tool.item: 30})
    return program


def codes() -> list[str]:
    return list(Run.objects.order_by("pk").values_list("code", flat=True))


def test_the_week_is_read_by_day_and_place(program: Program) -> None:
    found = data(program.get("week?days=14"))
    assert [day["day"] for day in found["days"]][:2] == ["2026-03-02", "2026-03-03"]
    assert [day["open"] for day in found["days"]][:7] == [True] * 5 + [False] * 2
    lines = [(place["place"], line) for day in found["days"] for place in day["places"] for line in place["lines"]]
    first = next(line for place, line in lines if place == "forge" and line["kind"] == "work")
    assert first["parts"][0]["run"] == codes()[0]
    assert first["parts"][0]["pieces"] == 10
    assert first["begins"] < first["ends"]
    load = next(line for _, line in lines if line["kind"] == "load")
    assert load["parts"][0]["name"] == "temper"
    tooling = next(line for _, line in lines if line["kind"] == "tooling")
    assert (tooling["tooling_in"], tooling["change_minutes"]) == ("T4", 30)
    assert (found["pins"], found["short"]) == ([], [])
    assert len(data(program.get("week"))["days"]) == 7
    assert data(program.get("week?from=2026-03-05&days=1"))["days"][0]["day"] == "2026-03-05"
    problem(program.get("week?days=61"), 400)
    problem(Program("stock:read").get("week"), 403)


def test_a_line_is_pinned_and_taken_out(program: Program) -> None:
    run = codes()[0]
    body = {"run": run, "step": 1, "day": "2026-03-04"}
    assert data(program.post("week/pins", body), 201)["pins"] == [body]
    assert data(program.get("week"))["pins"] == [body]
    answer = program.get(f"week/pins/{run}/1")
    assert data(answer) == body
    problem(program.ask("DELETE", f"week/pins/{run}/1"), 428)
    problem(program.ask("DELETE", f"week/pins/{run}/1", If_Match='"else"'), 412)
    assert program.ask("DELETE", f"week/pins/{run}/1", If_Match=answer["ETag"]).status_code == 204
    problem(program.ask("DELETE", f"week/pins/{run}/1", If_Match="*"), 404)
    assert not WeekPin.objects.exists()


def test_a_run_that_is_still_to_be_started_is_pinned_by_item_and_number(program: Program) -> None:
    planned = next(
        part["run"]
        for day in data(program.get("week?days=30"))["days"]
        for place in day["places"]
        for line in place["lines"]
        for part in line["parts"]
        if part["to_start"]
    )
    data(program.post("week/pins", {"run": planned, "step": 1, "day": "2026-03-10"}), 201)
    address = f"week/pins/{planned.replace('+', '%2B')}/1"
    assert data(program.get(address))["run"] == planned


def test_a_line_goes_behind_another(program: Program) -> None:
    first, second = codes()
    bench = next(
        part
        for day in data(program.get("week"))["days"]
        if day["day"] == "2026-03-03"
        for place in day["places"]
        if place["place"] == "bench"
        for line in place["lines"]
        for part in line["parts"]
    )
    body = {"run": first, "step": 6, "day": "2026-03-03", "after": {"run": bench["run"], "step": bench["step"]}}
    pins = data(program.post("week/pins", body), 201)["pins"]
    assert (pins[0]["run"], pins[-1]["run"]) == (second, first)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"run": "NONE"}, "/run"),
        ({"step": 99}, "/run"),
        ({"step": 0}, "/step"),
        ({"day": "2026-03-07"}, "/day"),
        ({"day": "2026-02-30"}, "/day"),
        ({"day": "2019-01-01"}, "/day"),
        ({"after": {"run": "NONE", "step": 1}}, "/after"),
        ({"after": {"run": "K7"}}, "/after/step"),
        ({"place": "forge"}, "/place"),
    ],
)
def test_what_the_sheet_does_not_know_is_refused_by_field(program: Program, change: dict, pointer: str) -> None:
    body = {"run": codes()[0], "step": 1, "day": "2026-03-04", **change}
    found = problem(program.post("week/pins", body), 422)
    assert pointer in {one["pointer"] for one in found["errors"]}
    assert not WeekPin.objects.exists()
