"""What is made for the shelf, by a program: proposals read, put into the week, changed by the tag it was read with, dropped."""

import pytest

from orders.models import ForShelf
from shop.shared import clock
from tests import forge, makers
from tests.api.asking import Program, data, problem
from tests.makers import AT
from tests.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def made(db: None, monkeypatch: pytest.MonkeyPatch) -> forge.Forge:
    monkeypatch.setattr(clock, "_frozen", AT)
    made = forge.make_forge(blanks=60)
    make_person("hand", "ines")
    made.tool.item.reorder_point = 20
    made.tool.item.save()
    makers.put_in(made.tool.item, 4)
    return made


def test_what_is_proposed_is_put_in_changed_and_dropped(made: forge.Forge) -> None:
    program, code = Program(), made.tool.item.code
    found = data(program.get("week/for-shelf"))
    assert found["in_week"] == []
    (row,) = found["proposed"]
    assert (row["item"], row["wanted_good"], row["heads"], row["joins"]) == (code, 17, 0, "")
    assert row["pieces"] >= row["likely_good"] >= 17
    assert f"{row['pieces']} are sawn already" in row["why"]
    assert not any("less than" in said for said in row["why"]), "what it saves is a cost"
    answer = program.post("week/for-shelf", {"item": code, "pieces": row["pieces"], "why": row["why"][0]})
    assert data(answer, 201)["why"] == row["why"][0]
    assert answer["Location"] == f"/api/v1/week/for-shelf/{code}"
    found = data(program.get("week/for-shelf"))
    assert [(one["item"], one["pieces"], one["runs"]) for one in found["in_week"]] == [(code, row["pieces"], 1)]
    assert found["proposed"] == []
    week = data(program.get("week?days=14"))
    parts = [
        part for day in week["days"] for place in day["places"] for line in place["lines"] for part in line["parts"]
    ]
    assert {part["run"] for part in parts if part["for_shelf"] and part["to_start"]} == {f"{code}+shelf1"}
    pin = {"run": f"{code}+shelf1", "step": 1, "day": "2026-03-04"}
    assert data(program.post("week/pins", pin), 201)["pins"] == [pin]
    assert data(program.get(f"week/pins/{code}+shelf1/1")) == pin
    one = program.get(f"week/for-shelf/{code}")
    problem(program.ask("PATCH", f"week/for-shelf/{code}", {"pieces": 30}), 428)
    problem(program.ask("PATCH", f"week/for-shelf/{code}", {"pieces": 30}, If_Match='"else"'), 412)
    changed = program.ask("PATCH", f"week/for-shelf/{code}", {"pieces": 30}, If_Match=one["ETag"])
    assert data(changed)["pieces"] == 30
    problem(program.ask("DELETE", f"week/for-shelf/{code}", If_Match=one["ETag"]), 412)
    assert program.ask("DELETE", f"week/for-shelf/{code}", If_Match=changed["ETag"]).status_code == 204
    problem(program.ask("DELETE", f"week/for-shelf/{code}", If_Match="*"), 404)
    problem(program.get(f"week/for-shelf/{code}"), 404)
    assert data(program.get("week"))["pins"] == []


def test_what_cannot_be_is_refused_in_a_sentence(made: forge.Forge) -> None:
    program, code = Program(), made.tool.item.code
    assert "no item NONE" in str(problem(program.post("week/for-shelf", {"item": "NONE", "pieces": 3}), 422))
    handle = made.tool.handle.code
    assert "not made here in runs" in str(problem(program.post("week/for-shelf", {"item": handle, "pieces": 3}), 422))
    for pieces in (0, -1, 1_001, "many", None, 2.5):
        problem(program.post("week/for-shelf", {"item": code, "pieces": pieces}), 422)
    data(program.post("week/for-shelf", {"item": code, "pieces": 3}), 201)
    said = str(problem(program.post("week/for-shelf", {"item": code, "pieces": 9}), 422))
    assert f"3 of {code} are in the week for the shelf already" in said
    problem(program.ask("PATCH", "week/for-shelf/NONE", {"pieces": 30}, If_Match="*"), 404)
    reader = Program("shop:read")
    data(reader.get("week/for-shelf"))
    problem(reader.post("week/for-shelf", {"item": code, "pieces": 9}), 403)
    problem(Program("stock:read").get("week/for-shelf"), 403)
    assert ForShelf.objects.get().pieces == 3
